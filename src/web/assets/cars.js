// The cars of the record: found by anything that is known of them, in an order of choice, and a form for a new one.

import { showCar } from "./car.js";
import { html, table, wide } from "./figure.js";
import { importSection } from "./importtable.js";
import { newCarForm } from "./newcar.js";
import { actionWords, nextYear } from "./due.js";

const ORDERS = [["ref", "reference"], ["next", "overdue, then next visit"], ["seen", "longest not inspected"], ["age", "oldest"]];

/** Shows the list, or the car the address names. */
export async function showCars(host, page, record) {
  if (page.state.car) return showCar(host, page, record);
  const cars = await (await record.request("cars")).json();
  const search = html("input", { id: "find", type: "search", autocomplete: "off", placeholder: "reference, owner, overdue …" });
  const order = html("select", { id: "order" }, ...ORDERS.map(([value, words]) => html("option", { value }, words)));
  const list = html("div", {});
  const counted = html("p", { class: "hint", role: "status" });
  const standing = new Map();
  const fill = () => {
    const words = search.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const fits = (car) => words.every((word) => [car.ref, car.owner ?? "", nextOf(car, standing)].join(" ").toLowerCase().includes(word));
    const found = cars.filter(fits).sort(byOrder(order.value, standing));
    counted.textContent = found.length === cars.length ? `${cars.length} ${cars.length === 1 ? "car" : "cars"}` : `${found.length} of ${cars.length} cars`;
    const row = (car) => [opener(car.ref, record), html("div", {}, nextOf(car, standing)), html("div", {}, car.owner ?? ""), car.last_inspection ?? "never", car.first_registration];
    list.replaceChildren(wide("Cars", table("Cars of this record", ["Car", "Next", "Owner", "Last inspected", "First registered"], found.map(row)), "words"));
  };
  search.addEventListener("input", fill);
  order.addEventListener("change", fill);
  const finder = html("div", { class: "pair" }, html("div", {}, html("label", { htmlFor: "find" }, "Find"), search), html("div", {}, html("label", { htmlFor: "order" }, "Order"), order));
  const shown = cars.length > 0 ? [finder, counted, list] : [html("p", {}, "No car yet. The form below puts the first one in.")];
  host.replaceChildren(html("h1", { tabIndex: -1 }, "Cars"), html("section", { class: "panel" }, ...shown), newCarForm(page, record), importSection(record));
  if (cars.length === 0) return;
  fill();
  await stand(standing, record);
  if (list.isConnected) fill();
}

/** Fills in what comes next for each car, once the work list of a year is there; without one the list stays as it is. */
async function stand(standing, record) {
  try {
    const { cars, agenda } = await (await record.request("due", { query: { by: nextYear() } })).json();
    for (const car of cars) standing.set(car.ref, { overdue: car.overdue, words: car.error ? "no forecast" : "nothing before the yearly service", day: "9999" });
    for (const visit of agenda) standing.set(visit.ref, { overdue: visit.overdue, words: `${actionWords(visit)}, proposed ${visit.day}`, day: visit.day });
  } catch (error) {
    if (error.status === 401) throw error;
  }
}

const nextOf = (car, standing) => standing.get(car.ref)?.words ?? "working it out …";

/** How two cars are ordered; what is not known comes last. */
function byOrder(order, standing) {
  const key = {
    ref: (car) => car.ref,
    next: (car) => `${standing.get(car.ref)?.overdue ? 0 : 1} ${standing.get(car.ref)?.day ?? "9999"} ${car.ref}`,
    seen: (car) => `${car.last_inspection ?? "0"} ${car.ref}`,
    age: (car) => `${car.first_registration} ${car.ref}`,
  }[order];
  return (a, b) => key(a).localeCompare(key(b), "en", { numeric: order === "ref" });
}

/** A button that opens a car. */
export function opener(ref, record) {
  const button = html("button", { type: "button" }, ref);
  button.addEventListener("click", () => record.go("cars", ref));
  return button;
}
