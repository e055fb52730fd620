// Which grade of rust will it have? Share of the histories in each degree of ISO 4628-3 by year: as an inspector sees it,
// and as it truly is beneath a coat brushed over the rust.

import { sample, table } from "./figure.js";
import { ageAxis, ageMark, area, calendarAxis, leftAxis, plot, sheet, text } from "./svg.js";
import { atAge, decimalYear, percent } from "./words.js";

const HEIGHT = 290;
export const GRADES = [0, 1, 2, 3, 4, 5];

/** Shares of a kind for the part that is shown. */
const SERIES = {
  visible: { run: "visible_grade_shares", node: "visible_node_grade_shares" },
  true: { run: "true_grade_shares", node: "node_grade_shares" },
};

const grade = (kind, heading) => ({
  heading,
  key: () => GRADES.map((number) => sample("fill", `ri${number} m-swatch`, `Ri ${number}`)),
  also: ({ part }) => (part === "node" ? "Of the worst welded node." : "Of the open length of the tube."),
  draw: (width, data) => draw(width, data, data.forecast[SERIES[kind][data.part]], heading),
  table: (data) => numbers(data.forecast[SERIES[kind][data.part]], heading),
});

export const visible = grade("visible", "Grade of rust that is seen");
export const hidden = grade("true", "Grade of rust beneath, the true one");

/** Whether what is seen differs from what is true. */
export function differs(forecast) {
  return forecast.visible_grade_shares.some((row, index) => Math.abs(row.ri0 - forecast.true_grade_shares[index].ri0) > 1e-9);
}

/** The most likely grade at an age, with its share. */
export function likeliest(forecast, at, kind, part) {
  const series = forecast[SERIES[kind][part]];
  const shares = GRADES.map((number) => atAge(series, at, (row) => row[`ri${number}`], number === 0 ? 1 : 0));
  const best = shares.indexOf(Math.max(...shares));
  return { grade: `Ri ${best}`, share: shares[best] };
}

function draw(width, { forecast, at }, series, heading) {
  const last = GRADES.map((number) => `Ri ${number} ${percent(series.at(-1)[`ri${number}`])}`);
  const svg = sheet(width, HEIGHT, heading, `Shares after ${series.at(-1).year} years: ${last.join(", ")}.`);
  const panel = plot({ left: 48, right: width - 16, top: 40, bottom: HEIGHT - 48, across: [0, forecast.horizon_a], up: [0, 1] });
  svg.append(text(2, 14, "Share of histories", "quiet"));
  const start = { year: 0, ri0: 1, ri1: 0, ri2: 0, ri3: 0, ri4: 0, ri5: 0 };
  for (const number of GRADES) layer(svg, panel, [start, ...series], number);
  leftAxis(svg, panel, [0, 0.25, 0.5, 0.75, 1], (share) => `${100 * share} %`);
  ageAxis(svg, panel);
  calendarAxis(svg, panel, decimalYear(forecast.first_registration));
  ageMark(svg, panel, at);
  return svg;
}

/** Share of a grade and worse, from the bottom: the darkest lies lowest and rises with age. */
function layer(svg, panel, series, number) {
  const above = (row, from) => GRADES.filter((other) => other >= from).reduce((sum, other) => sum + row[`ri${other}`], 0);
  const edge = (from) => series.map((row) => [panel.x(row.year), panel.y(Math.min(1, above(row, from)))]);
  svg.append(area(edge(number), edge(number + 1), `ri${number} m-seam`));
}

function numbers(series, heading) {
  const rows = series.map((row) => [row.year, ...GRADES.map((number) => (100 * row[`ri${number}`]).toFixed(1))]);
  return table(`${heading}: share of the histories [%]`, ["Age [years]", ...GRADES.map((number) => `Ri ${number}`)], rows);
}
