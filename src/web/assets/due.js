// Which cars come next? The work list up to a month.

import { opener } from "./cars.js";
import { html, table } from "./figure.js";
import { percent } from "./words.js";

/** Shows the work list; the month starts a year ahead. */
export async function showDue(host, record) {
  const ahead = new Date();
  ahead.setFullYear(ahead.getFullYear() + 1);
  const month = html("input", { type: "month", id: "by", value: ahead.toISOString().slice(0, 7) });
  const list = html("div", { class: "wide", tabIndex: 0, role: "region", "aria-label": "Work list", "aria-live": "polite" });
  host.replaceChildren(html("h1", { tabIndex: -1 }, "Work list"), html("section", { class: "panel" }, html("label", { htmlFor: "by" }, "Cars due by the month"), month, list));
  month.addEventListener("change", () => fill(list, month.value, record));
  await fill(list, month.value, record);
}

async function fill(list, by, record) {
  try {
    const answer = await (await record.ask("due", { query: { by } })).json();
    const cars = Array.isArray(answer) ? answer : answer.cars;
    list.replaceChildren(cars.length > 0 ? rows(cars, record) : html("p", {}, "No car is due by then."));
  } catch (error) {
    if (error.status === 401) throw error;
    const words = error.status === 404 ? "This server makes no work list." : error.inWords?.() ?? error.message;
    list.replaceChildren(html("p", { class: "problem" }, words));
  }
}

/** Columns follow what the server tells of a car: the reference first, the rest as it is named. */
function rows(cars, record) {
  const told = Object.keys(cars[0]).filter((name) => name !== "ref" && cars.every((car) => typeof car[name] !== "object" || car[name] === null));
  const cell = (name, value) => (/probability|share/.test(name) && typeof value === "number" ? percent(value) : value ?? "");
  return table("Most urgent first", ["Car", ...told.map((name) => name.replaceAll("_", " "))], cars.map((car) => [opener(car.ref, record), ...told.map((name) => cell(name, car[name]))]));
}
