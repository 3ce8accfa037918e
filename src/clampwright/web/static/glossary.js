// Words of the trade are marked at their first place on a page; hover, focus or tap says what they mean.
import { ask } from "./ask.js";

const SKIPPED = "a, button, label, legend, summary, select, input, textarea, svg, code, h1, h2, thead, nav, .unseen, [aria-live], [role=status], [data-no-terms], .quiet.step, output, option";
const seen = new Set();
let entries = [];
let pattern = null;
let bubble = null;
let open = null;

const plain = (text) => text.toLowerCase();

function meaning(form) {
  return entries.find((entry) => [entry.term, ...entry.also].some((one) => plain(one) === plain(form)));
}

function says(entry) {
  const id = `word-${entry.term.toLowerCase().replace(/[^a-z0-9]+/g, "-")}`;
  if (!document.getElementById(id)) {
    const text = document.createElement("span");
    text.id = id;
    text.hidden = true;
    text.textContent = entry.words;
    document.body.append(text);
  }
  return id;
}

function marked(form, entry) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "term";
  button.textContent = form;
  button.setAttribute("aria-describedby", says(entry));
  button.addEventListener("mouseenter", () => show(button, entry));
  button.addEventListener("focus", () => show(button, entry));
  button.addEventListener("click", () => show(button, entry));
  button.addEventListener("mouseleave", () => document.activeElement !== button && hide());
  button.addEventListener("blur", hide);
  return button;
}

function show(button, entry) {
  bubble ??= document.body.appendChild(Object.assign(document.createElement("div"), { className: "bubble" }));
  bubble.setAttribute("aria-hidden", "true"); // the button is described by the same words
  const term = document.createElement("strong");
  term.textContent = entry.term;
  bubble.replaceChildren(term, document.createTextNode(` ${entry.words}`));
  bubble.hidden = false;
  const place = button.getBoundingClientRect();
  const left = Math.max(8, Math.min(place.left, innerWidth - bubble.offsetWidth - 8));
  const [under, over] = [place.bottom + 8, place.top - bubble.offsetHeight - 8];
  const below = under + bubble.offsetHeight < innerHeight && !(over > 0 && covers(left, under));
  bubble.style.left = `${left + scrollX}px`;
  bubble.style.top = `${(below ? under : over) + scrollY}px`;
  open = button;
}

// Whether the bubble there would lie over what the page is for.
function covers(left, top) {
  return [...document.querySelectorAll("main .primary")].some((button) => {
    const { left: start, right, top: high, bottom, width } = button.getBoundingClientRect();
    return width > 0 && start < left + bubble.offsetWidth && right > left && high < top + bubble.offsetHeight && bottom > top;
  });
}

function hide() {
  if (bubble) bubble.hidden = true;
  open = null;
}

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && open) {
    hide();
    event.stopPropagation();
  }
}, true);
document.addEventListener("pointerdown", (event) => open && !event.target.closest(".term") && hide());

function texts(root) {
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  const found = [];
  while (walker.nextNode()) {
    const node = walker.currentNode;
    if (node.data.trim().length > 3 && !node.parentElement.closest(SKIPPED)) found.push(node);
  }
  return found;
}

export function markTerms(root) {
  if (!pattern) return;
  for (const node of texts(root)) {
    const pieces = [];
    let last = 0;
    for (const match of node.data.matchAll(pattern)) {
      const entry = meaning(match[0]);
      if (!entry || seen.has(entry.term)) continue;
      seen.add(entry.term);
      pieces.push(node.data.slice(last, match.index), marked(match[0], entry));
      last = match.index + match[0].length;
    }
    if (pieces.length) node.replaceWith(...pieces, node.data.slice(last));
  }
}

async function begin() {
  entries = await ask("/api/glossary");
  const forms = entries.flatMap((entry) => [entry.term, ...entry.also]).filter((form) => form.length > 2);
  forms.sort((a, b) => b.length - a.length);
  const escaped = forms.map((form) => form.replace(/[.*+?^${}()|[\]\\]/g, "\\$&"));
  pattern = new RegExp(`(?<![\\p{L}\\d-])(?:${escaped.join("|")})(?![\\p{L}\\d-])`, "giu");
  const main = document.getElementById("page");
  markTerms(main);
  let waiting = null; // what comes later, such as a list that takes time, is marked too
  new MutationObserver((changes) => {
    const whole = changes.some((c) => [...c.addedNodes].some((n) => n.nodeType === 1 && !n.matches(".term, .bubble, svg") && n.closest("[id=ruler], [data-wirings], #answer")));
    if (!whole) return;
    clearTimeout(waiting);
    waiting = setTimeout(() => markTerms(main), 300);
  }).observe(main, { childList: true, subtree: true });
}

begin().catch(() => {}); // without its words the page is whole all the same
