// When does this member reach its rework point? Probability against age and calendar year, with what is not known.

import { sample, table } from "./figure.js";
import { ageAxis, ageMark, area, calendarAxis, curve, dot, leftAxis, line, plot, sheet, text, yearly } from "./svg.js";
import { age, atAge, calendarYear, decimalYear, percent } from "./words.js";

const QUANTILES = [["1 in 10", 0.1, "p10"], ["5 in 10", 0.5, "p50"], ["9 in 10", 0.9, "p90"]];
const HEADING = "Probability of having reached the rework point";

/** Draws the band; `ghost` is the curve of the setting it is compared with. */
export const band = { heading: HEADING, key, draw, table: numbers };

function key({ ghost }) {
  const entries = [
    sample("line", "m-line", "all histories together"),
    sample("line", "m-middle", "middle of the band"),
    sample("fill", "m-band", "5–95 % of what is not known"),
  ];
  if (ghost) entries.push(sample("line", "m-ghost", `kept: ${ghost.name}`));
  return entries;
}

function draw(width, { forecast, ghost, at }) {
  const wide = width > 560;
  const height = wide ? 360 : 300;
  const registration = decimalYear(forecast.first_registration);
  const svg = sheet(width, height, HEADING, described(forecast, registration));
  const panel = plot({ left: 48, right: width - (wide ? 150 : 58), top: 40, bottom: height - 48, across: [0, forecast.horizon_a], up: [0, 1] });
  svg.append(area(yearly(panel, forecast.band, (row) => row.high), yearly(panel, forecast.band, (row) => row.low), "m-band"));
  leftAxis(svg, panel, [0, 0.25, 0.5, 0.75, 1], (share) => `${100 * share} %`);
  ageAxis(svg, panel);
  calendarAxis(svg, panel, registration);
  if (ghost) svg.append(curve(yearly(panel, ghost.forecast.band, (row) => row.pooled), "m-ghost"));
  svg.append(curve(yearly(panel, forecast.band, (row) => row.mid), "m-middle"));
  svg.append(curve(yearly(panel, forecast.band, (row) => row.pooled), "m-line"));
  for (const quantile of QUANTILES) marked(svg, panel, forecast, registration, quantile, wide);
  reading(svg, panel, forecast, registration, at);
  return svg;
}

/** Where the curve passes a quantile, labelled in the right margin where no curve runs. */
function marked(svg, panel, forecast, registration, [words, probability, name], wide) {
  const years = forecast.time_to_rework_a[name];
  const y = panel.y(probability);
  if (years !== null && years <= panel.across[1]) {
    const x = panel.x(years);
    svg.append(line([x, panel.bottom], [x, y], "m-hair"), line([x, y], [panel.right + 4, y], "m-hair"), dot(x, y, 4.5, "m-mark"));
  }
  svg.append(text(panel.right + 8, wide ? y - 2 : y + 4, words, "strong"));
  if (!wide) return;
  const reached = years === null ? `not by ${forecast.horizon_a} years` : `${age(years, forecast.standard_error[name])} (${calendarYear(registration, years)})`;
  svg.append(text(panel.right + 8, y + 14, reached));
}

/** The age that is being read. */
function reading(svg, panel, forecast, registration, at) {
  ageMark(svg, panel, at, registration);
  if (at === null || at > panel.across[1]) return;
  const share = atAge(forecast.band, at, (row) => row.pooled);
  svg.append(dot(panel.x(at), panel.y(share), 6, "m-at-dot"));
}

function described(forecast, registration) {
  const reached = QUANTILES.map(([words, , name]) => {
    const years = forecast.time_to_rework_a[name];
    return years === null ? `${words} not by ${forecast.horizon_a} years` : `${words} by ${age(years)} (${calendarYear(registration, years)})`;
  });
  return `Against the age of the car: ${reached.join("; ")}; ${percent(forecast.share_beyond_horizon)} not within ${forecast.horizon_a} years.`;
}

function numbers({ forecast }) {
  const registration = decimalYear(forecast.first_registration);
  const share = (value) => (100 * value).toFixed(1);
  const rows = forecast.band.map((row) => [row.year, calendarYear(registration, row.year), share(row.pooled), share(row.low), share(row.mid), share(row.high)]);
  return table("Probability of having reached the rework point [%]", ["Age [years]", "Year", "All", "5 % of draws", "Middle", "95 % of draws"], rows);
}
