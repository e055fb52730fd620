// How much wall goes with the years? Mean or deepest loss with its spread, and the levels of rework and assessment.

import { sample, table } from "./figure.js";
import { ageAxis, ageMark, area, calendarAxis, curve, leftAxis, line, plot, rightAxis, sheet, text, ticks, yearly } from "./svg.js";
import { decimalYear, significant } from "./words.js";

const HEIGHT = 290;
// A level further above the losses than this would flatten them [-].
const REACH = 2.5;

const loss = (heading, series, criterion) => ({
  heading,
  key: (data) => key(data, series, criterion),
  draw: (width, data) => draw(width, data, heading, [series, criterion]),
  also: (data) => tooHigh(data, series, criterion),
  table: ({ forecast }) => numbers(forecast, heading, series),
});

export const mean = loss("Mean loss of wall round the circumference", "mean_loss_um", "mean_wall_loss_pct");
export const deepest = loss("Deepest loss of wall anywhere", "deepest_loss_um", "deepest_wall_loss_pct");

/** Levels of a criterion in per cent of the wall. */
function levels(forecast, criterion) {
  const { rework, assessment } = forecast.thresholds;
  return [["rework", rework[criterion], "m-rework"], ["assessment", assessment[criterion], "m-assessment"]].filter(([, pct]) => typeof pct === "number");
}

function largest(forecast, series) {
  return Math.max(1, ...forecast[series].map((row) => row.p95));
}

/** Whether a level stands so far above the losses that the scale does not go up to it. */
function outOfSight(forecast, series, pct) {
  return (pct / 100) * wallUm(forecast) > REACH * largest(forecast, series);
}

const wallUm = (forecast) => forecast.thresholds.wall_mm * 1000;

function key({ forecast }, series, criterion) {
  const near = levels(forecast, criterion).filter(([, pct]) => !outOfSight(forecast, series, pct));
  return [
    sample("line", "m-line", "median"),
    sample("fill", "m-band", "5–95 % of all histories"),
    ...near.map(([name, pct, style]) => sample("line", style, `${name}, ${pct} %`)),
  ];
}

function tooHigh({ forecast }, series, criterion) {
  const far = levels(forecast, criterion).filter(([, pct]) => outOfSight(forecast, series, pct));
  return far.map(([name, pct]) => `The ${name} level of ${pct} % lies above the picture.`).join(" ");
}

function draw(width, { forecast, at }, heading, [series, criterion]) {
  const wall = wallUm(forecast);
  const near = levels(forecast, criterion).filter(([, pct]) => !outOfSight(forecast, series, pct));
  const top = Math.min(wall, 1.06 * Math.max(largest(forecast, series), ...near.map(([, pct]) => (pct / 100) * wall)));
  const svg = sheet(width, HEIGHT, heading, described(forecast[series].at(-1), near));
  const panel = plot({ left: 50, right: width - 50, top: 40, bottom: HEIGHT - 48, across: [0, forecast.horizon_a], up: [0, top] });
  svg.append(area(yearly(panel, forecast[series], (row) => row.p95), yearly(panel, forecast[series], (row) => row.p05), "m-band"));
  leftAxis(svg, panel, ticks(panel.up, 4));
  const pct = plot({ ...panel, up: [0, (top / wall) * 100] });
  rightAxis(svg, pct, ticks(pct.up, 4), (value) => `${value} %`);
  ageAxis(svg, panel);
  svg.append(text(2, 14, "Loss [µm]", "quiet"), text(width - 2, 14, "of the wall", "quiet", "end"));
  calendarAxis(svg, panel, decimalYear(forecast.first_registration));
  svg.append(curve(yearly(panel, forecast[series], (row) => row.p50), "m-line"));
  for (const [, level, style] of near) svg.append(line([panel.left, pct.y(level)], [panel.right, pct.y(level)], style));
  ageMark(svg, panel, at);
  return svg;
}

function described(last, near) {
  const [low, middle, high] = [last.p05, last.p50, last.p95].map((um) => significant(um, 2));
  return `After ${last.year} years: median ${middle} µm, 5–95 % ${low} to ${high} µm. ${near.map(([name, pct]) => `${name} at ${pct} % of the wall`).join(", ")}.`;
}

function numbers(forecast, heading, series) {
  const rows = forecast[series].map((row) => [row.year, ...[row.p05, row.p50, row.p95].map((um) => um.toFixed(1)), ((row.p50 / wallUm(forecast)) * 100).toFixed(2)]);
  return table(`${heading} [µm]`, ["Age [years]", "5 %", "Median", "95 %", "Median [% of wall]"], rows);
}
