// Axes of the live chart: limits with headroom, ticks, and words in engineering prefixes.
const SI = [["fA", 1e-15], ["pA", 1e-12], ["nA", 1e-9], ["µA", 1e-6], ["mA", 1e-3], ["A", 1]];
const FEW_DECADES = 1.5; // spans of the signed scale below it get even ticks
const NEAR = 0.8; // [1] of a decade line: beyond it the frame ends a little above that line

export function writeCurrent(value, digits = 2) {
  if (value === 0) return "0 A";
  const size = Math.abs(value) * 1.0000001;
  const [unit, scale] = [...SI].reverse().find(([, s]) => size >= s) ?? SI[0];
  return `${Number((value / scale).toPrecision(digits))} ${unit}`.replace("-", "−");
}

// Signed logarithm: linear up to `linear` on both sides, a decade a step beyond.
export function signedLog(linear) {
  return (value) => (Math.abs(value) <= linear ? value / linear : Math.sign(value) * (1 + Math.log10(Math.abs(value) / linear)));
}

// Limits of the vertical axis about `low` to `high`: up to the next decade line or the next even tick.
export function withHeadroom(low, high, linear) {
  const signed = signedLog(linear);
  if (signed(high) - signed(low) < FEW_DECADES) {
    const wide = (high - low) * 0.04 || linear / 10;
    const step = evenStep(low - wide, high + wide, 6);
    return { low: Math.floor((low - wide) / step) * step, high: Math.ceil((high + wide) / step) * step, step };
  }
  return { low: -above(-low, linear), high: above(high, linear), step: 0 };
}

function above(size, linear) {
  if (size <= 0) return Math.max(size, -0.2 * linear);
  if (size <= linear) return linear;
  const decade = 10 ** Math.ceil(Math.log10(size) - 1e-9);
  return size > NEAR * decade ? 2 * decade : decade;
}

function evenStep(from, to, most) {
  const rough = (to - from) / most || 1;
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough) ?? rough;
}

export function evenTicks(from, to, step) {
  const found = [];
  for (let k = Math.ceil(from / step - 1e-6); k * step <= to + 1e-6 * step && found.length < 50; k += 1) found.push(Number((k * step).toPrecision(8)));
  return found;
}

export function timeTicks(from, to, most) {
  return evenTicks(from, to, evenStep(from, to, most));
}

// [value, words]: even steps where little is seen, else zero and decades on either side.
export function currentTicks(frame) {
  if (frame.step) {
    const largest = Math.max(Math.abs(frame.low), Math.abs(frame.high)) * 1.0000001;
    const [unit, scale] = [...SI].reverse().find(([, s]) => largest >= s) ?? SI[0];
    const decimals = Math.max(0, -Math.floor(Math.log10(frame.step / scale) + 1e-9));
    return evenTicks(frame.low, frame.high, frame.step).map((value) => [value, value === 0 ? "0" : `${(value / scale).toFixed(decimals)} ${unit}`.replace("-", "−")]);
  }
  const signed = signedLog(frame.linear);
  const fine = signed(frame.high) - signed(frame.low) < 3 ? [1, 2, 5] : [1];
  const found = new Set([0]);
  for (let decade = frame.linear; decade <= Math.max(Math.abs(frame.low), frame.high); decade *= 10) {
    for (const value of fine) {
      found.add(Number((value * decade).toPrecision(3)));
      found.add(-Number((value * decade).toPrecision(3)));
    }
  }
  const slack = 1 + 1e-9;
  const kept = [...found].filter((value) => value >= frame.low * slack && value <= frame.high * slack).sort((a, b) => a - b);
  return kept.map((value) => [value, value === 0 ? "0" : writeCurrent(value)]);
}

export function line(pen, colour, dash, x1, y1, x2, y2, wide = 2) {
  pen.save();
  pen.strokeStyle = colour;
  pen.lineWidth = wide;
  pen.setLineDash(dash);
  pen.beginPath();
  pen.moveTo(x1, y1);
  pen.lineTo(x2, y2);
  pen.stroke();
  pen.restore();
}

export function label(pen, ink, words, x, y, align) {
  pen.textAlign = align;
  pen.lineWidth = 4;
  pen.lineJoin = "round";
  pen.strokeStyle = ink.paper;
  pen.strokeText(words, x, y);
  pen.fillStyle = ink.ink;
  pen.fillText(words, x, y);
  pen.textAlign = "left";
}
