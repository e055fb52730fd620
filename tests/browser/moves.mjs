// How long from a control's move to a changed picture, over loopback? Prints median and 95 % point of some moves [ms].
import { loadavg } from "node:os";
import { run, serve, test } from "./harness.mjs";

const MOVES = 30;
const plain = await serve();

/** In the page: moves the days a week to a value and waits for the frame in which the band has another shape. */
function moved(value) {
  const band = () => document.querySelector("#picture-band svg")?.outerHTML;
  const before = band();
  const slider = document.getElementById("days");
  return new Promise((done) => {
    const begun = performance.now();
    const check = () => (band() === before ? requestAnimationFrame(check) : requestAnimationFrame(() => done(performance.now() - begun)));
    slider.value = value;
    slider.dispatchEvent(new Event("input", { bubbles: true }));
    check();
  });
}

const ARRANGEMENTS = ["carport", "garage_heated", "street"];

/** Times of moves of one control under several arrangements, in order [ms]. */
async function times(page) {
  const found = [];
  for (let move = 0; move < MOVES; move += 1) {
    if (move % 10 === 0) await page.check(`[name="stands"][value="${ARRANGEMENTS[move / 10]}"]`);
    await page.waitForTimeout(1500);
    found.push(await page.evaluate(moved, String(0.5 + (move % 10) * 0.5)));
  }
  return found.sort((a, b) => a - b);
}

function print(what, found) {
  const [median, high, most] = [found[MOVES / 2], found[Math.floor(MOVES * 0.95)], found.at(-1)].map((ms) => ms.toFixed(0));
  console.log(`${MOVES} moves ${what}: median ${median} ms, 95 % within ${high} ms, most ${most} ms (load average ${loadavg()[0].toFixed(1)})`);
}

test("from a move to a changed picture", async (page) => {
  page.setDefaultTimeout(60_000);
  await page.goto(plain);
  await page.waitForFunction(() => document.getElementById("sure").textContent.startsWith("Full answer"));
  print("to a new answer", await times(page));
  // The same moves again are served from the cache: what is left is the page's own share.
  print("to a cached answer", await times(page));
});

await run();
