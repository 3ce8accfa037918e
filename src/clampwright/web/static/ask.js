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
  if (!answer.ok) {
    throw Object.assign(new Error(found.error ?? answer.statusText), {
      fields: found.fields ?? {},
      status: answer.status,
    });
  }
  return found;
}

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
