// Curves of a part: one law at a time with its band and the evidence on top.
import { ask } from "./ask.js";

const section = document.getElementById("curves");
const plot = document.getElementById("plot");
const wiring = document.getElementById("wiring");
const against = document.getElementById("against");
const KELVIN = 273.15;
const TIMES = { voltage: (p) => p.voltage.value, temperature: (p) => p.temperature.value - KELVIN, light: (p) => p.illuminance.value };
const AXES = { voltage: "voltage, anode against cathode (V)", temperature: "temperature (°C)", light: "light (lx)" };
const CONFIG = {
  displaylogo: false,
  showSendToCloud: false,
  showEditInChartStudio: false,
  plotlyServerURL: "",
  responsive: true,
  modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"],
};

const style = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

function traces(curve, view) {
  const x = curve.points.map(TIMES[curve.against]);
  const size = (value) => Math.abs(value ?? NaN) || null;
  const whole = curve.points.filter((p) => p.low.value * p.high.value > 0); // a band across zero has no place here
  const edge = (field) => whole.map((p) => size(p[field].value));
  const line = (more) => ({ x, mode: "lines", hoverinfo: "skip", showlegend: false, ...more });
  const bound = (field, more) => line({ x: whole.map(TIMES[curve.against]), y: edge(field), line: { width: 0, simplify: false }, ...more });
  const sky = style("sky");
  const found = [
    bound("low", {}),
    bound("high", { fill: "tonexty", fillcolor: `${sky}44` }),
    line({ y: curve.points.map((p) => size(p.current.value)), line: { color: style("blue"), width: 2, simplify: false }, hoverinfo: "x+y", name: "law" }),
  ];
  const taken = { temperature: view.evidence, light: view.lit }[curve.against];
  if (taken) {
    const points = taken.filter((p) => p.basis === "measured" || p.basis === "not detected");
    const reach = (p, end) => Math.max(0, p.basis === "measured" ? Math.abs(p[end].value - p.leakage.value) : 0);
    found.push({
      x: points.map(TIMES[curve.against]),
      error_y: { type: "data", symmetric: false, array: points.map((p) => reach(p, "high")), arrayminus: points.map((p) => reach(p, "low")), color: style("ink"), width: 0, thickness: 2 },
      y: points.map((p) => size(p.basis === "measured" ? p.leakage.value : p.high.value)),
      text: points.map((p) => `${p.basis}, ${p.source}`.replaceAll("<", "&lt;")),
      mode: "markers", showlegend: false, hoverinfo: "x+y+text",
      marker: { color: style("ink"), size: 9, symbol: points.map((p) => (p.basis === "measured" ? "circle" : "arrow-down")) },
    });
  }
  return found;
}

function layout(kind) {
  const axis = { gridcolor: style("hairline"), zerolinecolor: style("quiet"), linecolor: style("quiet") };
  return {
    paper_bgcolor: "transparent", plot_bgcolor: "transparent", margin: { l: 80, r: 12, t: 12, b: 52 },
    font: { family: "system-ui, DejaVu Sans, sans-serif", size: 14, color: style("ink") },
    xaxis: { ...axis, title: { text: AXES[kind], font: { size: 14 } }, type: kind === "light" ? "log" : "linear" },
    yaxis: { ...axis, title: { text: "size of the current", font: { size: 14 } }, type: "log", exponentformat: "SI", ticksuffix: "A", dtick: 1 },
    showlegend: false,
  };
}

const part = await ask(`/api/parts/${encodeURIComponent(document.body.dataset.place)}/${encodeURIComponent(section.dataset.part)}`);

function draw() {
  const view = part.wirings.find((one) => one.name === wiring.value);
  const curve = view.curves.find((one) => one.against === against.value);
  document.getElementById("words").textContent = curve ? `${view.name}: ${curve.words}` : "This curve is not known.";
  if (curve) Plotly.react(plot, traces(curve, view), layout(curve.against), CONFIG);
  else Plotly.purge(plot);
  document.body.dataset.drawn = "yes";
}

wiring.addEventListener("change", draw);
against.addEventListener("change", draw);
document.addEventListener("theme", draw);
draw();
