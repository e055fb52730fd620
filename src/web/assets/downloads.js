// What can be taken along? Pictures drawn by the server, tables, the numbers, and the case for the command line.

import { request } from "./api.js";
import { toCase } from "./fields.js";
import { html } from "./figure.js";

const PICTURES = [["band", "the band"], ["dots", "the dots"], ["losses", "the losses"], ["grades", "the grades"], ["exposure", "the wet hours"]];
const problem = document.getElementById("take-problem");

/** Wires the buttons. */
export function prepareDownloads(page) {
  const row = document.getElementById("downloads");
  const which = html("select", { id: "which" }, ...PICTURES.map(([value, name]) => html("option", { value }, name)));
  row.append(html("label", { htmlFor: "which" }, "Picture of"), which);
  const buttons = [
    ["PNG", () => [`picture/${which.value}`, { format: "png" }, `${which.value}.png`]],
    ["SVG", () => [`picture/${which.value}`, { format: "svg" }, `${which.value}.svg`]],
    ["All numbers, CSV", () => ["forecast.csv", {}, "forecast.csv"]],
    ["All numbers, JSON", () => ["forecast", {}, "forecast.json"]],
    ["Case file", () => ["case.toml", null, "case.toml"]],
  ];
  for (const [words, wanted] of buttons) {
    const button = html("button", { type: "button" }, words);
    button.addEventListener("click", () => take(page, ...wanted()));
    row.append(button);
  }
  const print = html("button", { type: "button" }, "Print");
  print.addEventListener("click", () => window.print());
  row.append(print);
}

async function take(page, path, query, name) {
  problem.hidden = true;
  const { settings } = page.state;
  try {
    const options = query && path !== "picture/exposure" ? { ...page.run(settings, null), ...query } : query ?? {};
    const response = await request(path, { body: toCase(settings), query: options });
    save(await response.blob(), name);
  } catch (error) {
    problem.textContent = error.message;
    problem.hidden = false;
  }
}

/** Hands a file to the browser. */
export function save(blob, name) {
  const address = URL.createObjectURL(blob);
  const link = html("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
