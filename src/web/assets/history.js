// What is in the record of a car, corrected entries too, each with a way to correct it or take it back.

import { html, table, wide } from "./figure.js";
import { action } from "./form.js";
import { problemNote } from "./problems.js";
import { spoken } from "./words.js";

/** The section; `correct(entry)` opens a form for another entry in its place, `withdraw(numbers)` takes entries back. */
export function history(car, correct, withdraw) {
  const change = (entry) => {
    if (holds(entry)) return ways(entry, correct, withdraw);
    return entry.superseded_by ? "" : html("p", { class: "row" }, action("Bring it back", () => withdraw([entry.id])));
  };
  const rows = car.entries.map((entry) => [entry.date, what(car, entry), found(entry), change(entry)]);
  if (rows.length === 0) return html("section", { class: "panel" }, html("h2", {}, "History"), html("p", {}, "Nothing has been entered yet."));
  const list = table(rows.length === 1 ? "1 entry" : `${rows.length} entries`, ["Date", "What was done, and where", "Found", "Wrong?"], rows.reverse());
  return html("section", { class: "panel" }, html("h2", {}, "History, latest first"), wide("History", list, "words"));
}

const joined = (words, by) => words.filter(Boolean).join(by);
const holds = (entry) => !entry.superseded_by && entry.what !== "withdrawn";

/** Kind and place of an entry, and below what else it says and what became of it. */
function what(car, entry) {
  const withdrawn = car.entries.some((later) => later.id === entry.superseded_by && later.what === "withdrawn");
  const became = entry.superseded_by && `${withdrawn ? "taken back" : "corrected"} by ${entry.superseded_by}`;
  const corrects = entry.supersedes && `in place of ${entry.supersedes}`;
  const cleaned = { true: "cleaned and sound", false: "cleaned, not sound" }[entry.cleaned_and_sound];
  const below = joined([entry.what && spoken(entry.what), cleaned, entry.gauge && `measured with ${entry.gauge}`, entry.inspector && `by ${entry.inspector}`, entry.remark, corrects, became], "; ");
  const head = joined([spoken(entry.kind), entry.location && spoken(entry.location)], ", ");
  return html("div", { class: holds(entry) ? "" : "gone" }, `${entry.id}: ${head}`, ...(below ? [html("p", { class: "hint" }, below)] : []));
}

const found = ({ grade, wall_mm: wall, amount }) => joined([grade, wall && `${wall} mm`, amount !== null && amount !== undefined && `price ${amount}`], ", ");

/** Ways to change an entry; taking it back wants a second press. */
function ways(entry, correct, withdraw) {
  const again = html("button", { type: "button", "aria-label": `Correct entry ${entry.id}` }, "Correct");
  again.addEventListener("click", () => correct(entry));
  const back = action("Take back", async (button) => {
    if (!button.dataset.sure) {
      button.dataset.sure = "yes";
      button.textContent = "Sure? Take back";
      return;
    }
    try {
      await withdraw([entry.id]);
    } catch (error) {
      button.after(problemNote(error.message));
    }
  });
  return html("p", { class: "row" }, again, back);
}
