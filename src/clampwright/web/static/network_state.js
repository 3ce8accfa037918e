// What stands in the strip when a choice cannot be judged, and what becomes of changes that are not kept.
import { differences, named, openChanged, set, showProblems, was } from "./network_controls.js";
import { counted, remember, unkept } from "./unkept.js";

const OUTDATED = ["part-drawing", "part-why", "part-budget", "part-window", "part-leakage", "part-noise", "part-figures", "columns"];
const page = document.getElementById("page");
const told = document.getElementById("told");
const problem = document.getElementById("problem");
const elsewhere = document.getElementById("elsewhere");
const onTop = document.getElementById("on-top");

// The verdict goes, the charts say that they are not of this choice, the sentence stands beside its control.
export function sayRefused(error, wanted, culprit) {
  const fields = error.fields ?? {};
  const conflict = error.status === 409 && "The sheet was changed elsewhere since this page was loaded.";
  const words = conflict || wanted || Object.entries(fields).find(([field]) => named(field))?.[1] || error.message;
  const strip = document.getElementById("refused").content.cloneNode(true);
  strip.querySelector(".reason").textContent = words;
  document.getElementById("verdict").replaceChildren(strip);
  outdated(true);
  elsewhere.hidden &&= !conflict;
  const placed = showProblems(fields) || conflict || (culprit && showProblems({ [culprit]: words }));
  problem.textContent = words;
  problem.hidden = Boolean(placed || wanted);
  if (wanted) document.getElementById("needed").scrollIntoView({ block: "nearest" });
  offerOnTop();
}

export function sayJudged() {
  document.querySelector("[data-unjudged]")?.removeAttribute("data-unjudged");
  outdated(false);
  problem.hidden = true;
  showProblems({});
}

function outdated(yes) {
  if (document.querySelector("[data-unjudged]")) return; // there are none yet
  page.classList.toggle("unjudged", yes);
  for (const id of OUTDATED) document.getElementById(id)?.toggleAttribute("inert", yes);
}

// The steps at the left speak of the sheet: while something here is not kept, they say so.
const kept = ["network", "faults"].map((step) => document.querySelector(`nav a[href$="/${step}"] small`));
const words = kept.map((one) => one.textContent);

export function sayKept(changed) {
  kept.forEach((one, n) => (one.textContent = changed ? `as kept: ${words[n]}` : words[n]));
}

export function offerOnTop() {
  onTop.hidden = !differences().length;
}

onTop.addEventListener("click", () => {
  remember(differences(), { onTop: true });
  location.assign(location.pathname);
});

export const tell = (words) => {
  told.textContent = words;
  told.hidden = !words;
};

const list = (changes) => changes.map((one) => `${one.label} ${one.now || "none"}`).join("; ");

// Puts back what was changed here before and not kept. True when any control moved.
export function restore() {
  const left = unkept();
  if (!left) return false;
  if (left.base !== document.body.dataset.hash && !left.onTop) {
    const many = left.changes.length;
    tell(`The sheet was changed since: ${counted(many)} made here and not kept ${many === 1 ? "is" : "are"} not shown (${list(left.changes)}).`);
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = many === 1 ? "Put it on top" : "Put them on top";
    button.addEventListener("click", () => {
      remember(left.changes, { onTop: true });
      location.assign(location.pathname);
    });
    told.append(" ", button);
    return false;
  }
  const both = left.changes.filter((one) => named(one.field) && was(named(one.field)) !== one.was && was(named(one.field)) !== one.now);
  const placed = left.changes.filter((one) => named(one.field) && set(named(one.field), one.now));
  const lost = left.changes.filter((one) => !placed.includes(one) && one.now !== "");
  const words = both.filter((one) => placed.includes(one)).map((one) =>
    `${one.label} was changed elsewhere too: the sheet says ${was(named(one.field)) || "nothing"}, yours is ${one.now || "nothing"}.`);
  if (left.onTop) words.unshift(`Your ${counted(placed.length)} stand${placed.length === 1 ? "s" : ""} on top of the sheet as it is now.`);
  if (lost.length) words.push(`Not possible any more: ${list(lost)}.`);
  tell(words.join("\n"));
  openChanged();
  return placed.length > 0;
}
