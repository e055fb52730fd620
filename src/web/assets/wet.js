// How long is the steel wet, month by month, here and in the open air?

import { sample, table } from "./figure.js";
import { bottomAxis, box, leftAxis, plot, sheet, text, ticks } from "./svg.js";
import { significant, thousands } from "./words.js";

const HEIGHT = 250;
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const HEADING = "Hours with a wet film on the steel";

export const wet = { heading: HEADING, key, draw, also, table: numbers };

function key() {
  return [sample("fill", "m-bar", "where it stands"), sample("fill", "m-bar-open", "in the open air")];
}

function draw(width, exposure) {
  const svg = sheet(width, HEIGHT, HEADING, also(exposure));
  const most = Math.max(100, ...[...exposure.arrangement, ...exposure.open_air].map((row) => row.film_h));
  const panel = plot({ left: 48, right: width - 10, top: 28, bottom: HEIGHT - 48, across: [0.5, 12.5], up: [0, most * 1.04] });
  svg.append(text(2, 14, "Hours a month [h]", "quiet"));
  leftAxis(svg, panel, ticks(panel.up, 4));
  const half = (0.4 * (panel.right - panel.left)) / 12;
  const bar = (row, from, style) => svg.append(box(panel.x(row.month) + from, panel.y(row.film_h), half, panel.bottom - panel.y(row.film_h), style));
  exposure.arrangement.forEach((row) => bar(row, -half, "m-bar"));
  exposure.open_air.forEach((row) => bar(row, 1, "m-bar-open"));
  const short = width < 420;
  bottomAxis(svg, panel, MONTHS.map((_, index) => index + 1), "", (month) => (short ? MONTHS[month - 1][0] : MONTHS[month - 1]));
  return svg;
}

function also({ year, year_in_open_air: open }) {
  return `In a year ${thousands(Number(significant(year.film_h, 2)))} h here, ${thousands(Number(significant(open.film_h, 2)))} h in the open air; steel ${year.steel_temperature_c.toFixed(0)} °C and ${year.steel_humidity_pct.toFixed(0)} % humidity in the mean.`;
}

function numbers({ arrangement, open_air: open }) {
  const rows = arrangement.map((row, index) => [MONTHS[row.month - 1], row.film_h.toFixed(0), open[index].film_h.toFixed(0), row.steel_temperature_c.toFixed(1), row.steel_humidity_pct.toFixed(0), row.chloride_mg_m2.toFixed(0)]);
  return table("Month by month", ["Month", "Wet here [h]", "Open air [h]", "Steel [°C]", "Humidity [%]", "Chloride [mg/m²]"], rows);
}
