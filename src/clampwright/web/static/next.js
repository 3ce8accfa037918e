// The page of the next reading: fetch the answer, which takes a few seconds, and show it.
import { ask, designPath, put } from "./ask.js";
import "./save.js";

const place = document.getElementById("next");
try {
  const found = await ask(designPath("next/shown"));
  put(place, found.html);
  place.querySelector("[data-csv]").href = designPath("next.csv");
} catch (error) {
  const words = document.createElement("p");
  words.className = "error";
  words.textContent = error.message;
  place.replaceChildren(words);
}
document.body.dataset.settled = "1";
