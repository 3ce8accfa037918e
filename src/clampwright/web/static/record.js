// The record page: keep the record of these inputs under the next number.
import { ask, designPath, sayProblem } from "./ask.js";

const keep = document.getElementById("keep-record");
keep?.addEventListener("click", async () => {
  keep.disabled = true;
  sayProblem(null);
  try {
    await ask(designPath("records"), "POST");
    location.assign(location.pathname);
  } catch (error) {
    sayProblem(error);
    keep.disabled = false;
  }
});
