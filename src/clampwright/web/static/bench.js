// The bench page: one guided session, followed live; every act goes to the server and is kept there.
import { ask, sayProblem } from "./ask.js";
import { BenchChart } from "./bench_chart.js";
import { writeCurrent } from "./bench_axes.js";
import { dropping, textOf } from "./bench_files.js";
import { beginSession } from "./bench_open.js";
import { save } from "./save.js";

const BEHIND = 4; // readings after a mark that a click leaves out with the one before it
const NARROW = "(max-width: 860px)";
const place = encodeURIComponent(document.body.dataset.place);
const by = (id) => document.getElementById(id);
const page = by("bench");
if (page) followSession();
else beginSession();

function followSession() {
  const name = page.dataset.session;
  const here = `/api/bench/${place}/${encodeURIComponent(name)}`;
  const chart = new BenchChart(by("chart"));
  by("chart").chart = chart; // for a look from outside
  history.scrollRestoration = "manual"; // after a reload the page goes to the step itself
  document.querySelector("nav [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  let now = null;
  let taking = false;
  let busy = false;
  let source = null;
  let resultFor = "";
  let heard = 0;
  let spoken = 0;
  let marksShown = "";
  let stepsShown = "";
  let drawnWords = "";
  let held = false; // whether the page says what speaks against going on

  function follow() {
    source?.close();
    source = new EventSource(`${here}/live?after=${chart.last}`);
    source.addEventListener("message", (event) => {
      heard = performance.now();
      by("away").hidden = true;
      const found = JSON.parse(event.data);
      const fresh = found.points.numbers.findIndex((number) => number > chart.last);
      if (fresh >= 0) chart.add(Object.fromEntries(["numbers", "seconds", "volts", "steps"].map((key) => [key, found.points[key].slice(fresh)])));
      show(found);
    });
    source.addEventListener("error", () => {
      // a stream that ended is asked for again by the browser; one that was refused is not
      if (source.readyState === EventSource.CLOSED) setTimeout(follow, 1000);
    });
  }
  setInterval(() => {
    by("away").hidden = performance.now() - heard < 4000;
  }, 1000);

  function show(found) {
    const changed = !now || now.at !== found.state.at;
    now = found.state;
    taking = found.taking;
    page.hidden = false;
    if (found.error) sayProblem(new Error(found.error));
    if (changed) {
      by("about").textContent = `${now.session}: ${now.part} ${now.wiring} with ${now.instrument}${now.who ? `, ${now.who}` : ""}.`;
      by("hurried").hidden = now.wait_share >= 1;
      by("hurried").textContent = `Waiting times are ${Number((100 * now.wait_share).toPrecision(3))} % of usual: ${now.why}`;
      by("place").textContent = now.complete ? `All ${now.steps.length} steps` : `Step ${now.at + 1} of ${now.steps.length}`;
      by("title").textContent = now.title;
      by("words").textContent = now.words;
      by("caution").hidden = !now.caution;
      by("caution").lastElementChild.textContent = now.caution;
      by("reading").hidden = !now.state && !["known current", "polarity"].includes(now.kind);
      by("reason").value = "";
      by("reason-field").hidden = true;
      if (held) sayProblem(null);
      held = false;
      by("temperature").value = by("light").value = "";
      if (now.complete) by("whole").checked = true;
      chart.set({ whole: by("whole").checked });
    }
    showSteps();
    showRun();
    sayMissing();
    showZeros();
    showMarks();
    refreshResult();
    if (changed) toStep();
  }

  // The step in sight: on a phone at the upper edge, else only where it is out of sight.
  function toStep() {
    const card = document.querySelector(".now");
    const above = (document.querySelector("#verdict .says") ?? by("verdict")).getBoundingClientRect().height;
    const box = card.getBoundingClientRect();
    if (!matchMedia(NARROW).matches && box.top >= above && box.bottom <= innerHeight) return;
    scrollTo({ top: scrollY + box.top - above - 4, behavior: "instant" });
  }

  function showRun() {
    const run = now.run;
    by("figure").textContent = run.figure || "–";
    by("unit").textContent = run.unit;
    by("reading").classList.toggle("long", run.figure.length > 5);
    by("spread").textContent = run.spread ? `± ${run.spread} ${run.unit} by scatter, ${run.count} readings` : "";
    const words = now.finished ? "finished" : now.check || (now.state ? (run.count ? run.words : "take readings when the voltage is on") : now.missing || "go on when it is done");
    const judged = by("judged");
    judged.lastElementChild.textContent = words;
    const ready = !now.missing && !now.finished && (run.count || now.check || now.kind === "do");
    judged.querySelector(".shape").innerHTML = ready ? '<circle cx="12" cy="12" r="9" class="s-pass"/>' : run.count ? '<path d="M12 3a9 9 0 0 0 0 18z" class="s-half"/><circle cx="12" cy="12" r="9" class="s-ring"/>' : '<circle cx="12" cy="12" r="9" class="s-ring"/>';
    by("diagnosis").replaceChildren(...run.diagnosis.map(item));
    const take = by("take");
    const reads = now.state || ["known current", "polarity"].includes(now.kind);
    take.textContent = taking ? "Stop" : now.complete ? "Finish" : reads ? (now.live ? "Take" : "Voltage is on") : "Done";
    take.disabled = now.finished;
    by("next").disabled = now.complete || now.finished;
    by("skip").disabled = now.complete || now.finished;
    by("back").disabled = now.at === 0 || now.finished;
    const marks = [...now.marks, ...run.seen];
    chart.set({
      step: now.at, zero: run.zero ?? 0, scale: now.scale, limit: run.detection_limit, needed: run.needed, first: run.settled ? run.first : 0, marks, plan: now.steps,
      drift: run.diagnosis.some((line) => /drift/.test(line)),
    });
    const limit = run.detection_limit ? `; detection limit ±${writeCurrent(run.detection_limit)} for the mean of ${run.needed}` : "";
    const sentence = run.count ? `${now.title}: ${run.count} readings, ${run.figure} ± ${run.spread} ${run.unit}, ${run.words}${limit}` : "No reading of this step yet";
    drawnWords = `${sentence}.`;
    sayDrawn();
    if (performance.now() - spoken > 5000) {
      spoken = performance.now();
      by("chart").setAttribute("aria-label", by("drawn").textContent);
    }
  }

  function sayDrawn() {
    const steps = new Set(chart.runs.map((run) => run.step)).size;
    const whole = `Whole session: ${chart.numbers.length} readings of ${steps} steps, each less its own zero; a short line stands where a step had settled, a dotted one where something was marked.`;
    by("drawn").textContent = by("whole").checked && steps ? whole : drawnWords;
  }

  function item(words) {
    const line = document.createElement("li");
    line.textContent = words;
    return line;
  }

  function showSteps() {
    const told = now.steps.map((step) => `${step.status} ${step.words}`).join();
    if (told === stepsShown) return;
    stepsShown = told;
    by("steps").replaceChildren(...now.steps.map((step) => {
      const line = item(`${step.title} – ${step.status}${step.words && step.status !== "open" ? `: ${step.words}` : ""}`);
      if (step.status === "now") line.className = "now-step";
      return line;
    }));
  }

  function showZeros() {
    by("zeros").hidden = !now.zeros.length;
    by("no-zeros").hidden = now.zeros.length > 0;
    by("zeros").tBodies[0].replaceChildren(...now.zeros.map((zero) => {
      const row = document.createElement("tr");
      for (const text of [zero.title, zero.meter, zero.as_current, zero.count]) row.insertCell().textContent = text;
      return row;
    }));
  }

  function showMarks() {
    const all = [...now.marks, ...now.run.seen].slice(-20);
    const shown = all.map((mark) => `${mark.after} ${mark.kind} ${mark.words}`).join() + (now.last > (all.at(-1)?.after ?? 0) + BEHIND);
    if (!all.length || shown === marksShown) return; // a button under the pointer is not replaced
    marksShown = shown;
    by("marks").replaceChildren(...all.map((mark) => {
      const line = item(`${mark.kind} after reading ${mark.after}${mark.words ? `: ${mark.words}` : ""} `);
      const button = leaveOut(mark);
      if (button) line.append(button);
      return line;
    }));
  }

  // A button that leaves out the readings about a mark; none where that was done or there are none.
  function leaveOut(mark) {
    const first = Math.max(1, mark.after);
    const last = Math.min(now.last, mark.after + BEHIND);
    const done = now.marks.some((other) => other.words.startsWith(`readings ${first} to `) && other.words.includes("left out"));
    if (mark.kind === "note" || done || last < first || now.finished) return null;
    const button = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent: `Leave out ${first} to ${last}` });
    button.addEventListener("click", async () => {
      if (await act("leave-out", { first, last, why: `${mark.kind} after reading ${mark.after}` })) resultFor = "";
      refreshResult();
    });
    return button;
  }

  async function refreshResult() {
    const wanted = `${now.at} ${now.marks.length} ${taking}`;
    if (wanted === resultFor) return;
    resultFor = wanted;
    try {
      const found = await ask(`${here}/result`);
      if (found.html && !found.problem) by("result").replaceChildren(...new DOMParser().parseFromString(found.html, "text/html").body.childNodes);
      else by("result").replaceChildren(Object.assign(document.createElement("p"), { className: "quiet", textContent: found.problem }));
    } catch {
      resultFor = "";
    }
  }

  async function act(ending, body) {
    if (busy || !now) return false;
    busy = true;
    try {
      const found = await ask(`${here}/${ending}`, "POST", body);
      sayProblem(null);
      if (found.state) show(found);
      busy = false;
      return found;
    } catch (error) {
      busy = false;
      if (error.status === undefined) error.message = "The server does not answer; nothing was acknowledged.";
      sayProblem(error);
      return false;
    }
  }

  function differing() {
    const found = { at: now.at };
    for (const id of ["temperature", "light", "lamp", "humidity", "note"]) if (by(id).value.trim()) found[id] = by(id).value.trim();
    return found;
  }

  async function take() {
    if (taking) return act("stop");
    if (now.complete) return finish();
    if (now.kind === "do") return next();
    return now.live ? act("take", differing()) : act("on", { at: now.at });
  }

  async function next() {
    const reason = by("reason").value.trim();
    if (now.missing && !reason) {
      held = true;
      by("reason-field").hidden = false; // the focus stays where it is: keys go on working
      sayMissing();
      return;
    }
    await act("move", { act: "next", at: now.at, reason });
  }

  // What speaks against going on, told afresh while it changes; gone when nothing does any more.
  function sayMissing() {
    if (!held) return;
    held = Boolean(now.missing);
    sayProblem(held ? new Error(`${now.title}: ${now.missing}. To go on as it is, say why (r).`) : null);
    const empty = !by("reason").value && document.activeElement !== by("reason");
    if (!held && empty) by("reason-field").hidden = true;
  }

  function write() {
    by("reason-field").hidden = false;
    by("reason").focus();
  }

  async function skip() {
    const reason = by("reason").value.trim();
    if (!reason) {
      sayProblem(new Error("Skipping a step needs a reason: write it, then skip again."));
      write();
      return;
    }
    await act("move", { act: "skip", at: now.at, reason });
  }

  async function finish() {
    const done = await act("finish");
    if (!done) return;
    const words = by("words");
    words.textContent = done.sentence;
    try {
      const fresh = new DOMParser().parseFromString(await (await fetch(location.href)).text(), "text/html");
      by("verdict").replaceChildren(...fresh.getElementById("verdict").childNodes);
      document.body.dataset.inputs = fresh.body.dataset.inputs;
    } catch (error) {
      sayProblem(error);
    }
    document.body.dataset.finished = done.after;
  }

  async function keepValues(text) {
    const wrong = by("values-error");
    wrong.hidden = true;
    try {
      show(await ask(`${here}/values`, "POST", { ...differing(), text, last: now.last }));
      by("values").value = "";
    } catch (error) {
      wrong.textContent = error.message;
      wrong.hidden = false;
    }
  }

  by("take").addEventListener("click", take);
  by("next").addEventListener("click", next);
  by("skip").addEventListener("click", skip);
  by("more").addEventListener("click", () => {
    const open = by("more").getAttribute("aria-expanded") === "true";
    by("more").setAttribute("aria-expanded", String(!open));
  });
  by("back").addEventListener("click", () => act("move", { act: "back", at: now.at }));
  by("touch").addEventListener("click", () => act("mark", { kind: "touch" }));
  for (const button of document.querySelectorAll("[data-mark]")) button.addEventListener("click", () => act("mark", { kind: button.dataset.mark }));
  by("reason").addEventListener("keydown", (event) => {
    if (event.key === "Enter") next();
    if (event.key === "Escape") by("reason").blur();
  });
  by("keep-values").addEventListener("click", () => keepValues(by("values").value));
  by("whole").addEventListener("change", () => {
    chart.set({ whole: by("whole").checked });
    sayDrawn();
  });
  document.addEventListener("theme", () => chart.later());
  dropping(by("drop"), by("file"), async (file) => {
    try {
      by("values").value = await textOf(file, ".csv", ".txt");
      await keepValues(by("values").value);
    } catch (error) {
      by("values-error").textContent = error.message;
      by("values-error").hidden = false;
    }
  });
  by("save-picture").addEventListener("click", () => by("chart").toBlob((blob) => save(blob, "bench.png")));
  by("save-svg").addEventListener("click", () => save(new Blob([chart.svg(by("drawn").textContent)], { type: "image/svg+xml" }), "bench.svg"));
  by("save-csv").addEventListener("click", () => {
    const rows = ["number,step,seconds,reading (V)"];
    for (let k = 0; k < chart.numbers.length; k += 1) rows.push([chart.numbers.array[k], chart.steps.array[k] + 1, chart.seconds.array[k], chart.volts.array[k]].join(","));
    save(new Blob([`${rows.join("\n")}\n`], { type: "text/csv" }), "bench.csv");
  });
  document.addEventListener("keydown", (event) => {
    const typing = event.target.closest("input:not([type=checkbox]), textarea, select, summary");
    if (!by("use-keys").checked || typing || event.ctrlKey || event.metaKey || event.altKey || event.repeat || !now) return;
    const key = event.key.toLowerCase();
    if (key === " " && event.target.closest("button, a, input")) return; // it presses what is in focus
    const does = { " ": take, n: next, m: () => act("mark", { kind: "touch" }), r: now.finished ? null : write }[key];
    if (!does) return;
    event.preventDefault();
    does();
  });
  by("bench").addEventListener("click", (event) => {
    // after the mouse the keys are free again; after the keyboard the focus stays
    if (event.detail > 0) event.target.closest("button")?.blur();
  });
  follow();
}
