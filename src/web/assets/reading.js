// Shows a forecast: the sentence, the three ages, how sure it is, the pictures, and what they read at an age.

import { band } from "./band.js";
import { dots } from "./dots.js";
import { html, mountPicture } from "./figure.js";
import { differs, hidden, likeliest, visible } from "./grades.js";
import { deepest, mean } from "./losses.js";
import { wet } from "./wet.js";
import { age, ageToday, atAge, calendarYear, comesFirst, decimalYear, headline, howSure, inShort, nearlyAll, ofTwenty, percent, remaining, significant, thousands } from "./words.js";

const slot = (id) => document.getElementById(id);
const pictures = { band, dots, mean, deepest, visible, true: hidden };
const shows = Object.fromEntries(Object.entries(pictures).map(([name, picture]) => [name, mountPicture(slot(`picture-${name}`), picture)]));
const showWet = mountPicture(slot("picture-wet"), wet);
const slider = slot("at");
// What is shown now: the forecast, the curve it is compared with, the age being read and the part being graded.
let afterwards = 0;
const current = { forecast: null, ghost: null, at: null, part: "run" };

/** Writes only what is new, so that a live region speaks only of changes. */
function setText(id, text) {
  if (slot(id).textContent !== text) slot(id).textContent = text;
}

/** Shows a forecast; after a `coarse` one a finer one follows. */
export function showForecast(forecast, ghost, coarse) {
  Object.assign(current, { forecast, ghost });
  setText("headline", headline(forecast));
  setText("strip", inShort(forecast));
  setText("sure", `${coarse ? "Preview" : "Full answer"} from ${thousands(forecast.histories)} histories: ${howSure(forecast)} ${comesFirst(forecast)}`);
  facts(forecast);
  slider.max = forecast.horizon_a;
  if (current.at === null) current.at = today(forecast);
  draw();
}

/** Another curve to compare with. */
export function showGhost(ghost) {
  current.ghost = ghost;
  if (current.forecast) draw();
}

/** Shows the wet hours. */
export const showExposure = (exposure) => showWet(exposure);

/** The age being read, or null for that of today. */
export function readAt(at) {
  current.at = at;
  if (current.forecast) draw();
}

/** The age being read [a]. */
export const ageRead = () => current.at ?? 0;

/** Whether the open length or a node is graded. */
export function gradePart(part) {
  current.part = part;
  if (current.forecast) draw();
}

/** Today's age of the car in half years, within the horizon. */
function today(forecast) {
  const years = ageToday(forecast.first_registration);
  return Math.min(forecast.horizon_a, Math.max(0, Math.round(years * 2) / 2));
}

/** The band at once; the other pictures after its frame, so that they do not hold it up. */
function draw() {
  shows.band(current);
  reading(current);
  cancelAnimationFrame(afterwards);
  afterwards = requestAnimationFrame(() => setTimeout(drawRest));
}

function drawRest() {
  for (const [name, show] of Object.entries(shows)) if (name !== "band") show(current);
  slot("picture-true").hidden = !differs(current.forecast);
}

function facts(forecast) {
  const registration = decimalYear(forecast.first_registration);
  const fact = ([term, name, note]) => {
    const years = forecast.time_to_rework_a[name];
    const reached = years === null ? `after ${forecast.horizon_a} years` : `by ${age(years, forecast.standard_error[name])} (${calendarYear(registration, years)})`;
    return html("div", {}, html("dt", {}, term), html("dd", { "data-quantile": name, "data-years": String(years) }, reached, html("span", {}, note)));
  };
  const all = [["1 in 10 need rework", "p10", " plan for this"], ["5 in 10", "p50", ""], ["9 in 10", "p90", ""]].map(fact);
  const rest = html("div", {}, html("dt", {}, `Not within ${forecast.horizon_a} years`), html("dd", {}, `${ofTwenty(forecast.share_beyond_horizon)}`));
  slot("facts").replaceChildren(...all, rest);
  const fromToday = slot("facts-today");
  fromToday.hidden = !forecast.as_of;
  if (forecast.as_of) fromToday.replaceChildren(...factsFromToday(forecast));
  slot("facts-whole").open ||= !forecast.as_of;
}

/** What is left from today on of a used car. */
function factsFromToday(forecast) {
  const fact = (term, words, note = "") => html("div", {}, html("dt", {}, term), html("dd", {}, words, html("span", {}, note)));
  const within = (name) => { const years = remaining(forecast, name); return years ? `within ${years}` : `after ${forecast.horizon_a} years of age`; };
  const reached = fact("Reached by now", ofTwenty(forecast.as_of.p_reached));
  if (nearlyAll(forecast.as_of)) return [reached];
  return [
    reached,
    fact("Of the others, 1 in 10", within("p10"), " plan for this"),
    fact("5 in 10", within("p50")),
    fact("9 in 10", within("p90")),
  ];
}

/** The values of the pictures at the age being read. */
function reading({ forecast, at, part }) {
  const within = Math.min(at, forecast.horizon_a);
  slider.value = within;
  const year = calendarYear(decimalYear(forecast.first_registration), within);
  setText("at-now", `${within} years (${year})`);
  const [share, low, high] = ["pooled", "low", "high"].map((name) => atAge(forecast.band, within, (row) => row[name]));
  const grade = likeliest(forecast, within, "visible", part);
  const wall = forecast.thresholds.wall_mm * 1000;
  const lost = (series) => significant((100 * atAge(forecast[series], within, (row) => row.p50)) / wall, 2);
  setText("at-words", `By then ${ofTwenty(share)} have reached the rework point (${percent(share)}, ${percent(low)} to ${percent(high)} allowing for what is not known). Most likely grade seen: ${grade.grade} (${percent(grade.share)}). Median loss of wall: mean ${lost("mean_loss_um")} %, deepest ${lost("deepest_loss_um")} %.`);
}
