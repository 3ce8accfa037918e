// The tour: a strip that leads through the orchard demonstration; where it is, this browser remembers.
import { ask } from "./ask.js";

const KEY = "clampwright-tour";
const DESIGN = ["demo-orchard", "orchard-probe"];

const where = () => {
  const kept = localStorage.getItem(KEY);
  return kept === null ? null : Number(kept);
};

function address(step) {
  return `/w/${DESIGN.join("/")}/${step.page}`;
}

// Steps whose page this app does not have are passed over.
function offered(steps) {
  const pages = [...document.querySelectorAll("nav a[href]")].map((link) => link.getAttribute("href").split("/").at(-1));
  return pages.length ? steps.filter((step) => pages.includes(step.page)) : steps;
}

export async function startTour() {
  const steps = await ask("/api/tour");
  const there = (await ask("/api/designs")).some((one) => one.workspace === DESIGN[0]);
  if (!there) await ask("/api/demo", "POST", { name: "orchard" });
  go(steps, 0);
}

function leave() {
  localStorage.removeItem(KEY);
  document.getElementById("tour")?.remove();
  document.body.classList.remove("touring");
  for (const one of document.querySelectorAll(".looked-at")) one.classList.remove("looked-at");
  document.getElementById("page").focus();
}

function go(steps, to) {
  localStorage.setItem(KEY, String(to));
  sessionStorage.setItem("clampwright-tour-moved", "1");
  location.href = address(steps[to]);
}

function button(words, act, kind = "") {
  const made = Object.assign(document.createElement("button"), { type: "button", textContent: words, className: kind });
  made.addEventListener("click", act);
  return made;
}

function strip(steps, now) {
  const step = steps[now];
  const here = location.pathname === address(step);
  const section = Object.assign(document.createElement("section"), { id: "tour", className: "tour" });
  section.setAttribute("aria-label", "Tour");
  const title = Object.assign(document.createElement("p"), { className: "tour-title", id: "tour-title" });
  title.textContent = `${now + 1} of ${steps.length}: ${step.title}`;
  const words = Object.assign(document.createElement("p"), { className: "tour-words", id: "tour-words" });
  words.textContent = here ? step.words : "The tour goes on at another page; look around as long as you like.";
  const back = () => here && now > 0 && go(steps, now - 1);
  const next = () => (!here ? go(steps, now) : now < steps.length - 1 && go(steps, now + 1));
  const row = Object.assign(document.createElement("div"), { className: "tour-row" });
  if (here && now > 0) row.append(button("Back", back));
  const last = here && now === steps.length - 1;
  const on = last ? button("Done", leave, "primary") : button(here ? "Next" : "To the tour", next, "primary");
  on.setAttribute("aria-describedby", "tour-title tour-words"); // read aloud with the button in focus
  row.append(on, button("Leave the tour", leave, "plain"));
  section.append(title, words, row);
  section.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const does = { Escape: leave, ArrowRight: next, ArrowLeft: back }[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  });
  return { section, on, here, step };
}

async function begin() {
  if (where() === null) return;
  const steps = offered(await ask("/api/tour"));
  const now = Math.min(Math.max(where(), 0), steps.length - 1);
  const made = strip(steps, now);
  document.body.append(made.section);
  document.body.classList.add("touring");
  if (made.here) {
    const place = document.querySelector(made.step.look);
    place?.classList.add("looked-at");
  }
  if (sessionStorage.getItem("clampwright-tour-moved")) {
    sessionStorage.removeItem("clampwright-tour-moved");
    made.on.focus({ preventScroll: true });
  }
}

begin().catch(() => {}); // the page is whole without its tour
