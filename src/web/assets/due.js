// What to do this week, this month, this season: proposed visits, and every car by how urgent it is.

import { opener } from "./cars.js";
import { save } from "./downloads.js";
import { html, table, wide } from "./figure.js";
import { action } from "./form.js";
import { percent } from "./words.js";

const TIMES = [["this_week", "This week"], ["this_month", "This month"], ["this_season", "This season, before the salt"], ["later", "Later"]];
const ACTIONS = { book_rework: "book rework", assess_and_replace: "have it assessed, plan a new member", grade: "grade it", wait: "other jobs with the member out" };

/** What is done in a proposed visit. */
export const actionWords = ({ action: what, overdue }) => `${overdue ? "overdue: " : ""}${ACTIONS[what] ?? what}`;

/** The month a year from now. */
export function nextYear() {
  const ahead = new Date();
  ahead.setFullYear(ahead.getFullYear() + 1);
  return ahead.toISOString().slice(0, 7);
}

/** Shows the work list; the month starts a year ahead. */
export async function showDue(host, record) {
  const month = html("input", { type: "month", id: "by", value: nextYear() });
  const list = html("div", { "aria-live": "polite" });
  host.replaceChildren(html("h1", { tabIndex: -1 }, "Work list"), html("section", { class: "panel" }, html("label", { htmlFor: "by" }, "Cars due by the month"), month), list);
  month.addEventListener("change", () => fill(list, month.value, record));
  await fill(list, month.value, record);
}

async function fill(list, by, record) {
  if (list.childElementCount === 0) list.replaceChildren(html("p", { class: "hint" }, "Working out what comes next …"));
  try {
    const { cars, agenda } = await (await record.request("due", { query: { by } })).json();
    if (cars.length === 0) return list.replaceChildren(html("p", {}, "No car in this record yet."));
    list.replaceChildren(proposed(agenda, by, record), html("section", { class: "panel" }, html("h2", {}, "Every car"), wide("Every car", rows(cars, record), "words")));
  } catch (error) {
    if (error.status === 401) throw error;
    const words = error.status === 404 ? "This server makes no work list." : error.inWords?.() ?? error.message;
    list.replaceChildren(html("p", { class: "problem" }, words));
  }
}

/** Proposed visits by how soon they are to be, and the same for a calendar. */
function proposed(agenda, by, record) {
  const groups = TIMES.map(([key, words]) => [words, agenda.filter(({ when }) => when === key)]).filter(([, visits]) => visits.length > 0);
  const row = (visit) => [opener(visit.ref, record), visit.day, html("div", {}, [actionWords(visit), ...visit.with_it].join(", "))];
  const tables = groups.map(([words, visits]) => wide(words, table(words, ["Car", "Proposed day", "What"], visits.map(row)), "words"));
  const calendar = action("Calendar file (.ics)", async () => save(await (await record.request("due.ics", { query: { by } })).blob(), "visits.ics"));
  const hint = "One visit a working day: first what is overdue or has not been graded for a year; what may wait stands on the last working days before the salt.";
  const none = html("p", {}, "No visit is proposed before the yearly service.");
  return html("section", { class: "panel", id: "proposed" }, html("h2", {}, "Proposed visits"), html("p", { class: "hint" }, hint), ...(tables.length > 0 ? tables : [none]), html("p", { class: "row" }, calendar));
}

/** What to do with a car that could not be forecast, and why it could not. */
const failed = (car) => html("div", {}, car.overdue ? "overdue: a grade of rework was seen. " : "", `No forecast, because of an error: ${car.error}`);

/** Chance from which a remark warns that a rework may no longer help. */
const BEYOND_HELP_FROM = 0.1;

/** Most urgent first: chance, what to do and by when, what goes with it, and what the next grade is worth. */
function rows(cars, record) {
  const beyond = (car) => (car.share_beyond_help >= BEYOND_HELP_FROM ? `; a rework may no longer help (${percent(car.share_beyond_help)})` : "");
  const next = (car) => html("div", {}, car.next_action === "wait" ? `nothing before the yearly service${beyond(car)}` : `${actionWords({ action: car.next_action, overdue: car.overdue })}, before ${car.do_before}${beyond(car)}`);
  const worth = ({ value_of_next_inspection: value }) => `saves ${percent(value.saving)}, narrows by ${value.narrowing_a.toFixed(1)} years`;
  const hasJobs = cars.some((car) => withIt(car).length > 0);
  const column = (cell) => (hasJobs ? [cell] : []);
  const head = ["Car", "Chance of rework by then", "Next", ...column("With it"), "A grade at the next inspection", "Last inspected"];
  const unknown = (car) => [opener(car.ref, record), "not known", failed(car), ...column(""), "not known", car.last_inspection ?? "never"];
  const forecast = (car) => [opener(car.ref, record), percent(car.p_rework_by), next(car), ...column(html("div", {}, ...withIt(car))), worth(car), car.last_inspection ?? "never"];
  return table("Most urgent first; savings in per cent of the price of a rework", head, cars.map((car) => (car.error ? unknown(car) : forecast(car))));
}

/** What else is done in the visit of a car, with what was quoted, a line each. */
function withIt({ visit }) {
  if (!visit) return [];
  const jobs = visit.with_it.map(({ job, quoted }) => (quoted == null ? job : `${job} (quoted ${quoted})`));
  if (visit.rework_quoted != null) jobs.push(`rework quoted ${visit.rework_quoted}`);
  return jobs.map((words) => html("div", {}, words));
}
