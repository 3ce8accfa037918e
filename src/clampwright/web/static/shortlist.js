// A ranking beside the pages: start, watch, cancel; sort and filter what it found.
import { ask, designPath, sayProblem } from "./ask.js";

const LOOK_EVERY = 700; // [ms]
const job = document.getElementById("job");
const start = document.getElementById("start");
const cancel = document.getElementById("cancel");
const progress = document.getElementById("progress");
const state = document.getElementById("state");

function show(now) {
  const running = now.state === "running";
  start.hidden = running;
  cancel.hidden = progress.hidden = !running;
  if (now.total) progress.value = now.done / now.total;
  else progress.removeAttribute("value"); // moves without an end until the total is known
  state.textContent = !running ? now.state : now.total ? `${now.done} of ${now.total}` : "preparing";
  if (now.error) sayProblem(new Error(now.error));
}

async function watch() {
  const now = await ask(designPath("rank"));
  show(now);
  if (now.state === "running") setTimeout(watch, LOOK_EVERY);
  else if (now.state === "done") location.reload();
}

start?.addEventListener("click", async () => {
  sayProblem(null);
  try {
    show(await ask(designPath("rank"), "POST"));
    await watch();
  } catch (error) {
    sayProblem(error);
  }
});
cancel?.addEventListener("click", () => ask(designPath("rank"), "DELETE").catch(sayProblem));
if (start && job.dataset.state === "running") watch();

const table = document.getElementById("candidates");
const groups = () => [...table.tBodies]; // a candidate is two rows: figures, reason

function compare(one, other) {
  const [a, b] = [one, other].map((text) => (text === "" || text === "None" ? NaN : Number(text)));
  if (!Number.isNaN(a) && !Number.isNaN(b)) return a - b;
  if (Number.isNaN(a) !== Number.isNaN(b)) return Number.isNaN(a) ? 1 : -1;
  return one.localeCompare(other);
}

for (const button of table?.querySelectorAll("[data-column]") ?? []) {
  button.addEventListener("click", () => {
    const head = button.closest("th");
    const rising = head.getAttribute("aria-sort") !== "ascending";
    for (const other of table.tHead.querySelectorAll("[aria-sort]")) other.setAttribute("aria-sort", "none");
    head.setAttribute("aria-sort", rising ? "ascending" : "descending");
    const key = (group) => group.rows[0].cells[Number(button.dataset.column)].dataset.key;
    table.append(...groups().sort((a, b) => compare(key(a), key(b)) * (rising ? 1 : -1)));
  });
}

const filter = document.getElementById("filter");
const front = document.getElementById("front");

// Whether a word speaks of a candidate: a circuit in full, the start of a verdict or of how it is
// known, any piece of a clamp.
function holds(word, [verdict, circuit, known, ...clamps]) {
  if (/^t\d+$/.test(word)) return circuit === word;
  const starts = (text) => text.startsWith(word) || text.replace(" ", "-").startsWith(word);
  return starts(verdict) || starts(known) || clamps.some((text) => text.includes(word));
}

function sieve() {
  const words = filter.value.toLowerCase().replace(/\bnot\s+m/g, "not-m").split(/[\s,]+/).filter(Boolean);
  for (const group of groups()) {
    const sought = group.dataset.sought.split("\n");
    const beaten = front.value === "front" && "dominated" in group.dataset;
    group.hidden = beaten || !words.every((word) => holds(word, sought));
  }
  const shown = groups().filter((group) => !group.hidden).length;
  document.getElementById("count").textContent = shown
    ? `${shown} of ${groups().length} rows`
    : `no row holds ${words.length > 1 ? "all of these words" : "this word"}; take ${words.length > 1 ? "one" : "it"} away, or write some like ${filter.placeholder}`;
}

filter?.addEventListener("input", sieve);
front?.addEventListener("change", sieve);
if (table && filter) sieve();

// What the pointer or the focus is on, in words under the chart.
const told = document.getElementById("told");
const plane = document.getElementById("plane");
if (told) told.hidden = false;
for (const kind of ["pointerover", "focusin"]) {
  plane?.addEventListener(kind, (event) => {
    const mark = event.target.closest("a");
    if (mark) told.textContent = mark.getAttribute("aria-label");
  });
}
