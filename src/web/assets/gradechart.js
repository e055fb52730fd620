// What does a grade look like? Patches of rust of the nominal area of each degree of ISO 4628-3, drawn from numbers.
//
// Own drawings to tell the grades apart on a screen; the standard's own pictures decide.

import { html } from "./figure.js";
import { mark } from "./svg.js";

// Nominal rusted area [%] as in shared/rust_grades.csv; Ri 5 in the middle of its 40 to 50.
export const AREAS = [0, 0.05, 0.5, 1, 8, 45];
const SIDE = 200;
// Radii of the spots [px]; a grade of little area has small ones.
const RADIUS = [0, 1.1, 2, 2.6, 5, 9];

/** Numbers from 0 to 1 that look random and are the same everywhere [mulberry32]. */
function numbers(seed) {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Spots that do not overlap and together cover the area of the grade exactly. */
export function spots(grade) {
  const wanted = (AREAS[grade] / 100) * SIDE * SIDE;
  if (wanted === 0) return [];
  const next = numbers(4628 + grade);
  const radii = sizes(wanted, RADIUS[grade], next);
  // The largest first: small ones fit between them.
  const placed = [];
  for (const radius of radii.sort((a, b) => b - a)) placed.push(position(placed, radius, next));
  return placed;
}

/** Radii of varied spots, scaled so that their areas add up. */
function sizes(wanted, usual, next) {
  const radii = [];
  const area = () => radii.reduce((sum, radius) => sum + Math.PI * radius * radius, 0);
  while (area() < wanted) radii.push(usual * (0.45 + 1.1 * next()));
  const factor = Math.sqrt(wanted / area());
  return radii.map((radius) => radius * factor);
}

/** A position where a spot overlaps none before it; a dense picture gets many tries. */
function position(placed, radius, next) {
  let best = null;
  for (let attempt = 0; attempt < 4000; attempt += 1) {
    const spot = { x: radius + next() * (SIDE - 2 * radius), y: radius + next() * (SIDE - 2 * radius), radius };
    const gap = Math.min(Infinity, ...placed.map((other) => Math.hypot(other.x - spot.x, other.y - spot.y) - other.radius - radius));
    if (gap >= 0) return spot;
    if (best === null || gap > best.gap) best = { ...spot, gap };
  }
  return best;
}

/** The picture of a grade. */
export function patch(grade) {
  const svg = mark("svg", { viewBox: `0 0 ${SIDE} ${SIDE}`, "aria-hidden": "true" });
  svg.append(mark("rect", { width: SIDE, height: SIDE, class: "m-panel" }));
  for (const { x, y, radius } of spots(grade)) svg.append(mark("circle", { cx: x.toFixed(1), cy: y.toFixed(1), r: radius.toFixed(2), class: "m-rust" }));
  return svg;
}

export const areaWords = (grade) => (grade === 5 ? "40–50 %" : `${AREAS[grade]} %`);

/** All grades beside each other. */
export function drawChart(host) {
  host.replaceChildren(...AREAS.map((_, grade) => html("div", {}, patch(grade), `Ri ${grade}`)));
}

/** All grades as a choice, with their areas; the first choice is that nothing was graded. */
export function chooseGrade(name) {
  const none = html("label", { class: "tick" }, html("input", { type: "radio", name, value: "", checked: true }), "not graded, only measured");
  const tiles = AREAS.map((_, grade) => html("label", {}, patch(grade), html("input", { type: "radio", name, value: `Ri ${grade}` }), `Ri ${grade}: ${areaWords(grade)}`));
  return [none, html("div", { class: "grade-chart" }, ...tiles)];
}
