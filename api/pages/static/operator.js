// Who is at the bench: shown, chosen, or told by a badge.

import { ask, conclude, flow, trouble } from "./dialog.js";
import { element, write } from "./dom.js";
import { t } from "./labels.js";
import { now } from "./now.js";
import * as service from "./service.js";
import { say } from "./message.js";
import * as tone from "./tone.js";

// Whether the question who is there is open.
let asking = false;

export function open() {
  element("who").onclick = () => change();
}

export function draw({ operator }) {
  write("who", operator ? t("hands.who.at_bench", { name: operator }) : t("hands.who.nobody"));
  element("who").dataset.known = operator ? "yes" : "no";
}

// Whether somebody at this bench has a badge.
export function badges() {
  return (now().operators ?? []).some((one) => one.badge);
}

// Who has this badge; null where nobody has it.
export function bearer(text) {
  const badge = text.trim();
  return (badge && (now().operators ?? []).find((one) => one.badge === badge)?.name) ?? null;
}

// A badge was scanned into this page. It answers the question who is there, where that is open.
export async function scanned(badge) {
  try {
    const { operator } = await set({ badge });
    say(t("hands.who.now", { name: operator }));
    if (asking) conclude(null);
  } catch (error) {
    const why = service.plainly(error);
    refused(why);
    answers(why);
  }
}

// Says in the open question what came of a scan; false where it is not open.
export function answers(why) {
  if (asking) trouble(why);
  return asking;
}

// What came of a scan at the service's own badge scanner.
export function told({ result, detail, operator }) {
  if (result !== "done" && result !== "nothing") {
    refused(`${detail}.`);
    answers(`${detail}.`);
    return;
  }
  say(t("hands.who.now", { name: operator }));
  if (asking) conclude(null);
}

function refused(why) {
  tone.play("not_stored");
  say(t("hands.who.not_changed", { why }), false);
}

async function change() {
  const names = (now().operators ?? []).map((one) => one.name);
  asking = true;
  try {
    await flow(async () => {
      const said = names.length ? await chosen(names) : {};
      if (!said) return;
      const name = said.chosen ? names[Number(said.chosen)] : await written();
      if (name) say(t("hands.who.now", { name }));
    });
  } finally {
    asking = false;
  }
}

// One of those in bench.toml, by its place among them; "" for another name.
function chosen(names) {
  return ask({
    label: t("hands.who.label"),
    what: t("hands.who.what"),
    choices: [...names.map((name, at) => [String(at), name]), ["other", t("hands.who.other")]],
    leave: t("hands.who.leave"),
    still: true,
    act: async ({ chosen: at }) => {
      if (at === "other") return { chosen: "" };
      await set({ operator: names[Number(at)] });
      return { chosen: at };
    },
  });
}

async function written() {
  const said = await ask({
    label: t("hands.who.label"),
    what: t("hands.who.what"),
    fields: [{ name: "operator", label: t("hands.who.name"), value: now().operator ?? "" }],
    done: t("hands.who.done"),
    leave: t("hands.who.leave"),
    act: async ({ operator }) => { await set({ operator }); },
  });
  return said?.operator ?? null;
}

// It is known at once who is at the bench; the stream tells the other pages.
async function set(body) {
  await service.post("/v1/operator", body);
  const name = body.operator ?? bearer(body.badge);
  now().operator = name;
  draw(now());
  return { operator: name };
}
