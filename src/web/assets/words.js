// Numbers in words, by the rules of the printed answers (src/report/number_words.rs): ages to half years,
// shares as frequencies out of twenty, no digit finer than the standard error.

/** Date of first registration as a decimal year. */
export function decimalYear(date) {
  const [year, month, day] = date.split("-").map(Number);
  const start = Date.UTC(year, 0, 1);
  const days = (Date.UTC(year + 1, 0, 1) - start) / 86_400_000;
  return year + (Date.UTC(year, month - 1, day) - start) / 86_400_000 / days;
}

/** Calendar year in which a car reaches an age. */
export const calendarYear = (registration, age) => Math.floor(registration + age);

/** Age of a car today [a]. */
export function ageToday(date) {
  return decimalYear(new Date().toISOString().slice(0, 10)) - decimalYear(date);
}

/** An age in half years, coarser when its standard error is, in tenths below one year. */
export function age(years, error = 0) {
  const finest = years < 1 ? 0.1 : 0.5;
  const step = [finest, 0.5, 1, 2, 5].find((candidate) => candidate >= (error ?? 0)) ?? 10;
  const rounded = Math.round(years / step) * step;
  const tenths = Math.round(rounded * 10) / 10;
  if (rounded < step) return `under ${step} years`;
  return tenths === 1 ? "1 year" : `${tenths} years`;
}

/** A share in whole per cent, open at both ends: a sample never proves "never" or "always". */
export function percent(share) {
  if (share < 0.01) return "<\u00a01\u00a0%";
  if (share > 0.99) return ">\u00a099\u00a0%";
  return `${(100 * share).toFixed(0)}\u00a0%`;
}

/** A share out of twenty. */
export function ofTwenty(share) {
  if (share < 0.05) return "fewer than 1 in 20";
  if (share > 0.95) return "more than 19 in 20";
  return `${(20 * share).toFixed(0)} in 20`;
}

/** A number in so many significant digits, without exponent. */
export const significant = (value, digits) => String(Number(value.toPrecision(digits)));

/** A whole number with spaces between thousands. */
export const thousands = (value) => Math.round(value).toString().replace(/\B(?=(\d{3})+$)/g, "\u202f");

/** Years in tenths with their sign. */
export function signed(years) {
  const tenths = Math.round(years * 10) / 10 + 0;
  return `${tenths < 0 ? "−" : "+"}${Math.abs(tenths).toFixed(1)}`;
}

const SPOKEN = { over_rust: "coat over the rust", run: "open length" };

/** A key of the record as people say it. */
export const spoken = (key) => SPOKEN[key] ?? key.replaceAll("_", " ");

/** Whether as good as all have reached rework, so that the few others are not worth a word. */
export const nearlyAll = ({ p_reached: reached }) => reached > 0.95;

/** Whether rework is due on the day of the answer. */
function verdict({ p_reached: reached, overdue }) {
  if (reached > 0.66) return reached > 0.95 ? "is almost certainly overdue" : "is probably overdue";
  if (overdue || reached >= 0.33) return "may be due";
  return reached < 0.05 ? "is almost certainly not due yet" : "is probably not due yet";
}

/** Years left of the cars that have not reached it, with the calendar year; null where the horizon ends before. */
export function remaining({ first_registration, as_of }, name) {
  const left = as_of.remaining_a[name];
  if (left === null) return null;
  return `${age(left)} (${calendarYear(decimalYear(first_registration), as_of.age_a + left)})`;
}

/** The sentence a layperson takes home: from today on for a used car. */
export function headline(forecast) {
  if (forecast.as_of) {
    const begin = `Rework ${verdict(forecast.as_of)}: ${ofTwenty(forecast.as_of.p_reached)} cars like this one have reached its point by now`;
    if (nearlyAll(forecast.as_of)) return `${begin}.`;
    const half = remaining(forecast, "p50");
    const later = half ? `half of the others need it within ${half}` : `more than half of the others last beyond ${forecast.horizon_a} years of age`;
    return `${begin}; ${later}.`;
  }
  const { p10, p50 } = forecast.time_to_rework_a;
  const error = forecast.standard_error;
  const registration = decimalYear(forecast.first_registration);
  const by = (years, e) => `${age(years, e)} of age (${calendarYear(registration, years)})`;
  if (p50 !== null) return `Half of the cars like this one need their tube reworked by ${by(p50, error.p50)}, one in ten by ${age(p10, error.p10)}.`;
  if (p10 !== null) return `One in ten cars like this one needs its tube reworked by ${by(p10, error.p10)}; more than half last beyond ${forecast.horizon_a} years.`;
  return `Fewer than one in ten cars like this one need their tube reworked within ${forecast.horizon_a} years.`;
}

/** The headline in few words, for a small screen. */
export function inShort(forecast) {
  if (forecast.as_of) return `Rework ${verdict(forecast.as_of)}: reached in ${ofTwenty(forecast.as_of.p_reached)}`;
  const { p50 } = forecast.time_to_rework_a;
  if (p50 === null) return `Half need rework: not within ${forecast.horizon_a} years`;
  const registration = decimalYear(forecast.first_registration);
  return `Half need rework by ${age(p50, forecast.standard_error.p50)} (${calendarYear(registration, p50)})`;
}

/** How sure the computation is, and how much of the spread is lack of knowledge. */
export function howSure(forecast) {
  const { median_half_width_a: half, p10: error } = forecast.standard_error;
  let computed = "no quantile lies within the horizon";
  if (half !== null) computed = `computed to ±${significant(half, 1)} years at the median (95 %)`;
  else if (error !== null) computed = `computed to ±${significant(error, 1)} years at 1 in 10 (one standard error)`;
  const share = forecast.epistemic_share;
  const much = share > 0.66 ? "mostly" : share >= 0.33 ? "partly" : "hardly";
  return `${computed}; the spread is ${much} lack of knowledge (${percent(share)}), which an inspection can narrow; the rest is scatter between cars alike.`;
}

const CRITERIA = {
  node_grade: "rust at a welded node", run_grade: "rust along the open length", mean_wall_loss_pct: "mean loss of wall",
  deepest_wall_loss_pct: "deepest loss of wall", section_modulus_loss_pct: "loss of section modulus",
};

/** Which criterion is met first, the commonest one. */
export function comesFirst(forecast) {
  const [name, share] = Object.entries(forecast.first_criterion_shares).sort((a, b) => b[1] - a[1])[0] ?? [];
  if (!name || share === 0) return "";
  return `What comes first is mostly ${CRITERIA[name] ?? name.replaceAll("_", " ")} (${percent(share)}).`;
}

/** Value at an age of a series by year, straight between its years and nought at age nought. */
export function atAge(series, age, read, start = 0) {
  const last = series.at(-1);
  if (age >= last.year) return read(last);
  const index = series.findIndex((row) => row.year > age);
  const [year, before] = index === 0 ? [0, start] : [series[index - 1].year, read(series[index - 1])];
  return before + ((age - year) / (series[index].year - year)) * (read(series[index]) - before);
}
