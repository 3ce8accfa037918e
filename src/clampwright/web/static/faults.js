// The fault page: fetch the waves of each fault and the study of the parts, one after the other.
import { ask, designPath, put } from "./ask.js";
import "./save.js";

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

for (const place of document.querySelectorAll("[data-waves]")) {
  await fill(place, `faults/waves/${place.dataset.waves}/shown`, caption);
}
const parts = document.getElementById("parts");
if (parts) await fill(parts, "faults/parts/shown", () => []);
document.body.dataset.settled = "1";
