// How is a picture drawn? Scales, axes, areas, lines and lettering as SVG, sized in the pixels of the page.
//
// Colours come from classes in pictures.css, so that light, dark and print need no redrawing.

import { calendarYear } from "./words.js";

const SPACE = "http://www.w3.org/2000/svg";
let pictures = 0;

/** An SVG element with attributes and children. */
export function mark(name, attributes = {}, ...children) {
  const element = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

/** An empty picture with its title and description for those who do not see it. */
export function sheet(width, height, title, description) {
  pictures += 1;
  const [titleId, descriptionId] = [`t${pictures}`, `d${pictures}`];
  const svg = mark("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-labelledby": titleId, "aria-describedby": descriptionId });
  svg.append(mark("title", { id: titleId }, title), mark("desc", { id: descriptionId }, description));
  return svg;
}

/** A straight scale from `domain` to `range`. */
export function scale([low, high], [from, to]) {
  return (value) => from + ((value - low) / (high - low)) * (to - from);
}

/** The part of a picture between its axes: `across` and `up` are the ranges of its scales. */
export function plot({ left, right, top, bottom, across, up }) {
  return { left, right, top, bottom, across, up, x: scale(across, [left, right]), y: scale(up, [bottom, top]) };
}

/** Round numbers within a range, about `count` of them. */
export function ticks([low, high], count) {
  const rough = (high - low) / Math.max(1, count);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * power).find((candidate) => candidate >= rough * 0.999);
  const found = [];
  for (let n = Math.ceil(low / step - 1e-9); n * step <= high + 1e-9; n += 1) found.push(Number((n * step).toPrecision(12)));
  return found;
}

/** Lettering at a point; `anchor` is start, middle or end. */
export function text(x, y, words, style = "", anchor = "start") {
  return mark("text", { x, y, class: style, "text-anchor": anchor }, String(words));
}

/** Words cut to a width [px], by the usual width of a letter; the table beside the picture has them whole. */
export function fitting(words, width) {
  const most = Math.max(4, Math.floor(width / 7));
  return words.length > most ? `${words.slice(0, most - 1).trimEnd()}…` : words;
}

/** A straight line. */
export function line([x1, y1], [x2, y2], style) {
  return mark("line", { x1, y1, x2, y2, class: style });
}

const joined = (points) => points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join("L");

/** A line through points [px]. */
export function curve(points, style) {
  return mark("path", { d: `M${joined(points)}`, class: style });
}

/** The area between two lines [px]. */
export function area(upper, lower, style) {
  return mark("path", { d: `M${joined(upper)}L${joined([...lower].reverse())}Z`, class: style });
}

/** A filled circle. */
export function dot(x, y, r, style) {
  return mark("circle", { cx: x, cy: y, r, class: style });
}

/** A rectangle. */
export function box(x, y, width, height, style) {
  return mark("rect", { x, y, width: Math.max(0, width), height: Math.max(0, height), class: style });
}

/** Points of a series by year in the plot, from `start` at age nought; cut at the top of the scale. */
export function yearly(panel, series, read, start = 0) {
  const at = (year, value) => [panel.x(year), panel.y(Math.min(panel.up[1], value))];
  const from = start === null ? [] : [at(0, start)];
  return [...from, ...series.map((row) => at(row.year, read(row)))];
}

/** Axis at the left with grid lines. */
export function leftAxis(svg, panel, values, format = String) {
  for (const value of values) {
    const y = panel.y(value);
    svg.append(line([panel.left, y], [panel.right, y], "m-grid"), text(panel.left - 8, y + 4, format(value), "quiet", "end"));
  }
}

/** Axis at the right, for the same quantity in another unit. */
export function rightAxis(svg, panel, values, format = String) {
  for (const value of values) svg.append(text(panel.right + 6, panel.y(value) + 4, format(value), "quiet"));
}

/** Axis below with its name. */
export function bottomAxis(svg, panel, values, name, format = String) {
  svg.append(line([panel.left, panel.bottom], [panel.right, panel.bottom], "m-axis"));
  for (const value of values) {
    const x = panel.x(value);
    svg.append(line([x, panel.bottom], [x, panel.bottom + 5], "m-axis"), text(x, panel.bottom + 19, format(value), "quiet", "middle"));
  }
  if (name) svg.append(text((panel.left + panel.right) / 2, panel.bottom + 38, name, "", "middle"));
}

/** How many labels fit along a plot. */
export const roomFor = (panel, label) => Math.floor((panel.right - panel.left) / label);

/** Axis of the age of the car. */
export function ageAxis(svg, panel) {
  bottomAxis(svg, panel, ticks(panel.across, roomFor(panel, 44)), "Age of the car [years]");
}

/** Second scale along the top: calendar years. */
export function calendarAxis(svg, panel, registration) {
  svg.append(line([panel.left, panel.top], [panel.right, panel.top], "m-second"));
  const years = panel.across.map((age) => registration + age);
  for (const year of ticks(years, roomFor(panel, 58)).filter(Number.isInteger)) {
    const x = panel.x(year - registration);
    svg.append(line([x, panel.top], [x, panel.top - 4], "m-second"), text(x, panel.top - 9, year, "quiet", "middle"));
  }
}

/** The upright line of the age that is being read, with its calendar year. */
export function ageMark(svg, panel, at, registration) {
  if (at === null || at > panel.across[1]) return;
  const x = panel.x(at);
  svg.append(line([x, panel.top], [x, panel.bottom], "m-at"));
  if (registration === undefined) return;
  const end = x > (panel.left + panel.right) / 2;
  svg.append(text(x + (end ? -6 : 6), panel.bottom - 8, calendarYear(registration, at), "quiet halo", end ? "end" : "start"));
}
