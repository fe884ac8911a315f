// The drawing of the part with the point of the step lit. It comes from the service as SVG and is
// put into the page itself, so that it takes the page's colours. Without one the page works as well.

import { element } from "./dom.js";

const SVG = "http://www.w3.org/2000/svg";
// What may run, or lead elsewhere, is no part of a drawing.
const FORBIDDEN = "script, foreignObject, iframe, image, style, animate, animateTransform, animateMotion, set";

let wanted = null;

// Drawn anew with every step, and when more of the same part is done.
export function drawing(build, step) {
  const key = build && step ? `${build.id} ${build.steps_done} ${step.id}` : null;
  if (key === wanted) return;
  wanted = key;
  if (key) fetched(key, `/v1/builds/${encodeURIComponent(build.id)}/drawings?inline=true&step=${encodeURIComponent(step.id)}`);
  else show(null);
}

async function fetched(key, path) {
  // The old point must not stay lit while the new one is on its way; its room is kept, so that nothing
  // jumps.
  element("drawing").replaceChildren();
  const found = await asked(path);
  if (key === wanted) show(found);
}

// The drawing; null where there is none, or the service does not answer. Asked for again, a drawing
// comes from the browser's own cache.
async function asked(path) {
  try {
    const response = await fetch(path, { headers: { Accept: "image/svg+xml" } });
    return response.ok ? parsed(await response.text()) : null;
  } catch {
    return null;
  }
}

// Exported for its test.
export function parsed(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (root.namespaceURI !== SVG || root.localName !== "svg") return null;
  for (const one of root.querySelectorAll(FORBIDDEN)) one.remove();
  for (const one of [root, ...root.querySelectorAll("*")]) {
    for (const { name, value } of [...one.attributes]) {
      if (/^on/iu.test(name) || name === "style" || (/href$/iu.test(name) && !value.startsWith("#"))) one.removeAttribute(name);
    }
  }
  return root;
}

function show(root) {
  const frame = element("drawing");
  // Where its frame is higher than it, it stands at the top, beside the words about it.
  root?.setAttribute("preserveAspectRatio", "xMidYMin meet");
  frame.replaceChildren(...(root ? [document.importNode(root, true)] : []));
  frame.hidden = !root;
}
