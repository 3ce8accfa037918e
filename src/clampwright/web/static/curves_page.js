// Curves: choose laws, move voltage, heat and light, and show them to others step by step.
import { ask, latest, sayProblem } from "./ask.js";
import { chart, frameOf, widen } from "./curve_chart.js";
import { LETTERS, colour, escape } from "./curve_parts.js";
import { openLine } from "./line.js";
import { renew } from "./renew.js";
import { save, savePng, saveSvg } from "./save.js";

const at = (id) => document.getElementById(id);
const stage = at("stage");
const picks = [...document.querySelectorAll("#laws input")];
const MOST = 9;
const STEPS = 9;
const ROOM = 23; // [°C]
const stops = (id) => JSON.parse(at(id).dataset.stops);
const VOLTS = at("volt") ? stops("volt") : [];
const LIGHTS = at("light") ? stops("light") : [];
const state = { reply: null, ghost: null, frame: null, chosen: "", shown: STEPS, showing: false };

const laws = () => picks.filter((one) => one.checked).map((one) => one.value);
const span = () => Number(at("span").value);

function settings() {
  return {
    volt: Math.max(VOLTS[Number(at("volt").value)][0], -span()),
    celsius: Number(at("heat").value),
    lux: LIGHTS[Number(at("light").value)][0],
  };
}

const address = `/api/curves/${encodeURIComponent(document.body.dataset.place)}`;
const overLine = openLine(document.getElementById("page"), `${address}/moves`, ({ law, ...now }) => {
  const query = new URLSearchParams(now);
  for (const one of law) query.append("law", one);
  return ask(`${address}?${query}`);
});
const curvesAt = (now) => overLine({ ...now, span: span(), law: laws() });

function label(id, words) {
  at(`${id}-words`).textContent = words;
  at(id).setAttribute("aria-valuetext", words);
}

function labels(now) {
  const stop = VOLTS.find(([v]) => v === now.volt);
  label("volt", stop ? stop[1] : `−${span()} V`);
  label("heat", `${now.celsius} °C`.replace("-", "−"));
  label("light", LIGHTS[Number(at("light").value)][1]);
}

async function ghostOf(chosen) {
  const moved = Number(at("heat").value) !== ROOM || settings().lux > 0;
  const known = state.ghost?.chosen === chosen;
  if (!known) state.ghost = { chosen, curves: null };
  if (!moved) state.ghost = { chosen, curves: state.reply.curves };
  else if (!state.ghost.curves) state.ghost.curves = (await curvesAt({ ...settings(), celsius: ROOM, lux: 0 })).curves;
  return moved ? state.ghost.curves : null;
}

const askAll = latest(async () => {
  const now = settings();
  labels(now);
  const chosen = `${laws().join("|")} ${span()}`;
  try {
    if (laws().length) {
      state.reply = await curvesAt(now);
      const ghost = await ghostOf(chosen);
      const base = ghost ?? state.reply.curves;
      if (state.chosen !== chosen) state.frame = frameOf(base);
      state.frame = widen(state.frame, state.reply.curves);
      state.chosen = chosen;
      draw(ghost);
    }
    sayProblem(null);
  } catch (error) {
    sayProblem(error);
  }
});

async function refresh() {
  if (await askAll()) document.body.dataset.settled = String(Number(document.body.dataset.settled ?? 0) + 1);
}

function heading(now) {
  const light = now.lux ? at("light-words").textContent : "dark";
  const names = laws().length > 1 ? `${laws().length} laws` : laws()[0];
  const thin = state.drawnGhost ? " (thin line: 23 °C, dark)" : "";
  return `${names}, ${at("heat-words").textContent}, ${light}${thin}`;
}

function sizes() {
  const width = Math.max(320, Math.floor(at("chart").clientWidth));
  if (!state.showing) return { width, height: width < 700 ? 900 : 560, size: width < 500 ? 12 : 14 };
  const size = Math.max(14, Math.min(24, Math.floor(width / 64)));
  const taken = at("showbar").offsetHeight + at("telling").offsetHeight + stage.querySelector(".sliders").offsetHeight + 48;
  return { width, height: Math.max(360, innerHeight - taken), size };
}

function draw(ghost = state.drawnGhost) {
  state.drawnGhost = ghost;
  const instrument = at("limit").value;
  const limit = state.reply.curves.limits.find((one) => one.instrument === instrument);
  const drawn = chart(state.reply, {
    ...sizes(), shown: Math.min(state.shown, 7), frame: state.frame, ghost, heading: heading(settings()),
    limit: limit && { instrument, current: limit.current.value, words: state.reply.limits[instrument] },
  });
  renew(at("chart"), drawn);
  at("at").textContent = at("volt-words").textContent;
  at("words").textContent = state.reply.sentence;
  renew(at("readoff"), state.reply.words.map(readOff).join(""));
}

function readOff(one, n) {
  const letter = `<span class="letter" style="border-color:${colour(n)}">${LETTERS[n]}</span>`;
  const figures = [one.at_voltage, one.zero_bias_resistance, one.doubling].map((words) => `<td class="figure">${escape(words)}</td>`);
  return `<tr><th scope="row">${letter} ${escape(one.clamp)}</th>${figures.join("")}<td>${escape(one.known)}</td></tr>`;
}

// How many kelvin double each current; nothing where none is known, as far forward.
function doubling() {
  const known = state.reply.words.map((one) => one.doubling).filter((words) => /\d/.test(words));
  return known.length ? ` It doubles every ${known.join(", ")}.` : "";
}

const TELLING = [
  () => "Current into the anode against voltage. Both axes run logarithmically to either side, and plainly in the shaded middle.",
  () => `The law of ${laws().join(", ")}: solid where readings reach, dotted where it is only continued.`,
  () => "What was measured: dots with their 95 % bars. Faint dots were taken at another temperature or light.",
  () => "The band: how well the law is known. Dotted beyond the readings, hatched where only the class of part speaks; further forward than +0.15 V no interval is known.",
  () => (at("limit").value ? `Between the dashed lines ${at("limit").value} detects nothing by itself: measure hot, infer cold.` : "No detection limit is chosen."),
  () => `Read off at ${at("volt-words").textContent}: ${state.reply.words.map((one) => `${one.clamp} ${one.at_voltage}`).join("; ")}.`,
  () => `A clamp near 0 V leaks by its slope: ${state.reply.words.map((one) => one.zero_bias_resistance).join(", ")}.`,
  () => `Warmed to 45 °C; the thin line is 23 °C.${doubling()}`,
  () => "And 200 lx on it: the photocurrent flows in reverse and does not stop at 0 V.",
];

async function step(to) {
  const before = state.shown;
  state.shown = Math.max(1, Math.min(STEPS, to));
  const heat = state.shown >= 8 ? 45 : ROOM;
  const lux = state.shown >= 9 ? 200 : 0;
  if (Math.max(before, state.shown) >= 8) {
    at("heat").value = heat;
    at("light").value = LIGHTS.findIndex(([x]) => x === lux);
    await refresh();
  } else {
    draw();
  }
  tell();
}

function tell() {
  at("telling").textContent = TELLING[state.shown - 1]();
  at("count").textContent = `step ${state.shown} of ${STEPS}`;
  at("back").disabled = state.shown === 1;
  at("forth").disabled = state.shown === STEPS;
  draw();
}

function show(on) {
  state.showing = on;
  document.body.classList.toggle("showing", on);
  at("telling").hidden = at("showbar").hidden = !on;
  if (on) {
    at("heat").value = ROOM;
    at("light").value = 0;
    state.shown = 1;
    refresh().then(() => step(1));
    at("chart").focus();
  } else {
    state.shown = STEPS;
    draw();
    at("show").focus();
  }
}

function keys(event) {
  if (!state.showing || event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.key === "Escape") return show(false);
  if (event.target.matches?.("input, select")) return; // arrows move the slider that has the focus
  const moves = { ArrowRight: 1, PageDown: 1, ArrowLeft: -1, PageUp: -1 };
  if (event.key in moves) {
    event.preventDefault();
    step(state.shown + moves[event.key]);
  } else if (event.key === "Home") {
    event.preventDefault();
    step(1);
  }
}

function csv() {
  const found = state.reply.curves;
  const head = ["voltage (V)", ...found.laws.flatMap((law) => [`${law.clamp} (A)`, `${law.clamp} low (A)`, `${law.clamp} high (A)`])];
  const rows = found.voltage_volt.map((v, n) => [v, ...found.laws.flatMap((law) => [law.current_ampere[n], law.low_ampere[n], law.high_ampere[n]].map((x) => x ?? ""))]);
  return [head.map((h) => `"${h.replaceAll('"', '""')}"`), ...rows].map((row) => row.join(",")).join("\r\n");
}

function start() {
  const wished = new URLSearchParams(location.search).getAll("law");
  if (picks.some((one) => wished.includes(one.value))) for (const one of picks) one.checked = wished.includes(one.value);
  at("volt").value = VOLTS.findIndex(([v]) => v === -5);
  for (const id of ["volt", "heat", "light"]) at(id).addEventListener("input", refresh);
  at("span").addEventListener("change", refresh);
  at("limit").addEventListener("change", () => draw());
  for (const one of picks) {
    one.addEventListener("change", () => {
      if (laws().length > MOST || laws().length === 0) one.checked = !one.checked;
      for (const other of picks) other.disabled = laws().length >= MOST && !other.checked;
      const query = new URLSearchParams(laws().map((law) => ["law", law]));
      history.replaceState(null, "", `?${query}`);
      refresh();
    });
  }
  at("home").addEventListener("click", () => {
    at("heat").value = ROOM;
    at("light").value = 0;
    refresh();
  });
  at("show").addEventListener("click", () => show(true));
  at("leave").addEventListener("click", () => show(false));
  at("back").addEventListener("click", () => step(state.shown - 1));
  at("forth").addEventListener("click", () => step(state.shown + 1));
  const svg = () => at("chart").querySelector("svg");
  at("svg").addEventListener("click", () => saveSvg(svg(), "curves.svg"));
  at("png").addEventListener("click", () => savePng(svg(), "curves.png"));
  at("csv").addEventListener("click", () => save(new Blob([csv()], { type: "text/csv" }), "curves.csv"));
  document.addEventListener("keydown", keys);
  let width = 0;
  new ResizeObserver(() => {
    if (at("chart").clientWidth === width || !state.reply) return;
    width = at("chart").clientWidth;
    draw();
  }).observe(at("chart"));
  addEventListener("resize", () => state.showing && draw());
  refresh();
}

if (stage) start();
