// What would another choice move on a car of the record from today on, given all that was seen on it?

import { gained } from "./compare.js";
import { html } from "./figure.js";

const KINDS = [["storage", "where it stands"], ["wash", "how it is washed"], ["treatment", "what is done to it"]];

/** The section of a car; `path` is its address. */
export function changes(path, record) {
  const kinds = html("select", { id: "changes-kind" }, ...KINDS.map(([value, words]) => html("option", { value }, words)));
  const button = html("button", { type: "button" }, "Try changes on this car");
  const found = html("div", { class: "wide", tabIndex: 0, role: "region", "aria-label": "What changes move" });
  button.addEventListener("click", async () => {
    button.disabled = true;
    found.replaceChildren(html("p", {}, "Computing …"));
    try {
      const comparison = await (await record.request(`${path}/compare`, { query: { vary: kinds.value } })).json();
      found.replaceChildren(gained(comparison, comparison.cases.map((one) => one.name), "Given what was seen"));
    } catch (error) {
      found.replaceChildren(html("p", { class: "problem", role: "alert" }, error.message));
    }
    button.disabled = false;
  });
  const hint = "From today on, against leaving the car as it is: the same car, with all that was seen on it, in the same futures.";
  return html(
    "section", { class: "panel" }, html("h2", {}, "What would move its date?"), html("p", { class: "hint" }, hint),
    html("p", { class: "row" }, html("label", { htmlFor: "changes-kind" }, "Change"), kinds, button), found,
  );
}
