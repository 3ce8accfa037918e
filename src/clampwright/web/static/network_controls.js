// The controls of the network page: what each says, what it was in the sheet, which ones the topology has.

const topology = document.getElementById("topology");
const group = document.getElementById("values");
export const controls = [...document.querySelectorAll("[data-field]")];
const asked = new Map(
  controls.flatMap((control) => {
    const place = control.closest("[data-asked]");
    return place ? [[control, JSON.parse(place.dataset.asked)]] : [];
  }),
);

const sliders = new Map(controls.flatMap((one) => (one.dataset.stops ? [[one, JSON.parse(one.dataset.stops)]] : [])));
const stops = (control) => sliders.get(control) ?? null;

export const named = (field) => controls.find((control) => control.dataset.field === field);

export function text(control) {
  const all = stops(control);
  return all ? all[Number(control.value)] : control.value.trim();
}

export function was(control) {
  const all = stops(control);
  return all ? all[Number(control.dataset.was)] : control.dataset.was;
}

// False where the control has no such stop or choice.
export function set(control, words) {
  const all = stops(control);
  const value = all ? String(all.indexOf(words)) : words;
  if (value === "-1") return false;
  if (control.options && ![...control.options].some((option) => option.value === value)) return false;
  control.value = value;
  return true;
}

export function title(control) {
  const first = control.labels[0].firstChild;
  return first.textContent.trim();
}

export const values = () => Object.fromEntries(controls.map((control) => [control.dataset.field, text(control)]));

const applies = (control) => !asked.has(control) || topology.value in asked.get(control);
const isOfTopology = (control) => /^network\.(values|classes)\./.test(control.dataset.field);
const isDropped = (control) => !applies(control) && isOfTopology(control) && control.dataset.was !== "";

// The elements of an own network state its series resistor: in another topology the sheet must say it itself.
const isLeft = (control) =>
  control.dataset.field === "network.outer_resistor.value" && topology.dataset.was === "own" && topology.value !== "own";

// What differs from the sheet: { field, label, was, now }. A value of a part that the topology has not goes.
export function differences() {
  const found = [];
  for (const control of controls) {
    const now = applies(control) ? text(control) : isDropped(control) ? "" : was(control);
    if (now !== was(control) || isLeft(control)) found.push({ field: control.dataset.field, label: title(control), was: was(control), now });
  }
  return found;
}

export const changes = () => Object.fromEntries(differences().map((one) => [one.field, one.now]));

// What the topology cannot do without and nobody has stated.
export function needed() {
  const open = [...asked].filter(([control, all]) => all[topology.value]?.[2] && !control.value.trim());
  return open.map(([control]) => control);
}

export function label() {
  for (const control of controls) {
    if (!control.dataset.stops) continue;
    control.labels[0].querySelector("output").textContent = text(control);
    control.setAttribute("aria-valuetext", text(control));
  }
  document.getElementById("when").textContent = topology.selectedOptions[0].dataset.when ?? "";
  for (const [control, all] of asked) labelValue(control, all[topology.value]);
  for (const choice of document.querySelectorAll("[data-topology]")) {
    choice.setAttribute("aria-pressed", String(choice.dataset.topology === topology.value));
  }
  sayNeeded();
}

function labelValue(control, words) {
  control.closest(".field").hidden = !words;
  if (!words) return;
  const [name, otherwise, wanted] = words;
  control.labels[0].textContent = name;
  control.required = Boolean(wanted);
  if (control.options) control.options[0].textContent = otherwise;
  else control.placeholder = otherwise;
  control.closest(".field").classList.toggle("changed", control.value.trim() !== control.dataset.was);
}

function sayNeeded() {
  const line = document.getElementById("needed");
  const wanted = needed().map(title);
  const words = wanted.length ? `Needed for ${topology.value}: ${wanted.map((one) => one[0].toLowerCase() + one.slice(1)).join("; ")}.` : "";
  if (words && words !== line.textContent) group.open = true;
  line.textContent = words;
  line.hidden = !words;
  const gone = [...asked.keys()].filter(isDropped).map(title);
  const dropped = document.getElementById("dropped");
  dropped.textContent = `${topology.value} has no such part, so keeping it takes out of the sheet: ${gone.join("; ")}.`;
  dropped.hidden = !gone.length;
}

export function openChanged() {
  if ([...asked.keys()].some((control) => applies(control) && text(control) !== was(control))) group.open = true;
}

// Sentences beside their fields; those of fields that are not in sight are left to the caller. Says whether any found a place.
export function showProblems(fields) {
  let placed = false;
  for (const line of document.querySelectorAll("[data-error]")) {
    const control = named(line.dataset.error);
    const wrong = control && applies(control) ? fields[line.dataset.error] : "";
    line.hidden = !wrong;
    line.textContent = wrong || "";
    line.id ||= `e-${control.id}`;
    if (wrong) {
      control.setAttribute("aria-invalid", "true");
      control.setAttribute("aria-describedby", line.id);
      if (asked.has(control)) group.open = true;
    } else {
      control.removeAttribute("aria-invalid");
      control.removeAttribute("aria-describedby");
    }
    placed ||= Boolean(wrong);
  }
  return placed;
}
