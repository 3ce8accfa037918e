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
