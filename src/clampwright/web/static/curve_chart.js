// Clamp laws as one SVG text: signed-log axes whose plain middle is marked, and ±10 mV magnified.

const NEAR = 0.01; // [V] plain inside, magnified beside
const COLOURS = ["blue", "vermilion", "purple", "orange", "ink"];
const PREFIXES = { "-15": "f", "-12": "p", "-9": "n", "-6": "µ", "-3": "m", 0: "", 3: "k" };
export const LETTERS = "ABCDEFGHI";
export const colour = (n) => `var(--${COLOURS[n % COLOURS.length]})`;

export function escape(text) {
  return String(text).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
}

function engineering(value, unit) {
  if (value === 0) return `0 ${unit}`;
  const power = Math.min(3, Math.max(-15, 3 * Math.floor(Math.log10(Math.abs(value) * 1.0000001) / 3)));
  const number = Number((value / 10 ** power).toPrecision(3));
  return `${value > 0 ? "+" : "−"}${Math.abs(number)} ${PREFIXES[power]}${unit}`;
}

// Place on a symmetric axis: `plain` units wide inside ±linear, then one unit a decade.
function signedLog(linear, negative, positive, from, to, plain = 1) {
  const units = (v) => {
    const size = Math.abs(v) / linear;
    return Math.sign(v) * (size <= 1 ? plain * size : plain + Math.log10(size));
  };
  const low = units(-negative);
  const span = units(positive) - low;
  return (v) => from + ((units(Math.min(Math.max(v, -negative), positive)) - low) / span) * (to - from);
}

const straight = (low, high, from, to) => (v) => from + ((v - low) / (high - low)) * (to - from);
const text = (x, y, words, more = "") => `<text x="${x.toFixed(1)}" y="${y.toFixed(1)}" ${more}>${escape(words)}</text>`;
const line = (path, more) => `<path d="${path}" fill="none" ${more}/>`;

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

function pieces(law, volts, across, up, inside) {
  const paths = { covered: "", beyond: "" };
  let last = null;
  volts.forEach((v, n) => {
    const i = law.current_ampere[n];
    if (i === null || !inside(v)) {
      last = null;
      return;
    }
    const here = `${across(v).toFixed(1)} ${up(i).toFixed(1)}`;
    const covered = law.covered_from_volt !== null && v >= law.covered_from_volt && v <= law.covered_to_volt;
    if (last !== null) {
      const kind = covered && last.covered ? "covered" : "beyond";
      paths[kind] += last.kind === kind ? `L${here}` : `M${last.here}L${here}`;
      last = { here, covered, kind };
    } else last = { here, covered, kind: "" };
  });
  return paths;
}

function lawLine(law, n, volts, across, up, inside) {
  const paths = pieces(law, volts, across, up, inside);
  const stroke = `stroke="${colour(n)}" stroke-linecap="round"`;
  return (
    line(paths.covered, `${stroke} stroke-width="2.6" data-law="${n}"`) +
    line(paths.beyond, `${stroke} stroke-width="2.2" stroke-dasharray="0.5 5" data-law="${n}"`)
  );
}

function band(law, n, volts, across, up, inside, name) {
  const ahead = [];
  const back = [];
  volts.forEach((v, k) => {
    if (law.low_ampere[k] === null || !inside(v)) return;
    ahead.push(`${across(v).toFixed(1)},${up(law.high_ampere[k]).toFixed(1)}`);
    back.unshift(`${across(v).toFixed(1)},${up(law.low_ampere[k]).toFixed(1)}`);
  });
  if (!ahead.length) return "";
  const assumed = law.basis === "assumed" || law.basis === "maximum";
  const fill = assumed ? `fill="url(#${name}-hatch${n % 5})"` : `fill="${colour(n)}" fill-opacity="0.16"`;
  return `<polygon points="${ahead.join(" ")} ${back.join(" ")}" ${fill}/>`;
}

function evidence(law, across, up, inside) {
  return law.evidence
    .filter((p) => inside(p.voltage.value))
    .map((p) => {
      const x = across(p.voltage.value);
      const faint = p.here ? "" : ' opacity="0.3"';
      const about = `<title>${escape(`${law.clamp}: ${p.basis}, ${p.source}`)}</title>`;
      if (p.basis === "not detected") {
        const bound = Math.abs(p.low.value) > Math.abs(p.high.value) ? p.low.value : p.high.value;
        const y = up(bound);
        const turn = bound < 0 ? -1 : 1;
        return `<g${faint} stroke="var(--ink)" stroke-width="1.8">${about}${line(`M${x - 6} ${y}h12M${x} ${y}v${16 * turn}m-4 ${-6 * turn}l4 ${6 * turn}l4 ${-6 * turn}`, "")}</g>`;
      }
      const bar = p.here ? line(`M${x} ${up(p.low.value)}V${up(p.high.value)}`, 'stroke="var(--ink)" stroke-width="1.8"') : "";
      return `<g${faint} class="reading">${about}${bar}<circle cx="${x}" cy="${up(p.current.value)}" r="4.5" fill="var(--ink)" stroke="var(--paper)" stroke-width="1.5"/></g>`;
    })
    .join("");
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

function names(laws, volts, across, up, box, size) {
  const places = laws.map((law, n) => {
    const k = law.current_ampere.findIndex((i) => i !== null);
    return { n, x: Math.max(across(volts[Math.max(k, 0)]), box.x) + 8, y: up(law.current_ampere[Math.max(k, 0)] ?? 0) - 8, clamp: law.clamp };
  });
  places.sort((a, b) => a.y - b.y);
  places.forEach((p, n) => {
    if (n) p.y = Math.max(p.y, places[n - 1].y + size * 1.25);
  });
  const over = places.length ? places.at(-1).y - (box.y + box.h - 6) : 0;
  return places
    .map((p) => text(p.x, p.y - Math.max(over, 0), `${LETTERS[p.n]}  ${p.clamp}`, `fill="${colour(p.n)}" class="c-strong c-halo"`))
    .join("");
}

function limitLines(limit, box, up, size) {
  if (!limit) return "";
  const ends = [limit.current, -limit.current].map((v) => line(`M${box.x} ${up(v)}H${box.x + box.w}`, 'stroke="var(--ink)" stroke-width="1.4" stroke-dasharray="9 5"'));
  const words = `${limit.instrument} detects ${limit.words}`;
  return ends.join("") + text(box.x + box.w - 6, up(limit.current) - size * 0.4, words, 'text-anchor="end" class="c-halo"');
}

function readings(found, across, up, box, offset) {
  const x = across(found.voltage.value);
  const dots = found.laws.map((law, n) =>
    law.at_voltage === null ? "" : `<circle cx="${x}" cy="${up(law.at_voltage.value)}" r="6" fill="none" stroke="${colour(n + offset)}" stroke-width="3"/>`,
  );
  return line(`M${x} ${box.y}V${box.y + box.h}`, 'stroke="var(--accent)" stroke-width="2"') + dots.join("");
}

function nice(value) {
  const decade = 10 ** Math.floor(Math.log10(value));
  return [1, 2, 5, 10].map((m) => m * decade).find((v) => v >= value * 0.999);
}

// ±10 mV on plain axes; the first law sets the scale, others may leave the frame.
function lens(found, words, box, size, name, shown) {
  const volts = found.voltage_volt;
  const inside = (v) => Math.abs(v) <= NEAR * 1.001;
  const first = found.laws[0];
  const sizes = volts.map((v, n) => (inside(v) ? Math.abs(first.current_ampere[n]) : 0));
  const reach = nice(Math.max(...sizes, 1e-18) * 1.15);
  const across = straight(-NEAR, NEAR, box.x, box.x + box.w);
  const up = straight(-reach, reach, box.y + box.h, box.y);
  let out = `<clipPath id="${name}-lens"><rect x="${box.x}" y="${box.y}" width="${box.w}" height="${box.h}"/></clipPath>`;
  out += `<rect x="${box.x}" y="${box.y}" width="${box.w}" height="${box.h}" fill="var(--shade)" opacity="0.45"/>`;
  for (const value of [-reach, 0, reach]) {
    out += line(`M${box.x} ${up(value)}h${box.w}`, `stroke="var(--${value === 0 ? "quiet" : "hairline"})"`);
    out += text(box.x - 6, up(value) + size * 0.35, engineering(value, "A"), 'text-anchor="end"');
  }
  for (const value of [-NEAR, 0, NEAR]) {
    out += line(`M${across(value)} ${box.y}v${box.h}`, `stroke="var(--${value === 0 ? "quiet" : "hairline"})"`);
    const anchor = { [-NEAR]: "start", 0: "middle", [NEAR]: "end" }[value];
    out += text(across(value), box.y + box.h + size * 1.3, engineering(value, "V"), `text-anchor="${anchor}"`);
  }
  out += text(box.x, box.y - size * 0.6, "±10 mV magnified, plain axes", 'class="c-strong"');
  out += `<g clip-path="url(#${name}-lens)">`;
  found.laws.forEach((law, n) => {
    if (shown >= 4) out += band(law, n, volts, across, up, inside, name);
    const slope = 1 / (law.zero_bias_resistance.value ?? Infinity);
    const zero = law.current_at_zero.value;
    out += line(`M${across(-NEAR)} ${up(zero - slope * NEAR)}L${across(NEAR)} ${up(zero + slope * NEAR)}`, `stroke="${colour(n)}" stroke-width="1.2" stroke-dasharray="6 4"`);
    out += lawLine(law, n, volts, across, up, inside);
    if (shown >= 3) out += evidence(law, across, up, inside);
  });
  out += "</g>";
  words.forEach((one, n) => {
    out += text(box.x + 8, box.y + size * 1.4 * (n + 1), `${LETTERS[n]}  slope ${one.zero_bias_resistance}`, `fill="${colour(n)}" class="c-strong c-halo"`);
  });
  return `<g data-part="lens">${out}</g>`;
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
  if (shown >= 5) out += limitLines(asked.limit, box, up, size);
  if (shown >= 2 && asked.ghost) {
    out += asked.ghost.laws
      .map((law) => line(Object.values(pieces(law, asked.ghost.voltage_volt, across, up, (v) => v >= -span)).join(""), 'stroke="var(--quiet)" stroke-width="1.3" data-ghost="1"'))
      .join("");
  }
  if (shown >= 2) out += found.laws.map((law, n) => lawLine(law, n + asked.offset, volts, across, up, all)).join("");
  if (shown >= 3) out += found.laws.map((law) => evidence(law, across, up, all)).join("");
  if (shown >= 6) out += readings(found, across, up, box, asked.offset);
  if (shown >= 2 && !asked.small) out += names(found.laws, volts, across, up, box, size);
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

// The whole chart. `asked`: width, height, size (of text), shown (steps), frame, limit, ghost, heading.
export function chart(reply, asked, name = "laws") {
  const found = reply.curves;
  const { width, size } = asked;
  let { height } = asked;
  let inside = "";
  if (found.laws.length > 5) {
    ({ inside, height } = small(found, { ...asked, size: Math.min(size, 13) }, width, name));
  } else {
    const beside = width > 46 * size;
    const left = size * 6.2;
    const top = size * 4.4;
    const bottom = size * 3.2;
    const main = { x: left, y: top, w: (beside ? width * 0.64 : width - 8) - left, h: beside ? height - top - bottom : height * 0.56 - top };
    const near = beside
      ? { x: width * 0.64 + size * 6, y: top, w: width * 0.36 - size * 8.6, h: height - top - bottom }
      : { x: left, y: main.y + main.h + size * 6, w: width - left - 16, h: height * 0.44 - size * 8 };
    inside = mainPanel(found, main, { ...asked, offset: 0 }, name);
    if (asked.shown >= 7) inside += lens(found, reply.words, near, size, name, asked.shown);
  }
  const hatches = COLOURS.map((c, n) => `<pattern id="${name}-hatch${n}" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V7" stroke="var(--${c})" stroke-width="1.2" stroke-opacity="0.6"/></pattern>`);
  const style = `.c-small{font-size:${(size * 0.88).toFixed(1)}px}.c-strong{font-weight:700}.c-halo{paint-order:stroke;stroke:var(--paper);stroke-width:5px;stroke-linejoin:round}`;
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" role="img" aria-label="${escape(reply.sentence)}" font-family="system-ui, DejaVu Sans, sans-serif" font-size="${size}" fill="var(--ink)">` +
    `<style>${style}</style><defs>${hatches.join("")}</defs>` +
    `<rect width="${width}" height="${height}" fill="var(--paper)"/>` +
    text(8, size * 1.4, asked.heading, `font-size="${size * 1.25}" class="c-strong"`) +
    `${inside}</svg>`
  );
}
