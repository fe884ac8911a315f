// Keys that were held back and turned out to be a person's: done as the browser would have done.

const FIELD = "textarea, input:not([type=radio], [type=checkbox], [type=button], [type=submit])";

// Whether what is typed now is written somewhere.
export function inText() {
  return document.activeElement?.matches(FIELD) ?? false;
}

// The same, or chooses among tiles as in a field (leaves.js).
export function inField() {
  return inText() || Boolean(document.activeElement?.closest("[data-typed]"));
}

export function replay(keys) {
  for (const one of keys) again(one);
}

function again({ key, code }) {
  const at = document.activeElement ?? document.body;
  const event = new KeyboardEvent("keydown", { key, code, bubbles: true, cancelable: true });
  if (!at.dispatchEvent(event)) return;
  if (key === "Enter") enter(at);
  else if (key === "Tab") return;
  else if (at.matches(FIELD)) insert(at, key);
  else if (key === " ") space(at);
}

function insert(field, text) {
  // Undoing works, and the field hears of it. Old as it is, nothing else does both.
  if (document.execCommand("insertText", false, text)) return;
  field.setRangeText(text, field.selectionStart, field.selectionEnd, "end");
  field.dispatchEvent(new InputEvent("input", { bubbles: true, data: text, inputType: "insertText" }));
}

function enter(at) {
  if (at.matches("button, a, summary")) at.click();
  else if (at.form) at.form.requestSubmit(at.form.querySelector("button:not([type=button], [hidden])"));
}

function space(at) {
  if (at.matches("button, summary, input")) at.click();
  else scrollBy({ top: innerHeight * 0.85 });
}
