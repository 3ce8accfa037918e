// Save a chart of the page as an SVG file in the colours it is shown with.
const COLOURS = ["paper", "ink", "hairline", "quiet", "shade", "open", "blue", "vermilion", "orange", "sky", "purple"];

export function saveSvg(svg, name) {
  const style = getComputedStyle(document.documentElement);
  let text = new XMLSerializer().serializeToString(svg);
  for (const colour of COLOURS) text = text.replaceAll(`var(--${colour})`, style.getPropertyValue(`--${colour}`).trim());
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
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
