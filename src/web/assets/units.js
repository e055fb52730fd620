// In which units does somebody type? Settings stay metric; only what is typed and shown beside it changes.

const KINDS = {
  length: { metric: ["mm", 1, 0, 2], inch: ["in", 1 / 25.4, 0, 3] },
  temperature: { metric: ["°C", 1, 0, 1], inch: ["°F", 1.8, 32, 1] },
};
let system = "metric";

/** Chooses `metric` or `inch`. */
export function setUnits(name) {
  system = name === "inch" ? "inch" : "metric";
}

/** Name of the unit of a kind of quantity. */
export const unitOf = (kind) => KINDS[kind][system][0];

/** A metric value as it is shown. */
export function shown(value, kind) {
  if (!kind || value === null) return value;
  const [, factor, offset, digits] = KINDS[kind][system];
  return Number((value * factor + offset).toFixed(digits));
}

/** A value as it was typed, in metric units. */
export function metric(value, kind) {
  if (!kind || value === null) return value;
  const [, factor, offset] = KINDS[kind][system];
  return Number(((value - offset) / factor).toFixed(4));
}
