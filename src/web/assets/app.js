// The page: settings in the address, a preview while a control moves, the full answer when it rests.

import * as reading from "./reading.js";
import { requestJson, renewed, superseded } from "./api.js";
import { listed } from "./choices.js";
import { compareKept, prepareCompare } from "./compare.js";
import * as controls from "./controls.js";
import { PRICES, prepareDecide, showPrices } from "./decide.js";
import { prepareDownloads } from "./downloads.js";
import { controlOf, fromQuery, missing, toCase, toQuery } from "./fields.js";
import { html } from "./figure.js";
import { entered, patch, put } from "./form.js";
import { followTheme } from "./theme.js";
import { prepareRecord, showView } from "./record.js";
import { setUnits } from "./units.js";

// Fewest histories the forecast computes: the preview [-].
const QUICK = 32_768;
// How long a preview under way is waited for when a control moves on, so that the pictures follow a hand that does
// not rest; and how long a control rests before the full answer is requested [ms].
const HOLD = 200;
const REST = 350;

const state = { settings: null, kept: [], prices: null, at: null, part: "run", view: "forecast", car: null };
let lists = null;
let timers = [];
// Whether a preview is under way, and whether the settings have changed since it was requested.
const pending = { preview: false, stale: false };

/** State from the address. */
function readAddress() {
  const query = new URLSearchParams(location.hash.slice(1));
  state.settings = fromQuery(query);
  state.kept = query.getAll("keep").slice(0, 4).map((kept) => fromQuery(new URLSearchParams(kept)));
  state.prices = fromQuery(query, PRICES);
  state.at = query.has("at") ? Number(query.get("at")) || 0 : null;
  state.part = query.get("part") === "node" ? "node" : "run";
  state.view = query.get("view") ?? "forecast";
  state.car = query.get("car");
  document.getElementById("units").value = query.get("units") === "inch" ? "inch" : "metric";
  setUnits(document.getElementById("units").value);
}

/** The address of the state, without a step in the history for each move of a slider. */
function writeAddress() {
  const query = toQuery(state.settings);
  for (const kept of state.kept) query.append("keep", toQuery(kept).toString());
  for (const [name, price] of toQuery(state.prices, PRICES)) query.append(name, price);
  if (state.at !== null) query.set("at", state.at);
  if (state.part !== "run") query.set("part", state.part);
  if (state.view !== "forecast") query.set("view", state.view);
  if (state.car) query.set("car", state.car);
  if (document.getElementById("units").value === "inch") query.set("units", "inch");
  history.replaceState(null, "", `#${query}`);
}

/** Seed and horizon, and how many histories; the server's usual number where none is given. */
function run(settings, histories) {
  const query = { seed: settings.seed, horizon: settings.horizon };
  return histories ? { ...query, histories } : query;
}

/** Takes over settings and requests their forecast, before anything is shown; a preview under way is waited for first. */
function changed(settings) {
  state.settings = settings;
  timers.forEach(clearTimeout);
  if (pending.preview) {
    pending.stale = true;
    timers = [setTimeout(preview, HOLD)];
  } else {
    preview();
  }
  writeAddress();
  controls.show(lists, settings);
  document.getElementById("settings-words").textContent = controls.inWords(lists, settings);
}

/** The preview, then the full answer; a newer one aborts both. */
async function preview() {
  const { settings } = state;
  const signal = renewed("forecast");
  timers.forEach(clearTimeout);
  controls.hideProblems();
  Object.assign(pending, { preview: false, stale: false });
  if (!complete(settings)) return;
  setStale("working");
  pending.preview = true;
  try {
    await computed(settings, signal, QUICK);
    pending.preview = false;
    if (pending.stale) return void preview();
    exposure(settings, signal);
    timers = [setTimeout(() => finish(settings, signal), REST)];
  } catch (error) {
    if (superseded(error)) return;
    pending.preview = false;
    setStale("refused");
    failed(error);
    if (pending.stale) preview();
  }
}

/** Whether every number that counts is there; a note beside its field names what is missing. */
function complete(settings) {
  const absent = missing(settings);
  const words = (name) => (["registered", "moved_on"].includes(name) ? "a date is needed here" : "a number is needed here");
  for (const name of absent) controls.showProblem(name, words(name));
  if (absent.length > 0) setStale("refused");
  return absent.length === 0;
}

const LATE = {
  working: "Working on what was changed; the pictures still show the settings before.",
  refused: "What is set now cannot be worked out; the pictures still show the settings before.",
};

/** Notes that the pictures show the settings before, and why; without a reason, that they are up to date. */
function setStale(why) {
  document.body.classList.toggle("waiting", Boolean(why));
  document.getElementById("late").textContent = LATE[why] ?? "";
}

async function finish(settings, signal) {
  try {
    await computed(settings, signal, null);
    await compareKept();
  } catch (error) {
    failed(error);
  }
}

async function computed(settings, signal, histories) {
  const from = { body: toCase(settings), query: run(settings, histories) };
  const forecast = await requestJson("forecast", { ...from, signal });
  setStale(null);
  reading.showForecast(forecast, from, histories !== null);
}

async function exposure(settings, signal) {
  try {
    const body = toCase(settings);
    reading.showExposure(await requestJson("exposure", { body, signal }), body);
  } catch (error) {
    failed(error);
  }
}

function failed(error) {
  if (superseded(error)) return;
  const name = controlOf(error);
  controls.showProblem(name, name ? error.inWords() : `${error.message}`);
}

/** What the other parts of the page may read and do. */
const page = {
  state, run, changed, writeAddress, QUICK,
  lists: () => lists,
};

function watchReading() {
  document.getElementById("at").addEventListener("input", (event) => {
    state.at = Number(event.target.value);
    reading.readAt(state.at);
    writeAddress();
  });
  document.getElementById("part").addEventListener("change", (event) => {
    state.part = event.target.value;
    reading.gradePart(state.part);
    writeAddress();
  });
  document.getElementById("units").addEventListener("change", (event) => {
    const typed = [...document.querySelectorAll(".view input[data-kind]")].filter((one) => !one.closest("#settings")).map((one) => [one, entered(one)]);
    setUnits(event.target.value);
    for (const [one, value] of typed) put(one, value);
    controls.show(lists, state.settings);
    writeAddress();
  });
}

/** Shows what the address says. */
function restore() {
  readAddress();
  document.getElementById("part").value = state.part;
  reading.readAt(state.at);
  reading.gradePart(state.part);
  showPrices();
  showView();
  changed(state.settings);
}

async function start() {
  followTheme();
  try {
    const choices = await requestJson("choices");
    lists = listed(choices);
    controls.prepare(lists);
    document.getElementById("grade-chart").replaceChildren(...lists.grades.map((grade) => html("div", {}, patch(grade), grade.id)));
    prepareCompare(page);
    prepareDecide(page);
    prepareDownloads(page);
    prepareRecord(page);
    watchReading();
    controls.listen(lists, () => state.settings, changed);
    addEventListener("hashchange", restore);
    restore();
  } catch (error) {
    controls.showProblem(null, `The server cannot be reached: ${error.message}`);
  }
}

start();
