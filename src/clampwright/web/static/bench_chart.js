// A live chart of currents on a signed-log axis, drawn on a canvas: every reading is kept, each pixel
// column shows the range of those that fall into it, so that 100 000 of them stay fluent.
import { SvgPen } from "./svg_pen.js";

const SI = [["fA", 1e-15], ["pA", 1e-12], ["nA", 1e-9], ["µA", 1e-6], ["mA", 1e-3], ["A", 1]];
const ROOM = { left: 76, right: 16, top: 28, bottom: 34 };

class Column {
  constructor(kind) {
    this.kind = kind;
    this.array = new kind(1024);
    this.length = 0;
  }
  push(values) {
    const needed = this.length + values.length;
    if (needed > this.array.length) {
      const larger = new this.kind(Math.max(needed, 2 * this.array.length));
      larger.set(this.array.subarray(0, this.length));
      this.array = larger;
    }
    this.array.set(values, this.length);
    this.length = needed;
  }
}

export function writeCurrent(value, digits = 2) {
  if (value === 0) return "0 A";
  const size = Math.abs(value) * 1.0000001;
  const [unit, scale] = [...SI].reverse().find(([, s]) => size >= s) ?? SI[0];
  return `${Number((value / scale).toPrecision(digits))} ${unit}`;
}

export class BenchChart {
  constructor(canvas) {
    this.canvas = canvas;
    this.numbers = new Column(Float64Array);
    this.seconds = new Column(Float64Array);
    this.volts = new Column(Float64Array);
    this.steps = new Column(Float64Array);
    this.show = { step: 0, whole: false, zero: 0, scale: 1, limit: null, first: 0, mean: null, marks: [], drift: false };
    this.waiting = false;
    new ResizeObserver(() => this.later()).observe(canvas);
  }

  get last() {
    return this.numbers.length ? this.numbers.array[this.numbers.length - 1] : 0;
  }

  add(points) {
    for (const [name, values] of [["numbers", points.numbers], ["seconds", points.seconds], ["volts", points.volts], ["steps", points.steps]]) this[name].push(values);
    this.later();
  }

  set(shown) {
    Object.assign(this.show, shown);
    this.later();
  }

  later() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.draw();
    });
  }

  // Index of the first reading of the run that is shown; a run is the last unbroken stretch of a step.
  start() {
    if (this.show.whole) return 0;
    const steps = this.steps.array;
    const seconds = this.seconds.array;
    let k = this.steps.length;
    if (!k || steps[k - 1] !== this.show.step) return k;
    while (k > 0 && steps[k - 1] === this.show.step && (k === this.steps.length || seconds[k - 1] <= seconds[k] + 0.5)) k -= 1;
    return k;
  }

  colours() {
    const style = getComputedStyle(document.documentElement);
    return Object.fromEntries(["ink", "quiet", "hairline", "blue", "vermilion", "accent", "shade", "orange", "open", "paper"].map((n) => [n, style.getPropertyValue(`--${n}`).trim()]));
  }

  draw() {
    const ratio = devicePixelRatio || 1;
    const width = this.canvas.clientWidth;
    const height = this.canvas.clientHeight;
    if (!width || !height) return;
    if (this.canvas.width !== Math.round(width * ratio)) this.canvas.width = Math.round(width * ratio);
    if (this.canvas.height !== Math.round(height * ratio)) this.canvas.height = Math.round(height * ratio);
    const pen = this.canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.paint(pen, width, height);
  }

  // The same picture as SVG text; the sentence is its title.
  svg(sentence) {
    const pen = new SvgPen(this.canvas.clientWidth, this.canvas.clientHeight);
    this.paint(pen, pen.width, pen.height);
    return pen.svg(sentence);
  }

  paint(pen, width, height) {
    const ink = this.colours();
    pen.fillStyle = ink.paper;
    pen.fillRect(0, 0, width, height);
    const box = { x: ROOM.left, y: ROOM.top, w: width - ROOM.left - ROOM.right, h: height - ROOM.top - ROOM.bottom };
    const first = this.start();
    const count = this.numbers.length - first;
    const frame = count ? this.range(first) : { low: -1, high: 1, from: 0, to: 1, linear: 1 };
    const signed = (value) => (Math.abs(value) <= frame.linear ? value / frame.linear : Math.sign(value) * (1 + Math.log10(Math.abs(value) / frame.linear)));
    const bottom = signed(frame.low);
    const top = signed(frame.high);
    const y = (value) => box.y + box.h * (1 - (signed(value) - bottom) / (top - bottom));
    const x = (time) => box.x + (box.w * (time - frame.from)) / (frame.to - frame.from || 1);
    if (count) {
      this.axes(pen, ink, box, frame, x, y, signed);
      this.columns(pen, ink, box, first, x, y);
      this.beside(pen, ink, box, first, x, y);
    } else {
      pen.fillStyle = ink.quiet;
      pen.font = "16px system-ui, sans-serif";
      pen.fillText("readings of this step appear here", box.x + 16, box.y + 28);
    }
  }

  time(k) {
    return this.show.whole ? this.numbers.array[k] : this.seconds.array[k];
  }

  current(k) {
    return (this.volts.array[k] - this.show.zero) / this.show.scale;
  }

  // Limits of both axes; the linear part of the vertical one is about the scatter of the readings.
  range(first) {
    let low = Infinity;
    let high = -Infinity;
    const end = this.numbers.length;
    let steps = 0;
    for (let k = first; k < end; k += 1) {
      const value = this.current(k);
      if (value < low) low = value;
      if (value > high) high = value;
      if (k > first) steps += Math.abs(value - this.current(k - 1));
    }
    const scatter = steps / Math.max(end - first - 1, 1) || Math.max(Math.abs(low), Math.abs(high)) / 10 || 1e-15;
    const limit = this.show.limit;
    if (limit) high = Math.max(high, 1.2 * limit);
    const linear = 10 ** Math.ceil(Math.log10(Math.max(scatter, limit ?? 0, 1e-18)));
    const wide = (high - low) * 0.08 || linear / 10;
    return { low: low - wide, high: high + wide, linear, from: this.time(first), to: Math.max(this.time(end - 1), this.time(first) + 1) };
  }

  axes(pen, ink, box, frame, x, y, signed) {
    pen.font = "13px system-ui, sans-serif";
    pen.lineWidth = 1;
    const edge = Math.min(Math.max(y(Math.min(frame.linear, frame.high)), box.y), box.y + box.h);
    const other = Math.min(Math.max(y(Math.max(-frame.linear, frame.low)), box.y), box.y + box.h);
    pen.fillStyle = ink.shade;
    if (other > edge) pen.fillRect(box.x, edge, box.w, other - edge);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    let before = Infinity;
    for (const value of ticks(frame, signed)) {
      const at = y(value);
      pen.strokeStyle = value === 0 ? ink.quiet : ink.hairline;
      pen.beginPath();
      pen.moveTo(box.x, at);
      pen.lineTo(box.x + box.w, at);
      pen.stroke();
      if (Math.abs(at - before) < 16) continue;
      before = at;
      pen.fillStyle = ink.ink;
      pen.fillText(value === 0 ? "0" : writeCurrent(value), box.x - 8, at);
    }
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillStyle = ink.quiet;
    pen.fillText("current, signed log; shaded: linear", box.x, box.y - 10);
    for (const time of linearTicks(frame.from, frame.to, Math.max(2, Math.floor(box.w / 90)))) {
      const at = x(time);
      pen.strokeStyle = ink.hairline;
      pen.beginPath();
      pen.moveTo(at, box.y + box.h);
      pen.lineTo(at, box.y + box.h + 5);
      pen.stroke();
      pen.textAlign = "center";
      pen.fillStyle = ink.ink;
      pen.fillText(this.show.whole ? `${time}` : seconds(time), at, box.y + box.h + 20);
    }
    pen.textAlign = "left";
    pen.strokeStyle = ink.quiet;
    pen.strokeRect(box.x, box.y, box.w, box.h);
  }

  // One vertical stroke for each pixel column, dots while they are few.
  columns(pen, ink, box, first, x, y) {
    const end = this.numbers.length;
    pen.fillStyle = ink.blue;
    if (end - first <= 2 * box.w) {
      const size = end - first < 200 ? 5 : 3;
      for (let k = first; k < end; k += 1) pen.fillRect(x(this.time(k)) - size / 2, y(this.current(k)) - size / 2, size, size);
      return;
    }
    let column = -1;
    let low = 0;
    let high = 0;
    const stroke = () => {
      if (column < 0) return;
      const top = y(high);
      pen.fillRect(column, top, 1, Math.max(2, y(low) - top));
    };
    for (let k = first; k < end; k += 1) {
      const at = Math.floor(x(this.time(k)));
      const value = this.current(k);
      if (at !== column) {
        stroke();
        column = at;
        low = high = value;
      } else if (value < low) low = value;
      else if (value > high) high = value;
    }
    stroke();
  }

  place(number) {
    const numbers = this.numbers.array;
    let low = 0;
    let high = this.numbers.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (numbers[middle] < number) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  // Limit, settled, what happened; words stand beside their lines.
  beside(pen, ink, box, first, x, y) {
    pen.font = "13px system-ui, sans-serif";
    const limit = this.show.limit;
    if (limit && y(limit) > box.y + box.h) {
      label(pen, ink, `detection limit ${writeCurrent(limit)}: lower`, box.x + 8, box.y + box.h - 8, "left");
    } else if (limit) {
      const at = y(limit);
      line(pen, ink.vermilion, [8, 4], box.x, at, box.x + box.w, at);
      label(pen, ink, `detection limit ${writeCurrent(limit)}`, box.x + box.w - 8, at - 6, "right");
    }
    let row = 0;
    const stand = (number, colour, dash, words) => {
      const k = this.place(number);
      if (k < first || k >= this.numbers.length) return;
      const at = x(this.time(k));
      line(pen, colour, dash, at, box.y, at, box.y + box.h);
      label(pen, ink, words, at + (at > box.x + box.w - 90 ? -4 : 4), box.y + 16 + 16 * (row % 4), at > box.x + box.w - 90 ? "right" : "left");
      row += 1;
    };
    if (this.show.first) stand(this.show.first, ink.accent, [], "settled");
    for (const mark of this.show.marks) stand(Math.max(mark.after, 1), ink.orange, [2, 3], mark.kind);
    if (this.show.drift) label(pen, ink, "drift", box.x + box.w - 8, box.y + box.h - 8, "right");
  }
}

function line(pen, colour, dash, x1, y1, x2, y2) {
  pen.save();
  pen.strokeStyle = colour;
  pen.lineWidth = 2;
  pen.setLineDash(dash);
  pen.beginPath();
  pen.moveTo(x1, y1);
  pen.lineTo(x2, y2);
  pen.stroke();
  pen.restore();
}

function label(pen, ink, words, x, y, align) {
  pen.textAlign = align;
  pen.lineWidth = 4;
  pen.lineJoin = "round";
  pen.strokeStyle = ink.paper;
  pen.strokeText(words, x, y);
  pen.fillStyle = ink.ink;
  pen.fillText(words, x, y);
  pen.textAlign = "left";
}

function seconds(time) {
  return Math.abs(time) < 600 ? `${Number(time.toPrecision(3))} s` : `${Number((time / 60).toPrecision(3))} min`;
}

function linearTicks(from, to, most) {
  const rough = (to - from) / most || 1;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough) ?? rough;
  const found = [];
  for (let at = Math.ceil(from / step) * step; at <= to && found.length < 50; at += step) found.push(Number(at.toPrecision(8)));
  return found;
}

// Zero, decades on either side, and even steps where only the linear part or one decade is seen.
function ticks(frame, signed) {
  const span = signed(frame.high) - signed(frame.low);
  if (span < 1.5) return linearTicks(frame.low, frame.high, 6);
  const found = new Set([0]);
  for (let decade = frame.linear; decade < Math.max(Math.abs(frame.low), frame.high); decade *= 10) {
    for (const value of span < 3 ? [1, 2, 5] : [1]) {
      found.add(Number((value * decade).toPrecision(3)));
      found.add(-Number((value * decade).toPrecision(3)));
    }
  }
  return [...found].filter((value) => value >= frame.low && value <= frame.high).sort((a, b) => a - b);
}
