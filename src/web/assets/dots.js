// Twenty equally likely futures, one dot each, for readers who do not read curves.
//
// Dot i is the quantile (i - 0.5)/20 of the age at rework, as in src/report/dots.rs [quantile dot plots: Kay et al. 2016].

import { sample, table } from "./figure.js";
import { ageAxis, ageMark, dot, line, plot, sheet, text } from "./svg.js";
import { age, calendarYear, decimalYear } from "./words.js";

const DOTS = 20;
const COLUMNS = 20;
// Greatest height of the dots [px]; a picture of few has less.
const TALLEST = 190;
const HEADING = "Twenty equally likely futures of this car";

export const dots = { heading: HEADING, key, draw, table: numbers };

function key({ at }) {
  const entries = [sample("dot", "m-dot", "1 in 20 reaches its rework point")];
  if (at !== null) entries.push(sample("dot", "m-past", "before the age being read"));
  return entries;
}

/** Ages of the twenty dots [a]; null beyond the horizon. */
export function dotAges(band) {
  return Array.from({ length: DOTS }, (_, number) => reachedAt((number + 0.5) / DOTS, band));
}

function reachedAt(probability, band) {
  let [year, before] = [0, 0];
  for (const row of band) {
    if (row.pooled >= probability) return year + ((probability - before) / (row.pooled - before)) * (row.year - year);
    [year, before] = [row.year, row.pooled];
  }
  return null;
}

function draw(width, { forecast, at }) {
  const ages = dotAges(forecast.band);
  const within = ages.filter((years) => years !== null);
  const columns = within.map((years) => Math.min(COLUMNS - 1, Math.floor((years / forecast.horizon_a) * COLUMNS)));
  const tallest = stack(columns, DOTS - within.length);
  const widest = Math.min(11, (width - 108) / COLUMNS / 2);
  const height = 60 + Math.min(TALLEST, tallest * (2 * widest + 1) + 24);
  const svg = sheet(width, height, HEADING, `${within.length} of 20 futures need rework within ${forecast.horizon_a} years, ${DOTS - within.length} do not.`);
  const panel = plot({ left: 16, right: width - 92, top: 12, bottom: height - 48, across: [0, forecast.horizon_a], up: [0, 1] });
  ageMark(svg, panel, at);
  ageAxis(svg, panel);
  const radius = Math.min(widest, (panel.bottom - panel.top) / tallest / 2 - 0.5);
  columns.forEach((column, number) => {
    const row = columns.slice(0, number).filter((other) => other === column).length;
    const x = panel.x(((column + 0.5) / COLUMNS) * forecast.horizon_a);
    svg.append(dot(x, up(panel, radius, row), radius, at !== null && within[number] <= at ? "m-past" : "m-dot"));
  });
  beyond(svg, panel, radius, DOTS - within.length, forecast.horizon_a);
  return svg;
}

const up = (panel, radius, row) => panel.bottom - radius - 3 - row * (2 * radius + 1);

/** Dots of the tallest stack; those beyond the axis stand in two. */
function stack(columns, beyondCount) {
  return Math.max(1, Math.ceil(beyondCount / 2), ...columns.map((column) => columns.filter((other) => other === column).length));
}

/** The futures the axis does not reach stand hollow in a bin of their own. */
function beyond(svg, panel, radius, count, horizon) {
  const [left, right] = [panel.right + 20, panel.right + 84];
  const middle = (left + right) / 2;
  svg.append(line([left, panel.bottom], [right, panel.bottom], "m-axis"));
  for (let number = 0; number < count; number += 1) {
    const x = middle + (number % 2 ? 1 : -1) * (radius + 1);
    svg.append(dot(x, up(panel, radius, Math.floor(number / 2)), radius - 1, "m-hollow"));
  }
  svg.append(text(middle, panel.bottom + 19, `> ${horizon}`, "quiet", "middle"), text(middle, panel.bottom + 38, `${count} in 20`, "", "middle"));
}

function numbers({ forecast }) {
  const registration = decimalYear(forecast.first_registration);
  const rows = dotAges(forecast.band).map((years, number) => [number + 1, years === null ? `> ${forecast.horizon_a}` : age(years), years === null ? "later" : calendarYear(registration, years)]);
  return table("Twenty futures in order", ["Future", "Age at rework", "Year"], rows);
}
