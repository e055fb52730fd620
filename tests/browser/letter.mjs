// What an owner does with the letter to play with, opened from the disk.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import AxeBuilder from "@axe-core/playwright";
import { command, demoCase, run, scratch, test } from "./harness.mjs";

const book = scratch("shop.db");
const out = scratch("letter");
const fairWeather = demoCase.replace("street_daily", "tight_garage_fair_weather");
command("record", "--file", book, "car", "add", "--ref", "A-1", "--case", fairWeather);
command("letter", "--record", book, "A-1", "--as-of", "2026-03-10", "--histories", "32768", "--out", out, "--interactive");
const letter = `file://${out}/letter.html`;
const answer = (page) => page.textContent(".choices .answer");

for (const [width, scheme] of [[1280, "light"], [375, "dark"]]) {
  test(`an owner tries stores, washing and coats at ${width} px, ${scheme}`, async (page) => {
    await page.goto(letter);
    const asItIs = await answer(page);
    assert.match(asItIs, /left as it is/);
    await page.check('[name="storage"][value="1"]');
    const street = await answer(page);
    assert.match(street, /Against leaving it as it is/);
    await page.check('[name="coat"][value="3"]');
    assert.notEqual(await answer(page), street);
    await page.check('[name="storage"][value="0"]');
    await page.check('[name="coat"][value="0"]');
    assert.equal(await answer(page), asItIs);
    assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true);
    const { violations } = await new AxeBuilder({ page }).analyze();
    assert.deepEqual(violations.map(({ id, nodes }) => `${id} ${nodes[0].html}`), []);
    const heights = await page.$$eval(".choices label", (labels) => labels.map((label) => label.getBoundingClientRect().height));
    assert.ok(Math.min(...heights) >= 24, "targets of WCAG 2.2, 2.5.8");
  }, { context: { viewport: { width, height: 800 }, colorScheme: scheme } });
}

test("the keyboard alone is enough", async (page) => {
  await page.goto(letter);
  const asItIs = await answer(page);
  await page.focus('[name="wash"][value="0"]');
  await page.keyboard.press("ArrowDown");
  assert.notEqual(await answer(page), asItIs);
});

test("without a script the car as it is stays in sight", async (page) => {
  await page.goto(letter);
  assert.match(await answer(page), /left as it is/);
}, { context: { javaScriptEnabled: false } });

test("nothing is fetched", async (page) => {
  const requests = [];
  page.on("request", (request) => requests.push(request.url()));
  await page.goto(letter);
  await page.check('[name="storage"][value="2"]');
  assert.deepEqual(requests, [letter]);
  assert.ok(readFileSync(new URL(letter)).length < 2_000_000);
});

await run();
