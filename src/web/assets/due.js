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
    const { cars } = await (await record.request("due", { query: { by } })).json();
    list.replaceChildren(cars.length > 0 ? rows(cars, record) : html("p", {}, "No car is due by then."));
  } catch (error) {
    if (error.status === 401) throw error;
    const words = error.status === 404 ? "This server makes no work list." : error.inWords?.() ?? error.message;
    list.replaceChildren(html("p", { class: "problem" }, words));
  }
}

/** What to do with a car that could not be forecast, and why it could not. */
const failed = (car) => html("div", {}, car.overdue ? "overdue: a grade of rework was seen. " : "", `No forecast, because of an error: ${car.error}`);

const ACTIONS = { book_rework: "book rework", assess_and_replace: "have it assessed, plan a new member", grade: "grade it", wait: "nothing before the yearly service" };

/** Chance from which a remark warns that a rework may no longer help. */
const BEYOND_HELP_FROM = 0.1;

/** Most urgent first: chance, what to do and by when, what goes with it, and what the next grade is worth. */
function rows(cars, record) {
  const beyond = (car) => (car.share_beyond_help >= BEYOND_HELP_FROM ? `; a rework may no longer help (${percent(car.share_beyond_help)})` : "");
  const next = (car) => `${car.overdue ? "overdue: " : ""}${ACTIONS[car.next_action] ?? car.next_action}${car.next_action === "wait" ? "" : `, before ${car.do_before}`}${beyond(car)}`;
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
