// The evidence page: wirings of each part, one part after the other.
import { ask } from "./ask.js";

for (const section of document.querySelectorAll("[data-wirings]")) {
  const names = [document.body.dataset.place, section.dataset.wirings].map(encodeURIComponent).join("/");
  try {
    const found = await ask(`/api/parts/${names}/wirings`);
    const drawn = new DOMParser().parseFromString(found.html, "text/html").body;
    section.replaceChildren(...drawn.childNodes);
  } catch (error) {
    section.textContent = error.message;
  }
}
document.body.dataset.settled = "1";
