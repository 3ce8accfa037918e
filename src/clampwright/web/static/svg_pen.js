// A pen with the few words of a canvas that our charts use, which writes SVG instead.

const escape = (text) => String(text).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
const ANCHORS = { left: "start", center: "middle", right: "end" };
const place = (value) => Number(value.toFixed(2));

export class SvgPen {
  constructor(width, height) {
    Object.assign(this, { width, height, parts: [], path: "", dash: [], kept: [] });
    Object.assign(this, { fillStyle: "#000", strokeStyle: "#000", lineWidth: 1, font: "13px sans-serif", textAlign: "left", textBaseline: "alphabetic", lineJoin: "miter" });
  }

  fillRect(x, y, width, height) {
    this.parts.push(`<rect x="${place(x)}" y="${place(y)}" width="${place(width)}" height="${place(height)}" fill="${this.fillStyle}"/>`);
  }

  strokeRect(x, y, width, height) {
    this.parts.push(`<rect x="${place(x)}" y="${place(y)}" width="${place(width)}" height="${place(height)}" fill="none" stroke="${this.strokeStyle}" stroke-width="${this.lineWidth}"/>`);
  }

  beginPath() {
    this.path = "";
  }

  moveTo(x, y) {
    this.path += `M${place(x)} ${place(y)}`;
  }

  lineTo(x, y) {
    this.path += `L${place(x)} ${place(y)}`;
  }

  stroke() {
    const dash = this.dash.length ? ` stroke-dasharray="${this.dash.join(" ")}"` : "";
    this.parts.push(`<path d="${this.path}" fill="none" stroke="${this.strokeStyle}" stroke-width="${this.lineWidth}"${dash}/>`);
  }

  setLineDash(dash) {
    this.dash = dash;
  }

  save() {
    const { strokeStyle, lineWidth, dash } = this;
    this.kept.push({ strokeStyle, lineWidth, dash });
  }

  restore() {
    Object.assign(this, this.kept.pop());
  }

  words(text, x, y, paint) {
    const middle = this.textBaseline === "middle" ? ' dominant-baseline="central"' : "";
    this.parts.push(`<text x="${place(x)}" y="${place(y)}" text-anchor="${ANCHORS[this.textAlign]}"${middle} style="font:${this.font}" ${paint}>${escape(text)}</text>`);
  }

  fillText(text, x, y) {
    this.words(text, x, y, `fill="${this.fillStyle}"`);
  }

  strokeText(text, x, y) {
    this.words(text, x, y, `fill="none" stroke="${this.strokeStyle}" stroke-width="${this.lineWidth}" stroke-linejoin="${this.lineJoin}"`);
  }

  svg(sentence) {
    const { width, height } = this;
    return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img"><title>${escape(sentence)}</title>${this.parts.join("")}</svg>`;
  }
}
