// One visit, one form: the places of the member to press on its drawing, what was seen at each, stored together.

import { html } from "./figure.js";
import { action, choice, chooseGrade, entered, field, newKey, put, refuse, today } from "./form.js";
import { clearProblems, problemNote } from "./problems.js";

const HEAD = [
  ["date", "Day of the visit", { type: "date", required: true }],
  ["inspector", "Code of the inspector, no name", { type: "text", maxLength: 40 }],
  ["gauge", "Walls measured with", { type: "text", maxLength: 60 }],
];
const AT_PLACE = [
  ["wall_mm", "Wall left, where it was measured", { type: "number", step: "any" }, "length"],
  ["photo", "Path or address of a photo", { type: "text", maxLength: 300 }],
  ["remark", "Remark, no names of people", { type: "text", maxLength: 1000 }],
];
const CLEANED = [["", "left as it was"], ["true", "cleaned and found sound"], ["false", "cleaned, not sound"]];
// Places in the order in which they are gone through: the worst node is for those who do not number nodes.
const LAST = "node";

/** The form. `drawings` come from the server; `done` gets the entries that were stored. Also gives `correct(entry)`. */
export function visitForm(car, drawings, grades, { send, done }) {
  const seen = new Map();
  const places = drawings.flatMap((drawing) => drawing.places);
  const order = [...places.filter(({ location }) => location !== LAST), ...places.filter(({ location }) => location === LAST)].map(({ location }) => location);
  const titles = new Map(places.map(({ location, title }) => [location, title]));
  const buttons = new Map();
  let chosen = null;
  let keepBoth = false;

  const head = html("div", { class: "pair" }, ...HEAD.map((one) => field("visit", one)));
  const heading = html("h3", { tabIndex: -1, id: "place-heading" });
  const before = html("div", { class: "hint" });
  const graded = html("fieldset", {}, html("legend", {}, "Grade of rust: which picture is most like it?"), ...chooseGrade("grade", grades));
  const measured = html("div", { class: "pair" }, ...AT_PLACE.map((one) => field("visit", one)), choice("visit", ["cleaned_and_sound", "Was the spot cleaned?", CLEANED]));
  const next = html("button", {}, "Next place");
  const question = html("div", {});
  const atPlace = html("form", { class: "at-place", noValidate: true, "aria-labelledby": "place-heading" }, heading, before, question, graded, measured, html("p", { class: "row" }, next));
  const store = action("Store the visit", stored, "main");
  const counted = html("span", { role: "status" });
  const end = html("p", { class: "row" }, store, counted);
  const form = html("div", { class: "visit-form" }, head, html("div", { class: "drawings" }, ...drawings.map(drawn)), html("p", { class: "hint" }, "Press a place. Grey: the last grade of it; filled: seen in this visit. Nodes are drawn in the order of their numbers, wherever they are. On the keyboard: 0 to 5 grades, Enter goes on, Ctrl+Enter stores."), atPlace, end);
  const control = (name) => form.querySelector(`[name="${name}"]:not([type="radio"])`);

  function drawn({ title, svg, width_px: width, height_px: height, places: onIt }) {
    const picture = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
    const sheet = html("div", { class: "places" }, document.importNode(picture, true));
    for (const place of onIt) {
      const button = html("button", { type: "button", class: "place" });
      button.style.left = `${(100 * place.x_px) / width}%`;
      button.style.top = `${(100 * place.y_px) / height}%`;
      button.addEventListener("click", () => choose(place.location));
      buttons.set(place.location, button);
      sheet.append(button);
    }
    return html("figure", {}, html("figcaption", {}, title), sheet);
  }

  const last = (location) => car.entries.filter((entry) => entry.kind === "inspection" && entry.location === location && !entry.superseded_by && entry.what !== "withdrawn");
  const found = ({ grade, wall_mm: wall }) => [grade, wall && `${wall} mm`].filter(Boolean).join(", ");

  /** What a button says: the place, and what was seen there now or last. */
  function label(location) {
    const button = buttons.get(location);
    const [word, number] = /^node \d+$/.test(location) ? location.split(" ") : [null, titles.get(location)];
    const now = seen.get(location);
    const old = last(location).at(-1);
    const small = now ? html("small", {}, found(now)) : html("small", { class: "old" }, old?.grade ?? "");
    button.replaceChildren(...(word ? [html("span", { class: "unseen" }, `${word} `)] : []), `${number} `, small);
    button.classList.toggle("filled", Boolean(now));
    if (location === chosen) button.setAttribute("aria-current", "true");
    else button.removeAttribute("aria-current");
  }

  function show() {
    order.forEach(label);
    counted.textContent = seen.size === 0 ? "Nothing entered yet." : seen.size === 1 ? "1 place" : `${seen.size} places`;
    store.disabled = seen.size === 0;
  }

  function choose(location, focus = true) {
    chosen = location;
    const now = seen.get(location) ?? {};
    heading.textContent = titles.get(location) + (now.supersedes ? `, in place of entry ${now.supersedes}` : "");
    const lines = last(location).slice(-3).reverse().map((entry) => html("div", {}, [entry.date, found(entry), entry.inspector && `by ${entry.inspector}`, entry.remark].filter(Boolean).join(" · ")));
    before.replaceChildren(...(lines.length > 0 ? lines : [html("div", {}, "Nothing entered for this place before.")]));
    question.replaceChildren();
    for (const radio of atPlace.elements.grade) radio.checked = radio.value === (now.grade ?? "");
    for (const [name] of AT_PLACE) put(control(name), now[name]);
    control("cleaned_and_sound").value = String(now.cleaned_and_sound ?? "");
    const place = order.indexOf(location);
    next.textContent = place + 1 < order.length ? `Next: ${titles.get(order[place + 1])}` : "To the end";
    atPlace.hidden = false;
    clearProblems(form);
    show();
    if (!focus) return;
    atPlace.scrollIntoView({ block: "nearest" });
    [...atPlace.elements.grade].find((radio) => radio.checked).focus();
  }

  /** Takes over what stands in the fields of the chosen place. */
  function take() {
    const now = { ...(seen.get(chosen)?.supersedes && { supersedes: seen.get(chosen).supersedes }) };
    const grade = atPlace.elements.grade.value;
    if (grade) now.grade = grade;
    for (const [name] of AT_PLACE) {
      const value = entered(control(name));
      if (value !== undefined) now[name] = value;
    }
    const cleaned = control("cleaned_and_sound").value;
    if (cleaned !== "") now.cleaned_and_sound = cleaned === "true";
    if (Object.keys(now).some((name) => name !== "supersedes")) seen.set(chosen, now);
    else seen.delete(chosen);
    show();
  }

  function visit() {
    const common = Object.fromEntries(HEAD.map(([name]) => [name, entered(control(name))]).filter(([, value]) => value !== undefined));
    const list = order.filter((location) => seen.has(location)).map((location) => ({ location, ...seen.get(location) }));
    return { date: "", ...common, places: list, ...(keepBoth && { second: true }) };
  }

  async function stored() {
    const body = visit();
    clearProblems(form);
    try {
      await done(await send("visits", body, newKey()));
    } catch (error) {
      refused(error, body);
    }
  }

  /** A refusal of a place opens it; a grade that contradicts another one is a question. */
  function refused(error, body) {
    const at = /^places\[(\d+)\]\.?(\w*)/.exec(error.field ?? "");
    if (!at) return refuse(form, end, error);
    const { location } = body.places[Number(at[1])];
    choose(location, false);
    const other = last(location).find((entry) => entry.date === body.date && entry.grade && entry.grade !== seen.get(location).grade);
    if (at[2] !== "grade" || !other) return refuse(form, end, error, at[2]);
    const correct = action(`Correct entry ${other.id}`, async () => {
      seen.set(location, { ...seen.get(location), supersedes: other.id });
      await stored();
    });
    const both = action("Keep both", async () => {
      keepBoth = true;
      await stored();
    });
    question.replaceChildren(problemNote(`Entry ${other.id} says ${other.grade} of this place on the same day. Which holds?`), html("p", { class: "row" }, correct, both));
    correct.focus();
  }

  atPlace.addEventListener("input", take);
  atPlace.addEventListener("submit", (event) => {
    event.preventDefault();
    const following = order[order.indexOf(chosen) + 1];
    if (following) choose(following);
    else store.focus();
  });
  form.addEventListener("keydown", (event) => event.key === "Enter" && event.ctrlKey && !store.disabled && store.click());
  atPlace.addEventListener("keydown", (event) => {
    if (!/^[0-5]$/.test(event.key) || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.matches('input:not([type="radio"]), select')) return;
    const radio = atPlace.querySelector(`[name="grade"][value="Ri ${event.key}"]`);
    radio.checked = true;
    radio.focus();
    take();
  });

  control("date").value = today();
  control("inspector").value = sessionStorage.getItem("inspector") ?? "";
  control("inspector").addEventListener("change", () => sessionStorage.setItem("inspector", control("inspector").value.trim()));
  atPlace.hidden = true;
  show();
  return {
    section: html("section", { class: "panel", id: "visit" }, html("h2", {}, "A visit"), form),
    correct(entry) {
      seen.clear();
      const { id, date, location, grade, wall_mm, cleaned_and_sound, remark, inspector, gauge } = entry;
      const old = { grade, wall_mm, cleaned_and_sound, remark, supersedes: id };
      seen.set(location, Object.fromEntries(Object.entries(old).filter(([, value]) => value !== null)));
      Object.entries({ date, inspector, gauge }).forEach(([name, value]) => put(control(name), value));
      choose(location);
    },
  };
}
