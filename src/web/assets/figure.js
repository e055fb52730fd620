// What surrounds a picture? Its heading, the library's drawing at the width of the page, and its numbers as a table.

import { request, superseded } from "./api.js";

// Steps of the width that is requested, and the narrowest and widest picture [px].
const STEP = 10;
const [NARROWEST, WIDEST] = [260, 1200];
const redraw = new WeakMap();
const watcher = new ResizeObserver((entries) => {
  for (const entry of entries) redraw.get(entry.target)?.();
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

// A number, a span of numbers, or none where the others have one.
const NUMBER = /^$|^[<>≥+−\-]?\s*[\d\s.,]+(%|years)?( to [+−\-]?[\d\s.,]+)?$/;

/** A table of rows; the first cell of a row is its heading. Columns of numbers stand at the right. */
export function table(caption, head, rows) {
  const text = (content) => (content instanceof Node ? content.textContent : String(content));
  const isNumber = head.map((_, column) => column > 0 && rows.length > 0 && rows.every((row) => NUMBER.test(text(row[column])) || row[column] === "reference"));
  const cell = (tag, scope) => (content, column) => html(tag, { ...(scope ? { scope } : { "data-head": head[column] }), class: isNumber[column] ? "number" : "" }, content instanceof Node ? content : String(content));
  const body = rows.map((row) => html("tr", {}, ...row.map((content, column) => (column === 0 ? cell("th", "row") : cell("td"))(content, column))));
  return html("table", {}, html("caption", {}, html("span", {}, caption)), html("thead", {}, html("tr", {}, ...head.map(cell("th", "col")))), html("tbody", {}, ...body));
}

/** A table in a region that can be pushed sideways; text stands at the left where `style` is `words`. */
export function wide(label, inner, style = "") {
  if (style) inner.classList.add(style);
  return html("div", { class: "wide", tabIndex: 0, role: "region", "aria-label": label }, inner);
}

/**
 * Puts a picture into the page. `picture` has `heading`, and perhaps `table(data)` and `also(data)`. Returns a function that
 * shows data; `from` says where its drawing comes from: `path`, `body`, `query`, and `send` where it is no plain request.
 * The drawing before stays until the new one is there.
 */
export function mountPicture(host, picture) {
  const canvas = html("div", { class: "canvas" });
  const also = html("p", { class: "also" });
  const numbers = html("div", { class: "wide", tabIndex: 0, role: "region", "aria-label": `Numbers: ${picture.heading}` });
  const fold = html("details", {}, html("summary", {}, "Numbers as a table"), numbers);
  host.replaceChildren(html("figure", {}, html("h3", {}, picture.heading), canvas, also, ...(picture.table ? [fold] : [])));
  let [data, from, drawn, running] = [null, null, 0, null];
  const widthNow = () => Math.min(WIDEST, Math.max(NARROWEST, STEP * Math.floor(canvas.clientWidth / STEP)));
  const draw = async () => {
    if (!from || canvas.clientWidth === 0) return;
    drawn = widthNow();
    running?.abort();
    running = new AbortController();
    const { path, body, query, send = request } = from;
    try {
      const response = await send(path, { body, query: { ...query, width: drawn }, signal: running.signal });
      canvas.innerHTML = await response.text();
    } catch (error) {
      if (!superseded(error)) canvas.replaceChildren(html("p", { class: "problem" }, error.message));
    }
  };
  // A closed table costs nothing: its rows are made when it is opened.
  const fill = () => fold.open && data && numbers.replaceChildren(picture.table(data));
  fold.addEventListener("toggle", fill);
  redraw.set(canvas, () => widthNow() !== drawn && draw());
  watcher.observe(canvas);
  return (next, where) => {
    [data, from] = [next, where];
    also.textContent = picture.also?.(data) ?? "";
    also.hidden = also.textContent === "";
    fill();
    return draw();
  };
}
