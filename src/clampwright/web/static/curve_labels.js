// Labels on the chart of laws: near what they name, over no curve, reading or other label.
import { line, text } from "./curve_parts.js";

const CELL = 4; // [px] of the raster in which places are taken
const EM = { plain: 0.56, strong: 0.62 }; // [1] mean width of a letter over the size of the type

// A raster of what is taken inside a box.
export function ground(box) {
  const columns = Math.ceil(box.w / CELL) + 1;
  const rows = Math.ceil(box.h / CELL) + 1;
  const taken = new Uint8Array(columns * rows);
  const column = (x) => Math.floor((x - box.x) / CELL);
  const row = (y) => Math.floor((y - box.y) / CELL);
  const inside = (x0, y0, x1, y1) => [
    Math.max(0, column(x0)), Math.max(0, row(y0)), Math.min(columns - 1, column(x1)), Math.min(rows - 1, row(y1)),
  ];
  const take = (...area) => {
    const [left, top, right, bottom] = inside(...area);
    for (let r = top; r <= bottom; r += 1) for (let c = left; c <= right; c += 1) taken[r * columns + c] = 1;
  };
  const anyTaken = (...area) => {
    const [left, top, right, bottom] = inside(...area);
    for (let r = top; r <= bottom; r += 1) for (let c = left; c <= right; c += 1) if (taken[r * columns + c]) return true;
    return false;
  };
  const path = (points, half = 3) => {
    points.forEach(([x, y], n) => {
      const [a, b] = points[n - 1] ?? [x, y];
      const steps = Math.max(1, Math.ceil(Math.hypot(x - a, y - b) / CELL));
      for (let k = 0; k <= steps; k += 1) {
        const [u, v] = [a + ((x - a) * k) / steps, b + ((y - b) * k) / steps];
        take(u - half, v - half, u + half, v + half);
      }
    });
  };
  const inBox = (x0, y0, x1, y1) => x0 >= box.x && y0 >= box.y && x1 <= box.x + box.w && y1 <= box.y + box.h;
  return { take, path, free: (...area) => inBox(...area) && !anyTaken(...area) };
}

const heightAt = (points, x) => {
  const n = points.findIndex((p) => p[0] >= x);
  if (n <= 0) return n === 0 ? points[0][1] : null;
  const [[a, b], [c, d]] = [points[n - 1], points[n]];
  return c === a ? d : b + ((x - a) / (c - a)) * (d - b);
};

// A text beside a path, at the first free place, with a leader line from far; null if all is taken.
function placed(points, words, site, { size, more, strong = false, fromRight = false, far = 7 }) {
  const wide = EM[strong ? "strong" : "plain"] * size * words.length;
  const spots = [];
  for (let x = points[0][0] + 8; x <= points.at(-1)[0] - 8; x += 16) spots.push(x);
  if (fromRight) spots.reverse();
  for (const away of [0.5, 0.9, 1.5, 2.4, 3.6, 5, 7].filter((d) => d <= far)) {
    for (const x of spots) {
      const start = fromRight ? x - wide : x;
      const on = heightAt(points, x);
      for (const turn of on === null ? [] : [-1, 1]) {
        const base = on + turn * away * size + (turn > 0 ? 0.8 * size : 0);
        const area = [start, base - 0.85 * size, start + wide, base + 0.25 * size];
        if (!site.free(...area)) continue;
        site.take(...area);
        const reach = away > 1.5 ? line(`M${x + 4} ${on + turn * 3}V${turn < 0 ? area[3] : area[1]}`, 'stroke="var(--quiet)"') : "";
        return reach + text(start, base, words, more);
      }
    }
  }
  return null;
}

// The first of several wordings that finds a free place; the shortest at the start if none does.
export function beside(points, wordings, site, asked) {
  if (!points.length) return "";
  for (const words of wordings) {
    const found = placed(points, words, site, asked);
    if (found !== null) return found;
  }
  return text(points[0][0] + 8, points[0][1] - 8, wordings.at(-1), asked.more);
}
