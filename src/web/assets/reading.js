// Shows a forecast: the sentence, the three ages, how sure it is, the pictures, and what they read at an age.

import { html, mountPicture } from "./figure.js";
import { levelsSection } from "./levels.js";
import { band, dots, hidden, losses, visible, wet } from "./pictures.js";
import { age, ageToday, atAge, calendarYear, decimalYear, nearlyAll, ofTwenty, percent, remaining, significant, thousands } from "./words.js";

const slot = (id) => document.getElementById(id);
const pictures = { band, dots, losses, "grades-seen": visible, grades: hidden };
const GRADES = [0, 1, 2, 3, 4, 5];
const shows = Object.fromEntries(Object.entries(pictures).map(([name, picture]) => [name, mountPicture(slot(`picture-${name}`), picture)]));
const showWet = mountPicture(slot("picture-exposure"), wet);
const slider = slot("at");
// What is shown now: the forecast, what its pictures are requested with, the age being read and the part being graded.
const current = { forecast: null, from: null, at: null, part: "run" };

/** Writes only what is new, so that a live region speaks only of changes. */
function setText(id, text) {
  if (slot(id).textContent !== text) slot(id).textContent = text;
}

/** Shows a forecast and requests its pictures with the same `body` and `query`; after a `coarse` one a finer one follows. */
export function showForecast(forecast, from, coarse) {
  Object.assign(current, { forecast, from });
  const { headline, in_short: short, how_sure: sure } = forecast.in_words;
  setText("headline", headline);
  setText("strip", short);
  setText("sure", `${coarse ? "Preview" : "Full answer"} from ${thousands(forecast.histories)} histories: ${sure}`);
  facts(forecast);
  slot("levels").replaceChildren(...levelsSection(forecast));
  slider.max = forecast.horizon_a;
  if (current.at === null) current.at = today(forecast);
  drawBand();
  for (const name of Object.keys(shows)) if (name !== "band") shows[name](forecast, { path: `picture/${name}`, ...from });
  slot("picture-grades").hidden = !differs(forecast);
}

/** Shows the wet hours. */
export const showExposure = (exposure, body) => showWet(exposure, { path: "picture/exposure", body });

/** The age being read, or null for that of today. */
export function readAt(at) {
  current.at = at;
  if (current.forecast) drawBand();
}

/** The age being read [a]. */
export const ageRead = () => current.at ?? 0;

/** Whether the open length or a node is graded. */
export function gradePart(part) {
  current.part = part;
  if (current.forecast) reading(current);
}

/** Today's age of the car in half years, within the horizon. */
function today(forecast) {
  const years = ageToday(forecast.first_registration);
  return Math.min(forecast.horizon_a, Math.max(0, Math.round(years * 2) / 2));
}

/** The band with the age being read, and what it says there. */
function drawBand() {
  const { forecast, from, at } = current;
  reading(current);
  shows.band(forecast, { path: "picture/band", body: from.body, query: { ...from.query, at: Math.min(at, forecast.horizon_a) } });
}

/** Whether what is seen differs from what is true. */
function differs(forecast) {
  return forecast.visible_grade_shares.some((row, index) => Math.abs(row.ri0 - forecast.true_grade_shares[index].ri0) > 1e-9);
}

/** The most likely grade that is seen at an age, with its share. */
function likeliest(forecast, at, part) {
  const series = part === "node" ? forecast.visible_node_grade_shares : forecast.visible_grade_shares;
  const shares = GRADES.map((number) => atAge(series, at, (row) => row[`ri${number}`], number === 0 ? 1 : 0));
  const best = shares.indexOf(Math.max(...shares));
  return { grade: `Ri ${best}`, share: shares[best] };
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
  const grade = likeliest(forecast, within, part);
  const wall = forecast.thresholds.wall_mm * 1000;
  const lost = (series) => significant((100 * atAge(forecast[series], within, (row) => row.p50)) / wall, 2);
  setText("at-words", `By then ${ofTwenty(share)} have reached the rework point (${percent(share)}, ${percent(low)} to ${percent(high)} allowing for what is not known). Most likely grade seen ${part === "node" ? "at the worst node" : "on the open length"}: ${grade.grade} (${percent(grade.share)}). Median loss of wall: mean ${lost("mean_loss_um")} %, deepest ${lost("deepest_loss_um")} %.`);
}
