// What can be chosen? The server's lists, and the page's own everyday words where the server's names are those of the trade.

/** Families of climate, separated by the yearly means and the salt in the air; the first that fits counts. */
const FAMILIES = [
  ["dry", "dry inland", (c) => c.humidity_pct < 60],
  ["cool-sea", "near the sea, cool", (c) => c.chloride_mg_m2_d >= 3 && c.temperature_c < 13],
  ["warm-sea", "near the sea, mild to hot", (c) => c.chloride_mg_m2_d >= 3],
  ["cold", "inland, cold winters", (c) => c.temperature_c < 10],
  ["inland", "inland, mild to warm", () => true],
];

/** Key of the family of a climate. */
export const familyOf = (climate) => FAMILIES.find(([, , fits]) => fits(climate))[0];

/** Families with a climate in them, and the own numbers. */
export function families(climates) {
  const found = FAMILIES.filter(([key]) => climates.some((climate) => familyOf(climate) === key));
  return [...found.map(([key, name]) => [key, name]), ["own", "my own yearly numbers"]];
}

/** Climates of a family, as options. */
export function places(climates, family) {
  return climates.filter((c) => familyOf(c) === family).map((c) => [c.id, shortTitle(c)]);
}

/** The place without the kind of record. */
export const shortTitle = (climate) => climate.short;

/** Climates with a short name of each; where two places have the same, the kind of record stays. */
function distinct(climates) {
  const place = ({ title }) => title.split(", typical year")[0].split(", measured")[0];
  const isOne = (climate) => climates.filter((other) => place(other) === place(climate)).length === 1;
  return climates.map((climate) => ({ ...climate, short: isOne(climate) ? place(climate) : climate.title }));
}

export const WASHES = [
  ["never", "never"], ["after_salted_drives", "on the day of every salted drive"], ["every", "every so many days"],
];
export const GROUNDS = [["paved", "paving or concrete"], ["grass", "grass"], ["bare_earth", "bare earth or gravel"]];
export const ROAD_SALTS = [
  ["sodium_chloride", "rock salt (sodium chloride)"], ["calcium_chloride", "calcium chloride"], ["magnesium_chloride", "magnesium chloride"],
];
export const PREPARATIONS = [
  ["none", "not at all, over loose rust"], ["st2", "by hand (St 2)"], ["st3", "with power tools (St 3)"],
];

const pairs = (list) => list.map((item) => [item.id, item.title]);

/** The server's lists as the page uses them: pairs of key and name. */
export function listed(choices) {
  const arrangements = pairs(choices.arrangements).filter(([key]) => key !== "custom");
  return {
    climates: distinct(choices.climates),
    arrangements,
    grades: choices.grades,
    criteria: [["", "none"], ...pairs(choices.criteria_sets).filter(([key]) => key !== "usual")],
    systems: pairs(choices.coating_systems),
    treatments: pairs(choices.treatments).filter(([key]) => key !== "rework"),
    inWords: (paths) => inWords(choices.values, paths),
    salted: [...choices.salted_days.map(saltedDays), ["own", "my own number of days"]],
  };
}

function saltedDays({ id, title, median }) {
  return [id, `${title} (about ${median} days)`];
}

/** Key paths of a case in the words of its schema, each once; three points of one quantity are that quantity. */
function inWords(values, paths) {
  const meanings = new Map(values.map(({ key, meaning }) => [key, meaning]));
  const words = (path) => {
    const key = path.replaceAll(/\[\d+\]/g, "[]");
    const meaning = meanings.get(key) ?? meanings.get(key.replace(/\.\w+$/, ""));
    return (meaning ?? key.split(".").at(-1).replaceAll("_", " ")).replace(/[.;:].*$/s, "").replace(/^[A-Z](?![A-Z])/, (first) => first.toLowerCase());
  };
  return [...new Set(paths.map(words))];
}
