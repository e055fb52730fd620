// Why are two settings years apart? From the median of the first to that of the second, factor by factor.

import { requestJson, renewed, superseded } from "./api.js";
import { fill } from "./controls.js";
import { toCase } from "./fields.js";
import { mountPicture, sample, table } from "./figure.js";
import { box, fitting, line, plot, sheet, text, ticks, leftAxis, bottomAxis, roomFor } from "./svg.js";
import { percent, signed, thousands } from "./words.js";

const ROW = 48;
const HEADING = "From the median age at rework of the first to that of the second";
const form = document.getElementById("why-form");
const words = document.getElementById("why-words");
const host = document.getElementById("picture-why");

/** Wires the form; `entries` lists the settings that can be compared. */
export function prepareWhy(page, entries) {
  const show = mountPicture(host, { heading: HEADING, key, draw, table: numbers });
  host.hidden = true;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const all = entries();
    const [a, b] = ["why-a", "why-b"].map((id) => all[Number(document.getElementById(id).value)]);
    if (!a || !b) return;
    words.textContent = "Working it out …";
    try {
      const body = { a: { ...toCase(a.settings), title: a.name }, b: { ...toCase(b.settings), title: b.name } };
      const explanation = await requestJson("explain", { body, query: page.run(page.state.settings, null), signal: renewed("why") });
      words.textContent = explanation.words;
      host.hidden = false;
      show({ explanation, names: [a.name, b.name] });
    } catch (error) {
      if (superseded(error)) return;
      host.hidden = true;
      words.textContent = error.message;
    }
  });
}

/** Offers the settings that are side by side. */
export function offerPairs(all) {
  form.hidden = all.length < 2;
  const options = all.map(({ name }, index) => [String(index), name]);
  for (const [id, wanted] of [["why-a", 0], ["why-b", all.length - 1]]) {
    fill(id, options);
    document.getElementById(id).value = String(wanted);
  }
  // The explanation is of the settings before.
  words.textContent = "";
  host.hidden = true;
}

const key = () => [sample("fill", "m-more", "later"), sample("fill", "m-less", "sooner"), sample("line", "m-axis", "alone: least to greatest effect")];

/** Rows of the picture: both ends and what lies between. */
function draw(width, { explanation, names }) {
  const height = (explanation.contributions.length + 2) * ROW + 50;
  const svg = sheet(width, height, HEADING, explanation.words);
  const panel = plot({ left: 12, right: width - 24, top: 4, bottom: height - 46, across: range(explanation), up: [0, 1] });
  let at = explanation.median_a.a;
  end(svg, panel, 0, names[0], at, explanation.beyond_horizon.a);
  explanation.contributions.forEach((part, index) => {
    step(svg, panel, (index + 1) * ROW, at, part);
    at += part.years;
  });
  end(svg, panel, (explanation.contributions.length + 1) * ROW, names[1], explanation.median_a.b, explanation.beyond_horizon.b);
  leftAxis(svg, panel, []);
  bottomAxis(svg, panel, ticks(panel.across, roomFor(panel, 44)), "Median age at rework [years]");
  return svg;
}

/** From the least to the greatest age that any row touches. */
function range(explanation) {
  let at = explanation.median_a.a;
  const touched = [explanation.median_a.a, explanation.median_a.b];
  for (const part of explanation.contributions) {
    touched.push(at + part.span_a[0], at + part.span_a[1], at + part.years);
    at += part.years;
  }
  const [low, high] = [Math.min(...touched), Math.max(...touched)];
  const spare = Math.max(0.5, 0.06 * (high - low));
  return [Math.max(0, low - spare), high + spare];
}

function end(svg, panel, top, name, median, beyond) {
  const x = panel.x(median);
  const isRight = x > (panel.left + panel.right) / 2;
  const years = text(x + (isRight ? -9 : 9), top + 36, `${beyond ? "> " : ""}${median.toFixed(1)} years`, "strong halo", isRight ? "end" : "start");
  svg.append(text(panel.left, top + 16, fitting(name, panel.right - panel.left), "strong halo"), years);
  svg.append(box(x - 2.5, top + 23, 5, 16, "m-end"));
}

function step(svg, panel, top, at, part) {
  const [x, to] = [panel.x(at), panel.x(at + part.years)];
  const y = top + 31;
  const span = panel.right - panel.left < 420 ? "" : ` (${signed(part.span_a[0])} to ${signed(part.span_a[1])})`;
  svg.append(line([x, y - ROW + 8], [x, y - 8], "m-hair"));
  svg.append(text(panel.left, top + 16, part.title, "halo"), text(panel.right, top + 16, `${signed(part.years)}${span}`, "halo", "end"));
  svg.append(box(Math.min(x, to), y - 8, Math.max(1, Math.abs(to - x)), 16, part.years >= 0 ? "m-more" : "m-less"));
  // Alone a factor could take off more years than there are: the line then ends at the edge, without its cap.
  const [low, high] = part.span_a.map((years) => Math.max(panel.left, panel.x(at + years)));
  svg.append(line([low, y], [high, y], "m-axis"));
  for (const cap of [low, high]) if (cap > panel.left) svg.append(line([cap, y - 4], [cap, y + 4], "m-axis"));
}

function numbers({ explanation }) {
  const rows = explanation.contributions.map((part) => [part.title, signed(part.years), `${signed(part.span_a[0])} to ${signed(part.span_a[1])}`, part.standard_error_a.toFixed(2), percent(Math.abs(part.probability))]);
  return table(`${explanation.cars} cars, ${thousands(explanation.histories)} histories with the same random numbers for both`, ["What differs", "Years", "Alone", "Computed to ±", "Rework by then, change"], rows);
}
