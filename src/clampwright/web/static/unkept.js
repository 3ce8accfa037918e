// Changes of the Network page that are not kept yet: they stay in this tab, by place and design, with the
// sheet they were made on. Each is { field, label, was, now }, texts as in the sheet.

const key = () => `clampwright-unkept:${document.body.dataset.place}/${document.body.dataset.design}`;

const stepsKey = () => key().replace("unkept", "steps");

export function unkept() {
  try {
    return JSON.parse(sessionStorage.getItem(key()));
  } catch {
    return null; // no storage, or not ours: nothing is kept for this tab
  }
}

export function remember(changes, more = {}) {
  try {
    if (!changes.length) sessionStorage.removeItem(key());
    else sessionStorage.setItem(key(), JSON.stringify({ base: document.body.dataset.hash, changes, ...more }));
  } catch {
    // no storage: the changes live as long as the page
  }
}

// What undo comes back to outlives keeping: it is taken up by the page that is loaded next.
export function rememberSteps(steps) {
  try {
    sessionStorage.setItem(stepsKey(), JSON.stringify(steps));
  } catch {
    // no storage: undo begins anew
  }
}

export function stepsBefore() {
  try {
    const found = JSON.parse(sessionStorage.getItem(stepsKey()));
    sessionStorage.removeItem(stepsKey());
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

export const counted = (many) => `${many} change${many === 1 ? "" : "s"}`;

// On the other pages of this design one quiet line says that they do not show these changes.
function sayUnkept() {
  const line = document.getElementById("unkept");
  const found = unkept();
  if (!line || !found || found.base !== document.body.dataset.hash || document.getElementById("keep")) return;
  line.querySelector("span").textContent = counted(found.changes.length);
  line.lastChild.textContent = found.changes.length === 1 ? " is not kept." : " are not kept.";
  line.hidden = false;
}

sayUnkept();
