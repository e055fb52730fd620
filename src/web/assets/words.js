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

/** Years left of the cars that have not reached it, with the calendar year; null where the horizon ends before. */
export function remaining({ first_registration, as_of }, name) {
  const left = as_of.remaining_a[name];
  if (left === null) return null;
  return `${age(left)} (${calendarYear(decimalYear(first_registration), as_of.age_a + left)})`;
}

/** Value at an age of a series by year, straight between its years and nought at age nought. */
export function atAge(series, age, read, start = 0) {
  const last = series.at(-1);
  if (age >= last.year) return read(last);
  const index = series.findIndex((row) => row.year > age);
  const [year, before] = index === 0 ? [0, start] : [series[index - 1].year, read(series[index - 1])];
  return before + ((age - year) / (series[index].year - year)) * (read(series[index]) - before);
}
