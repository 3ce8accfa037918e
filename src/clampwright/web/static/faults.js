// The fault page: draw the waves of the chosen fault, and fetch the study of the parts.
import { ask, designPath, put } from "./ask.js";
import "./save.js";

const waves = document.querySelector("[data-waves]");
const choices = document.querySelectorAll("[data-fault]");

async function fill(place, path, more) {
  try {
    const found = await ask(designPath(path));
    put(place, found.html, ...more(found));
  } catch (error) {
    place.textContent = error.message;
  }
}

function caption(found) {
  const words = document.createElement("p");
  words.className = "quiet";
  words.textContent = found.sentence;
  return [words];
}

async function draw() {
  const number = waves.dataset.waves;
  try {
    const found = await ask(designPath(`faults/waves/${number}/shown`));
    if (waves.dataset.waves === number) put(waves, found.html, ...caption(found)); // the last choice stays
  } catch (error) {
    if (waves.dataset.waves === number) waves.textContent = error.message;
  }
}

function choose(button) {
  const number = button.dataset.fault;
  for (const other of choices) other.setAttribute("aria-pressed", String(other === button));
  document.getElementById("over-time").textContent = `${button.dataset.names} over time`;
  document.getElementById("waves-csv").href = designPath(`faults/waves/${number}.csv`);
  document.querySelector("[data-save-svg]").dataset.name = `fault-${number}-waves.svg`;
  waves.dataset.waves = number;
  return draw();
}

for (const button of choices) button.addEventListener("click", () => choose(button));
if (waves) await draw();
const parts = document.getElementById("parts");
if (parts) await fill(parts, "faults/parts/shown", () => []);
document.body.dataset.settled = "1";
