// Which settings does the page have, and how do they become the address and a case?
//
// A setting is one flat value with the name of its control; everything else (address, case, words) follows from it.

/** Every setting with its first value. Lengths [mm], temperature [°C], ages [a]. */
export const FIRST = Object.freeze({
  title: "My car", registered: "2014-05-01",
  climate: "port-angeles", own_temperature: 9, own_humidity: 78, own_chloride: 4, own_so2: 3,
  stands: "street", moved: false, stood: "street", moved_on: "2020-01-01", ground: "paved",
  days: 6, winter: true, salted: "lowland_england", salted_days: 50, road_salt: "sodium_chloride", away: "",
  wash: "never", wash_days: 14,
  system: "thin_factory_coat", inside_wax: false, wax_over: false,
  graded: false, grade: "Ri 2", graded_part: "run", graded_at: 5,
  coat: false, coat_at: 6, coat_prep: "st2",
  shape: "round", size: 45, depth: 40, wall: 2, nodes: 4,
  seed: 1, horizon: 40, criteria: "",
});

/** The address fragment of settings: only what differs from the first values. */
export function toQuery(settings, all = FIRST) {
  const query = new URLSearchParams();
  for (const [name, first] of Object.entries(all)) {
    const value = settings[name];
    if (value !== first) query.set(name, typeof value === "boolean" ? Number(value) : value ?? "");
  }
  return query;
}

/** Settings of an address fragment; what it does not name keeps its first value. */
export function fromQuery(query, all = FIRST) {
  const settings = { ...all };
  for (const [name, first] of Object.entries(all)) {
    if (!query.has(name)) continue;
    settings[name] = typed(query.get(name), first);
  }
  return settings;
}

/** Text as the type of `like`; a number that is none becomes null, which is noted beside its field. */
export function typed(text, like) {
  if (typeof like === "boolean") return text === "1" || text === "true";
  if (typeof like !== "number") return text;
  const number = Number(text);
  return text.trim() === "" || !Number.isFinite(number) ? null : number;
}

/** The case that the settings describe, as `ferrowane schema` has it. */
export function toCase(s) {
  const description = {
    title: s.title || "My car",
    first_registration: s.registered,
    member: { tube: s.shape, size_mm: sizes(s), nodes: s.nodes },
    coating: { system: s.system, inside: s.inside_wax ? "cavity_wax" : "bare", wax_over: s.wax_over },
    climate: climate(s),
    use: use(s),
    storage: storage(s),
  };
  if (s.graded) description.coating.condition = [{ age_a: s.graded_at, part: s.graded_part, grade: s.grade }];
  if (s.criteria) description.criteria = { set: s.criteria };
  if (s.coat) description.treatment = [{ kind: "over_rust", age_a: s.coat_at, preparation: s.coat_prep }];
  return description;
}

const sizes = (s) => (s.shape === "rectangular" ? [s.size, s.depth, s.wall] : [s.size, s.wall]).join("x");
const salted = (s) => (s.salted === "own" ? s.salted_days : s.salted);

/** The use; what has its usual value is left out. */
function use(s) {
  const driven = { days_per_week: s.days, winter_use: s.winter, salted_days: salted(s), wash: wash(s) };
  if (s.road_salt !== FIRST.road_salt) driven.road_salt = s.road_salt;
  if (s.away !== "") driven.hours_away = Number(s.away);
  return driven;
}

const wash = (s) => (s.wash === "every" ? { every_days: s.wash_days } : s.wash);

function climate(s) {
  if (s.climate !== "own") return { sample: s.climate };
  const means = { temperature_c: s.own_temperature, humidity_pct: s.own_humidity };
  return { means, chloride_mg_m2_d: s.own_chloride, so2_mg_m2_d: s.own_so2 };
}

function storage(s) {
  const now = { arrangement: s.stands, ...(s.ground === FIRST.ground ? {} : { ground: s.ground }) };
  return s.moved ? [{ arrangement: s.stood }, { from: s.moved_on, ...now }] : [now];
}

/** Names of the numbers that count under these settings and are missing. */
export function missing(s) {
  const used = ["days", "nodes", "size", "wall", "seed", "horizon"];
  if (s.shape === "rectangular") used.push("depth");
  if (s.climate === "own") used.push("own_temperature", "own_humidity", "own_chloride", "own_so2");
  if (s.salted === "own") used.push("salted_days");
  if (s.wash === "every") used.push("wash_days");
  if (s.graded) used.push("graded_at");
  if (s.coat) used.push("coat_at");
  const dates = s.moved ? ["registered", "moved_on"] : ["registered"];
  return [...used.filter((name) => s[name] === null), ...dates.filter((name) => !s[name])];
}

// Key paths of a case, as the server names them, and the control each belongs to; the first match counts.
const CONTROLS = [
  [/^title/, "title"], [/^first_registration/, "registered"], [/^member\.size/, "size"], [/^member\.nodes/, "nodes"],
  [/^climate\.means\.temperature/, "own_temperature"], [/^climate\.means\.humidity/, "own_humidity"],
  [/^climate\.chloride/, "own_chloride"], [/^climate\.so2/, "own_so2"], [/^climate/, "climate"],
  [/^use\.days/, "days"], [/^use\.hours_away/, "away"], [/^use\.road_salt/, "road_salt"], [/^use\.salted/, "salted_days"], [/^use\.wash/, "wash_days"],
  [/^storage.*from/, "moved_on"], [/^storage.*ground/, "ground"], [/^storage/, "stood"], [/^coating\.condition.*grade/, "grade"],
  [/^coating\.condition/, "graded_at"], [/^coating/, "system"], [/^treatment/, "coat_at"],
  [/^criteria/, "criteria"], [/^seed/, "seed"], [/^horizon/, "horizon"],
];

/** Name of the control that a problem is about, or null. The sizes of the tube are one key and several controls. */
export function controlOf({ field, message }) {
  if (field === "member.size_mm" && /\bwalls?\b/.test(message)) return "wall";
  return CONTROLS.find(([path]) => path.test(field ?? ""))?.[1] ?? null;
}
