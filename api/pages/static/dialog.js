// The one dialog, filled anew for each question. It asks and waits:
//
//   const said = await ask({ label, what, fields, act });   // the values, BACK, or null: left
//
// `act(values)` does what was asked for; while it fails the dialog stays and says why. A flow of
// several questions keeps the dialog open from one to the next. Enter moves on.
//
// `still`: nothing that can be pressed has the focus when it opens.
//
// `ready` are reasons at hand: one touch fills in the field called "reason" and records it. From
// the keyboard the arrows go through them in the field, and Enter records. { by, reasons(value) }: they
// follow from what is chosen in the field `by`, and are offered once it is.

import { element, focusOn, make } from "./dom.js";
import { read, render } from "./fields.js";
import { t } from "./labels.js";

export const BACK = Symbol("back");

let settle = null;

function answer(value) {
  const done = settle;
  settle = null;
  done?.(value);
}

// Answers the question from outside of the dialog.
export function conclude(value) {
  answer(value);
}

// Says in the dialog what was wrong.
export function trouble(text) {
  element("ask-problem").textContent = text;
}

// Runs questions one after the other, and closes the dialog at the end.
export async function flow(questions) {
  const key = document.activeElement?.dataset?.key;
  try {
    await questions();
  } finally {
    element("ask").close();
    // What opened it may have been drawn anew meanwhile.
    if (key && document.activeElement === document.body) focusOn(key);
  }
}

export function ask({ label, what = "", content = [], fields = [], choices = [], ready = [], act = null, done = t("bench.ask.do"), leave = t("bench.ask.leave"), back = false, still = false }) {
  const form = element("ask-form");
  element("ask-label").textContent = label;
  element("ask-what").textContent = what;
  element("ask-problem").textContent = "";
  element("ask-fields").replaceChildren(...content, ...fields.flatMap(render), ...choices.map(choice));
  form.onchange = ready.by ? () => offer(ready.reasons(form.elements[ready.by].value), form) : null;
  if (ready.length) offer(ready, form);
  called("ask-do", choices.length ? null : done);
  called("ask-leave", leave);
  called("ask-back", back ? t("bench.ask.back") : null);
  element("ask-leave").onclick = () => answer(null);
  element("ask-back").onclick = () => answer(BACK);
  form.oninput = () => { element("ask-problem").textContent = ""; };
  form.onsubmit = (event) => {
    event.preventDefault();
    submitted(fields, act, event.submitter?.dataset.choice);
  };
  const dialog = element("ask");
  dialog.onclose = () => answer(null);
  if (!dialog.open) dialog.showModal();
  dialog.scrollTop = 0;
  (still ? element("ask-label") : first(dialog)).focus();
  return new Promise((resolve) => { settle = resolve; });
}

function first(dialog) {
  const found = dialog.querySelector("#ask-fields :is(input, select)") ?? dialog.querySelector("#ask-fields button");
  return found?.type === "radio" ? dialog.querySelector(`#ask-fields input[name="${CSS.escape(found.name)}"]:checked`) ?? found : found ?? element("ask-do");
}

function offer(ready, form) {
  const field = element("ask-reason");
  element("ask-ready")?.nextElementSibling.remove();
  element("ask-ready")?.remove();
  const row = make("div", "", "ready");
  row.append(...ready.map((text) => {
    const node = make("button", text, "act quiet");
    node.type = "button";
    node.onclick = () => { field.value = text; form.requestSubmit(element("ask-do")); };
    return node;
  }));
  const said = make("p", t("bench.ask.ready"), "hint");
  said.id = "ask-ready";
  field.setAttribute("aria-describedby", said.id);
  field.labels[0].before(said, row);
  let at = -1;
  field.onkeydown = (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    at = (at + step + (at < 0 && step < 0 ? 1 : 0) + ready.length) % ready.length;
    field.value = ready[at];
  };
}

function called(id, text) {
  element(id).textContent = text ?? "";
  element(id).hidden = !text;
}

function choice([value, text]) {
  const node = make("button", text, "act");
  node.dataset.choice = value;
  return node;
}

async function submitted(fields, act, chosen) {
  const problem = element("ask-problem");
  const button = element("ask-do");
  if (button.disabled) return;
  const asked = settle;
  button.disabled = true;
  problem.textContent = "";
  try {
    const values = chosen ? { chosen } : read(fields);
    const answered = act ? await act(values) : values;
    // It may have been left meanwhile, and another question asked.
    if (settle === asked) answer(answered ?? values);
  } catch (error) {
    if (settle === asked) {
      problem.textContent = error.message;
      error.node?.focus();
    }
  } finally {
    button.disabled = false;
  }
}
