// Evidence: the ruler at the voltage and temperature chosen, then the wirings of each part.
import { ask, designPath, latest, put, sayProblem } from "./ask.js";

const volt = document.getElementById("volt");
const heat = document.getElementById("heat");

function label() {
  const words = `${heat.value} °C`.replace("-", "−");
  document.getElementById("heat-words").textContent = words;
  heat.setAttribute("aria-valuetext", words);
}

const ruler = latest(async () => {
  try {
    const found = await ask(designPath(`ruler/shown?volt=${volt.value}&celsius=${heat.value}`));
    put(document.getElementById("ruler"), found.html);
    sayProblem(null);
  } catch (error) {
    sayProblem(error);
  }
});

if (volt) {
  volt.addEventListener("change", ruler);
  heat.addEventListener("input", () => {
    label();
    ruler();
  });
  label();
  await ruler();
}
for (const section of document.querySelectorAll("[data-wirings]")) {
  const names = [document.body.dataset.place, section.dataset.wirings].map(encodeURIComponent).join("/");
  try {
    put(section, (await ask(`/api/parts/${names}/wirings`)).html);
  } catch (error) {
    section.textContent = error.message;
  }
}
document.body.dataset.settled = "1";
