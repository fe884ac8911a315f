// Making and changing what is on the page. Text is only ever set as text.

export function element(id) {
  return document.getElementById(id);
}

export function write(id, text) {
  const node = element(id);
  if (node.textContent !== text) node.textContent = text;
}

export function make(tag, text, className) {
  const node = document.createElement(tag);
  if (text) node.textContent = text;
  if (className) node.className = className;
  return node;
}

// A button. `key` names it for good, so that the focus finds it again after a redraw.
export function button(text, key, act, className = "act quiet") {
  const node = make("button", text, className);
  node.type = "button";
  node.dataset.key = key;
  node.onclick = act;
  return node;
}

export function facts(id, pairs) {
  const said = pairs.filter(([, value]) => value);
  redraw(element(id), said, () => said.flatMap(([name, value]) => [make("dt", name), make("dd", value)]));
}

export function list(id, texts) {
  redraw(element(id), texts, () => texts.map((text) => make("li", text)));
}

export function focusOn(key) {
  document.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
}

const drawn = new WeakMap();

// Draws a node's children anew only where what they say has changed, and gives the focus back: a
// press in the middle of the keyboard's way to a button must not throw it to the top of the page.
// Whether it drew.
export function redraw(node, said, build) {
  const signature = JSON.stringify(said);
  if (drawn.get(node) === signature) return false;
  drawn.set(node, signature);
  const had = node.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  node.replaceChildren(...build());
  if (had) focusOn(had);
  return true;
}

const SVG = "http://www.w3.org/2000/svg";

// A node of a drawing, with its attributes.
export function draw(tag, attributes, ...children) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value));
  node.append(...children);
  return node;
}
