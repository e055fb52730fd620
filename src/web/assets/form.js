// Parts of the record's forms: fields with their label and unit, what was entered, and refusals beside their field.

import { html } from "./figure.js";
import { clearProblems, problemNote, showBeside } from "./problems.js";
import { metric, shown, unitOf } from "./units.js";
import { significant } from "./words.js";

/** A field with its label; of a quantity with the unit chosen for the page. `prefix` keeps ids of several forms apart. */
export function field(prefix, [name, words, properties = {}, kind]) {
  const id = `${prefix}-${name}`;
  const unit = kind ? [" [", html("span", { "data-unit": kind }, unitOf(kind)), "]"] : [];
  const control = html("input", { id, name, "aria-describedby": `${id}-problem`, ...properties });
  if (kind) control.dataset.kind = kind;
  return html("div", {}, html("label", { htmlFor: id }, words, ...unit), control);
}

/** A list to choose from, of pairs of key and name; a group of such pairs stands under its name. */
export function choice(prefix, [name, words, options], first) {
  const id = `${prefix}-${name}`;
  const option = ([value, title]) => (Array.isArray(title) ? html("optgroup", { label: value }, ...title.map(option)) : html("option", { value }, title));
  const control = html("select", { id, name, "aria-describedby": `${id}-problem` }, ...options.map(option));
  if (first !== undefined) control.value = first;
  return html("div", {}, html("label", { htmlFor: id }, words), control);
}

/** The library's drawing of a grade. */
export function patch({ svg }) {
  const place = html("span", { class: "patch" });
  place.innerHTML = svg;
  return place;
}

/** All grades as a choice, with their areas; the first choice is that nothing was graded. */
export function chooseGrade(name, grades) {
  const none = html("label", { class: "tick" }, html("input", { type: "radio", name, value: "", checked: true }), "not graded, only measured");
  // the worst degree has no upper limit of its class, and its nominal area is a range
  const area = ({ id, area_pct: pct }) => (id === "Ri 5" ? "40–50 %" : `${significant(pct, 2)} %`);
  const tiles = grades.map((grade) => html("label", {}, patch(grade), html("input", { type: "radio", name, value: grade.id }), `${grade.id}: ${area(grade)}`));
  return [none, html("div", { class: "grade-chart" }, ...tiles)];
}

/** What stands in a field of a form, metric; undefined where it is empty. */
export function entered({ type, value, dataset }) {
  const text = value.trim();
  if (text === "") return undefined;
  return type === "number" ? metric(Number(text), dataset.kind) : text;
}

/** Puts a metric value into a field. */
export function put(control, value) {
  control.value = value === undefined || value === null ? "" : shown(value, control.dataset.kind);
}

/** Shows a refusal beside the field of that name, else before `end`. */
export function refuse(form, end, error, name = error.field) {
  clearProblems(form);
  const words = error.inWords?.() ?? error.message;
  const control = name && form.querySelector(`:is(input, select)[name="${CSS.escape(name)}"]:not([type="radio"])`);
  if (!control) return end.before(problemNote(words));
  showBeside(control, `${control.id}-problem`, words);
  control.focus();
}

/** A button that does something, once at a time; a second press while it works does nothing. */
export function action(words, work, style = "") {
  const button = html("button", { type: "button", class: style }, words);
  button.addEventListener("click", () => once(button, work));
  return button;
}

/** Does something when a form is sent, by its button or by Enter in a field. */
export function onSubmit(form, button, work) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!button.disabled) once(button, work);
  });
}

async function once(button, work) {
  button.disabled = true;
  await work(button);
  button.disabled = false;
}

/** Today as fields of dates have it. */
export const today = () => new Date().toISOString().slice(0, 10);

/** Text that stands for one request, so that it is stored once however often it is sent. */
export const newKey = () => [...crypto.getRandomValues(new Uint32Array(4))].map((part) => part.toString(36)).join("-");
