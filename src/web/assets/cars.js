// The cars of the record, and one of them: what was observed, the forecast updated by it, and a form for the next inspection.

import { changes } from "./changes.js";
import { html, mountPicture, table } from "./figure.js";
import { inspectionForm } from "./inspection.js";
import { save } from "./downloads.js";
import { opened } from "./opened.js";
import { updatedBand } from "./updated.js";
import { age, headline, spoken } from "./words.js";

/** Shows the list, or the car the address names. */
export async function showCars(host, page, record) {
  if (page.state.car) return showCar(host, page, record);
  const cars = await (await record.request("cars")).json();
  const rows = cars.map((car) => [opener(car.ref, record), car.first_registration, car.last_inspection ?? "never", car.entries]);
  const list = table("Every car of this record", ["Car", "First registered", "Last inspected", "Entries"], rows);
  const empty = html("p", {}, "No car yet. ferrowane record car add puts the first one in.");
  host.replaceChildren(html("h1", { tabIndex: -1 }, "Cars"), html("section", { class: "panel wide", tabIndex: 0, "aria-label": "Cars" }, cars.length > 0 ? list : empty));
}

/** A button that opens a car. */
export function opener(ref, record) {
  const button = html("button", { type: "button" }, ref);
  button.addEventListener("click", () => record.go("cars", ref));
  return button;
}

async function showCar(host, page, record) {
  const ref = page.state.car;
  const path = `cars/${encodeURIComponent(ref)}`;
  const car = await (await record.request(path)).json();
  const back = html("button", { type: "button" }, "All cars");
  back.addEventListener("click", () => record.go("cars", null));
  const forecast = html("section", { class: "panel", hidden: true });
  const again = async () => showCar(host, page, record);
  host.replaceChildren(
    html("p", {}, back), html("h1", { tabIndex: -1 }, `Car ${car.ref}`), html("p", {}, `First registered ${car.first_registration}.`), inForm(car, page, record),
    forecast, changes(path, record), history(car), inspectionForm(path, record, again), letters(path, ref, record),
  );
  await showForecast(forecast, path, record, car.entries.length);
}

/** A button that carries the case into the form of the forecast; what the form has no control for is listed. */
function inForm(car, page, record) {
  const { settings, left } = opened(car.case);
  const button = html("button", { type: "button" }, "Open its case in the forecast");
  button.addEventListener("click", () => {
    page.changed(settings);
    record.go("forecast", null);
  });
  const without = left.length > 0 ? `Without what the form has no control for: ${left.join(", ")}. ` : "";
  return html("p", { class: "row" }, button, html("span", { class: "hint" }, `${without}What was observed on the car is not taken along; \u201cWhat would move its date?\u201d keeps it.`));
}

/** The forecast after what was seen, over that before; absent where the server does not make one. */
async function showForecast(section, path, record, entries) {
  try {
    const updated = await (await record.request(`${path}/forecast`)).json();
    if (entries === 0) delete updated.prior;
    const words = inspectedWords(updated, entries);
    const picture = html("div");
    section.replaceChildren(html("h2", {}, entries === 0 ? "Forecast" : "Forecast after the inspections"), html("p", { class: "headline" }, words), picture, ...doubts(updated));
    section.hidden = false;
    mountPicture(picture, updatedBand)({ forecast: updated });
  } catch (error) {
    if (error.status !== 404) {
      section.hidden = false;
      section.replaceChildren(html("p", { class: "problem" }, `No forecast: ${error.message}`));
    }
  }
}

function inspectedWords(updated, entries) {
  const reached = ({ p50 }) => (p50 === null ? `more than ${updated.horizon_a} years` : age(p50));
  const now = reached(updated.time_to_rework_a);
  if (updated.as_of && entries > 0) return headline(updated).replace("like this one", "with this history");
  if (entries === 0) return `Nothing has been seen on this car yet. Half of the cars like it need rework by ${now} of age.`;
  return `Half of the cars with this history need rework by ${now} of age; before anything was seen it was ${reached(updated.prior?.time_to_rework_a ?? { p50: null })}.`;
}

/** Observations that do not fit the forecast, and those that it cannot use. */
function doubts({ evidence }) {
  const notes = [["Out of line with the rest", evidence.conflicts], ["Not counted", evidence.unused]];
  return notes.filter(([, words]) => words.length > 0).map(([what, words]) => html("p", {}, html("strong", {}, `${what}: `), words.join("; ")));
}

function history(car) {
  const shown = (value, unit = "") => (value === null || value === undefined ? "" : `${value}${unit}`);
  const joined = (words, by) => words.filter(Boolean).join(by);
  const rows = car.entries.map((entry) => {
    const besides = joined([entry.what && spoken(entry.what), entry.remark, entry.superseded_by && `corrected by ${entry.superseded_by}`], "; ");
    const what = joined([spoken(entry.kind), spoken(shown(entry.location))], ", ");
    return [entry.date, html("div", {}, what, ...(besides ? [html("p", { class: "hint" }, besides)] : [])), joined([shown(entry.grade), shown(entry.wall_mm, " mm")], ", ")];
  });
  if (rows.length === 0) return html("section", { class: "panel" }, html("h2", {}, "History"), html("p", {}, "Nothing has been entered yet."));
  const list = table(rows.length === 1 ? "1 entry" : `${rows.length} entries`, ["Date", "What was done, and where", "Found"], rows);
  list.classList.add("words");
  return html("section", { class: "panel" }, html("h2", {}, "History"), html("div", { class: "wide", tabIndex: 0, role: "region", "aria-label": "History" }, list));
}

/** Letters to the owner, as the server writes them; fetched, so that the token goes along. */
function letters(path, ref, record) {
  const problem = html("p", { class: "problem", role: "alert", hidden: true });
  const row = html("p", { class: "row" });
  for (const ending of ["pdf", "html"]) {
    const button = html("button", { type: "button" }, `Letter, ${ending.toUpperCase()}`);
    button.addEventListener("click", async () => {
      problem.hidden = true;
      try {
        save(await (await record.request(`${path}/letter.${ending}`)).blob(), `${ref}.${ending}`);
      } catch (error) {
        problem.textContent = error.status === 404 ? "This server writes no letters." : error.message;
        problem.hidden = false;
      }
    });
    row.append(button);
  }
  return html("section", { class: "panel" }, html("h2", {}, "Letter to the owner"), row, problem);
}
