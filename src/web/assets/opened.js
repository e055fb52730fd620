// How does the case of a car become settings of the page? And what of it has no control here?

import { FIRST, toCase } from "./fields.js";
import { decimalYear } from "./words.js";

// What a case means where it says nothing.
const USUAL = { "member.yield_n_mm2": 355, "member.corners": "cold_formed", "coating.inside": "bare", "coating.wax_over": false };

/** Settings that come nearest to a case, and the key paths of what they leave out. */
export function opened(given) {
  const description = aged(given);
  const settings = { ...FIRST, ...(description.criteria?.set && { criteria: description.criteria.set }), ...car(description), ...climate(description.climate), ...driving(description.use), ...storage(description.storage), ...coating(description.coating), ...coat(description.treatment) };
  const kept = leaves(toCase(settings));
  const left = [...leaves(description)].filter(([path, value]) => value !== (kept.get(path) ?? USUAL[path])).map(([path]) => path);
  return { settings, left };
}

/** The case with ages in place of dates of gradings and treatments. */
function aged(given) {
  const birth = decimalYear(given.first_registration);
  const one = ({ date, ...rest }) => (date ? { ...rest, age_a: Number((decimalYear(date) - birth).toFixed(2)) } : rest);
  const description = structuredClone(given);
  const { coating: coat } = description;
  if (coat.condition) coat.condition = coat.condition.map(one);
  if (description.treatment) description.treatment = description.treatment.map(one);
  return description;
}

function car({ title, first_registration: registered, member }) {
  const sizes = member.size_mm.split(/[x×]/i).map(Number);
  return { title, registered, shape: member.tube, size: sizes[0], depth: sizes.length > 2 ? sizes[1] : FIRST.depth, wall: sizes.at(-1), nodes: member.nodes };
}

function climate({ sample, means, chloride_mg_m2_d: chloride, so2_mg_m2_d: so2 }) {
  if (sample) return { climate: sample };
  if (!means) return {};
  return { climate: "own", own_temperature: means.temperature_c, own_humidity: means.humidity_pct, own_chloride: chloride, own_so2: so2 };
}

function driving({ days_per_week: days, winter_use: winter, salted_days: salted, wash, road_salt: roadSalt, hours_away: away }) {
  const washed = typeof wash === "object" ? { wash: "every", wash_days: wash.every_days } : { wash };
  const more = { ...(roadSalt && { road_salt: roadSalt }), ...(away !== undefined && { away: String(away) }) };
  return { days, winter, ...more, ...(typeof salted === "number" ? { salted: "own", salted_days: salted } : { salted }), ...washed };
}

/** The last period of storage, and the one before it. */
function storage(periods) {
  const [last, before] = [periods.at(-1), periods.at(-2)];
  const now = { stands: last.arrangement, ...(last.ground && { ground: last.ground }) };
  if (!before) return now;
  return { ...now, moved: true, stood: before.arrangement, moved_on: last.from };
}

/** The coating with the last grading of it. */
function coating({ system, inside = "bare", wax_over = false, condition = [] }) {
  const grading = condition.at(-1);
  const graded = grading ? { graded: true, grade: grading.grade, graded_part: grading.part, graded_at: grading.age_a } : {};
  return { system, inside_wax: inside === "cavity_wax", wax_over, ...graded };
}

function coat(treatments = []) {
  const brushed = treatments.find(({ kind }) => kind === "over_rust");
  return brushed ? { coat: true, coat_at: brushed.age_a, coat_prep: brushed.preparation ?? "none" } : {};
}

/** Every value of a table by its key path. */
function leaves(value, path = "", found = new Map()) {
  if (typeof value !== "object" || value === null) return found.set(path, value);
  for (const [key, inner] of Object.entries(value)) leaves(inner, Array.isArray(value) ? `${path}[${key}]` : path ? `${path}.${key}` : key, found);
  return found;
}
