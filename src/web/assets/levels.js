// When would the levels of a country or rule be reached? The library's words, as they stand in the letter.

import { html } from "./figure.js";

/** Heading, levels and caution; nothing where no set is chosen. */
export function levelsSection({ levels_in_words: words = [] }) {
  if (words.length === 0) return [];
  const [title, ...rest] = words;
  const caution = rest.pop();
  return [html("h3", {}, `Levels of an inspection: ${title}`), html("ul", {}, ...rest.map((level) => html("li", {}, level))), html("p", { class: "hint" }, caution)];
}
