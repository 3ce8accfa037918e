// A drawing of this page as a file: SVG, PNG, or its numbers; nothing leaves the browser.

export function offer(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

// The drawing as text with the colours of the page written out, so that it stands alone.
export function standalone(svg) {
  const style = getComputedStyle(document.documentElement);
  const written = new XMLSerializer().serializeToString(svg);
  return written.replace(/var\(--([a-z-]+)\)/g, (_, name) => style.getPropertyValue(`--${name}`).trim());
}

export function saveSvg(svg, name) {
  offer(new Blob([standalone(svg)], { type: "image/svg+xml" }), `${name}.svg`);
}

export async function savePng(svg, name, finer = 2) {
  const picture = new Image();
  const address = URL.createObjectURL(new Blob([standalone(svg)], { type: "image/svg+xml" }));
  picture.src = address;
  await picture.decode();
  const canvas = document.createElement("canvas");
  canvas.width = svg.viewBox.baseVal.width * finer;
  canvas.height = svg.viewBox.baseVal.height * finer;
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  URL.revokeObjectURL(address);
  offer(await new Promise((done) => canvas.toBlob(done, "image/png")), `${name}.png`);
}
