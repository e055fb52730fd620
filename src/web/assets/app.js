// The page: settings in the address, a quick look while a control moves, the full answer when it rests.

import * as answer from "./answer.js";
import { askJson, renewed, superseded } from "./api.js";
import { listed } from "./choices.js";
import { compareKept, prepareCompare } from "./compare.js";
import * as controls from "./controls.js";
import { prepareDownloads } from "./downloads.js";
import { controlOf, fromQuery, missing, toCase, toQuery } from "./fields.js";
import { drawChart } from "./gradechart.js";
import { followLook } from "./look.js";
import { prepareRecord, showView } from "./record.js";
import { setUnits } from "./units.js";

// Fewest histories the forecast computes: the quick look [-].
const QUICK = 32_768;
// How long a control rests before it is asked about, and before the full answer is [ms].
const PAUSE = 25;
const REST = 350;

const state = { settings: null, kept: [], costs: [], at: null, part: "run", view: "forecast", car: null, forecast: null };
let lists = null;
let timers = [];

/** State from the address. */
function readAddress() {
  const query = new URLSearchParams(location.hash.slice(1));
  state.settings = fromQuery(query);
  state.kept = query.getAll("keep").slice(0, 4).map((kept) => fromQuery(new URLSearchParams(kept)));
  state.costs = state.kept.map((_, index) => Number(query.getAll("cost")[index]) || 0);
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
  if (state.costs.some(Boolean)) for (const cost of state.costs) query.append("cost", cost);
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

/** Takes over settings and asks about them once they rest a moment. */
function changed(settings) {
  state.settings = settings;
  writeAddress();
  controls.show(lists, settings);
  document.getElementById("settings-words").textContent = controls.inWords(lists, settings);
  timers.forEach(clearTimeout);
  timers = [setTimeout(look, PAUSE)];
}

/** Quick look, then the full answer; a newer change aborts both. */
async function look() {
  const { settings } = state;
  const signal = renewed("forecast");
  controls.contented();
  const absent = missing(settings);
  if (absent.length > 0) {
    absent.forEach((name) => controls.complain(name, name === "registered" || name === "moved_on" ? "a date is needed here" : "a number is needed here"));
    return;
  }
  document.body.classList.add("waiting");
  try {
    await computed(settings, signal, QUICK);
    exposure(settings, signal);
    timers = [setTimeout(() => finish(settings, signal), REST)];
  } catch (error) {
    failed(error);
  }
}

async function finish(settings, signal) {
  try {
    await computed(settings, signal, null);
    document.body.classList.remove("waiting");
    await compareKept();
  } catch (error) {
    failed(error);
  }
}

async function computed(settings, signal, histories) {
  const forecast = await askJson("forecast", { body: toCase(settings), query: run(settings, histories), signal });
  state.forecast = forecast;
  answer.showForecast(forecast, state.ghost ?? null, histories !== null);
}

async function exposure(settings, signal) {
  try {
    answer.showExposure(await askJson("exposure", { body: toCase(settings), signal }));
  } catch (error) {
    failed(error);
  }
}

function failed(error) {
  if (superseded(error)) return;
  document.body.classList.remove("waiting");
  const name = controlOf(error.field);
  controls.complain(name, name ? error.inWords() : `${error.message}`);
}

/** What the other parts of the page may read and do. */
const page = {
  state, run, changed, writeAddress, QUICK,
  lists: () => lists,
  ghost(ghost) {
    state.ghost = ghost;
    answer.showGhost(ghost);
  },
};

function watchReading() {
  document.getElementById("at").addEventListener("input", (event) => {
    state.at = Number(event.target.value);
    answer.readAt(state.at);
    writeAddress();
  });
  document.getElementById("part").addEventListener("change", (event) => {
    state.part = event.target.value;
    answer.gradePart(state.part);
    writeAddress();
  });
  document.getElementById("units").addEventListener("change", (event) => {
    setUnits(event.target.value);
    controls.show(lists, state.settings);
    writeAddress();
  });
}

/** Shows what the address says. */
function restore() {
  readAddress();
  document.getElementById("part").value = state.part;
  answer.readAt(state.at);
  answer.gradePart(state.part);
  showView();
  changed(state.settings);
}

async function start() {
  followLook();
  try {
    const choices = await askJson("choices");
    lists = listed(choices);
    controls.prepare(lists);
    drawChart(document.getElementById("grade-chart"));
    prepareCompare(page);
    prepareDownloads(page);
    prepareRecord(page);
    watchReading();
    controls.listen(lists, () => state.settings, changed);
    addEventListener("hashchange", restore);
    restore();
  } catch (error) {
    controls.complain(null, `The server cannot be asked: ${error.message}`);
  }
}

start();
