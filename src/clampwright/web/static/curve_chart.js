// Clamp laws as one SVG text: signed-log axes whose plain middle is marked, and ±10 mV magnified.

import { beside, ground } from "./curve_labels.js";
import { lens, lensHeight } from "./curve_lens.js";
import { LETTERS, band, colour, engineering, escape, evidence, fills, lawLine, line, pieces, signedLog, text } from "./curve_parts.js";

const NEAR = 0.01; // [V] plain inside, magnified beside
// The axis of current that holds these laws; kept while sliders move, so that the eye sees the law move.
export function frameOf(found) {
  const sizes = [];
  const near = [];
  for (const law of found.laws) {
    law.current_ampere.forEach((i, n) => {
      if (i === null || i === 0) return;
      sizes.push(i);
      if (Math.abs(Math.abs(found.voltage_volt[n]) - NEAR) < 1e-9) near.push(Math.abs(i));
    });
    sizes.push(...law.evidence.flatMap((p) => [p.low.value, p.high.value]));
  }
  const decade = (v) => 10 ** Math.floor(Math.log10(v));
  const linear = Math.min(1e-9, Math.max(1e-16, decade(Math.min(...near, 1e-9)) / 10));
  const up = (v) => 10 * decade(Math.max(v, 10 * linear));
  const forward = Math.max(...sizes, 0);
  const reverse = Math.max(...sizes.map((i) => -i), 0);
  return { linear, positive: up(forward), negative: up(10 * reverse) };
}

export function widen(frame, found) {
  const now = frameOf(found);
  return {
    linear: frame.linear,
    positive: Math.max(frame.positive, now.positive),
    negative: Math.max(frame.negative, now.negative / 10),
  };
}

function decades(linear, most) {
  const first = Math.round(Math.log10(linear));
  const last = Math.round(Math.log10(most));
  const every = Math.max(1, Math.ceil((last - first) / 5));
  const found = [];
  for (let power = first; power <= last; power += every) found.push(10 ** power);
  return found;
}

function mainAxes(box, frame, span, across, up, size) {
  const zero = up(0);
  const left = across(-NEAR);
  const right = across(NEAR);
  const top = up(frame.linear);
  const bottom = up(-frame.linear);
  let out = `<rect x="${left}" y="${box.y}" width="${right - left}" height="${box.h}" fill="var(--shade)" opacity="0.7"/>`;
  out += `<rect x="${box.x}" y="${top}" width="${box.w}" height="${bottom - top}" fill="var(--shade)" opacity="0.7"/>`;
  const rows = [...decades(frame.linear, frame.positive), 0, ...decades(frame.linear, frame.negative).map((v) => -v)];
  const written = [zero];
  for (const value of rows.sort((a, b) => Math.abs(b) - Math.abs(a))) {
    const y = up(value);
    out += line(`M${box.x} ${y}H${box.x + box.w}`, `stroke="var(--${value === 0 ? "quiet" : "hairline"})"`);
    if (value !== 0 && written.some((other) => Math.abs(other - y) < size * 1.2)) continue;
    written.push(y);
    out += text(box.x - 8, y + size * 0.35, engineering(value, "A"), 'text-anchor="end"');
  }
  const roomy = box.w > 34 * size;
  const wanted = roomy ? [-1, -0.1, -NEAR, 0, NEAR, 0.1] : [-NEAR, NEAR];
  const columns = [-span, ...wanted.filter((v) => v > -span), 1];
  for (const value of columns) {
    const x = across(value);
    out += line(`M${x} ${box.y}V${box.y + box.h}`, `stroke="var(--${value === 0 ? "quiet" : "hairline"})"`);
    out += text(x, box.y + box.h + size * 1.3, engineering(value, "V"), `text-anchor="${!roomy && value === 1 ? "end" : "middle"}"`);
  }
  out += text(box.x + 6, zero - size * 0.4, `plain inside ±${engineering(frame.linear, "A").slice(1)}`, 'fill="var(--quiet)" class="c-small"');
  out += text(box.x + box.w, box.y + box.h + size * 2.6, roomy ? "anode minus cathode; plain inside ±10 mV, logarithmic outside" : "anode minus cathode", 'text-anchor="end" fill="var(--quiet)" class="c-small"');
  if (roomy) out += text(box.x - 8, box.y - size * 0.6, "current into the anode", 'fill="var(--quiet)" class="c-small"');
  return out;
}

function limitLines(limit, box, up) {
  if (!limit) return "";
  return [limit.current, -limit.current].map((v) => line(`M${box.x} ${up(v)}H${box.x + box.w}`, 'stroke="var(--ink)" stroke-width="1.4" stroke-dasharray="9 5"')).join("");
}

// The names of the laws and of the detection limit, where they cover nothing.
function names(found, asked, across, up, box) {
  const { size, limit, shown, ghost } = asked;
  const site = ground(box);
  const volts = found.voltage_volt;
  const drawn = new Map(); // places across, worked out once for all that is drawn over the same voltages
  const path = (law, over) => {
    if (!drawn.has(over)) drawn.set(over, over.map((v) => (v < -found.span.value ? null : across(v))));
    return drawn.get(over).flatMap((x, k) => (x === null || law.current_ampere[k] === null ? [] : [[x, up(law.current_ampere[k])]]));
  };
  const paths = found.laws.map((law) => path(law, volts));
  for (const one of paths) site.path(one);
  for (const law of ghost?.laws ?? []) site.path(path(law, ghost.voltage_volt));
  for (const law of shown >= 4 ? found.laws : []) {
    for (const edge of [law.low_ampere, law.high_ampere]) site.path(path({ current_ampere: edge }, volts), 1);
  }
  for (const law of shown >= 3 ? found.laws : []) {
    for (const p of law.evidence) site.path([[across(p.voltage.value), up(p.low.value)], [across(p.voltage.value), up(p.high.value)]], 6);
  }
  site.take(box.x, up(0) - size * 1.3, box.x + 15 * size, up(0));
  if (shown >= 6) {
    const x = across(found.voltage.value);
    site.take(x - 3, box.y, x + 3, box.y + box.h);
    for (const law of found.laws) if (law.at_voltage) site.path([[x, up(law.at_voltage.value)]], 9);
  }
  const dashed = limit && shown >= 5 ? [limit.current, -limit.current].map((v) => [[box.x, up(v)], [box.x + box.w, up(v)]]) : [];
  for (const one of dashed) site.path(one, 2);
  let out = "";
  found.laws.forEach((law, n) => {
    const more = `fill="${colour(n)}" class="c-strong c-halo"`;
    out += beside(paths[n], [`${LETTERS[n]}  ${law.clamp}`, LETTERS[n]], site, { size, more, strong: true });
  });
  if (dashed.length) out += beside(dashed[0], [`${limit.instrument} detects ${limit.words}`, limit.words], site, { size, more: 'class="c-halo"', fromRight: true, far: 0.5 });
  return out;
}

function readings(found, across, up, box, offset) {
  const x = across(found.voltage.value);
  const dots = found.laws.map((law, n) =>
    law.at_voltage === null ? "" : `<circle cx="${x}" cy="${up(law.at_voltage.value)}" r="6" fill="none" stroke="${colour(n + offset)}" stroke-width="3"/>`,
  );
  return line(`M${x} ${box.y}V${box.y + box.h}`, 'stroke="var(--accent)" stroke-width="2"') + dots.join("");
}

function mainPanel(found, box, asked, name) {
  const { frame, shown, size } = asked;
  const volts = found.voltage_volt;
  const span = found.span.value;
  const across = signedLog(NEAR, span, 1, box.x, box.x + box.w, 0.9);
  const up = signedLog(frame.linear, frame.negative, frame.positive, box.y + box.h, box.y, 0.7);
  const all = () => true;
  let out = mainAxes(box, frame, span, across, up, size);
  if (shown >= 4) out += found.laws.map((law, n) => band(law, n + asked.offset, volts, across, up, all, name)).join("");
  if (shown >= 5) out += limitLines(asked.limit, box, up);
  if (shown >= 2 && asked.ghost) {
    out += asked.ghost.laws
      .map((law) => line(Object.values(pieces(law, asked.ghost.voltage_volt, across, up, (v) => v >= -span)).join(""), 'stroke="var(--quiet)" stroke-width="1.3" data-ghost="1"'))
      .join("");
  }
  if (shown >= 2) out += found.laws.map((law, n) => lawLine(law, n + asked.offset, volts, across, up, all)).join("");
  if (shown >= 3) out += found.laws.map((law) => evidence(law, across, up, all)).join("");
  if (shown >= 6) out += readings(found, across, up, box, asked.offset);
  if (shown >= 2 && !asked.small) out += names(found, asked, across, up, box);
  return out;
}

function small(found, asked, width, name) {
  const columns = Math.max(1, Math.floor(width / 300));
  const wide = width / columns;
  const tall = 250;
  const top = asked.size * 3.6;
  const cells = found.laws.map((law, n) => {
    const box = { x: (n % columns) * wide + 74, y: top + Math.floor(n / columns) * (tall + 70) + 26, w: wide - 92, h: tall - 30 };
    const one = { ...found, laws: [law] };
    const ghost = asked.ghost && { ...asked.ghost, laws: asked.ghost.laws.slice(n, n + 1) };
    return (
      mainPanel(one, box, { ...asked, ghost, small: true, offset: n }, name) +
      text(box.x, box.y - 20, `${LETTERS[n]}  ${law.clamp}`, 'class="c-strong"')
    );
  });
  return { inside: cells.join(""), height: top + Math.ceil(found.laws.length / columns) * (tall + 70) + 10 };
}

// The heading; what stands in brackets goes on a second line where both are too long for one.
function heading(words, width, size) {
  const [first, second] = words.length * size * 0.72 > width ? words.split(/ (?=\()/) : [words];
  const title = text(8, size * 1.4, first, `font-size="${size * 1.25}" class="c-strong"`);
  return title + (second ? text(8, size * 2.8, second, 'fill="var(--quiet)"') : "");
}

// The whole chart. `asked`: width, height, size (of text), shown (steps), frame, limit, ghost, heading.
export function chart(reply, asked, name = "laws") {
  const found = reply.curves;
  const { width, size } = asked;
  let { height } = asked;
  let inside = "";
  if (found.laws.length > 5) {
    ({ inside, height } = small(found, { ...asked, size: Math.min(size, 13) }, width, name));
  } else {
    const wide = width > 46 * size;
    const left = size * 6.2;
    const top = size * 4.4;
    const bottom = size * 3.2;
    const count = found.laws.length;
    const high = wide ? height - top - bottom : Math.max(300, height * 0.56 - top);
    const main = { x: left, y: top, w: (wide ? width * 0.64 : width - 8) - left, h: high };
    const under = lensHeight(count, 130, size);
    const near = wide
      ? { x: width * 0.64 + size * 6, y: top - size * 1.8, w: width * 0.36 - size * 7.4, h: high + size * 3.4 }
      : { x: left, y: main.y + main.h + size * 5, w: width - left - 16, h: under };
    if (!wide) height = near.y + under;
    inside = mainPanel(found, main, { ...asked, offset: 0 }, name);
    if (asked.shown >= 7) inside += lens(found, reply.words, near, { size, name, shown: asked.shown });
  }
  const style = `.c-small{font-size:${(size * 0.88).toFixed(1)}px}.c-strong{font-weight:700}.c-halo{paint-order:stroke;stroke:var(--paper);stroke-width:5px;stroke-linejoin:round}`;
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${escape(reply.sentence)}" font-family="system-ui, DejaVu Sans, sans-serif" font-size="${size}" fill="var(--ink)">` +
    `<style>${style}</style><defs>${fills(name)}</defs>` +
    `<rect width="${width}" height="${height}" fill="var(--paper)"/>` +
    heading(asked.heading, width, size) +
    `${inside}</svg>`
  );
}
