// A car of the record: what was observed and done, the forecast updated by it, and the forms for what comes next.

import { superseded } from "./api.js";
import { changes } from "./changes.js";
import { entryForm } from "./entry.js";
import { html, mountPicture } from "./figure.js";
import { action, newKey } from "./form.js";
import { history } from "./history.js";
import { save } from "./downloads.js";
import { opened } from "./opened.js";
import { problemNote } from "./problems.js";
import { updatedBand } from "./updated.js";
import { visitForm } from "./visit.js";
import { age, headline } from "./words.js";

/** Shows a car; `note` stands above everything, such as what was just stored. */
export async function showCar(host, page, record, note = null) {
  const ref = page.state.car;
  const path = `cars/${encodeURIComponent(ref)}`;
  const [car, drawings] = await Promise.all([path, `${path}/member`].map(async (address) => (await record.request(address)).json()));
  const send = async (kind, body, key) => (await record.request(`${path}/${kind}`, { body, key })).json();
  const again = (words) => showCar(host, page, record, words);
  const withdraw = async (numbers) => {
    const taken = await send("withdrawals", { entries: numbers }, newKey());
    await again(html("span", {}, `Taken back: ${numbersOf(taken.map((entry) => entry.supersedes))}; what stood there before holds again. The history keeps both.`));
  };
  const done = (entries) => again(stored(entries, withdraw));
  const visit = visitForm(car, drawings, send, done);
  const entry = entryForm(page.lists(), send, done);
  const correct = (one) => (one.kind === "inspection" ? visit : entry).correct(one);
  const back = html("button", { type: "button" }, "All cars");
  back.addEventListener("click", () => record.go("cars", null));
  const forecast = html("section", { class: "panel", hidden: true });
  const noted = html("p", { class: "stored", role: "status", tabIndex: -1 }, ...(note ? [note] : []));
  noted.hidden = !note;
  const owner = car.owner ? ` Owner: ${car.owner}.` : "";
  host.replaceChildren(
    html("p", {}, back), html("h1", { tabIndex: -1 }, `Car ${car.ref}`), html("p", {}, `First registered ${car.first_registration}.${owner}`), noted,
    visit.section, forecast, history(car, correct, withdraw), entry.section, changes(path, record), letters(path, ref, record), inForm(car, page, record),
  );
  if (note) noted.focus();
  const held = car.entries.filter((one) => !one.superseded_by && one.what !== "withdrawn");
  await showForecast(forecast, path, record, held.length);
}

/** Numbers of entries in words. */
const numbersOf = (numbers) => (numbers.length === 1 ? `entry ${numbers[0]}` : `entries ${numbers.join(", ")}`);

/** What was stored, with a way back. */
function stored(entries, withdraw) {
  const numbers = entries.map((entry) => entry.id);
  const days = [...new Set(entries.map((entry) => entry.date))].join(", ");
  const undo = action("Undo", async () => {
    try {
      await withdraw(numbers);
    } catch (error) {
      undo.after(problemNote(error.message));
    }
  });
  return html("span", { class: "row" }, `Stored for ${days}: ${numbersOf(numbers)}.`, undo);
}

/** A button that carries the case into the form of the forecast; what the form has no control for is listed. */
function inForm(car, page, record) {
  const { settings, left: paths } = opened(car.case);
  const left = page.lists().inWords(paths);
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

/** Letters to the owner, as the server writes them; fetched, so that the token goes along. */
const LETTERS = [
  ["Letter to print, PDF", "letter.pdf", {}, ".pdf"],
  ["Letter as a page, HTML", "letter.html", {}, ".html"],
  // half the usual histories for each of 120 combinations, so that nobody waits for minutes
  ["Letter to try choices in, one file", "letter.html", { choices: "every", histories: 65_536 }, "-choices.html"],
];

function letters(path, ref, record) {
  const status = html("p", { class: "hint row", role: "status" });
  const row = html("p", { class: "row" });
  for (const [words, address, query, ending] of LETTERS) {
    row.append(action(words, async () => {
      const controller = new AbortController();
      const working = query.choices ? "Computing every combination of storage, washing and coat; this takes a minute or so …" : "Writing the letter …";
      status.replaceChildren(working, action("Stop", async () => controller.abort()));
      try {
        save(await (await record.request(`${path}/${address}`, { query, signal: controller.signal })).blob(), `${ref}${ending}`);
        status.textContent = `${ref}${ending} is among your downloads.`;
      } catch (error) {
        status.replaceChildren(superseded(error) ? "Stopped." : problemNote(error.status === 404 ? "This server writes no letters." : error.message));
      }
    }));
  }
  const hint = "The last one works on the owner’s phone without this server: storage, washing and coats can be tried in it.";
  return html("section", { class: "panel" }, html("h2", {}, "Letter to the owner"), row, html("p", { class: "hint" }, hint), status);
}
