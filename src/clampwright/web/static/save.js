// Save a chart of the page as an SVG file in the colours it is shown with.
const COLOURS = ["paper", "ink", "hairline", "quiet", "shade", "open", "blue", "vermilion", "orange", "sky", "purple", "accent"];

export function saveSvg(svg, name) {
  const style = getComputedStyle(document.documentElement);
  const whole = svg.cloneNode(true);
  whole.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  if (svg.classList.contains("chart")) whole.prepend(chartRules());
  let text = new XMLSerializer().serializeToString(whole);
  for (const colour of COLOURS) text = text.replaceAll(`var(--${colour})`, style.getPropertyValue(`--${colour}`).trim());
  save(new Blob([text], { type: "image/svg+xml" }), name);
}

// The rules by which the page draws a chart, to go with it.
function chartRules() {
  const rules = [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]);
  const style = document.createElementNS("http://www.w3.org/2000/svg", "style");
  style.textContent = rules.map((rule) => rule.cssText).filter((words) => /^\.chart|^\.hatch/.test(words)).join("\n");
  return style;
}

export function save(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-save-svg]");
  if (!button) return;
  const svg = document.querySelector(button.dataset.saveSvg);
  if (svg) saveSvg(svg, button.dataset.name);
});
