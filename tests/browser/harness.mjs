// Starts servers and a browser, runs tests one by one, and prints which failed.
import { spawn, execFileSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
export const [program, demoCase] = process.argv.slice(2);
const folder = mkdtempSync(join(tmpdir(), "page-"));
const servers = [];
const tests = [];

export const test = (name, body, options = {}) => tests.push({ name, body, options });
export const command = (...words) => execFileSync(program, words, { encoding: "utf8" });
export const scratch = (name) => join(folder, name);

/** Words of the page's pictures that leave their picture. */
export const outside = (page) => page.$$eval(".canvas svg", (all) => all.flatMap((svg) => {
  const { left, right, top, bottom } = svg.getBoundingClientRect();
  const leaves = (box) => box.left < left - 1 || box.right > right + 1 || box.top < top - 1 || box.bottom > bottom + 1;
  return [...svg.querySelectorAll("text")].filter((text) => leaves(text.getBoundingClientRect())).map((text) => text.textContent.trim());
}));

/** Starts a server on a free port and gives its address. */
export function serve(...more) {
  const server = spawn(program, ["serve", "--port", "0", ...more]);
  servers.push(server);
  return new Promise((found, failed) => {
    server.stdout.on("data", (data) => {
      const address = /http:\/\/\S+/.exec(String(data));
      if (address) found(address[0]);
    });
    server.on("exit", () => failed(new Error("the server ended")));
  });
}

/** Runs every test in a page of its own; an error on the console fails it, unless the test expects refusals. */
export async function run() {
  let failures = 0;
  const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: FLAGS });
  try {
    for (const { name, body, options } of tests) {
      const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, reducedMotion: "reduce", ...options.context });
      const page = await context.newPage();
      const errors = [];
      page.on("pageerror", (error) => errors.push(error.message));
      page.on("console", (message) => {
        const refusal = options.refusals && message.text().includes(options.refusals);
        if (message.type() === "error" && !refusal) errors.push(message.text());
      });
      page.setDefaultTimeout(90_000);
      try {
        await body(page);
        if (errors.length > 0) throw new Error(`console: ${errors.join("; ")}`);
        console.log(`ok    ${name}`);
      } catch (error) {
        failures += 1;
        console.log(`FAIL  ${name}: ${error.message}`);
      }
      await context.close();
    }
  } finally {
    await browser.close();
    for (const server of servers) server.kill();
    rmSync(folder, { recursive: true, force: true });
  }
  process.exit(failures > 0 ? 1 : 0);
}
