// The start page: make a demonstration or a new workspace; fetch verdicts one after the other.
import { ask, put, sayProblem } from "./ask.js";
import { startTour } from "./tour.js";

const LOOK_EVERY = 5000; // [ms]

async function make(button, path, body) {
  button.disabled = true;
  sayProblem(null);
  try {
    const made = await ask(path, "POST", body);
    location.href = `/w/${encodeURIComponent(made.workspace)}/${encodeURIComponent(made.design)}/network`;
  } catch (error) {
    sayProblem(error);
    button.disabled = false;
  }
}

for (const button of document.querySelectorAll("[data-demo]")) {
  button.addEventListener("click", () => make(button, "/api/demo", { name: button.dataset.demo }));
}
const fresh = document.querySelector("[data-new]");
fresh.addEventListener("click", () => make(fresh, "/api/new"));

const tour = document.getElementById("take-tour");
tour.addEventListener("click", async () => {
  tour.disabled = true;
  try {
    await startTour();
  } catch (error) {
    sayProblem(error);
    tour.disabled = false;
  }
});

setInterval(async () => {
  if (document.hidden) return;
  try {
    const now = await ask("/api/folder");
    document.getElementById("changed").hidden = now.state === document.body.dataset.folder;
  } catch {
    // the server is away: the next look will tell
  }
}, LOOK_EVERY);

for (const place of document.querySelectorAll(".said")) {
  const names = [place.dataset.place, place.dataset.design].map(encodeURIComponent).join("/");
  try {
    const found = await ask(`/api/designs/${names}/verdict`);
    put(place, found.html);
    place.previousElementSibling.querySelector(".title").textContent = found.title;
  } catch (error) {
    place.textContent = error.message;
  }
}
