// Are the numbers of the page, and what can be taken from it, those of the command line and of the server?
import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { command, demoCase, run, scratch, serve, test } from "./harness.mjs";

const plain = await serve();
const book = scratch("shop.db");
command("record", "--file", book, "car", "add", "--ref", "A-1", "--case", demoCase);
const shop = await serve("--record", book);

const full = (page) => page.waitForFunction(() => document.getElementById("sure").textContent.startsWith("Full answer"));
/** The numbers of an answer: what it rests on differs between a page and a command. */
const numbersOf = ({ provenance, ...numbers }) => {
  assert.match(provenance.tables_sha256, /^[0-9a-f]{64}$/);
  return numbers;
};
const json = (...words) => numbersOf(JSON.parse(command(...words, "--seed", "1", "--format", "json")));

/** Waits for the response to a request that names no number of histories. */
const fullAnswer = (page, path) => page.waitForResponse((response) => {
  const address = new URL(response.url());
  return address.pathname === `/api/${path}` && !address.searchParams.has("histories") && response.status() === 200;
});

/** Opens the numbers of a picture and gives its rows as text, headings of rows first. */
async function rows(page, picture) {
  await page.locator(`#${picture} details`).evaluate((fold) => { fold.open = true; });
  await page.waitForSelector(`#${picture} tbody tr`);
  return page.locator(`#${picture} tbody tr`).evaluateAll((all) => all.map((row) => [...row.children].map((cell) => cell.textContent)));
}

/** The case that the page sent, as a file for the command line. */
async function caseFile(sent, name) {
  const reply = await fetch(`${plain}api/case.toml`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(sent) });
  const file = scratch(name);
  writeFileSync(file, await reply.text());
  return file;
}

/** Ages of twenty dots: where the curve, straight between its years, passes (i - 0.5)/20. */
function dotAges(band) {
  const curve = [{ year: 0, pooled: 0 }, ...band];
  return Array.from({ length: 20 }, (_, number) => {
    const wanted = (number + 0.5) / 20;
    const next = curve.findIndex(({ pooled }) => pooled >= wanted);
    if (next < 0) return null;
    const [a, b] = [curve[next - 1], curve[next]];
    return a.year + ((wanted - a.pooled) / (b.pooled - a.pooled)) * (b.year - a.year);
  });
}

test("every quantile, the band by year and the dots are the command line's", async (page) => {
  await page.goto(plain);
  await full(page);
  const [answered] = await Promise.all([fullAnswer(page, "forecast"), page.check('[name="stands"][value="carport"]')]);
  const printed = json("forecast", await caseFile(answered.request().postDataJSON(), "band.toml"));
  assert.deepEqual(numbersOf(await answered.json()), printed);
  await full(page);
  for (const name of ["p10", "p50", "p90"]) {
    assert.equal(await page.getAttribute(`[data-quantile="${name}"]`, "data-years"), String(printed.time_to_rework_a[name]));
  }
  const percent = (share) => (100 * share).toFixed(1);
  const band = await rows(page, "picture-band");
  assert.deepEqual(band.map((row) => [row[0], ...row.slice(2)]), printed.band.map(({ year, pooled, low, mid, high }) => [String(year), ...[pooled, low, mid, high].map(percent)]));
  const ages = await page.evaluate(async (forecast) => (await import("/pictures.js")).dotAges(forecast.band), printed);
  dotAges(printed.band).forEach((years, number) => {
    if (years === null) assert.equal(ages[number], null);
    else assert.ok(Math.abs(ages[number] - years) < 1e-9, `dot ${number}: ${ages[number]} for ${years}`);
  });
  assert.equal((await rows(page, "picture-dots")).length, 20);
});

test("side by side and the reason why are the command line's", async (page) => {
  await page.goto(plain);
  await full(page);
  await page.click("#keep");
  const [compared] = await Promise.all([fullAnswer(page, "compare"), page.check('[name="stands"][value="tent_dehumidified"]')]);
  const { cases } = compared.request().postDataJSON();
  const files = await Promise.all(cases.map((sent, index) => caseFile(sent, `compared-${index}.toml`)));
  const printed = json("compare", ...files);
  assert.deepEqual(numbersOf(await compared.json()), printed);
  await page.waitForSelector("#gains caption:has-text('Full answer')");
  const shift = printed.cases[1].shift_a.p50;
  assert.equal(await page.textContent("#gains tbody tr:nth-child(2) td:nth-child(3)"), `+${shift.toFixed(1)}`);
  const [explained] = await Promise.all([fullAnswer(page, "explain"), page.click("#why-form button")]);
  const why = json("explain", ...files);
  assert.deepEqual(numbersOf(await explained.json()), why);
  await page.waitForSelector("#picture-why:not([hidden]) svg[role=img]");
  assert.equal(await page.textContent("#why-words"), why.words);
  const parts = (await rows(page, "picture-why")).map(([title, years]) => [title, years]);
  const signed = (years) => `${years < 0 ? "−" : "+"}${Math.abs(years).toFixed(1)}`;
  assert.deepEqual(parts, why.contributions.map(({ title, years }) => [title, signed(years)]));
});

test("options and their costs are the server's full answer", async (page) => {
  await page.goto(`${plain}#price_rework=2000`);
  await full(page);
  await page.click("#decide summary");
  assert.equal(await page.inputValue("#price_rework"), "2000", "the address holds the prices");
  await page.fill("#keep_years", "");
  await page.click("#decide-form button");
  await page.waitForSelector("#keep_years-problem");
  await page.fill("#keep_years", "12");
  const [decided] = await Promise.all([fullAnswer(page, "decide"), page.click("#decide-form button")]);
  const decision = await decided.json();
  assert.equal(decided.request().postDataJSON().costs.removal, 2000);
  assert.equal(decision.keep_a, 12);
  await page.waitForSelector("#options caption:has-text('Full answer')");
  const cheapest = decision.options.reduce((a, b) => (b.cost < a.cost ? b : a));
  const first = await page.locator("#options tbody tr:first-child > *").allTextContents();
  assert.equal(first[0], cheapest.title);
  assert.equal(first[1].replace(/\s/g, ""), String(Math.round(cheapest.cost)));
  assert.equal((await rows(page, "picture-costs")).length, decision.cost_by_rework_age.length);
});

test("everything can be taken along", async (page) => {
  await page.goto(plain);
  await full(page);
  const [answered] = await Promise.all([fullAnswer(page, "forecast"), page.fill("#days", "3.5")]);
  await full(page);
  const taken = async (button) => {
    const [download] = await Promise.all([page.waitForEvent("download"), page.click(`#downloads button:text-is("${button}")`)]);
    return [download.suggestedFilename(), readFileSync(await download.path())];
  };
  const pictures = ["band", "dots", "losses", "grades", "exposure"];
  assert.deepEqual(await page.locator("#which option").evaluateAll((all) => all.map(({ value }) => value)), pictures);
  for (const picture of pictures) {
    await page.selectOption("#which", picture);
    const [pngName, png] = await taken("PNG");
    assert.equal(pngName, `${picture}.png`);
    assert.equal(png.subarray(0, 8).toString("hex"), "89504e470d0a1a0a");
    assert.ok(png.length > 10_000, `${picture}: ${png.length} bytes`);
  }
  // Chromium lets a page hand out ten files in a row.
  const [svgName, svg] = await taken("SVG");
  assert.equal(svgName, "exposure.svg");
  assert.ok(svg.toString().startsWith("<svg") && svg.includes("Planning estimate only"));
  const [jsonName, numbers] = await taken("All numbers, JSON");
  assert.equal(jsonName, "forecast.json");
  assert.equal(numbers.toString(), await answered.text());
  const forecast = numbersOf(JSON.parse(numbers));
  const lines = (await taken("All numbers, CSV"))[1].toString().trim().split("\n");
  const columns = lines.filter((line) => !line.startsWith("#"))[0].split(",");
  const last = lines.at(-1).split(",");
  assert.equal(Number(last[columns.indexOf("age_a")]), forecast.horizon_a, columns.join());
  const [caseName, text] = await taken("Case file");
  assert.equal(caseName, "case.toml");
  writeFileSync(scratch("taken.toml"), text);
  assert.match(text.toString(), /days_per_week = 3\.5/);
  assert.deepEqual(json("forecast", scratch("taken.toml")), forecast);
});

test("a car of the record opens in the form of the forecast", async (page) => {
  await page.goto(`${shop}#view=cars&car=A-1`);
  const [answered] = await Promise.all([fullAnswer(page, "forecast"), page.click("text=Open its case in the forecast")]);
  assert.deepEqual(numbersOf(await answered.json()), json("forecast", demoCase));
  assert.ok(await page.isVisible("#view-forecast"));
  const left = await page.evaluate(async () => {
    const { opened } = await import("/opened.js");
    const { FIRST, toCase } = await import("/fields.js");
    const description = toCase({ ...FIRST, graded: true, coat: true, moved: true, wash: "every", climate: "own", shape: "rectangular" });
    const all = opened(description);
    const more = opened({ ...description, member: { ...description.member, rework: { node_grade: "Ri 3" } } });
    return [all.left, JSON.stringify(toCase(all.settings)) === JSON.stringify(description), more.left];
  });
  assert.deepEqual(left, [[], true, ["member.rework.node_grade"]]);
});

test("patches of the grades cover the nominal areas of ISO 4628-3", async (page) => {
  await page.goto(plain);
  const choices = await (await fetch(`${plain}api/choices`)).json();
  const SIDE = 200;
  // Points a pixel, in both directions: the smallest area has 2000 points, so counting is good to about 1 %.
  const FINE = 10;
  const nominal = [0, 0.05, 0.5, 1, 8, 45];
  for (const [grade, pct] of nominal.entries()) {
    const spots = [...choices.grades[grade].svg.matchAll(/cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"/g)].map(([, x, y, radius]) => ({ x: Number(x), y: Number(y), radius: Number(radius) }));
    const covered = new Uint8Array((SIDE * FINE) ** 2);
    for (const { x, y, radius } of spots) {
      assert.ok(Math.min(x, y, SIDE - x, SIDE - y) >= radius - 0.11, `Ri ${grade}: a spot is cut off`);
      for (let row = Math.floor((y - radius) * FINE); row <= (y + radius) * FINE; row += 1) {
        for (let column = Math.floor((x - radius) * FINE); column <= (x + radius) * FINE; column += 1) {
          const within = Math.hypot((column + 0.5) / FINE - x, (row + 0.5) / FINE - y) <= radius;
          if (within) covered[row * SIDE * FINE + column] = 1;
        }
      }
    }
    const share = (100 * covered.reduce((sum, point) => sum + point, 0)) / covered.length;
    assert.ok(Math.abs(share - pct) <= 0.02 * pct, `Ri ${grade}: ${share} % for ${pct} %`);
  }
});

await run();
