// What stands on the page becomes what the server drew anew. Elements that are the same in both stay, so
// that they are not styled, laid out and painted again, and keep the focus, the words marked in them and
// whether they are open.

export function renew(place, html) {
  const drawn = document.createElement("template");
  drawn.innerHTML = html;
  renewChildren(place, drawn.content);
}

function renewChildren(place, wanted) {
  const [there, fresh] = [[...place.childNodes], [...wanted.childNodes]];
  fresh.forEach((node, n) => {
    if (n < there.length) renewNode(there[n], node);
    else place.append(node);
  });
  for (const node of there.slice(fresh.length)) node.remove();
}

function renewNode(there, wanted) {
  if (there.isEqualNode(wanted) || saysTheSame(there, wanted)) return;
  if (there.nodeName !== wanted.nodeName) there.replaceWith(wanted);
  else if (there.nodeType === Node.ELEMENT_NODE) {
    renewAttributes(there, wanted);
    renewChildren(there, wanted);
  } else there.data = wanted.data;
}

// Words of the trade that were marked since (see glossary.js) make no difference.
const saysTheSame = (there, wanted) =>
  there.textContent === wanted.textContent && there.querySelector?.(":scope > .term") && !wanted.childElementCount;

function renewAttributes(there, wanted) {
  for (const { name } of [...there.attributes]) {
    if (!wanted.hasAttribute(name) && name !== "open") there.removeAttribute(name);
  }
  for (const { name, value } of wanted.attributes) {
    if (there.getAttribute(name) !== value) there.setAttribute(name, value);
  }
}
