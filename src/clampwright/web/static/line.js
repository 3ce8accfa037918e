// A line to the server that stays open: an answer over it comes several times sooner than one to a request
// of its own. It is opened when a hand comes near the controls. One question is under way at a time; while
// the line is not open, the same is asked by request.
import { refusal } from "./ask.js";

const AGAIN = 2000; // [ms] before a line that broke is tried again

export function openLine(near, path, byRequest) {
  let socket = null;
  let waiting = null;
  let broken = -AGAIN;

  function open() {
    if (socket || performance.now() - broken < AGAIN) return;
    socket = new WebSocket(path);
    socket.addEventListener("message", (event) => waiting?.done(event.data));
    socket.addEventListener("close", () => {
      socket = null;
      broken = performance.now();
      waiting?.broke();
    });
  }

  const overLine = (body) => new Promise((done, broke) => {
    waiting = { done, broke };
    socket.send(JSON.stringify(body));
  }).finally(() => (waiting = null));

  for (const kind of ["pointerenter", "focusin"]) near.addEventListener(kind, open);
  return async (body) => {
    if (socket?.readyState === WebSocket.OPEN) {
      const text = await overLine(body).catch(() => null);
      if (text !== null) {
        const found = JSON.parse(text);
        if (found.error) throw refusal(found);
        return found;
      }
    } else open();
    return byRequest(body);
  };
}
