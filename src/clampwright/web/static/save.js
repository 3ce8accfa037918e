// Save what the page shows as a file: a drawing as SVG or PNG in the colours it is shown with, or data.
// Nothing leaves the browser.

export function save(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

// The drawing with the colours and rules of the page written out, so that it stands alone.
function standalone(svg) {
  const style = getComputedStyle(document.documentElement);
  const whole = svg.cloneNode(true);
  if (svg.classList.contains("chart")) whole.prepend(chartRules());
  const written = new XMLSerializer().serializeToString(whole);
  const text = written.replace(/var\(--([a-z-]+)\)/g, (_, name) => style.getPropertyValue(`--${name}`).trim());
  return new Blob([text], { type: "image/svg+xml" });
}

// The rules by which the page draws a chart, to go with it.
function chartRules() {
  const rules = [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]);
  const style = document.createElementNS("http://www.w3.org/2000/svg", "style");
  style.textContent = rules.map((rule) => rule.cssText).filter((words) => /^\.chart|^\.hatch/.test(words)).join("\n");
  return style;
}

export function saveSvg(svg, name) {
  save(standalone(svg), name);
}

export async function savePng(svg, name, finer = 2) {
  const picture = new Image();
  const address = URL.createObjectURL(standalone(svg));
  picture.src = address;
  await picture.decode();
  const canvas = document.createElement("canvas");
  canvas.width = svg.viewBox.baseVal.width * finer;
  canvas.height = svg.viewBox.baseVal.height * finer;
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  URL.revokeObjectURL(address);
  save(await new Promise((done) => canvas.toBlob(done, "image/png")), name);
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-save-svg]");
  if (!button) return;
  const svg = document.querySelector(button.dataset.saveSvg);
  if (svg) saveSvg(svg, button.dataset.name);
});
