// What else is written down of a car: treatments, changes of storage, reworks, quotes and notes.

import { html } from "./figure.js";
import { choice, entered, field, newKey, onSubmit, put, refuse, today } from "./form.js";
import { clearProblems } from "./problems.js";

const KINDS = [["treatment", "something was put on"], ["storage", "it stands elsewhere now"], ["rework", "the member was reworked"], ["quote", "a price was named"], ["note", "a note"]];
const FIELDS = [
  ["date", "Day", { type: "date", required: true }],
  ["amount", "Price, in the workshop’s currency", { type: "number", step: "any", min: 0 }],
  ["remark", "Remark, no names of people", { type: "text", maxLength: 1000 }],
  ["photo", "Path or address of a photo", { type: "text", maxLength: 300 }],
];
// Kinds that have a price, and the words of what is named.
const PRICED = ["treatment", "rework", "quote"];
const WHAT = { treatment: "What was put on", storage: "Where it stands", rework: "New coating", quote: "For what" };

/** The form; `done` gets the entries that were stored. Also gives `correct(entry)`. */
export function entryForm(lists, send, done) {
  const named = { treatment: lists.treatments, storage: lists.arrangements, rework: lists.systems };
  const kind = choice("entry", ["kind", "What happened?", KINDS]);
  const what = html("div", {});
  const [date, amount, ...words] = FIELDS.map((one) => field("entry", one));
  const heading = html("p", { class: "hint", hidden: true });
  const store = html("button", { class: "main" }, "Store it");
  const end = html("p", { class: "row" }, store);
  const form = html("form", { noValidate: true }, heading, html("div", { class: "pair" }, kind, date, what, amount, ...words), end);
  let supersedes = null;
  const control = (name) => form.elements[name];

  /** Shows the fields of the kind; those with names offer them. */
  function reveal() {
    const is = control("kind").value;
    what.hidden = !(is in WHAT);
    amount.hidden = !PRICED.includes(is);
    what.replaceChildren();
    if (is in named) what.replaceChildren(...choice("entry", ["what", WHAT[is], named[is]]).children);
    else if (is in WHAT) what.replaceChildren(...field("entry", ["what", WHAT[is], { type: "text", maxLength: 60 }]).children);
  }

  async function stored() {
    clearProblems(form);
    const visible = [...form.elements].filter((one) => one.name && one.closest("[hidden]") === null);
    const body = Object.fromEntries(visible.map((one) => [one.name, entered(one)]).filter(([, value]) => value !== undefined));
    if (supersedes) body.supersedes = supersedes;
    try {
      await done([await send("entries", { date: "", ...body }, newKey())]);
    } catch (error) {
      refuse(form, end, error);
    }
  }

  form.addEventListener("change", (event) => event.target === control("kind") && reveal());
  onSubmit(form, store, stored);
  control("date").value = today();
  reveal();
  const section = html("section", { class: "panel", id: "entry" }, html("h2", {}, "Anything else of this car"), form);
  return {
    section,
    correct(entry) {
      supersedes = entry.id;
      heading.textContent = `In place of entry ${entry.id}.`;
      heading.hidden = false;
      control("kind").value = entry.kind;
      control("kind").disabled = true;
      reveal();
      for (const name of ["date", "what", "amount", "remark"]) if (control(name)) put(control(name), entry[name]);
      section.scrollIntoView({ block: "start" });
      control("date").focus();
    },
  };
}
