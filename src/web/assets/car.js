// A car of the record: what was observed and done, the forecast updated by it, and the forms for what comes next.

import { renewed, superseded } from "./api.js";
import { changes } from "./changes.js";
import { entryForm } from "./entry.js";
import { html, mountPicture } from "./figure.js";
import { action, choice, newKey } from "./form.js";
import { history } from "./history.js";
import { save } from "./downloads.js";
import { levelsSection } from "./levels.js";
import { opened } from "./opened.js";
import { seen, updated as updatedBand } from "./pictures.js";
import { problemNote } from "./problems.js";
import { visitForm } from "./visit.js";

// Where the set of criteria that is chosen stays while the page is open.
const CRITERIA = "criteria";

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
  const visit = visitForm(car, drawings, page.lists().grades, { send, done });
  const entry = entryForm(page.lists(), send, done);
  const correct = (one) => (one.kind === "inspection" ? visit : entry).correct(one);
  const back = html("button", { type: "button" }, "All cars");
  back.addEventListener("click", () => record.go("cars", null));
  const held = car.entries.filter((one) => !one.superseded_by && one.what !== "withdrawn");
  const forecast = forecastSection(path, record, held.length, page.lists());
  const noted = html("p", { class: "stored", role: "status", tabIndex: -1 }, ...(note ? [note] : []));
  noted.hidden = !note;
  const owner = car.owner ? ` Owner: ${car.owner}.` : "";
  host.replaceChildren(
    html("p", {}, back), html("h1", { tabIndex: -1 }, `Car ${car.ref}`), html("p", {}, `First registered ${car.first_registration}.${owner}`), noted,
    visit.section, forecast.section, history(car, correct, withdraw), entry.section, changes(path, record), letters(path, ref, record), inForm(car, page, record),
  );
  if (note) noted.focus();
  await forecast.fill();
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

/** The forecast after what was seen, its pictures and the levels of an inspection that are chosen; absent where the server makes none. */
function forecastSection(path, record, entries, lists) {
  const words = html("p", { class: "headline", role: "status" }, "Working out the forecast …");
  const [band, places, levels, notes] = ["div", "div", "div", "div"].map((name) => html(name, {}));
  const set = choice("car", ["criteria", "Levels of an inspection", [["", "as in its case"], ...lists.criteria.slice(1)]], sessionStorage.getItem(CRITERIA) ?? "");
  const section = html("section", { class: "panel" }, html("h2", {}, entries === 0 ? "Forecast" : "Forecast after the inspections"), words, band, places, html("div", { class: "pair" }, set), levels, notes);
  const [showBand, showPlaces] = [mountPicture(band, updatedBand), mountPicture(places, seen)];
  band.hidden = places.hidden = true;
  const fill = async () => {
    const { value: criteria } = set.lastChild;
    const query = criteria ? { criteria } : {};
    section.setAttribute("aria-busy", "true");
    try {
      const found = await (await record.request(`${path}/forecast`, { query, signal: renewed("car") })).json();
      words.textContent = (entries === 0 ? "Nothing has been seen on this car yet. " : "") + found.in_words.headline;
      band.hidden = false;
      places.hidden = found.evidence.observations.length === 0;
      const from = (name) => ({ path: `${path}/picture/${name}`, query, send: record.request });
      showBand(found, from("updated"));
      if (!places.hidden) showPlaces(found, from("seen"));
      levels.replaceChildren(...levelsSection(found));
      notes.replaceChildren(...doubts(found));
    } catch (error) {
      if (superseded(error)) return;
      if (error.status === 404) section.hidden = true;
      words.replaceChildren(html("span", { class: "problem" }, `No forecast: ${error.message}`));
    }
    section.setAttribute("aria-busy", "false");
  };
  set.lastChild.addEventListener("change", () => {
    sessionStorage.setItem(CRITERIA, set.lastChild.value);
    levels.replaceChildren(html("p", { class: "hint" }, "Working out its levels …"));
    fill();
  });
  return { section, fill };
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
        const criteria = sessionStorage.getItem(CRITERIA);
        const wanted = { ...query, ...(criteria && { criteria }) };
        save(await (await record.request(`${path}/${address}`, { query: wanted, signal: controller.signal })).blob(), `${ref}${ending}`);
        status.textContent = `${ref}${ending} is among your downloads.`;
      } catch (error) {
        status.replaceChildren(superseded(error) ? "Stopped." : problemNote(error.status === 404 ? "This server writes no letters." : error.message));
      }
    }));
  }
  const hint = "The last one works on the owner’s phone without this server: storage, washing and coats can be tried in it.";
  return html("section", { class: "panel" }, html("h2", {}, "Letter to the owner"), row, html("p", { class: "hint" }, hint), status);
}
