// The network page: every move asks what would be, nothing is written until it is kept.
import { ask, designPath, sayProblem } from "./ask.js";

const controls = [...document.querySelectorAll("[data-field]")];
const keep = document.getElementById("keep");
const undo = document.getElementById("undo");
const redo = document.getElementById("redo");
const state = document.getElementById("state");
const asked = { busy: false, again: false };
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
  const parts = new DOMParser().parseFromString(answer.html, "text/html");
  for (const name of ["verdict", "drawing", "charts"]) {
    const fresh = parts.querySelector(`[data-part="${name}"]`);
    document.getElementById(name).replaceChildren(...fresh.childNodes);
  }
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

async function tryNow() {
  if (asked.busy) {
    asked.again = true;
    return;
  }
  asked.busy = true;
  const changed = changes();
  try {
    show(await ask(designPath("try"), "POST", { base: document.body.dataset.hash, changes: changed }));
    showProblem(null);
  } catch (error) {
    showProblem(error);
  }
  asked.busy = false;
  if (asked.again) {
    asked.again = false;
    await tryNow();
  } else {
    document.body.dataset.settled = String(Number(document.body.dataset.settled ?? 0) + 1);
  }
}

function refresh() {
  controls.forEach(label);
  const count = Object.keys(changes()).length;
  state.textContent = count ? `${count} changed, not kept yet` : "as in the sheet";
  document.getElementById("kept").hidden = count === 0;
  keep.disabled = count === 0;
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

async function findWindow() {
  const place = document.getElementById("window");
  const words = document.createElement("p");
  words.className = "quiet";
  try {
    const found = await ask(designPath("window"));
    const drawn = new DOMParser().parseFromString(found.html, "text/html").body;
    words.textContent = `${found.sentence[0].toUpperCase()}${found.sentence.slice(1)}`;
    place.replaceChildren(...drawn.childNodes, words);
  } catch (error) {
    words.textContent = error.message;
    place.replaceChildren(words);
  }
}

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
}
findWindow();
