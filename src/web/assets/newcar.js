// A new car by a short form: what a forecast needs of it; everything else has its usual value.

import { families, places } from "./choices.js";
import { FIRST, controlOf, toCase } from "./fields.js";
import { html } from "./figure.js";
import { choice, entered, field, onSubmit, put, refuse } from "./form.js";

const SHAPES = [["round", "round"], ["square", "square"], ["rectangular", "rectangular"]];

/** The form; opens the car once it is stored. */
export function newCarForm(page, record) {
  const lists = page.lists();
  const climates = families(lists.climates).filter(([key]) => key !== "own").map(([key, name]) => [name, places(lists.climates, key)]);
  const own = (list) => list.filter(([key]) => key !== "own");
  const one = (name, words, properties, kind) => field("new", [name, words, properties, kind]);
  const listed = (name, words, options) => choice("new", [name, words, options], FIRST[name]);
  const number = (name, words, kind) => one(name, words, { type: "number", step: "any" }, kind);
  const parts = [
    one("ref", "Reference of the workshop", { type: "text", maxLength: 40, autocomplete: "off" }), one("owner", "Owner, where you note one", { type: "text", maxLength: 500, autocomplete: "off" }),
    one("registered", "First registered", { type: "date" }), listed("shape", "Shape of the tube", SHAPES),
    number("size", "Diameter or height", "length"), number("depth", "Width", "length"), number("wall", "Wall", "length"), number("nodes", "Welded nodes"),
    listed("system", "Coating as built", lists.systems), listed("climate", "Climate of the place", climates),
    listed("stands", "Where it stands", lists.arrangements), listed("salted", "Salted roads", own(lists.salted)), number("days", "Days driven a week"),
    listed("criteria", "Levels of an inspection", lists.criteria),
  ];
  const winter = html("label", { class: "tick" }, html("input", { type: "checkbox", name: "winter", checked: true }), "Driven in winter");
  const store = html("button", { class: "main" }, "Add the car");
  const end = html("p", { class: "row" }, store);
  const form = html("form", { noValidate: true }, html("div", { class: "pair" }, ...parts), winter, end);
  const depth = form.elements.depth.closest("div");
  for (const name of ["size", "depth", "wall", "nodes", "days"]) put(form.elements[name], FIRST[name]);

  async function stored() {
    const settings = { ...FIRST };
    for (const { name, type, checked } of form.elements) if (name in FIRST) settings[name] = type === "checkbox" ? checked : entered(form.elements[name]) ?? null;
    const ref = entered(form.elements.ref) ?? "";
    const owner = entered(form.elements.owner);
    const description = toCase({ ...settings, title: ref || "New car", registered: settings.registered ?? "" });
    try {
      await record.request("cars", { body: { ref, case: description, ...(owner && { owner }) } });
      record.go("cars", ref);
    } catch (error) {
      const within = controlOf({ field: error.field?.replace(/^case\./, ""), message: error.message });
      refuse(form, end, error, within === "stood" ? "stands" : within ?? error.field);
    }
  }

  onSubmit(form, store, stored);
  form.addEventListener("change", () => { depth.hidden = form.elements.shape.value !== "rectangular"; });
  depth.hidden = true;
  const hint = "Everything else starts from usual values: no cavity wax, rock salt, never washed, over paving.";
  return html("section", { class: "panel", id: "new-car" }, html("details", {}, html("summary", {}, html("h2", {}, "New car")), html("p", { class: "hint" }, hint), form));
}
