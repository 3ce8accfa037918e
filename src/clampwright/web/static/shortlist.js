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
  progress.value = now.total ? now.done / now.total : 0;
  state.textContent = running ? `${now.done} of ${now.total || "?"}` : now.state;
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
const body = table?.tBodies[0];

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
    const key = (row) => row.cells[Number(button.dataset.column)].dataset.key;
    const rows = [...body.rows].sort((a, b) => compare(key(a), key(b)) * (rising ? 1 : -1));
    body.replaceChildren(...rows);
  });
}

const filter = document.getElementById("filter");
const front = document.getElementById("front");

function sieve() {
  const words = filter.value.toLowerCase().split(/[\s,]+/).filter(Boolean);
  for (const row of body.rows) {
    const text = row.textContent.toLowerCase();
    const beaten = front.value === "front" && "dominated" in row.dataset;
    row.hidden = beaten || !words.every((word) => text.includes(word));
  }
  const shown = [...body.rows].filter((row) => !row.hidden).length;
  document.getElementById("count").textContent = `${shown} of ${body.rows.length} rows shown`;
}

filter?.addEventListener("input", sieve);
front?.addEventListener("change", sieve);
if (body && filter) sieve();
