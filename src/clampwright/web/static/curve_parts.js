// Pieces of the chart of laws: colours, text, axes, and how a law, its band and its readings are drawn.

const COLOURS = ["blue", "vermilion", "purple", "orange", "ink"];
const PREFIXES = { "-15": "f", "-12": "p", "-9": "n", "-6": "µ", "-3": "m", 0: "", 3: "k" };
export const LETTERS = "ABCDEFGHI";
export const colour = (n) => `var(--${COLOURS[n % COLOURS.length]})`;

export function escape(text) {
  return String(text).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
}

export function engineering(value, unit) {
  if (value === 0) return `0 ${unit}`;
  const power = Math.min(3, Math.max(-15, 3 * Math.floor(Math.log10(Math.abs(value) * 1.0000001) / 3)));
  const number = Number((value / 10 ** power).toPrecision(3));
  return `${value > 0 ? "+" : "−"}${Math.abs(number)} ${PREFIXES[power]}${unit}`;
}

// Place on a symmetric axis: `plain` units wide inside ±linear, then one unit a decade.
export function signedLog(linear, negative, positive, from, to, plain = 1) {
  const units = (v) => {
    const size = Math.abs(v) / linear;
    return Math.sign(v) * (size <= 1 ? plain * size : plain + Math.log10(size));
  };
  const low = units(-negative);
  const span = units(positive) - low;
  return (v) => from + ((units(Math.min(Math.max(v, -negative), positive)) - low) / span) * (to - from);
}

export const straight = (low, high, from, to) => (v) => from + ((v - low) / (high - low)) * (to - from);
export const text = (x, y, words, more = "") => `<text x="${x.toFixed(1)}" y="${y.toFixed(1)}" ${more}>${escape(words)}</text>`;
export const line = (path, more) => `<path d="${path}" fill="none" ${more}/>`;

const isCovered = (law, v) => law.covered_from_volt !== null && v >= law.covered_from_volt && v <= law.covered_to_volt;

export function pieces(law, volts, across, up, inside) {
  const paths = { covered: "", beyond: "" };
  let last = null;
  volts.forEach((v, n) => {
    const i = law.current_ampere[n];
    if (i === null || !inside(v)) {
      last = null;
      return;
    }
    const here = `${across(v).toFixed(1)} ${up(i).toFixed(1)}`;
    const covered = isCovered(law, v);
    if (last !== null) {
      const kind = covered && last.covered ? "covered" : "beyond";
      paths[kind] += last.kind === kind ? `L${here}` : `M${last.here}L${here}`;
      last = { here, covered, kind };
    } else last = { here, covered, kind: "" };
  });
  return paths;
}

export function lawLine(law, n, volts, across, up, inside) {
  const paths = pieces(law, volts, across, up, inside);
  const stroke = `stroke="${colour(n)}" stroke-linecap="round"`;
  return (
    line(paths.covered, `${stroke} stroke-width="2.6" data-law="${n}"`) +
    line(paths.beyond, `${stroke} stroke-width="2.2" stroke-dasharray="0.5 5" data-law="${n}"`)
  );
}

// The band: filled where readings reach, dotted where the law is only continued, hatched if assumed.
export function band(law, n, volts, across, up, inside, name) {
  const assumed = law.basis === "assumed" || law.basis === "maximum";
  const fills = {
    covered: `fill="${colour(n)}" fill-opacity="0.16"`,
    beyond: `fill="url(#${name}-${assumed ? "hatch" : "dots"}${n % 5})" data-beyond="1"`,
  };
  const runs = [];
  volts.forEach((v, k) => {
    if (law.low_ampere[k] === null || !inside(v)) return;
    const kind = isCovered(law, v) ? "covered" : "beyond";
    const edge = { x: across(v).toFixed(1), high: up(law.high_ampere[k]).toFixed(1), low: up(law.low_ampere[k]).toFixed(1) };
    const last = runs.at(-1);
    if (last?.kind === kind) last.edges.push(edge);
    else {
      if (last && kind === "beyond") runs.push({ kind, edges: [last.edges.at(-1), edge] });
      else {
        last?.edges.push(edge);
        runs.push({ kind, edges: [edge] });
      }
    }
  });
  return runs
    .map(({ kind, edges }) => {
      const ahead = edges.map((e) => `${e.x},${e.high}`);
      const back = edges.map((e) => `${e.x},${e.low}`).reverse();
      return `<polygon points="${[...ahead, ...back].join(" ")}" ${fills[kind]}/>`;
    })
    .join("");
}

export function evidence(law, across, up, inside) {
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

// The fills that bands ask for by name.
export function fills(name) {
  const turned = 'patternUnits="userSpaceOnUse" patternTransform="rotate(45)"';
  return COLOURS.map(
    (c, n) =>
      `<pattern id="${name}-hatch${n}" width="7" height="7" ${turned}><path d="M0 0V7" stroke="var(--${c})" stroke-width="1.2" stroke-opacity="0.6"/></pattern>` +
      `<pattern id="${name}-dots${n}" width="6" height="6" ${turned}><circle cx="3" cy="3" r="1" fill="var(--${c})" fill-opacity="0.75"/></pattern>`,
  ).join("");
}
