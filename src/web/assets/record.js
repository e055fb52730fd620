// The workshop's record, where the server keeps one: which view is shown, and how requests carry its token.

import { request, requestJson } from "./api.js";
import { showCars } from "./cars.js";
import { showDue } from "./due.js";
import { html } from "./figure.js";

const nav = document.getElementById("views");
const views = { forecast: document.getElementById("view-forecast"), cars: document.getElementById("view-cars"), due: document.getElementById("view-due") };
let page = null;
let token = "";

/** Looks whether there is a record; without one its views stay hidden. */
export async function prepareRecord(shared) {
  page = shared;
  token = sessionStorage.getItem("token") ?? "";
  nav.addEventListener("click", (event) => {
    const { view } = event.target.dataset;
    if (view) go(view, null);
  });
  // The description names the record's addresses only where there is a record; a request for the cars would be refused.
  const { paths } = await requestJson("openapi.json");
  if (!("/api/cars" in paths)) return;
  nav.hidden = false;
  showView();
}

/** Sends a request on the record, with the token when there is one. */
export function requestOfRecord(path, options = {}) {
  return request(path, { ...options, token });
}

/** Goes to a view and perhaps a car. */
export function go(view, car) {
  page.state.view = view;
  page.state.car = car;
  page.writeAddress();
  showView();
  document.querySelector(`#view-${view} :is(h1, h2)`)?.focus();
}

/** Shows the view the address names. */
export function showView() {
  const wanted = nav.hidden || !(page.state.view in views) ? "forecast" : page.state.view;
  for (const [name, view] of Object.entries(views)) view.hidden = name !== wanted;
  for (const button of nav.querySelectorAll("button")) {
    if (button.dataset.view === wanted) button.setAttribute("aria-current", "page");
    else button.removeAttribute("aria-current");
  }
  // The short answer speaks of the forecast's settings only.
  document.getElementById("strip").hidden = wanted !== "forecast";
  if (wanted === "cars") guarded(views.cars, () => showCars(views.cars, page, { request: requestOfRecord, go }));
  if (wanted === "due") guarded(views.due, () => showDue(views.due, { request: requestOfRecord, go }));
}

/** Runs a view; shows the form for the token where the server wants one. */
async function guarded(host, show) {
  try {
    await show();
  } catch (error) {
    if (error.status === 401) host.replaceChildren(tokenForm());
    else host.replaceChildren(html("p", { class: "problem", role: "alert" }, error.message));
  }
}

function tokenForm() {
  const word = html("input", { type: "password", id: "token", autocomplete: "off" });
  const form = html("form", { class: "panel" }, html("h1", { tabIndex: -1 }, "The record is guarded"), html("label", { htmlFor: "token" }, "Token the server was started with"), word, html("p", {}, html("button", { class: "main" }, "Open")));
  if (token) form.append(html("p", { class: "problem", role: "alert" }, "That is not the token."));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    token = word.value;
    sessionStorage.setItem("token", token);
    showView();
  });
  return form;
}
