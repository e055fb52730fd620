// The form for an inspection, with pictures of the grades beside the choice.

import { chooseGrade } from "./gradechart.js";
import { html } from "./figure.js";
import { clearProblems, problemNote, showBeside } from "./problems.js";
import { metric, unitOf } from "./units.js";

const INPUTS = [
  ["date", "Date", { type: "date", required: true }],
  ["location", "Where on the member, such as run or node 2", { type: "text", value: "run", maxLength: 100 }],
  ["wall_mm", "Wall left, where it was measured", { type: "number", step: "any" }, "length"],
  ["gauge", "Measured with", { type: "text", maxLength: 100 }],
  ["inspector", "Code of the inspector, no name", { type: "text", maxLength: 40 }],
  ["remark", "Remark, no names of people", { type: "text", maxLength: 1000 }],
];

const CLEANED = [["", "left as it was"], ["true", "cleaned and found sound"], ["false", "cleaned, not sound"]];

/** The form; `done` runs after an inspection was stored. */
export function inspectionForm(path, record, done) {
  const fields = INPUTS.map(field);
  const grades = html("fieldset", {}, html("legend", {}, "Grade of rust, ISO 4628-3: which picture is most like it?"), ...chooseGrade("grade"), html("p", { class: "hint" }, "Own drawings with the nominal rusted area of each grade; the pictures of the standard decide."));
  const choices = CLEANED.map(([value, words]) => html("option", { value }, words));
  const cleaned = html("div", {}, html("label", { htmlFor: "seen-cleaned_and_sound" }, "Was the spot cleaned?"), html("select", { id: "seen-cleaned_and_sound", name: "cleaned_and_sound" }, ...choices), html("p", { class: "hint" }, "A wall read on a spot left as it was may read too thick; the forecast then makes little of it."));
  const status = html("p", { role: "status" });
  const form = html("form", { noValidate: true }, html("div", { class: "pair" }, ...fields), grades, cleaned, html("p", {}, html("button", { class: "main" }, "Store the inspection")), status);
  form.elements.date.value = new Date().toISOString().slice(0, 10);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    clearProblems(form);
    try {
      await record.request(`${path}/inspections`, { body: entered(form) });
      await done();
    } catch (error) {
      showProblem(form, status, error);
    }
  });
  return html("section", { class: "panel", id: "inspection" }, html("h2", {}, "Add an inspection"), form);
}

/** A field with its label; of a quantity with the unit chosen for the page. */
function field([name, words, properties, kind]) {
  const id = `seen-${name}`;
  const unit = kind ? [" [", html("span", { "data-unit": kind }, unitOf(kind)), "]"] : [];
  return html("div", {}, html("label", { htmlFor: id }, words, ...unit), html("input", { id, name, "aria-describedby": `${id}-problem`, ...properties }));
}

/** What was entered; empty fields are left out. */
function entered(form) {
  const body = {};
  for (const [name, , { type }, kind] of INPUTS) {
    const text = form.elements[name].value.trim();
    if (text !== "") body[name] = type === "number" ? metric(Number(text), kind) : text;
  }
  const grade = form.elements.grade.value;
  if (grade) body.grade = grade;
  const cleaned = form.elements.cleaned_and_sound.value;
  if (cleaned !== "") body.cleaned_and_sound = cleaned === "true";
  return body;
}

function showProblem(form, status, error) {
  const words = error.inWords?.() ?? error.message;
  const field = form.querySelector(`input[name="${CSS.escape(error.field ?? "")}"]:not([type="radio"])`);
  if (!field) return status.before(problemNote(words));
  showBeside(field, `seen-${error.field}-problem`, words);
  field.focus();
}
