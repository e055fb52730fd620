// A workshop's own table of inspections: shown first with everything that does not fit, stored when that is confirmed.

import { html, table, wide } from "./figure.js";
import { action, choice } from "./form.js";
import { clearProblems, problemNote } from "./problems.js";

const FIELDS = ["car", "date", "place", "grade", "wall", "cleaned", "inspector", "gauge", "remark"];
const DATES = [["", "as found"], ["dmy", "day, month, year"], ["mdy", "month, day, year"], ["ymd", "year, month, day"]];
const SCALES = [["", "as found"], ["ri", "Ri 0 to 5"], ["d610", "D610 10 to 0"], ["percent", "per cent of the area"]];
// Most bytes of a table: three quarters of the longest body that the server reads.
const MAX_BYTES = 780_000;
const SHOWN = 30;
const KEPT = "table-mapping";

/** The section with the file to choose and what is in it. */
export function importSection(record) {
  const file = html("input", { type: "file", id: "table-file", accept: ".csv,.tsv,.txt,.xlsx,.ods" });
  const preview = html("div", { "aria-live": "polite" });
  const section = html("section", { class: "panel", id: "import" });
  const hint = "Text (CSV), .xlsx or .ods, a line a place or a column a place. Nothing is stored before you have seen what would be.";
  section.append(html("details", {}, html("summary", {}, html("h2", {}, "Bring in a table of inspections")), html("p", { class: "hint" }, hint), html("label", { htmlFor: "table-file" }, "Table"), file, preview));
  const state = { map: JSON.parse(localStorage.getItem(KEPT) ?? "{}"), content: "", name: "" };
  const show = (store) => ask(record, state, preview, store);
  file.addEventListener("change", async () => {
    const [chosen] = file.files;
    if (!chosen) return;
    if (chosen.size > MAX_BYTES) return preview.replaceChildren(problemNote("This table is too long for the page; the command `record import-table` takes 64 MiB."));
    state.name = chosen.name;
    state.content = await inBase64(chosen);
    await show(false);
  });
  preview.addEventListener("change", ({ target }) => remap(state, target) && show(false));
  return section;
}

const inBase64 = (file) => new Promise((done, failed) => {
  const reader = new FileReader();
  reader.addEventListener("load", () => done(reader.result.split(",")[1] ?? ""));
  reader.addEventListener("error", () => failed(reader.error));
  reader.readAsDataURL(file);
});

/** Takes over what was chosen for the table or one of its columns; kept for the next table. */
function remap({ map }, { name, value, dataset }) {
  if (name === "dates" || name === "grades") {
    if (value) map[name] = value;
    else delete map[name];
  } else if (dataset.column) {
    map.columns = { ...map.columns, [dataset.column]: value };
  } else if (dataset.place && value) {
    map.places = { ...map.places, [dataset.place]: value };
  } else {
    return false;
  }
  localStorage.setItem(KEPT, JSON.stringify(map));
  return true;
}

async function ask(record, state, preview, store) {
  clearProblems(preview);
  preview.setAttribute("aria-busy", "true");
  try {
    const body = { file: state.name, content_base64: state.content, map: state.map, store };
    const plan = await (await record.request("import-table", { body })).json();
    preview.replaceChildren(...(plan.stored.length > 0 ? [stored(plan)] : shown(plan, state, () => ask(record, state, preview, true), () => ask(record, state, preview, false))));
  } catch (error) {
    preview.prepend(problemNote(error.message));
  }
  preview.setAttribute("aria-busy", "false");
}

const count = (number, one, many) => `${number} ${number === 1 ? one : many}`;

function stored({ stored: numbers, rows_known: known }) {
  const words = `Stored: ${count(numbers.length, "entry", "entries")}, numbers ${numbers[0]} to ${numbers.at(-1)}. ${count(known, "line was", "lines were")} known already.`;
  return html("p", { class: "stored", role: "status" }, words);
}

function shown(plan, state, confirm, again) {
  const { rows_new: fresh, rows_known: known, faults } = plan;
  const doubts = faults.length === 0 ? "everything fits" : `${count(faults.length, "thing does", "things do")} not fit`;
  const words = `${fresh} new, ${known} known already and left out; ${doubts}.`;
  const ways = html("p", { class: "row" });
  if (faults.length === 0 && fresh > 0) ways.append(action(`Store ${count(fresh, "entry", "entries")}`, confirm, "main"));
  if (Object.keys(state.map).length > 0) {
    ways.append(action("Forget what was chosen for columns", async () => {
      state.map = {};
      localStorage.removeItem(KEPT);
      await again();
    }));
  }
  const parts = [html("p", { class: "counts", role: "status" }, words), ways];
  if (faults.length > 0) parts.push(wide("What does not fit", faultTable(faults), "words"));
  parts.push(html("details", { open: faults.length > 0 }, html("summary", {}, `How ${plan.file} was read`), ...reading(plan)));
  if (fresh > 0) parts.push(wide("What would be stored", entryTable(plan), "words"));
  return parts;
}

function faultTable(faults) {
  const near = ({ nearest }) => (nearest ? ` Did you mean ${nearest}?` : "");
  const what = (fault) => html("div", {}, html("div", {}, fault.found), html("p", { class: "hint" }, `Allowed: ${fault.allowed}.${near(fault)}`));
  const rows = faults.slice(0, SHOWN).map((fault) => [fault.line, html("div", {}, fault.name ?? ""), what(fault)]);
  return table(caption("What does not fit; nothing is stored while this list is not empty", faults.length), ["Line", "Column", "Found"], rows);
}

const caption = (words, number) => (number > SHOWN ? `${words} (the first ${SHOWN} of ${number})` : words);

function entryTable({ entries }) {
  const cleaned = { true: "cleaned", false: "cleaned, not sound" };
  const found = (one) => [one.grade, one.wall_mm && `${one.wall_mm} mm`, cleaned[one.cleaned_and_sound], one.inspector && `by ${one.inspector}`].filter(Boolean).join(", ");
  const rows = entries.slice(0, SHOWN).map((one) => [one.line, one.car, one.date, one.location, html("div", {}, found(one))]);
  return table(caption("What would be stored", entries.length), ["Line", "Car", "Date", "Place", "Found"], rows);
}

/** How the file was read, and the columns with what each is taken for. */
function reading(plan) {
  const { read_as: read, dates, decimal_marks: marks, names_line: line } = plan;
  const order = DATES.find(([key]) => key === dates)?.[1];
  const words = [read.format, read.encoding, read.separator && `cells between “${read.separator === "\t" ? "tab" : read.separator}”`, read.sheet && `sheet ${read.sheet}`, `names in line ${line}`, order && `dates ${order}`, ...marks.map((mark) => `decimals after “${mark}”`)];
  const rows = plan.columns.map((column) => [column.column, column.name, meaning(column)]);
  const list = table("Columns", ["No.", "Name in the table", "Is"], rows);
  const rules = html("div", { class: "pair" }, choice("table", ["dates", "Order of the dates", DATES], dates ?? ""), choice("table", ["grades", "Bare numbers of grades are", SCALES], plan.columns.find(({ grades }) => grades)?.grades ?? ""));
  return [...places(plan), html("p", { class: "hint" }, `Read as ${words.filter(Boolean).join(", ")}.`), rules, wide("Columns", list, "words")];
}

/** Names of places in the table that nothing knows, each with the places of a member to choose from. */
function places({ columns, faults }) {
  const column = columns.find(({ meaning: is }) => is === "place")?.column;
  const unknown = new Set(faults.filter((fault) => column && fault.column === column).map(({ found }) => found.replaceAll("`", "")));
  const nodes = Array.from({ length: 12 }, (_, number) => `node ${number + 1}`);
  const options = [["", "choose"], ["run", "open length"], ["node", "worst node"], ...[...nodes, "bottom", "lower", "side", "upper", "top"].map((name) => [name, name])];
  const select = (name, number) => {
    const one = choice("table", [`place-${number}`, `\u201c${name}\u201d is`, options]);
    one.lastChild.dataset.place = name;
    return one;
  };
  return unknown.size === 0 ? [] : [html("div", { class: "pair" }, ...[...unknown].map(select))];
}

/** What a column is, to choose; a column of one place keeps its place. */
function meaning({ name, meaning: is, suggestion, column }) {
  const options = [["ignore", "left out"], ...FIELDS.map((field) => [field, field])];
  if (is && !FIELDS.includes(is)) options.push([is, is]);
  const select = html("select", { "aria-label": `Column ${column}, ${name}, is`, "data-column": name }, ...options.map(([value, words]) => html("option", { value }, words)));
  select.value = is ?? "ignore";
  return html("div", {}, select, ...(suggestion ? [html("span", { class: "hint" }, `perhaps ${suggestion}?`)] : []));
}
