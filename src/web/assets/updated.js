// What have the inspections made of the forecast? The band after them over the band before.

import { sample, table } from "./figure.js";
import { ageAxis, ageMark, area, calendarAxis, curve, leftAxis, plot, sheet, yearly } from "./svg.js";
import { ageToday, decimalYear } from "./words.js";

const HEADING = "Probability of having reached the rework point";

export const updatedBand = { heading: HEADING, key, draw, table: numbers };

function key({ forecast }) {
  const entries = [sample("line", "m-line", forecast.prior ? "after the inspections" : "all histories together"), sample("fill", "m-band", "its 5–95 %")];
  if (forecast.prior) entries.push(sample("line", "m-ghost", "before"), sample("line", "m-prior", "its 5–95 %"));
  return [...entries, sample("line", "m-at", "today")];
}

function draw(width, { forecast }) {
  const height = 330;
  const registration = decimalYear(forecast.first_registration);
  const svg = sheet(width, height, HEADING, forecast.prior ? "The band after the inspections is drawn over the band before them." : "Nothing has been seen yet.");
  const panel = plot({ left: 48, right: width - 16, top: 40, bottom: height - 48, across: [0, forecast.horizon_a], up: [0, 1] });
  svg.append(area(yearly(panel, forecast.band, (row) => row.high), yearly(panel, forecast.band, (row) => row.low), "m-band"));
  leftAxis(svg, panel, [0, 0.25, 0.5, 0.75, 1], (share) => `${100 * share} %`);
  ageAxis(svg, panel);
  calendarAxis(svg, panel, registration);
  const prior = forecast.prior?.band ?? [];
  if (prior.length > 0) {
    for (const edge of ["low", "high"]) svg.append(curve(yearly(panel, prior, (row) => row[edge]), "m-prior"));
    svg.append(curve(yearly(panel, prior, (row) => row.pooled), "m-ghost"));
  }
  svg.append(curve(yearly(panel, forecast.band, (row) => row.pooled), "m-line"));
  ageMark(svg, panel, Math.max(0, ageToday(forecast.first_registration)), registration);
  return svg;
}

function numbers({ forecast }) {
  const share = (value) => (value === undefined ? "" : (100 * value).toFixed(1));
  const rows = forecast.band.map((row, index) => {
    const before = forecast.prior?.band?.[index] ?? {};
    return [row.year, ...[row.pooled, row.low, row.high, before.pooled, before.low, before.high].map(share)];
  });
  return table("Probability [%]", ["Age [years]", "After", "5 %", "95 %", "Before", "5 %", "95 %"], rows);
}
