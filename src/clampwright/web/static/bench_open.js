// The bench page before a session: begin one, or bring a whole sitting as a file.
import { ask, sayProblem } from "./ask.js";
import { dropping, textOf } from "./bench_files.js";

const place = encodeURIComponent(document.body.dataset.place);
const by = (id) => document.getElementById(id);

function listOf(text) {
  return text.split(/[;\n]/).map((one) => one.trim()).filter(Boolean);
}

export function beginSession() {
  const form = by("open");
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const [part, ...wiring] = by("o-clamp").value.split(" ");
    const body = {
      instrument: by("o-instrument").value, part, wiring: wiring.join(" "), design: document.body.dataset.design,
      voltages: listOf(by("o-voltages").value), light: by("o-light").value.trim(), warm: listOf(by("o-warm").value),
      session: by("o-session").value.trim(), who: by("o-who").value.trim(), conditions: by("o-conditions").value.trim(),
      wait_share: by("o-waits").value.trim() || "100 %", why: by("o-why").value.trim(),
    };
    try {
      const made = await ask(`/api/bench/${place}/open`, "POST", body);
      location.assign(`?session=${encodeURIComponent(made.state.session)}`);
    } catch (error) {
      tell(form, error);
    }
  });
  dropping(by("drop-sitting"), by("sitting"), bringSitting);
}

// Every sentence of a refusal beside its field; what belongs to none stands above the button.
function tell(form, error) {
  const fields = error.fields ?? {};
  let first = null;
  for (const line of form.querySelectorAll("[data-error]")) {
    const words = fields[line.dataset.error];
    const input = line.parentElement.querySelector("input, select");
    line.hidden = !words;
    line.textContent = words ?? "";
    if (words) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
    if (words) first ??= input;
  }
  first?.focus();
  sayProblem(first ? null : error);
}

async function bringSitting(file) {
  const wrong = by("sitting-error");
  const done = by("sitting-done");
  wrong.hidden = done.hidden = true;
  try {
    const query = new URLSearchParams({ name: file.name, who: by("o-who").value.trim() });
    const answer = await fetch(`/api/bench/${place}/csv?${query}`, { method: "POST", headers: { "content-type": "text/csv" }, body: await textOf(file, ".csv") });
    const found = await answer.json().catch(() => ({ error: answer.statusText }));
    if (!answer.ok) throw new Error(found.error);
    done.textContent = found.sentence;
    done.hidden = false;
  } catch (error) {
    wrong.textContent = error.message;
    wrong.hidden = false;
  }
}
