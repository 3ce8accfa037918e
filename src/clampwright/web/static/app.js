// On every page: light or dark, and a notice when a sheet was changed elsewhere.
import { ask, designPath } from "./ask.js";

const LOOK_EVERY = 5000; // [ms]

document.getElementById("theme").addEventListener("click", () => {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  const now = root.dataset.theme || dark;
  root.dataset.theme = now === "dark" ? "light" : "dark";
  document.cookie = `clampwright-theme=${root.dataset.theme}; path=/; max-age=31536000; samesite=strict`;
  document.dispatchEvent(new Event("theme"));
});

// "more" of the verdict stays open while its words are renewed.
const verdict = document.getElementById("verdict");
if (verdict) {
  let open = false;
  verdict.addEventListener("toggle", (event) => (open = event.target.open), true);
  new MutationObserver(() => {
    const more = verdict.querySelector(".more");
    if (more && open) more.open = true;
  }).observe(verdict, { childList: true });
}

// On a narrow page a drawing fits the column; who wants to read its small words makes it larger.
for (const drawn of document.querySelectorAll("figure.wide")) {
  const place = drawn.closest("#part-drawing") ?? drawn;
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "plain larger", textContent: "Larger drawing" });
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => {
    const large = place.classList.toggle("large");
    button.setAttribute("aria-pressed", String(large));
  });
  if (place !== drawn) place.after(button);
  else drawn.prepend(button);
}

// Printed are also the results behind a disclosure, not what only serves to change something.
const printed = "#verdict details, main details:not(.controls details, form details, #drawings, #typing)";
let opened = [];
addEventListener("beforeprint", () => {
  opened = [...document.querySelectorAll(printed)].filter((one) => !one.open);
  for (const one of opened) one.open = true;
});
addEventListener("afterprint", () => {
  for (const one of opened) one.open = false;
});

async function lookForChanges() {
  if (document.hidden) return;
  try {
    const now = await ask(designPath("hash"));
    const same = now.inputs_hash === document.body.dataset.inputs;
    document.getElementById("elsewhere").hidden = same;
  } catch {
    // the server is away: the next look will tell
  }
}

if (document.body.dataset.design) {
  setInterval(lookForChanges, LOOK_EVERY);
  document.addEventListener("visibilitychange", lookForChanges);
}
