// The network page: every move asks what would be, nothing is written until it is kept.
import { ask, designPath, latest, put, sayProblem } from "./ask.js";
import { save } from "./save.js";

const PAUSE = 150; // [ms] without a move before the rest is asked for

const controls = [...document.querySelectorAll("[data-field]")];
const keep = document.getElementById("keep");
const undo = document.getElementById("undo");
const redo = document.getElementById("redo");
const state = document.getElementById("state");
const [other, otherTopology, otherClamp] = ["other", "other-topology", "other-clamp"].map((id) => document.getElementById(id));
const asked = { version: 0, later: 0 };
const marks = {}; // of the parts that are shown, so that only others are sent
let past = [];
let future = [];
let present = values();

function values() {
  return Object.fromEntries(controls.map((control) => [control.dataset.field, control.value]));
}

function changes() {
  const found = {};
  for (const control of controls) {
    if (control.value === control.dataset.was) continue;
    const stops = control.dataset.stops;
    found[control.dataset.field] = stops ? JSON.parse(stops)[Number(control.value)] : control.value;
  }
  return found;
}

function label(control) {
  if (control.dataset.stops) {
    const text = JSON.parse(control.dataset.stops)[Number(control.value)];
    control.labels[0].querySelector("output").textContent = text;
    control.setAttribute("aria-valuetext", text);
  } else if (control.id === "topology") {
    document.getElementById("when").textContent = control.selectedOptions[0].dataset.when ?? "";
  }
}

function show(answer) {
  for (const [name, html] of Object.entries(answer.parts)) {
    put(document.getElementById(name === "verdict" ? "verdict" : `part-${name}`), html);
  }
  Object.assign(marks, answer.marks);
}

function showProblem(error) {
  const fields = error?.fields ?? {};
  let placed = false;
  for (const line of document.querySelectorAll("[data-error]")) {
    const wrong = fields[line.dataset.error];
    line.hidden = !wrong;
    line.textContent = wrong ?? "";
    placed ||= Boolean(wrong);
  }
  sayProblem(placed ? null : error);
}

const move = () => ({ base: document.body.dataset.hash, changes: changes() });

const showFirst = latest(async () => {
  try {
    show(await ask(designPath("try"), "POST", { ...move(), seen: marks }));
    showProblem(null);
  } catch (error) {
    showProblem(error);
  }
});

async function tryNow() {
  clearTimeout(asked.later);
  asked.version += 1;
  if (!(await showFirst())) return;
  count("settled");
  asked.later = setTimeout(tryRest, PAUSE);
}

// What may come a moment later: faults, schematic, window, the second design.
async function tryRest() {
  const version = asked.version;
  for (const one of [showRest, findWindow, showBeside]) {
    await one(version);
    if (version !== asked.version) return;
  }
  count("rested");
}

async function showRest(version) {
  try {
    const answer = await ask(designPath("rest"), "POST", { ...move(), seen: marks });
    if (version === asked.version) show(answer);
  } catch {
    // the problem stands already beside its field
  }
}

function count(what) {
  document.body.dataset[what] = String(Number(document.body.dataset[what] ?? 0) + 1);
}

function refresh() {
  controls.forEach(label);
  const many = Object.keys(changes()).length;
  const topology = document.getElementById("topology");
  state.textContent = many ? `${many} changed, not kept yet` : "as in the sheet";
  for (const choice of document.querySelectorAll("[data-topology]")) {
    choice.setAttribute("aria-pressed", String(choice.dataset.topology === topology.value));
  }
  keep.disabled = many === 0;
  undo.disabled = past.length === 0;
  redo.disabled = future.length === 0;
}

function go(to) {
  for (const control of controls) control.value = to[control.dataset.field];
  present = to;
  refresh();
  tryNow();
}

for (const control of controls) {
  control.addEventListener("input", () => {
    refresh();
    tryNow();
  });
  control.addEventListener("change", () => {
    past.push(present);
    future = [];
    present = values();
    refresh();
  });
}
undo.addEventListener("click", () => {
  future.push(present);
  go(past.pop());
});
redo.addEventListener("click", () => {
  past.push(present);
  go(future.pop());
});
keep.addEventListener("click", async () => {
  keep.disabled = true;
  try {
    await ask(designPath("change"), "POST", { base: document.body.dataset.hash, changes: changes() });
    location.assign(location.pathname);
  } catch (error) {
    showProblem(error);
    keep.disabled = false;
  }
});

async function findWindow(version) {
  const place = document.getElementById("window");
  try {
    const found = await ask(designPath("window"), "POST", move());
    if (version !== asked.version) return;
    put(place, found.html);
    const words = document.createElement("figcaption");
    words.textContent = `${found.sentence[0].toUpperCase()}${found.sentence.slice(1)}`;
    place.append(words);
  } catch (error) {
    if (version === asked.version) place.textContent = error.message;
  }
}

async function showBeside(version) {
  const place = document.getElementById("columns");
  const problem = document.getElementById("pair-problem");
  problem.hidden = true;
  if (!other.value) {
    place.replaceChildren();
    return;
  }
  const wanted = { "network.topology": otherTopology.value, "network.clamp": otherClamp.value };
  const changed = Object.fromEntries(Object.entries(wanted).filter(([, value]) => value));
  try {
    const body = { changes: changes(), other: other.value, other_changes: changed };
    const found = await ask(designPath("beside"), "POST", body);
    if (version === asked.version) put(place, found.html);
  } catch (error) {
    problem.textContent = error.message;
    problem.hidden = false;
  }
}

for (const select of [other, otherTopology, otherClamp]) {
  select.addEventListener("change", () => showBeside(asked.version));
}

const drawings = document.getElementById("drawings");
drawings.addEventListener("toggle", async () => {
  const place = drawings.querySelector("div");
  if (!drawings.open || place.childElementCount) return;
  put(place, (await ask("/api/topologies")).html);
  refresh();
});
drawings.addEventListener("click", (event) => {
  const choice = event.target.closest("[data-topology]");
  if (!choice) return;
  const select = document.getElementById("topology");
  select.value = choice.dataset.topology;
  for (const kind of ["input", "change"]) select.dispatchEvent(new Event(kind, { bubbles: true }));
});

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-csv]");
  if (!button) return;
  const name = button.dataset.csv;
  const answer = await fetch(designPath(`table/${name}.csv`), {
    method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(move()),
  });
  if (answer.ok) save(await answer.blob(), `${name}.csv`);
});

document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const back = event.key.toLowerCase() === "z" && !event.shiftKey;
  const forth = event.key.toLowerCase() === "y" || (event.key.toLowerCase() === "z" && event.shiftKey);
  if ((back && !undo.disabled) || (forth && !redo.disabled)) {
    event.preventDefault();
    (back ? undo : redo).click();
  }
});

// "Try" on the shortlist: its topology, clamp and resistor as a first move, kept only when you say so.
const wished = new URLSearchParams(location.search);
const moved = { ...present };
for (const id of ["topology", "clamp"]) {
  const select = document.getElementById(id);
  const options = [...select.options].map((option) => option.value);
  if (options.includes(wished.get(id))) moved[select.dataset.field] = wished.get(id);
}
const resistor = controls.find((control) => control.dataset.field === "network.outer_resistor.value");
const stop = resistor ? JSON.parse(resistor.dataset.stops).indexOf(wished.get("resistor")) : -1;
if (stop >= 0) moved[resistor.dataset.field] = String(stop);
refresh();
if (wished.size) {
  past.push(present);
  go(moved);
} else {
  findWindow(asked.version).then(() => count("rested"));
}
