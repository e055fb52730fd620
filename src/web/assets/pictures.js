// The library's pictures as they stand in the page: the heading of each and its numbers as a table.

import { html, table } from "./figure.js";
import { age, atAge, calendarYear, decimalYear, percent, significant, signed, thousands } from "./words.js";

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const GRADES = [0, 1, 2, 3, 4, 5];
const inPercent = (share) => (share === undefined ? "" : (100 * share).toFixed(1));
const PROBABILITY = "Probability of having reached the rework point";
const WHEN = "When does it reach the rework point?";

export const band = {
  heading: WHEN,
  table({ band: rows, first_registration: date }) {
    const row = ({ year, pooled, low, mid, high }) => [year, calendarYear(decimalYear(date), year), ...[pooled, low, mid, high].map(inPercent)];
    return table(`${PROBABILITY} [%]`, ["Age [years]", "Year", "All", "5 % of draws", "Middle", "95 % of draws"], rows.map(row));
  },
};

export const updated = {
  heading: WHEN,
  table({ band: rows, prior }) {
    const before = prior?.band ?? [];
    const cells = (one = {}) => [one.pooled, one.low, one.high].map(inPercent);
    return table("Probability [%]", ["Age [years]", "After", "5 %", "95 %", "Before", "5 %", "95 %"], rows.map((now, index) => [now.year, ...cells(now), ...cells(before[index])]));
  },
};

/** Ages of the twenty dots [a], as in src/report/dots.rs; null beyond the horizon. */
export function dotAges(rows) {
  const curve = [{ year: 0, pooled: 0 }, ...rows];
  return Array.from({ length: 20 }, (_, number) => {
    const wanted = (number + 0.5) / 20;
    const next = curve.findIndex(({ pooled }) => pooled >= wanted);
    if (next < 0) return null;
    const [a, b] = [curve[next - 1], curve[next]];
    return a.year + ((wanted - a.pooled) / (b.pooled - a.pooled)) * (b.year - a.year);
  });
}

export const dots = {
  heading: "Twenty equally likely futures of this car",
  table({ band: rows, first_registration: date, horizon_a: horizon }) {
    const row = (years, number) => (years === null ? [number + 1, `> ${horizon}`, "later"] : [number + 1, age(years), calendarYear(decimalYear(date), years)]);
    return table("Twenty futures in order", ["Future", "Age at rework", "Year"], dotAges(rows).map(row));
  },
};

export const losses = {
  heading: "Wall lost with the years",
  table({ mean_loss_um: mean, deepest_loss_um: deepest }) {
    const cells = ({ p05, p50, p95 }) => [p05, p50, p95].map((um) => um.toFixed(1));
    const rows = mean.map((one, index) => [one.year, ...cells(one), ...cells(deepest[index])]);
    return table("Loss of wall [µm]: mean round the circumference, and deepest anywhere", ["Age [years]", "Mean, 5 %", "Median", "95 %", "Deepest, 5 %", "Median", "95 %"], rows);
  },
};

const grades = (heading, run, node) => ({
  heading,
  table(forecast) {
    const rows = forecast[run].map((row, index) => [row.year, ...[row, forecast[node][index]].flatMap((shares) => GRADES.map((number) => inPercent(shares[`ri${number}`])))]);
    return table(`${heading}: share of the histories [%]`, ["Age [years]", ...["Open length", "Worst node"].flatMap((part) => GRADES.map((number) => `${part}, Ri ${number}`))], rows);
  },
});

export const visible = grades("Grade of rust that is seen", "visible_grade_shares", "visible_node_grade_shares");
export const hidden = grades("Grade of rust beneath, the true one", "true_grade_shares", "node_grade_shares");

export const wet = {
  heading: "A year at the steel",
  also: ({ year, year_in_open_air: open }) => `In a year ${[year, open].map(({ film_h: hours }) => `${thousands(Number(significant(hours, 2)))} h`).join(" with a wet film here, ")} in the open air; steel ${year.steel_temperature_c.toFixed(0)} °C and ${year.steel_humidity_pct.toFixed(0)} % humidity in the mean.`,
  table({ arrangement, open_air: open }) {
    const rows = arrangement.map((row, index) => [MONTHS[row.month - 1], row.film_h.toFixed(0), open[index].film_h.toFixed(0), row.steel_temperature_c.toFixed(1), row.steel_humidity_pct.toFixed(0), row.chloride_mg_m2.toFixed(0)]);
    return table("Month by month", ["Month", "Wet here [h]", "Open air [h]", "Steel [°C]", "Humidity [%]", "Chloride [mg/m²]"], rows);
  },
};

export const compared = {
  heading: "When does each reach the rework point?",
  table({ names, comparison }) {
    const tenths = (value) => (value === null ? `> ${comparison.horizon_a}` : value.toFixed(1));
    const rows = comparison.cases.map((one, index) => [names[index], ...["p05", "p10", "p25", "p50", "p75", "p90", "p95"].map((name) => tenths(one.time_to_rework_a[name]))]);
    return table("Age at rework [years]", ["Setting", "5 %", "10 %", "25 %", "50 %", "75 %", "90 %", "95 %"], rows);
  },
};

export const difference = {
  heading: "From the median age at rework of the first to that of the second",
  table({ contributions, cars, histories }) {
    const rows = contributions.map((part) => [part.title, signed(part.years), `${signed(part.span_a[0])} to ${signed(part.span_a[1])}`, part.standard_error_a.toFixed(2), percent(Math.abs(part.probability))]);
    return table(`${cars} cars, ${thousands(histories)} histories with the same random numbers for both`, ["What differs", "Years", "Alone", "Computed to ±", "Rework by then, change"], rows);
  },
};

export const costs = {
  heading: "Cost by the age for which a rework is planned",
  table({ cost_by_rework_age: series }) {
    return table("Present cost by age at rework", ["Age [years]", "Mean", "5 %", "95 %"], series.map(({ age_a: years, mean, p05, p95 }) => [years, ...[mean, p05, p95].map(thousands)]));
  },
};

/** Grade that half of the histories do not exceed at an age. */
function middle(shares, years) {
  let sum = 0;
  return `Ri ${GRADES.find((number) => (sum += atAge(shares, years, (row) => row[`ri${number}`], number === 0 ? 1 : 0)) >= 0.5) ?? 5}`;
}

export const seen = {
  heading: "What was seen, place by place, over what was to be expected",
  table({ evidence, first_registration: date, ...forecast }) {
    const ages = [...new Set(evidence.observations.map((one) => one.age_a))];
    const found = (years) => evidence.observations.filter((one) => one.age_a === years).map((one) => `${one.spot} ${one.seen}`).join("; ");
    const row = (years) => [Math.floor(decimalYear(date) + years), years.toFixed(1), html("div", {}, found(years)), middle(forecast.visible_grade_shares, years), middle(forecast.visible_node_grade_shares, years)];
    return table("Year on year: what is on record, and the middle grade that is expected to be seen", ["Year", "Age [years]", "On record", "Open length", "Worst node"], ages.map(row));
  },
};
