// Add a fault from the presets; the sheet is written at once, the page loaded again.
import { ask, designPath } from "./ask.js";

const preset = document.getElementById("preset");
const note = document.getElementById("preset-note");
const problem = document.getElementById("fault-problem");
const base = document.body.dataset.hash;

function describe() {
  note.textContent = preset.selectedOptions[0]?.dataset.note ?? "";
}

function unsaved() {
  return [...document.getElementById("form").elements].some((field) => field.name && field.value.trim() !== field.dataset.was);
}

async function send(button, path, body, then) {
  problem.hidden = true;
  if (unsaved()) {
    problem.textContent = "Keep or undo the changed values first: adding a fault loads the page again.";
    problem.hidden = false;
    problem.scrollIntoView({ block: "center" });
    return;
  }
  button.disabled = true;
  try {
    await ask(designPath(path), "POST", { base, ...body });
    location.hash = then;
    location.reload();
  } catch (error) {
    problem.textContent = error.message;
    problem.hidden = false;
    button.disabled = false;
  }
}

preset.addEventListener("change", describe);
document.getElementById("add-fault").addEventListener("click", (event) => send(event.target, "faults/add", { preset: preset.value }, "presets"));
describe();
