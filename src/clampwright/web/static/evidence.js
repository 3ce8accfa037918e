// Evidence: the ruler at the voltage and temperature chosen, then the wirings of each part.
import { ask, designPath, sayProblem } from "./ask.js";

const volt = document.getElementById("volt");
const heat = document.getElementById("heat");
const state = { busy: false, again: false };

function placed(html, where) {
  const drawn = new DOMParser().parseFromString(html, "text/html").body;
  where.replaceChildren(...drawn.childNodes);
}

async function ruler() {
  const words = `${heat.value} °C`.replace("-", "−");
  document.getElementById("heat-words").textContent = words;
  heat.setAttribute("aria-valuetext", words);
  if (state.busy) {
    state.again = true;
    return;
  }
  state.busy = true;
  try {
    const found = await ask(designPath(`ruler/shown?volt=${volt.value}&celsius=${heat.value}`));
    placed(found.html, document.getElementById("ruler"));
    sayProblem(null);
  } catch (error) {
    sayProblem(error);
  }
  state.busy = false;
  if (state.again) {
    state.again = false;
    await ruler();
  }
}

if (volt) {
  volt.addEventListener("change", ruler);
  heat.addEventListener("input", ruler);
  await ruler();
}
for (const section of document.querySelectorAll("[data-wirings]")) {
  const names = [document.body.dataset.place, section.dataset.wirings].map(encodeURIComponent).join("/");
  try {
    placed((await ask(`/api/parts/${names}/wirings`)).html, section);
  } catch (error) {
    section.textContent = error.message;
  }
}
document.body.dataset.settled = "1";
