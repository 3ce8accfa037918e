// ±10 mV magnified on plain axes: a panel for each law on its own scale, its slope resistance written.
import { LETTERS, band, colour, engineering, evidence, lawLine, line, straight, text } from "./curve_parts.js";

const NEAR = 0.01; // [V]
const EDGE = 9; // [px] between ±10 mV and the frame, so that points there are whole

function nice(value) {
  const decade = 10 ** Math.floor(Math.log10(value));
  return [1, 2, 5, 10].map((m) => m * decade).find((v) => v >= value * 0.999);
}

// Ends of the axis of current: they hold the line, its readings and as much of its band as lets it be read.
function ends(law, volts, inside) {
  const sizes = { low: 0, high: 0 };
  const hold = (i) => {
    sizes.low = Math.max(sizes.low, -i);
    sizes.high = Math.max(sizes.high, i);
  };
  volts.forEach((v, k) => inside(v) && law.current_ampere[k] !== null && hold(law.current_ampere[k]));
  const most = 3 * Math.max(sizes.low, sizes.high, 1e-18);
  const within = (i) => hold(Math.max(-most, Math.min(most, i)));
  volts.forEach((v, k) => {
    if (!inside(v) || law.low_ampere[k] === null) return;
    within(law.low_ampere[k]);
    within(law.high_ampere[k]);
  });
  for (const p of law.evidence) if (p.here && inside(p.voltage.value)) within(p.current.value);
  const least = 0.25 * Math.max(sizes.low, sizes.high, 1e-18); // the other side keeps a place
  return { low: -nice(1.1 * Math.max(sizes.low, least)), high: nice(1.1 * Math.max(sizes.high, least)) };
}

function panel(law, n, found, words, box, { size, name, shown, last }) {
  const volts = found.voltage_volt;
  const inside = (v) => Math.abs(v) <= NEAR * 1.001;
  const { low, high } = ends(law, volts, inside);
  const across = straight(-NEAR, NEAR, box.x + EDGE, box.x + box.w - EDGE);
  const up = straight(low, high, box.y + box.h, box.y);
  const clip = `${name}-lens${n}`;
  let out = `<clipPath id="${clip}"><rect x="${box.x}" y="${box.y}" width="${box.w}" height="${box.h}"/></clipPath>`;
  out += `<rect x="${box.x}" y="${box.y}" width="${box.w}" height="${box.h}" fill="var(--shade)" opacity="0.45"/>`;
  const written = [];
  for (const value of [0, Math.abs(low) > high ? low : high, Math.abs(low) > high ? high : low]) {
    const y = up(value);
    out += line(`M${box.x} ${y}h${box.w}`, `stroke="var(--${value === 0 ? "quiet" : "hairline"})"`);
    if (written.some((other) => Math.abs(other - y) < size)) continue;
    written.push(y);
    out += text(box.x - 6, y + size * 0.35, engineering(value, "A"), 'text-anchor="end" class="c-small"');
  }
  for (const value of [-NEAR, 0, NEAR]) {
    out += line(`M${across(value)} ${box.y}v${box.h}`, `stroke="var(--${value === 0 ? "quiet" : "hairline"})"`);
    if (!last) continue;
    const anchor = { [-NEAR]: "start", 0: "middle", [NEAR]: "end" }[value];
    out += text(across(value), box.y + box.h + size * 1.2, engineering(value, "V"), `text-anchor="${anchor}" class="c-small"`);
  }
  out += text(box.x, box.y - size * 0.35, `${LETTERS[n]}  r₀ = ${words.zero_bias_resistance}`, `fill="${colour(n)}" class="c-strong"`);
  const slope = 1 / (law.zero_bias_resistance.value ?? Infinity);
  const zero = law.current_at_zero.value;
  out += `<g clip-path="url(#${clip})">`;
  if (shown >= 4) out += band(law, n, volts, across, up, inside, name);
  out += line(`M${across(-NEAR)} ${up(zero - slope * NEAR)}L${across(NEAR)} ${up(zero + slope * NEAR)}`, `stroke="${colour(n)}" stroke-width="1.2" stroke-dasharray="6 4"`);
  out += `${lawLine(law, n, volts, across, up, inside)}</g>`;
  const seen = { ...law, evidence: law.evidence.filter((p) => p.current.value >= low && p.current.value <= high) };
  if (shown >= 3) out += evidence(seen, across, (i) => Math.min(box.y + box.h, Math.max(box.y, up(i))), inside);
  return out;
}

// How high the panels stand one over the other, where each has `tall` pixels.
export const lensHeight = (count, tall, size) => size * 1.6 + count * (tall + size * 1.7) + size * 1.6;

export function lens(found, words, box, asked) {
  const { size } = asked;
  const count = found.laws.length;
  const tall = (box.h - size * 1.6 * 2) / count - size * 1.7;
  let out = text(box.x, box.y + size * 0.4, "±10 mV magnified", 'class="c-strong"');
  found.laws.forEach((law, n) => {
    const y = box.y + size * 1.6 + n * (tall + size * 1.7) + size * 1.3;
    out += panel(law, n, found, words[n], { x: box.x, y, w: box.w, h: tall }, { ...asked, last: n === count - 1 });
  });
  return `<g data-part="lens">${out}</g>`;
}
