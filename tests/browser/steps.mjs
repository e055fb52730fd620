// Five tasks of a front desk by steps: how many clicks, key presses and typed characters does each take?
import assert from "node:assert/strict";
import { command, demoCase, run, scratch, serve, test } from "./harness.mjs";

const book = scratch("steps.db");
command("record", "--file", book, "car", "add", "--ref", "A-1", "--case", demoCase.replace("street_daily", "tight_garage_fair_weather"));
const address = await serve("--record", book);
const TABLE = `ref,date,location,grade\n${Array.from({ length: 10 }, (_, year) => `A-1,${2015 + year}-04-17,run,Ri ${Math.floor(year / 4)}`).join("\n")}\n`;

/** A page whose clicks, keys and typed characters are counted. */
function counting(page) {
  const steps = { clicks: 0, keys: 0, characters: 0 };
  return {
    steps,
    async click(selector) {
      steps.clicks += 1;
      await page.click(selector);
    },
    async press(key) {
      steps.keys += 1;
      await page.keyboard.press(key);
    },
    async type(selector, text) {
      steps.characters += text.length;
      await page.fill(selector, text);
    },
    /** A list to choose from takes a click to open it and one to choose. */
    async select(selector, value) {
      steps.clicks += 2;
      await page.selectOption(selector, value);
    },
    /** A file takes the button, the file and the end of the dialogue. */
    async file(selector, name, text) {
      steps.clicks += 3;
      await page.setInputFiles(selector, { name, mimeType: "text/csv", buffer: Buffer.from(text) });
    },
  };
}

const tasks = [
  ["a visit of eight places", async (page, hand) => {
    await hand.click("#view-cars button:text-is('A-1')");
    await page.waitForSelector("#visit .place");
    await hand.type("#visit-inspector", "k1");
    await hand.click("#visit .place >> nth=0");
    for (const grade of "01010101") {
      await hand.press(grade);
      await hand.press("Enter");
    }
    await hand.press("Control+Enter");
    await page.waitForSelector(".stored:has-text('entries 1, 2')");
  }],
  ["an import of ten years", async (page, hand) => {
    await hand.click("text=Bring in a table of inspections");
    await hand.file("#table-file", "ten.csv", TABLE);
    await hand.click("text=Store 10 entries");
    await page.waitForSelector("#import .stored");
  }],
  ["a comparison of stores for the car", async (page, hand) => {
    await hand.click("#view-cars button:text-is('A-1')");
    await hand.click("text=Try changes on this car");
    await page.waitForSelector("[aria-label='What changes move'] tbody tr:nth-child(3)");
  }],
  ["a letter to the owner", async (page, hand) => {
    await hand.click("#view-cars button:text-is('A-1')");
    const [download] = await Promise.all([page.waitForEvent("download"), hand.click("text=Letter to print, PDF")]);
    assert.equal(download.suggestedFilename(), "A-1.pdf");
  }],
  ["a correction of an entry", async (page, hand) => {
    await hand.click("#view-cars button:text-is('A-1')");
    await hand.click("[aria-label='Correct entry 1']");
    await hand.press("3");
    await hand.press("Control+Enter");
    await page.waitForSelector(".stored");
  }],
];

test("five tasks from the list of cars on", async (page) => {
  console.log("      | Task, from the list of cars on | Clicks | Key presses | Characters typed |");
  for (const [name, task] of tasks) {
    await page.goto("about:blank");
    await page.goto(`${address}#view=cars`);
    await page.waitForSelector("#view-cars button:text-is('A-1')");
    const hand = counting(page);
    await task(page, hand);
    const { clicks, keys, characters } = hand.steps;
    console.log(`      | ${name} | ${clicks} | ${keys} | ${characters} |`);
    assert.ok(clicks + keys <= 20, `${name}: ${clicks} clicks and ${keys} keys`);
  }
});

await run();
