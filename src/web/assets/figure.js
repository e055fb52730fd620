// What surrounds a picture? Heading, key, the drawing at the width of the page, and its numbers as a table.

import { mark } from "./svg.js";

const redraw = new Map();
const watcher = new ResizeObserver((entries) => {
  for (const entry of entries) redraw.get(entry.target)?.(entry.contentRect.width);
});

/** An HTML element; `properties` are set as properties, `class` and `data-…` among them. */
export function html(name, properties = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (key === "class") element.className = value;
    else if (key.includes("-")) element.setAttribute(key, value);
    else element[key] = value;
  }
  element.append(...children);
  return element;
}

/** A table of rows; the first cell of a row is its heading. */
export function table(caption, head, rows) {
  const cell = (tag, scope) => (content) => html(tag, scope ? { scope } : {}, content instanceof Node ? content : String(content));
  const body = rows.map(([first, ...rest]) => html("tr", {}, cell("th", "row")(first), ...rest.map(cell("td"))));
  return html("table", {}, html("caption", {}, html("span", {}, caption)), html("thead", {}, html("tr", {}, ...head.map(cell("th", "col")))), html("tbody", {}, ...body));
}

/** A sample of the key: a line, a fill or a dot of a class. */
export function sample(kind, style, words) {
  const svg = mark("svg", { width: 28, height: 14, "aria-hidden": "true" });
  if (kind === "line") svg.append(mark("line", { x1: 1, y1: 7, x2: 27, y2: 7, class: style }));
  else if (kind === "dot") svg.append(mark("circle", { cx: 14, cy: 7, r: 5.5, class: style }));
  else svg.append(mark("rect", { x: 2, y: 1, width: 24, height: 12, class: style }));
  return html("li", {}, svg, words);
}

/**
 * Puts a picture into the page. `picture` has `heading`, `key` (samples, or a function of the data giving them),
 * `draw(width, data)` giving an SVG, and perhaps `table(data)` and `also(data)`. Returns a function that shows data.
 */
export function mountPicture(host, picture) {
  const heading = html("h3", {}, picture.heading);
  const key = html("ul", { class: "key" });
  const canvas = html("div", { class: "canvas" });
  const also = html("p", { class: "also" });
  const numbers = html("div", { class: "wide", tabIndex: 0, role: "region", "aria-label": `Numbers: ${picture.heading}` });
  const fold = html("details", {}, html("summary", {}, "Numbers as a table"), numbers);
  host.replaceChildren(html("figure", {}, heading, key, canvas, also, fold));
  let data = null;
  const draw = (width) => {
    if (data && width > 0) canvas.replaceChildren(picture.draw(Math.max(260, Math.floor(width)), data));
  };
  // A closed table costs nothing: its rows are made when it is opened.
  const fill = () => fold.open && data && numbers.replaceChildren(picture.table(data));
  fold.addEventListener("toggle", fill);
  redraw.set(canvas, draw);
  watcher.observe(canvas);
  return (next) => {
    data = next;
    key.replaceChildren(...(typeof picture.key === "function" ? picture.key(data) : picture.key()));
    also.textContent = picture.also?.(data) ?? "";
    also.hidden = also.textContent === "";
    draw(canvas.clientWidth);
    fill();
  };
}
