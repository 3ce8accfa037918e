// The requirement form: send what changed, show each problem beside its field.
import { ask, designPath, sayProblem } from "./ask.js";

const form = document.getElementById("form");
const state = document.getElementById("state");
const base = document.body.dataset.hash;

const named = () => [...form.elements].filter((field) => field.name);
const text = (field) => field.value.trim().replace(/\s*\n\s*/g, " ");
const isRemoval = (field) => field.name.startsWith("remove.");
const removals = () => named().filter((field) => isRemoval(field) && field.value).map((field) => Number(field.name.slice(7)));

function changes() {
  const gone = removals().map((number) => `faults.${number}.`);
  const found = {};
  for (const field of named()) {
    if (isRemoval(field) || gone.some((start) => field.name.startsWith(start))) continue;
    if (text(field) !== field.dataset.was) found[field.name] = text(field);
  }
  return found;
}

function mark() {
  for (const field of named()) {
    const place = field.closest(".field");
    place?.classList.toggle("changed", text(field) !== field.dataset.was);
    place?.classList.toggle("unstated", !text(field));
  }
  const changed = Object.keys(changes()).length;
  const removed = removals().length;
  const said = [changed && `${changed} changed`, removed && `${removed} to remove`].filter(Boolean).join(", ");
  state.textContent = said ? `${said}, not kept yet` : "nothing changed";
}

// A sentence about a whole section that begins with the name of a field belongs to that field.
function placed(fields) {
  const found = {};
  for (const [name, sentence] of Object.entries(fields)) {
    const inside = `${name}.${sentence.split(" ")[0].toLowerCase()}`;
    found[form.elements[inside] ? inside : name] = sentence;
  }
  return found;
}

// Puts each sentence beside its field; gives the first field that is wrong.
function showProblems(fields) {
  let first = null;
  for (const field of named()) {
    const line = document.getElementById(`e-${field.name}`);
    if (!line) continue;
    const wrong = fields[field.name];
    line.hidden = !wrong;
    line.textContent = wrong ?? "";
    if (!wrong) {
      field.removeAttribute("aria-invalid");
      continue;
    }
    field.setAttribute("aria-invalid", "true");
    const hidden = field.closest("details");
    if (hidden) hidden.open = true;
    first ??= field;
  }
  return first;
}

const FOLLOWS = ["requirement.accuracy", "requirement.sensitivity"]; // wrong by a change of another field

// What the server would understand, while nothing is kept: errors beside the fields, and what values come to.
let asked = 0;
async function understand() {
  const mine = ++asked;
  const changed = changes();
  let answer;
  try {
    answer = await ask(designPath("understood"), "POST", { base, changes: changed });
  } catch (error) {
    answer = { fields: error.fields ?? {} };
  }
  if (mine !== asked || state.textContent === "keeping…") return;
  const wrong = Object.entries(placed(answer.fields ?? {})).filter(([name]) => name in changed || FOLLOWS.includes(name));
  showProblems(Object.fromEntries(wrong));
  for (const line of form.querySelectorAll("[data-echo]")) {
    const said = answer.echoes?.[line.dataset.echo] ?? "";
    if (line.textContent !== said) line.textContent = said;
    line.hidden = !said;
  }
}

async function keep() {
  const changed = changes();
  const gone = removals().sort((a, b) => b - a); // the last first: the numbers before it stay
  if (!Object.keys(changed).length && !gone.length) return;
  state.textContent = "keeping…";
  let now = base;
  try {
    if (Object.keys(changed).length) {
      now = (await ask(designPath("change"), "POST", { base: now, changes: changed })).design_hash;
    }
    for (const number of gone) {
      now = (await ask(designPath("faults/remove"), "POST", { base: now, number })).design_hash;
    }
    location.reload();
  } catch (error) {
    mark();
    const wrong = placed(error.fields ?? {});
    const first = showProblems(wrong);
    first?.focus();
    const unplaced = Object.keys(wrong).some((name) => !form.elements[name]);
    if (!first || unplaced) sayProblem(error);
  }
}

function remove(button) {
  const row = button.closest(".fault");
  const field = row.querySelector("input[type=hidden]");
  field.value = field.value ? "" : "yes";
  const gone = Boolean(field.value);
  row.classList.toggle("removed", gone);
  row.querySelector("details").open = false;
  button.textContent = gone ? "Undo" : "Remove";
  button.setAttribute("aria-label", gone ? `Undo: keep fault ${button.dataset.name}` : `Remove fault ${button.dataset.name}`);
  mark();
}

function forget(button) {
  const field = document.getElementById(button.dataset.unknown);
  field.value = "";
  field.focus();
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

form.addEventListener("input", mark);
form.addEventListener("change", () => {
  mark();
  understand();
});
form.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (button?.dataset.remove) remove(button);
  if (button?.dataset.unknown) forget(button);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  sayProblem(null);
  keep();
});
addEventListener("beforeunload", (event) => {
  if ((Object.keys(changes()).length || removals().length) && state.textContent !== "keeping…") event.preventDefault();
});
