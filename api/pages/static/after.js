// What may be done where no step is wanted: a finished build is looked at, kept and closed; where none
// is open, one is opened or taken up again.

import { ask, flow } from "./dialog.js";
import { button, element, make, redraw } from "./dom.js";
import { t } from "./labels.js";
import { say } from "./message.js";
import { now } from "./now.js";
import { reason } from "./settle.js";
import * as service from "./service.js";

// The builds that are not closed, asked for once for each time that none is active.
let open = null;

export function draw({ build, next }) {
  if (build) open = null;
  else if (open === null) fetched();
  const done = Boolean(build) && !next?.step && Boolean(next?.done);
  const shown = done ? finished(build) : build ? [] : none();
  redraw(element("after"), [build?.id, done, open], () => shown);
  element("after").hidden = shown.length === 0;
}

function link(text, path) {
  const node = make("a", text, "act quiet");
  node.href = path;
  return node;
}

function finished({ id }) {
  const name = encodeURIComponent(id);
  return [
    link(t("bench.after.page"), `/builds/${name}`),
    link(t("bench.after.sheet"), `/v1/builds/${name}/sheet.pdf`),
    button(t("bench.after.close"), "close", close),
  ];
}

function none() {
  return [
    link(t("bench.after.specs"), "/specs"),
    ...(open?.length ? [button(t("bench.after.take_up"), "take-up", takeUp)] : []),
  ];
}

async function fetched() {
  open = [];
  try {
    const { builds } = await service.get("/v1/builds");
    open = builds.filter((one) => !one.closed);
    if (!now().build) draw(now());
  } catch {
    // The way to the specs stands there all the same.
  }
}

function close() {
  const { id, title } = now().build;
  return flow(async () => {
    const said = await ask({
      label: t("bench.after.close"),
      what: t("bench.after.close_what", { title }),
      fields: [reason()],
      ready: [t("bench.after.finished")],
      act: ({ reason: because }) => service.post(`/v1/builds/${encodeURIComponent(id)}/close`, { reason: because }),
    });
    if (said) say(t("bench.after.closed", { title }));
  });
}

function takeUp() {
  return flow(() => ask({
    label: t("bench.after.take_up"),
    what: t("bench.after.take_up_what"),
    choices: open.toReversed().map((one) => [one.id, `${one.title} (${one.id})`]),
    act: ({ chosen }) => service.post(`/v1/builds/${encodeURIComponent(chosen)}/activate`, {}),
  }));
}
