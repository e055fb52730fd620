// What is worth doing, and what does it cost? Prices typed here, options weighed by the server in the same histories.

import { ageRead } from "./reading.js";
import { requestJson, renewed, superseded } from "./api.js";
import { toCase, typed } from "./fields.js";
import { html, mountPicture, table } from "./figure.js";
import { costs as costsByAge } from "./pictures.js";
import { clearProblems, problemNote, showBeside } from "./problems.js";
import { percent, thousands } from "./words.js";

/** Prices in one currency that is never named; placeholders, no price list. */
export const PRICES = Object.freeze({
  price_rework: 1300, price_coat: 150, price_wax: 60, price_rinse: 8, price_late: 150, price_stand: 0, price_better: 600, better: "garage_tight", keep_years: 15, interest: 3,
});

const FIELDS = [
  ["price_rework", "A rework: out, blasted, coated, back in"], ["price_coat", "A coat brushed over the rust"],
  ["price_wax", "Wax film, a year"], ["price_rinse", "Rinsing once"], ["price_late", "Each year a rework comes late"],
  ["price_stand", "Where it stands now, a year"], ["price_better", "The other place, a year"],
  ["keep_years", "Car is kept for [years]"], ["interest", "Interest above inflation [%]"],
];
// Key paths of a costs file and the field each belongs to.
const FIELD_OF_KEY = [
  [/keep_years/, "keep_years"], [/discount/, "interest"], [/over_rust/, "price_coat"], [/wax/, "price_wax"], [/wash/, "price_rinse"],
  [/late/, "price_late"], [/storage/, "price_better"], [/costs/, "price_rework"],
];
const form = document.getElementById("decide-form");
const status = document.getElementById("decide-words");
const options = document.getElementById("options");
const host = document.getElementById("picture-costs");
let page = null;
let show = null;

/** Makes the form and wires it. */
export function prepareDecide(shared) {
  page = shared;
  show = mountPicture(host, costsByAge);
  host.hidden = true;
  const field = ([name, words]) => html("div", {}, html("label", { htmlFor: name }, words), html("input", { id: name, name, type: "number", min: "0", step: "any", "aria-describedby": `${name}-problem` }));
  const others = page.lists().arrangements.filter(([key]) => key !== "unknown").map(([value, name]) => html("option", { value }, name));
  const better = html("div", {}, html("label", { htmlFor: "better" }, "Another place to stand"), html("select", { id: "better", name: "better" }, ...others));
  form.replaceChildren(html("div", { class: "pair" }, ...FIELDS.map(field), better), html("p", {}, html("button", {}, "What is worth doing?")));
  form.addEventListener("input", ({ target }) => {
    page.state.prices = { ...page.state.prices, [target.name]: typed(target.value, PRICES[target.name]) };
    page.writeAddress();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    decide();
  });
}

/** Shows the prices of the address. */
export function showPrices() {
  for (const field of form.querySelectorAll("[name]")) field.value = page.state.prices[field.name] ?? "";
}

/** Prices as a costs file has them; the price of a rework is one amount here. */
function costs({ stands }, prices) {
  return {
    keep_years: prices.keep_years, discount_rate_pct: prices.interest,
    removal: prices.price_rework, blast_and_coat: 0, parts: 0,
    over_rust_coat: prices.price_coat, wax_per_year: prices.price_wax, wash_each: prices.price_rinse, late_penalty: prices.price_late,
    storage_per_year: { [prices.better]: prices.price_better, ...(stands === "unknown" ? {} : { [stands]: prices.price_stand }) },
  };
}

async function decide() {
  const { settings, prices } = page.state;
  clearProblems(form);
  const absent = FIELDS.filter(([name]) => prices[name] === null);
  absent.forEach(([name]) => showProblem(name, "a number is needed here"));
  if (absent.length > 0) return;
  status.textContent = "Working it out …";
  const body = { case: toCase(settings), costs: costs(settings, prices), at_age_a: Math.min(59, ageRead()) };
  const signal = renewed("decide");
  try {
    for (const histories of [page.QUICK, null]) {
      const query = page.run(settings, histories);
      showDecision(await requestJson("decide", { body, query, signal }), histories !== null, { path: "picture/costs", body, query });
    }
  } catch (error) {
    if (superseded(error)) return;
    host.hidden = true;
    options.replaceChildren();
    status.textContent = "";
    showProblem(FIELD_OF_KEY.find(([path]) => path.test(error.field ?? ""))?.[1], error.inWords?.() ?? error.message);
  }
}

function showDecision(decision, coarse, from) {
  status.textContent = inWords(decision);
  const row = (one) => [one.title, thousands(one.cost), `${thousands(one.net_present_cost.p05)} to ${thousands(one.net_present_cost.p95)}`, thousands(one.equivalent_annual_cost), percent(one.cheapest_share)];
  const rows = [...decision.options].sort((a, b) => a.cost - b.cost).map(row);
  const caption = `${coarse ? "Preview" : "Full answer"}: ${thousands(decision.histories)} histories, the same random numbers for all. Costs as of the day of the decision, with interest.`;
  options.replaceChildren(table(caption, ["Option", "Mean", "5 to 95 %", "A year", "Cheapest in"], rows));
  host.hidden = false;
  show(decision, from);
}

/** What to do, and what is not counted. */
function inWords({ in_words: advice, flags }) {
  const counted = flags.map((flag) => `${flag[0].toUpperCase()}${flag.slice(1)}.`).join(" ");
  return `${advice} ${counted}`;
}

function showProblem(name, words) {
  const field = name && form.elements[name];
  if (field) showBeside(field, `${name}-problem`, words);
  else form.append(problemNote(words));
}
