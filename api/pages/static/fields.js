// The fields of a question: text, a number, or tiles to choose from. Each is
// { name, label, kind: "text" | "number" | "tiles", options: [[value, text]], value, hint, optional,
//   stacks, typed }.
// Tiles are radio buttons, `typed` ones can be chosen by typing what stands on them; where the field `stacks`, a switch makes them checkboxes, and the value
// is a list in either case.

import { make } from "./dom.js";
import { t } from "./labels.js";
import { DECIMAL, pointed } from "./numbers.js";
import { typedTiles } from "./typedtiles.js";

export class Missing extends Error {
  constructor(message, node) {
    super(message);
    this.node = node;
  }
}

export function render(field) {
  return field.kind === "tiles" ? tiles(field) : line(field);
}

// What was entered, by name. Raises Missing, with the field to mend.
export function read(fields) {
  return Object.fromEntries(fields.map((field) => [field.name, value(field)]));
}

function line({ name, label, value: given = "", hint, kind }) {
  const input = make("input");
  Object.assign(input, { id: `ask-${name}`, name, autocomplete: "off", maxLength: 400, value: given });
  if (kind === "number") input.inputMode = "decimal";
  const said = make("label", label);
  said.htmlFor = input.id;
  if (!hint) return [said, input];
  const note = make("p", hint, "hint");
  note.id = `${input.id}-hint`;
  input.setAttribute("aria-describedby", note.id);
  return [said, note, input];
}

function tiles({ name, label, options, value: given, hint, stacks, typed, wide }) {
  const set = make("fieldset");
  set.id = `ask-${name}`;
  const row = make("div", "", wide ? "tiles wide" : "tiles");
  row.append(...options.map(([option, text]) => tile(name, option, text, option === given)));
  set.append(make("legend", label));
  if (hint) set.append(make("p", hint, "hint"));
  set.append(row);
  if (stacks) set.append(stacker(set));
  if (typed) typedTiles(set);
  return [set];
}

function tile(name, value, text, checked) {
  const node = make("label", "", "tile");
  const input = make("input");
  Object.assign(input, { type: "radio", name, value, checked });
  node.append(input, make("span", text));
  return node;
}

function stacker(set) {
  const node = make("label", "", "stacker");
  const input = make("input");
  input.type = "checkbox";
  input.onchange = () => {
    for (const one of set.querySelectorAll(".tile input")) {
      const kept = one.checked && (one.value || !input.checked);
      one.type = input.checked ? "checkbox" : "radio";
      one.checked = Boolean(kept);
    }
  };
  node.append(input, make("span", t("bench.ask.stacked")));
  return node;
}

function value(field) {
  return field.kind === "tiles" ? chosen(field) : written(field);
}

function chosen({ name, stacks }) {
  const set = document.getElementById(`ask-${name}`);
  const found = [...set.querySelectorAll(".tile input:checked")].map((one) => one.value);
  const first = set.querySelector("input");
  if (found.length === 0) throw new Missing(t("bench.ask.choose"), first);
  if (found.length > 1 && found.includes("")) throw new Missing(t("bench.ask.choose_leaves"), first);
  return stacks ? found.filter(Boolean) : found[0];
}

function written({ name, label, kind, optional }) {
  const input = document.getElementById(`ask-${name}`);
  const text = kind === "number" ? pointed(input.value.trim()) : input.value.trim();
  if (!text && !optional) throw new Missing(t("bench.ask.write", { label }), input);
  if (text && kind === "number" && !DECIMAL.test(text)) {
    throw new Missing(t("bench.ask.write_number", { label }), input);
  }
  return text || null;
}
