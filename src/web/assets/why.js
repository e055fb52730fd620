// Why are two settings years apart? From the median of the first to that of the second, factor by factor.

import { requestJson, renewed, superseded } from "./api.js";
import { fill } from "./controls.js";
import { toCase } from "./fields.js";
import { mountPicture } from "./figure.js";
import { difference } from "./pictures.js";

const form = document.getElementById("why-form");
const words = document.getElementById("why-words");
const host = document.getElementById("picture-why");

/** Wires the form; `entries` lists the settings that can be compared. */
export function prepareWhy(page, entries) {
  const show = mountPicture(host, difference);
  host.hidden = true;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const all = entries();
    const [a, b] = ["why-a", "why-b"].map((id) => all[Number(document.getElementById(id).value)]);
    if (!a || !b) return;
    words.textContent = "Working it out …";
    try {
      const body = { a: { ...toCase(a.settings), title: a.name }, b: { ...toCase(b.settings), title: b.name } };
      const query = page.run(page.state.settings, null);
      const explanation = await requestJson("explain", { body, query, signal: renewed("why") });
      words.textContent = explanation.words;
      host.hidden = false;
      show(explanation, { path: "picture/difference", body, query });
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
