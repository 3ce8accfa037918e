// Ask the server and give back JSON; a refusal comes as an Error with its fields.

export async function ask(path, method = "GET", body = undefined, signal = undefined) {
  const given = { method, signal, headers: {} };
  if (body !== undefined) {
    given.headers["content-type"] = "application/json";
    given.body = JSON.stringify(body);
  }
  const answer = await fetch(path, given);
  const text = await answer.text();
  let found;
  try {
    found = JSON.parse(text);
  } catch {
    found = { error: text };
  }
  if (!answer.ok) throw refusal({ error: answer.statusText, ...found, status: answer.status });
  return found;
}

export const refusal = (found) =>
  Object.assign(new Error(found.error), { fields: found.fields ?? {}, status: found.status });

export function designPath(ending) {
  const { place, design } = document.body.dataset;
  return `/api/designs/${encodeURIComponent(place)}/${encodeURIComponent(design)}/${ending}`;
}

export function sayProblem(error) {
  const line = document.getElementById("problem");
  if (!line) return;
  line.hidden = !error;
  line.textContent = error ? error.message : "";
}

// HTML takes the place of what was there; whoever made it, server or page, has escaped every text in it.
export function put(place, html, ...after) {
  const drawn = document.createElement("template");
  drawn.innerHTML = html;
  place.replaceChildren(drawn.content, ...after);
}

// One `work` is under way at a time; calls meanwhile make one more after it: only the last move counts.
// Gives true to the call that did the work.
export function latest(work) {
  let busy = false;
  let again = false;
  return async () => {
    again = true;
    if (busy) return false;
    busy = true;
    try {
      while (again) {
        again = false;
        await work();
      }
    } finally {
      busy = false;
    }
    return true;
  };
}
