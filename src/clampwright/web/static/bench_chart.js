// A live chart of currents on a signed-log axis, drawn on a canvas: every reading is kept, each pixel
// column shows the range of those that fall into it, so that 100 000 of them stay fluent.
import { currentTicks, label, line, signedLog, timeTicks, withHeadroom, writeCurrent } from "./bench_axes.js";
import { SvgPen } from "./svg_pen.js";

const ROOM = { left: 76, right: 16, top: 28, bottom: 50 };
const LETTER = 7.5; // [px] about the width of one at 13 px
const MINUTES = 600; // [s] from here on time is told in minutes

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

export class BenchChart {
  constructor(canvas) {
    this.canvas = canvas;
    this.numbers = new Column(Float64Array);
    this.seconds = new Column(Float64Array);
    this.volts = new Column(Float64Array);
    this.steps = new Column(Float64Array);
    this.show = { step: 0, whole: false, zero: 0, scale: 1, limit: null, needed: 0, first: 0, marks: [], plan: [], drift: false };
    this.runs = []; // {step, from}: unbroken stretches of a step, by the index of their first reading
    this.waiting = false;
    new ResizeObserver(() => this.later()).observe(canvas);
  }

  get last() {
    return this.numbers.length ? this.numbers.array[this.numbers.length - 1] : 0;
  }

  add(points) {
    for (const [name, values] of [["numbers", points.numbers], ["seconds", points.seconds], ["volts", points.volts], ["steps", points.steps]]) this[name].push(values);
    this.lookForRuns(this.numbers.length - points.numbers.length);
    this.later();
  }

  lookForRuns(from) {
    const steps = this.steps.array;
    const seconds = this.seconds.array;
    for (let k = from; k < this.numbers.length; k += 1) {
      if (k === 0 || steps[k] !== steps[k - 1] || seconds[k] < seconds[k - 1] - 0.5) this.runs.push({ step: steps[k], from: k });
    }
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

  // Index of the first reading that is shown: of the whole session, or of the latest run of the step.
  start() {
    if (this.show.whole) return 0;
    const run = this.runs.at(-1);
    return run?.step === this.show.step ? run.from : this.numbers.length;
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
    this.zeros = Float64Array.from(this.show.plan, (step) => step.zero ?? 0);
    const frame = count ? this.range(first) : { low: -1, high: 1, from: 0, to: 1, linear: 1 };
    const signed = signedLog(frame.linear);
    const bottom = signed(frame.low);
    const top = signed(frame.high);
    const y = (value) => box.y + box.h * (1 - (signed(value) - bottom) / (top - bottom));
    const x = (time) => box.x + (box.w * (time - frame.from)) / (frame.to - frame.from || 1);
    if (count) {
      this.axes(pen, ink, box, frame, x, y);
      if (this.show.whole) this.stretches(pen, ink, box, x);
      this.columns(pen, ink, box, first, x, y);
      this.limits(pen, ink, box, first, x, y);
      this.beside(pen, ink, box, first, x);
    } else {
      pen.fillStyle = ink.quiet;
      pen.font = "16px system-ui, sans-serif";
      pen.fillText("readings of this step appear here", 16, box.y + 28);
    }
  }

  time(k) {
    return this.show.whole ? this.numbers.array[k] : this.seconds.array[k];
  }

  current(k) {
    const zero = this.show.whole ? this.zeros[this.steps.array[k]] || 0 : this.show.zero;
    return (this.volts.array[k] - zero) / this.show.scale;
  }

  // Each limit with the readings it holds for: {limit, needed, from, end}, indices into the readings.
  limitsShown(first) {
    const end = this.numbers.length;
    if (!this.show.whole) return this.show.limit ? [{ limit: this.show.limit, needed: this.show.needed, from: first, end }] : [];
    return this.runs.flatMap(({ step, from }, n) => {
      const { detection_limit: limit, count: needed } = this.show.plan[step] ?? {};
      return limit ? [{ limit, needed, from, end: this.runs[n + 1]?.from ?? end }] : [];
    });
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
    const limit = Math.max(0, ...this.limitsShown(first).map((one) => one.limit));
    if (limit && low < limit && high > -limit) {
      high = Math.max(high, 1.2 * limit);
      low = Math.min(low, -1.2 * limit);
    }
    const linear = 10 ** Math.ceil(Math.log10(Math.max(scatter, limit, 1e-18)));
    return { ...withHeadroom(low, high, linear), linear, from: this.time(first), to: Math.max(this.time(end - 1), this.time(first) + 1) };
  }

  axes(pen, ink, box, frame, x, y) {
    pen.font = "13px system-ui, sans-serif";
    pen.lineWidth = 1;
    const inside = (at) => Math.min(Math.max(at, box.y), box.y + box.h);
    const edge = inside(y(Math.min(frame.linear, frame.high)));
    const other = inside(y(Math.max(-frame.linear, frame.low)));
    pen.fillStyle = ink.shade;
    if (other > edge) pen.fillRect(box.x, edge, box.w, other - edge);
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    let before = Infinity;
    for (const [value, words] of currentTicks(frame)) {
      const at = y(value);
      line(pen, value === 0 ? ink.quiet : ink.hairline, [], box.x, at, box.x + box.w, at, 1);
      if (Math.abs(at - before) < 16) continue;
      before = at;
      pen.fillStyle = ink.ink;
      pen.fillText(words, box.x - 8, at);
    }
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillStyle = ink.quiet;
    const shaded = other > edge ? (box.w < 400 ? "; shaded: linear" : `; shaded: linear to ±${writeCurrent(frame.linear)}`) : "";
    pen.fillText(`current, signed log${shaded}`, box.w < 400 ? 8 : box.x, box.y - 10);
    const minutes = !this.show.whole && frame.to >= MINUTES;
    const unit = minutes ? 60 : 1;
    pen.textAlign = "center";
    for (const time of timeTicks(frame.from / unit, frame.to / unit, Math.max(3, Math.floor(box.w / 90)))) {
      const at = x(time * unit);
      line(pen, ink.hairline, [], at, box.y + box.h, at, box.y + box.h + 5, 1);
      pen.fillStyle = ink.ink;
      pen.fillText(`${time}`, at, box.y + box.h + 19);
    }
    pen.fillStyle = ink.quiet;
    const title = this.show.whole ? "number of the reading" : `time since the voltage was on (${minutes ? "min" : "s"})`;
    pen.fillText(title, box.x + box.w / 2, box.y + box.h + 38);
    pen.textAlign = "left";
    pen.strokeStyle = ink.quiet;
    pen.strokeRect(box.x, box.y, box.w, box.h);
  }

  // Where each step begins, with its name or, where that does not fit, its number.
  stretches(pen, ink, box, x) {
    pen.font = "13px system-ui, sans-serif";
    this.runs.forEach(({ step, from }, n) => {
      const at = x(this.time(from));
      const next = this.runs[n + 1];
      const wide = (next ? x(this.time(next.from)) : box.x + box.w) - at;
      if (n) line(pen, ink.quiet, [1, 3], at, box.y, at, box.y + box.h, 1);
      const room = Math.floor((wide - 6) / LETTER);
      const name = `${step + 1} ${this.show.plan[step]?.title ?? ""}`.trim();
      const words = name.length <= room ? name : room >= 8 ? `${name.slice(0, room - 1)}…` : String(step + 1);
      if (words.length <= room) label(pen, ink, words, at + 3, box.y + 14, "left");
    });
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

  // The detection limit on both sides of zero; it is that of a mean, which its words say.
  limits(pen, ink, box, first, x, y) {
    pen.font = "13px system-ui, sans-serif";
    const all = this.limitsShown(first);
    all.forEach(({ limit, needed, from, end }, n) => {
      const words = box.w < 400 ? `limit ±${writeCurrent(limit)}, mean of ${needed}` : `detection limit ±${writeCurrent(limit)} for the mean of n = ${needed}`;
      const [left, right] = [Math.max(x(this.time(from)), box.x), this.show.whole ? x(this.time(end - 1)) : box.x + box.w];
      const seen = [limit, -limit].map(y).filter((at) => at >= box.y && at <= box.y + box.h);
      for (const at of seen) line(pen, ink.vermilion, [8, 4], left, at, Math.max(right, left + 8), at);
      if (n < all.length - 1) return;
      if (seen.length) label(pen, ink, words, box.x + box.w - 8, Math.min(...seen) - 6, "right");
      else label(pen, ink, `${words}: ${this.current(end - 1) > 0 ? "lower" : "nearer zero"}`, box.x + 8, box.y + box.h - 8, "left");
    });
  }

  // Settled, and what happened; words stand beside their lines.
  beside(pen, ink, box, first, x) {
    pen.font = "13px system-ui, sans-serif";
    const top = box.y + (this.show.whole ? 34 : 16);
    let row = 0;
    const stand = (number, colour, dash, words) => {
      const k = this.place(number);
      if (k < first || k >= this.numbers.length) return;
      const at = x(this.time(k));
      const turned = at > box.x + box.w - 90;
      line(pen, colour, dash, at, box.y, at, box.y + box.h);
      label(pen, ink, words, at + (turned ? -4 : 4), top + 16 * (row % 4), turned ? "right" : "left");
      row += 1;
    };
    if (this.show.whole) this.settledMarks(pen, ink, box, x);
    else if (this.show.first) stand(this.show.first, ink.accent, [], "settled");
    for (const mark of this.show.marks) stand(Math.max(mark.after, 1), ink.orange, [2, 3], happened(mark));
    if (this.show.drift) label(pen, ink, "drift", box.x + box.w - 8, box.y + box.h - 8, "right");
  }

  // Where the readings of each step began to count, at the lower edge; the first one says what it is.
  settledMarks(pen, ink, box, x) {
    const found = new Set([...this.show.plan.map((step) => step.settled), this.show.first].filter(Boolean));
    let told = false;
    for (const number of found) {
      const k = this.place(number);
      if (k >= this.numbers.length) continue;
      const at = x(this.time(k));
      line(pen, ink.accent, [], at, box.y + box.h - 24, at, box.y + box.h, 3);
      if (!told) label(pen, ink, "settled", at + 5, box.y + box.h - 10, "left");
      told = true;
    }
  }
}

// What a mark is called on the chart: what was seen by itself by its own name.
function happened(mark) {
  return mark.kind === "note" && mark.words.startsWith("seen: ") ? mark.words.slice(6).split(/[,:]/)[0] : mark.kind;
}
