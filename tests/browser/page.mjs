// What an owner and a front desk do with the page, and what must hold whatever they do.
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import AxeBuilder from "@axe-core/playwright";
import { command, demoCase, outside, run, scratch, serve, test } from "./harness.mjs";

const plain = await serve();
const book = scratch("shop.db");
command("record", "--file", book, "car", "add", "--ref", "A-1", "--case", demoCase);

const full = (page) => page.waitForFunction(() => document.getElementById("sure").textContent.startsWith("Full answer"));
const median = async (page) => Number(await page.getAttribute('[data-quantile="p50"]', "data-years"));
const noSideways = (page) => page.evaluate(() => document.documentElement.scrollWidth <= innerWidth);
async function serious(page) {
  const { violations } = await new AxeBuilder({ page }).analyze();
  return violations.filter(({ impact }) => ["serious", "critical"].includes(impact)).map(({ id, nodes }) => `${id} ${nodes[0].html}`);
}

// a daily car stands in the open by day, so a drier at home is worth about two years to it
test("moving the car into a dry garage moves the band", async (page) => {
  await page.goto(plain);
  await full(page);
  const before = await median(page);
  await page.check('[name="stands"][value="garage_dehumidified"]');
  await page.waitForFunction((old) => Number(document.querySelector('[data-quantile="p50"]').dataset.years) > old + 1, before);
  await full(page);
  const words = await page.textContent("#headline");
  await page.reload();
  await full(page);
  assert.equal(await page.textContent("#headline"), words, "the address holds the settings");
});

test("numbers equal the command line's for the case the page hands out", async (page) => {
  await page.goto(plain);
  await full(page);
  await page.check('[name="stands"][value="carport"]');
  await page.selectOption("#ground", "bare_earth");
  await page.selectOption("#road_salt", "magnesium_chloride");
  await page.fill("#away", "12");
  await page.waitForTimeout(100);
  await full(page);
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("text=Case file")]);
  const file = scratch("case.toml");
  writeFileSync(file, readFileSync(await download.path()));
  for (const words of ["bare_earth", "magnesium_chloride", "hours_away = 12"]) assert.ok(readFileSync(file, "utf8").includes(words), words);
  const forecast = JSON.parse(command("forecast", file, "--seed", "1", "--format", "json"));
  await page.waitForFunction((p50) => Number(document.querySelector('[data-quantile="p50"]').dataset.years) === p50, forecast.time_to_rework_a.p50);
  assert.equal(await median(page), forecast.time_to_rework_a.p50);
});

test("two settings side by side, and why they differ", async (page) => {
  await page.goto(plain);
  await full(page);
  await page.click("#keep");
  await page.check('[name="stands"][value="tent_dehumidified"]');
  await page.waitForSelector("#gains tbody tr:nth-child(2)");
  const gained = await page.textContent("#gains tbody tr:nth-child(2) td:nth-child(3)");
  assert.match(gained, /^\+\d+\.\d$/);
  await page.waitForSelector('#picture-compare svg[aria-labelledby^="compare"]');
  await page.click("#why-form button");
  await page.waitForSelector("#picture-why:not([hidden]) svg[role=img]");
  assert.match(await page.textContent("#why-words"), /where (they|it) stand/);
});

test("levels of a country are chosen for a case, and the age that is read is marked", async (page) => {
  await page.goto(plain);
  await full(page);
  assert.equal(await page.textContent("#levels"), "");
  await page.click("summary:has-text('The tube and the car')");
  await page.selectOption("#criteria", "nl-end");
  await page.waitForSelector("#levels h3:has-text('front or rear end member')");
  assert.match(await page.textContent("#levels"), /advised \(share rusted through .*1 in 10 .*Whoever inspects the car decides/);
  const shape = () => page.$eval("#picture-band svg", (svg) => svg.outerHTML);
  const before = await shape();
  await page.fill("#at", "30");
  await page.waitForFunction((old) => document.querySelector("#picture-band svg").outerHTML !== old, before);
  assert.match(await page.textContent("#at-words"), /on the open length/);
});

test("bad input is refused beside its field", async (page) => {
  await page.goto(plain);
  await full(page);
  await page.click("summary:has-text('The tube and the car')");
  await page.fill("#wall", "300");
  await page.waitForSelector("#wall-problem");
  assert.match(await page.textContent("#wall-problem"), /allowed/);
  await page.fill("#wall", "");
  await page.waitForSelector("#wall-problem");
  await page.fill("#wall", "2");
  await page.waitForFunction(() => document.querySelectorAll("fieldset .problem").length === 0);
}, { refusals: "422" });

test("a phone's width holds everything", async (page) => {
  await page.goto(plain);
  await full(page);
  assert.ok(await noSideways(page));
  assert.ok(await page.isVisible("#strip"));
  await page.waitForFunction(() => document.querySelectorAll(".canvas svg").length >= 5);
  assert.deepEqual(await outside(page), []);
  assert.deepEqual(await serious(page), []);
}, { context: { viewport: { width: 360, height: 740 } } });

test("the keyboard alone reaches and moves the settings", async (page) => {
  await page.goto(plain);
  await full(page);
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.className), "skip");
  for (let step = 0; step < 40; step += 1) {
    await page.keyboard.press("Tab");
    if (await page.evaluate(() => document.activeElement.name === "stands")) break;
  }
  const before = await page.textContent('[data-now="stands"]');
  await page.keyboard.press("ArrowDown");
  assert.notEqual(await page.textContent('[data-now="stands"]'), before);
});

for (const theme of ["light", "dark"]) {
  test(`${theme}: no serious observation of axe`, async (page) => {
    await page.goto(plain);
    await full(page);
    await page.selectOption("#theme", theme);
    const ground = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    assert.equal(ground, theme === "dark" ? "rgb(22, 21, 19)" : "rgb(248, 246, 241)");
    await page.evaluate(() => document.querySelectorAll("details").forEach((fold) => { fold.open = true; }));
    await page.click("#keep");
    assert.deepEqual(await serious(page), []);
  });
}

test("a request to a busy server is repeated, and the pictures say that they are old", async (page) => {
  await page.goto(plain);
  await full(page);
  let refused = 0;
  await page.route("**/api/forecast?*", (route) => {
    refused += 1;
    if (refused > 1) return route.continue();
    return route.fulfill({ status: 503, headers: { "retry-after": "2" }, contentType: "application/problem+json", body: "{}" });
  });
  const before = await median(page);
  await page.check('[name="stands"][value="garage_dehumidified"]');
  await page.waitForSelector("text=still show the settings before", { state: "visible" });
  await page.waitForFunction((old) => Number(document.querySelector('[data-quantile="p50"]').dataset.years) > old + 1, before);
  assert.equal(await page.isVisible("text=still show the settings before"), false);
}, { refusals: "503" });

test("the record opens to the token alone", async (page) => {
  const guarded = await serve("--record", book, "--token", "a-token-for-this-test");
  await page.goto(guarded);
  await page.click('#views [data-view="cars"]');
  for (const token of ["not-the-token-at-all", "a-token-for-this-test"]) {
    await page.waitForSelector("#token");
    assert.deepEqual(await serious(page), []);
    await page.fill("#token", token);
    await page.click("#view-cars button:has-text('Open')");
  }
  await page.waitForSelector("#view-cars button:has-text('A-1')");
}, { refusals: "401" });

test("without a record its views are hidden", async (page) => {
  await page.goto(plain);
  await full(page);
  assert.equal(await page.isVisible("#views"), false);
});

await run();
