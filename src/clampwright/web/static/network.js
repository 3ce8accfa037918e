// The network page: every move asks what would be, nothing is written until it is kept.
import { ask, designPath, latest, put } from "./ask.js";
import { openLine } from "./line.js";
import { changes, controls, differences, label, named, needed, set, showProblems, text, title, values, was } from "./network_controls.js";
import { offerOnTop, restore, sayJudged, sayKept, sayRefused, tell } from "./network_state.js";
import { renew } from "./renew.js";
import { save } from "./save.js";
import { remember, rememberSteps, stepsBefore } from "./unkept.js";

const PAUSE = 150; // [ms] without a move before the rest is asked for
const RESTS = 800; // [ms] after which the next move of the same control is a step of its own to undo

const keep = document.getElementById("keep");
const undo = document.getElementById("undo");
const redo = document.getElementById("redo");
const state = document.getElementById("state");
const [other, otherTopology, otherClamp] = ["other", "other-topology", "other-clamp"].map((id) => document.getElementById(id));
const asked = { version: 0, later: 0, judged: !document.querySelector("[data-unjudged]") };
const moving = { control: null, later: 0, culprit: "" };
const hand = document.querySelector(".controls");
const tryMove = openLine(hand, designPath("moves"), (move) => ask(designPath("try"), "POST", move));
const marks = {}; // of the parts that are shown, so that only others are sent
let past = stepsBefore();
let future = [];
let present = values();

function show(answer) {
  for (const [name, html] of Object.entries(answer.parts)) {
    renew(document.getElementById(name === "verdict" ? "verdict" : `part-${name}`), html);
  }
  Object.assign(marks, answer.marks);
}

const move = () => ({ base: document.body.dataset.hash, changes: changes() });

function refused(error) {
  const typed = Object.keys(error.fields ?? {}).some((field) => named(field) && text(named(field)));
  const wants = needed().length && error.status === 422 && !typed ? document.getElementById("needed").textContent : "";
  sayRefused(error, wants, moving.culprit);
  delete marks.verdict;
  asked.judged = false;
  refresh();
}

// A choice that lacks a needed value is known not to be judged: nobody is asked, unless a value was just typed.
function lacksValues() {
  const typed = named(moving.culprit);
  return needed().length > 0 && !(typed?.closest("[data-asked]") && text(typed));
}

const showFirst = latest(async () => {
  if (lacksValues()) {
    const fields = Object.fromEntries(needed().map((one) => [one.dataset.field, "Needed: not judged without it."]));
    refused({ status: 422, message: document.getElementById("needed").textContent, fields });
    return;
  }
  const version = asked.version;
  try {
    const answer = await tryMove({ ...move(), seen: asked.judged ? marks : {} });
    if (version !== asked.version && lacksValues()) return;
    show(answer);
    if (asked.judged) return;
    sayJudged();
    asked.judged = true;
    refresh();
  } catch (error) {
    refused(error);
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
  for (const one of asked.judged ? [showRest, findWindow, showBeside] : []) {
    await one(version);
    if (version !== asked.version) return;
  }
  count("rested");
}

async function showRest(version) {
  try {
    const answer = await ask(designPath("rest"), "POST", { ...move(), seen: marks });
    if (version !== asked.version) return;
    show(answer);
    showProblems(answer.fields);
  } catch (error) {
    if (version === asked.version) refused(error);
  }
}

function count(what) {
  document.body.dataset[what] = String(Number(document.body.dataset[what] ?? 0) + 1);
}

function refresh() {
  label();
  const changed = differences();
  const many = changed.length;
  state.textContent = many ? `${many} changed, not kept yet` : "as in the sheet";
  sayKept(many > 0);
  keep.disabled = many === 0 || !asked.judged || needed().length > 0;
  undo.disabled = past.length === 0;
  redo.disabled = future.length === 0;
  offerOnTop();
}

// The place that undo comes back to: moves of one control count as one until it rests.
function rest() {
  clearTimeout(moving.later);
  moving.control = null;
}

function moved(control) {
  if (text(control) !== present[control.dataset.field]) {
    if (moving.control !== control) past.push(present);
    future = [];
  }
  clearTimeout(moving.later);
  Object.assign(moving, { control, culprit: control.dataset.field, later: setTimeout(rest, RESTS) });
  present = values();
  tell("");
  go();
}

function go() {
  if (lacksValues()) refresh(); // says first what is needed
  tryNow(); // asked before the page follows: that takes time of its own
  refresh();
  remember(differences());
}

function back(to) {
  const lost = controls.filter((control) => !set(control, to[control.dataset.field]));
  present = values();
  rest();
  moving.culprit = "";
  tell(lost.map((control) => `${title(control)} ${to[control.dataset.field]} is no stop of its slider any more.`).join("\n"));
  go();
}

for (const control of controls) {
  const typed = control.tagName === "INPUT" && control.type !== "range"; // judged when it is whole
  control.addEventListener(typed ? "change" : "input", () => moved(control));
  control.addEventListener("blur", rest);
  if (typed) control.addEventListener("input", refresh);
}
undo.addEventListener("click", () => {
  future.push(present);
  back(past.pop());
});
redo.addEventListener("click", () => {
  past.push(present);
  back(future.pop());
});
keep.addEventListener("click", async () => {
  keep.disabled = true;
  try {
    const wanted = move();
    await ask(designPath("try"), "POST", { ...wanted, seen: marks }); // what has no verdict is not kept
    await ask(designPath("change"), "POST", wanted);
    remember([]);
    rememberSteps(past);
    location.assign(location.pathname);
  } catch (error) {
    refused(error);
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
  label();
});
drawings.addEventListener("click", (event) => {
  const choice = event.target.closest("[data-topology]");
  if (!choice) return;
  const select = document.getElementById("topology");
  select.value = choice.dataset.topology;
  select.dispatchEvent(new Event("input", { bubbles: true }));
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

// What was changed before and not kept stands again, as does what was moved before this page could listen;
// "Try" on the shortlist is a first move on top of it.
const sheet = Object.fromEntries(controls.map((control) => [control.dataset.field, was(control)]));
const early = differences().length > 0;
let onTop = restore() || early;
if (onTop) {
  past.push(sheet);
  present = values();
}
const wished = new URLSearchParams(location.search);
const wishes = { topology: "network.topology", clamp: "network.clamp", resistor: "network.outer_resistor.value" };
for (const [name, field] of Object.entries(wishes)) {
  if (wished.has(name)) set(named(field), wished.get(name));
}
if (wished.size) {
  past.push(present);
  present = values();
  onTop = true;
  history.replaceState(null, "", location.pathname);
}
if (onTop || !asked.judged) {
  go();
} else {
  refresh();
  findWindow(asked.version).then(() => count("rested"));
}
