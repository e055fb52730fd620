// How do the controls show the settings, and the settings follow the controls?

import { GROUNDS, PREPARATIONS, ROAD_SALTS, WASHES, families, familyOf, places, shortTitle } from "./choices.js";
import { html } from "./figure.js";
import { FIRST, typed } from "./fields.js";
import { clearProblems, showBeside } from "./problems.js";
import { metric, shown, unitOf } from "./units.js";

const form = document.getElementById("settings");
const general = document.getElementById("problem");

/** Fills the lists of the controls. */
export function prepare(lists) {
  fill("family", families(lists.climates));
  fill("salted", lists.salted);
  fill("stood", lists.arrangements);
  fill("system", lists.systems);
  fill("ground", GROUNDS);
  fill("road_salt", ROAD_SALTS);
  fill("grade", lists.grades.map(({ id }) => [id, id]));
  fill("criteria", lists.criteria);
  fill("coat_prep", PREPARATIONS);
  tiles("stands", lists.arrangements);
  tiles("wash", WASHES);
  for (const field of form.querySelectorAll("[name]")) field.setAttribute("aria-describedby", [field.getAttribute("aria-describedby"), `${field.name}-problem`].filter(Boolean).join(" "));
}

/** Options of a select. */
export function fill(id, options) {
  document.getElementById(id).replaceChildren(...options.map(([value, name]) => html("option", { value }, name)));
}

function tiles(name, options) {
  const tile = ([value, words]) => html("label", {}, html("input", { type: "radio", name, value }), words);
  document.getElementById(name).replaceChildren(...options.map(tile));
}

/** Calls `changed(settings)` whenever a control moves; `settings()` gives those before. */
export function listen(lists, settings, changed) {
  form.addEventListener("input", (event) => {
    if (event.target.id === "family") return changed(ofFamily(lists, settings(), event.target.value));
    const { name } = event.target;
    if (name in FIRST) changed({ ...settings(), [name]: read(event.target, FIRST[name]) });
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("reset", (event) => {
    event.preventDefault();
    changed({ ...FIRST });
  });
}

function read(field, first) {
  if (field.type === "checkbox") return field.checked;
  return metric(typed(field.value, first), field.dataset.kind);
}

function ofFamily(lists, settings, family) {
  if (family === "own") return { ...settings, climate: "own" };
  return { ...settings, climate: places(lists.climates, family)[0][0] };
}

/** Shows settings in the controls; the one being typed in is left alone. */
export function show(lists, settings) {
  const sample = lists.climates.find((climate) => climate.id === settings.climate);
  const family = sample ? familyOf(sample) : "own";
  document.getElementById("family").value = family;
  if (sample) fill("climate", places(lists.climates, family));
  for (const field of form.querySelectorAll("[name]")) set(field, settings[field.name]);
  for (const unit of document.querySelectorAll("[data-unit]")) unit.textContent = unitOf(unit.dataset.unit);
  reveal(settings, sample);
  summarise(lists, settings, sample);
}

function set(field, value) {
  if (field.type === "radio") field.checked = field.value === value;
  else if (field.type === "checkbox") field.checked = value;
  else if (field !== document.activeElement || field.type === "range") field.value = shown(value, field.dataset.kind) ?? "";
}

/** Shows the controls that count under these settings. */
function reveal(settings, sample) {
  const counting = {
    sample: Boolean(sample), own: !sample, moved: settings.moved, salted: settings.salted === "own", wash: settings.wash === "every",
    graded: settings.graded, coat: settings.coat, depth: settings.shape === "rectangular",
  };
  for (const part of form.querySelectorAll("[data-when]")) part.hidden = !counting[part.dataset.when];
}

const nameOf = (options, key) => options.find(([value]) => value === key)?.[1] ?? key;

/** Words beside the heading of each group, and the notes within. */
function summarise(lists, s, sample) {
  const note = sample ? climateNote(sample) : "";
  document.getElementById("climate-note").textContent = note;
  document.getElementById("days-now").textContent = s.days === 1 ? "1 day" : `${s.days} days`;
  document.getElementById("size-word").textContent = { round: "Diameter", square: "Side", rectangular: "Height" }[s.shape];
  for (const slot of form.querySelectorAll("[data-now]")) slot.textContent = groupWords(lists, s, sample)[slot.dataset.now];
}

function climateNote(c) {
  return `${c.kind[0].toUpperCase()}${c.kind.slice(1)}. Mean ${shown(c.temperature_c, "temperature").toFixed(0)} ${unitOf("temperature")}, ${c.humidity_pct.toFixed(0)} % humidity.`;
}

/** What each group is set to, in few words. */
function groupWords(lists, s, sample) {
  const length = (value) => shown(value, "length");
  return {
    climate: sample ? shortTitle(sample) : "own numbers",
    stands: nameOf(lists.arrangements, s.stands) + (s.ground === FIRST.ground ? "" : `, over ${nameOf(GROUNDS, s.ground)}`),
    use: `${s.days} days a week, ${s.winter ? "also in winter" : "not in winter"}`,
    wash: s.wash === "every" ? `every ${s.wash_days} days` : nameOf(WASHES, s.wash),
    coating: nameOf(lists.systems, s.system) + (s.graded ? `, ${s.grade} at ${s.graded_at}` : ""),
    coat: s.coat ? `at ${s.coat_at} years` : "none",
    tube: `${length(s.size)} × ${length(s.wall)} ${unitOf("length")}, ${s.registered}`,
  };
}

/** All settings in a sentence, for paper and for lists. */
export function inWords(lists, s) {
  const words = groupWords(lists, s, lists.climates.find((climate) => climate.id === s.climate));
  const moved = s.moved ? `, since ${s.moved_on}, before that: ${nameOf(lists.arrangements, s.stood)}` : "";
  return `${s.title}. Climate: ${words.climate}. Stands: ${words.stands}${moved}. Use: ${words.use}. Washed: ${words.wash}. Coating: ${words.coating}. Coat over rust: ${words.coat}. Tube and first registration: ${words.tube}.`;
}

/** Short name of settings, for cards and keys. */
export function shortName(lists, s) {
  const parts = [nameOf(lists.arrangements, s.stands)];
  if (s.wash !== "never") parts.push("rinsed");
  if (s.days !== FIRST.days) parts.push(s.days === 1 ? "1 day a week" : `${s.days} days a week`);
  if (!s.winter) parts.push("no winters");
  if (s.system !== FIRST.system) parts.push(nameOf(lists.systems, s.system));
  if (s.coat) parts.push(`coat at ${s.coat_at} years`);
  if (s.wax_over) parts.push("wax");
  return parts.join(", ");
}

/** Shows a problem beside the control `name`, or above all where it has none; opens its group. */
export function showProblem(name, words) {
  const field = name && form.querySelector(`[name="${name}"]`);
  if (!field) {
    general.textContent = words;
    general.hidden = false;
    return;
  }
  field.closest("details").open = true;
  showBeside(field, `${name}-problem`, words, field.type === "radio" ? field.closest(".choices") : field);
}

/** Removes all problems shown. */
export function hideProblems() {
  general.hidden = true;
  clearProblems(form);
}
