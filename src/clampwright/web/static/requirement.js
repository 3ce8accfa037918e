// The requirement form: send what changed, show each problem beside its field.
import { ask, designPath, sayProblem } from "./ask.js";

const form = document.getElementById("form");
const state = document.getElementById("state");

function changes() {
  const found = {};
  for (const field of form.elements) {
    if (field.name && field.value.trim() !== field.dataset.was) found[field.name] = field.value.trim();
  }
  return found;
}

function mark() {
  for (const field of form.elements) {
    if (field.name) field.closest(".field").classList.toggle("changed", field.value.trim() !== field.dataset.was);
  }
  const count = Object.keys(changes()).length;
  state.textContent = count ? `${count} changed, not kept yet` : "nothing changed";
}

function showProblems(fields) {
  let first = null;
  for (const field of form.elements) {
    if (!field.name) continue;
    const line = document.getElementById(`e-${field.name}`);
    const wrong = fields[field.name];
    line.hidden = !wrong;
    line.textContent = wrong ?? "";
    if (wrong) {
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", line.id);
      first ??= field;
    } else {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
  }
  first?.focus();
  return first !== null;
}

form.addEventListener("input", mark);
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  sayProblem(null);
  const changed = changes();
  if (!Object.keys(changed).length) return;
  state.textContent = "keeping…";
  try {
    await ask(designPath("change"), "POST", { base: document.body.dataset.hash, changes: changed });
    location.reload();
  } catch (error) {
    mark();
    if (!showProblems(error.fields ?? {})) sayProblem(error);
  }
});
addEventListener("beforeunload", (event) => {
  if (Object.keys(changes()).length && state.textContent !== "keeping…") event.preventDefault();
});
