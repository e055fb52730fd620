// Problems are shown beside the fields they are about, and removed before the next try.

import { html } from "./figure.js";

/** A problem as an element of a form. */
export const problemNote = (words, id = "") => html("p", { class: "problem", id, role: "alert", "data-problem": "" }, words);

/** Marks a field and shows its problem after `anchor`; the note's id is the one by which the field is described. */
export function showBeside(field, id, words, anchor = field) {
  field.setAttribute("aria-invalid", "true");
  anchor.after(problemNote(words, id));
}

/** Removes the problems shown in a form. */
export function clearProblems(form) {
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
  for (const note of form.querySelectorAll("[data-problem]")) note.remove();
}
