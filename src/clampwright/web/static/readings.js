// The part that a link leads to is unfolded; on paper every part is.
const parts = [...document.querySelectorAll("details.part, #zeros")];

function unfold() {
  const meant = parts.find((one) => `#${one.id}` === location.hash);
  if (!meant) return;
  meant.open = true;
  meant.scrollIntoView({ block: "start" });
}

let folded = [];
addEventListener("beforeprint", () => {
  folded = parts.filter((one) => !one.open);
  for (const one of folded) one.open = true;
});
addEventListener("afterprint", () => {
  for (const one of folded) one.open = false;
});
addEventListener("hashchange", unfold);
for (const link of document.querySelectorAll("nav.inside a")) link.addEventListener("click", () => setTimeout(unfold)); // also a second time
unfold();
