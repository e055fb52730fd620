// Up to four settings side by side: kept ones and the one at hand, and the years gained with the same random numbers.

import { requestJson, renewed, superseded } from "./api.js";
import { shortName } from "./controls.js";
import { toCase, toQuery } from "./fields.js";
import { html, mountPicture, table } from "./figure.js";
import { compared } from "./pictures.js";
import { age, percent, signed, thousands } from "./words.js";
import { offerPairs, prepareWhy } from "./why.js";

const MAX_KEPT = 4;
const section = document.getElementById("compare");
let page = null;
let show = null;
let latest = null;

/** Wires the section. */
export function prepareCompare(shared) {
  page = shared;
  show = mountPicture(document.getElementById("picture-compare"), compared);
  document.getElementById("keep").addEventListener("click", keep);
  prepareWhy(page, entries);
}

/** Settings side by side: the kept ones, the first being the reference, and the one at hand where it differs. */
function entries() {
  const { kept, settings } = page.state;
  const named = kept.map((one, index) => ({ settings: one, name: `${"ABCD"[index]}: ${shortName(page.lists(), one)}`, index }));
  const same = kept.some((one) => String(toQuery(one)) === String(toQuery(settings)));
  if (!same) named.push({ settings, name: `now: ${shortName(page.lists(), settings)}`, index: kept.length, live: true });
  return named;
}

function keep() {
  const { kept, settings } = page.state;
  const note = document.getElementById("keep-note");
  if (kept.length >= MAX_KEPT) {
    note.textContent = `${MAX_KEPT} are kept already: remove one first.`;
    return;
  }
  kept.push({ ...settings });
  note.textContent = `Kept as ${"ABCD"[kept.length - 1]}. Now change something and see what it gains.`;
  page.writeAddress();
  compareKept();
}

function remove(index) {
  page.state.kept.splice(index, 1);
  page.writeAddress();
  compareKept();
}

/** Compares what is kept with what is set. */
export async function compareKept() {
  const all = entries();
  section.hidden = page.state.kept.length === 0;
  cards(all);
  offerPairs(all);
  document.getElementById("picture-compare").hidden = all.length < 2;
  document.getElementById("gains").hidden = all.length < 2;
  if (page.state.kept.length === 0 || all.length < 2) return;
  await update(all, page.QUICK);
  if (latest?.all === all) await update(all, null);
}

/** Shows the comparison from so many histories, or the server's default number. */
async function update(all, histories) {
  const body = { cases: all.map(({ settings, name }) => ({ ...toCase(settings), title: name })) };
  const query = page.run(page.state.settings, histories);
  try {
    const comparison = await requestJson("compare", { body, query, signal: renewed("compare") });
    latest = { all, comparison, coarse: histories !== null };
    show({ names: all.map(({ name }) => name), comparison }, { path: "picture/compare", body, query });
    gains();
  } catch (error) {
    if (!superseded(error)) document.getElementById("gains").replaceChildren(html("p", { class: "problem" }, error.message));
  }
}

function cards(all) {
  document.getElementById("kept").replaceChildren(...all.map(card));
}

function card({ settings, name, index, live }) {
  const buttons = html("p", { class: "row" });
  if (!live) {
    const load = html("button", { type: "button", "aria-label": `Show ${name}` }, "Show");
    load.addEventListener("click", () => page.changed({ ...settings }));
    const drop = html("button", { type: "button", "aria-label": `Remove ${name}` }, "Remove");
    drop.addEventListener("click", () => remove(index));
    buttons.append(load, drop);
  }
  return html("li", { class: live ? "live" : "" }, html("strong", {}, name), buttons);
}

const reached = (one, comparison, name) => (one.time_to_rework_a[name] === null ? `> ${comparison.horizon_a} years` : age(one.time_to_rework_a[name]));

/** Years gained against the first one, history by history. */
function gains() {
  const { all, comparison, coarse } = latest;
  const names = all.map(({ name }) => name);
  document.getElementById("gains").replaceChildren(gained(comparison, names, coarse ? "Preview" : "Full answer"));
}

/** A table of what cases gain on the first. */
export function gained(comparison, names, kind) {
  const rows = comparison.cases.map((one, index) => {
    const name = names[index];
    if (index === 0) return [name, reached(one, comparison, "p50"), "reference", "", ""];
    const { p05, p50, p95 } = one.shift_a;
    const span = p05 === null || p95 === null ? "" : `${signed(p05)} to ${signed(p95)}`;
    return [name, reached(one, comparison, "p50"), p50 === null ? "beyond" : signed(p50), span, percent(one.postpones_1a)];
  });
  const head = ["Setting", "Half by", "Years gained (middle)", "5 to 95 %", "A year or more later"];
  return table(`${kind}: ${thousands(comparison.histories)} histories, the same random numbers for all.`, head, rows);
}
