// Which piece best goes where for a clearance: a proposal, and putting the pieces so.

import { ask, flow } from "./dialog.js";
import { make } from "./dom.js";
import { t } from "./labels.js";
import { now } from "./now.js";
import * as service from "./service.js";
import * as words from "./words.js";

export function propose(derived, title) {
  const { build } = now();
  const path = `/v1/builds/${build.id}/fits/${derived}`;
  return flow(async () => {
    let found;
    try {
      found = await service.get(path);
    } catch (error) {
      await ask({ label: t("bench.fit.none", { title }), what: error.message, done: t("bench.ask.close"), leave: null });
      return;
    }
    const changes = Object.keys(found.changes).length > 0;
    const what = t("bench.fit.wanted", { limits: words.limits(found.lower, found.upper, found.unit), target: `${found.target} ${found.unit}` });
    const content = told(found);
    if (!changes) {
      content.push(make("p", t("bench.fit.stands"), "said"));
      await ask({ label: found.title, what, content, done: t("bench.ask.close"), leave: null });
      return;
    }
    await ask({
      label: found.title, what, content, done: t("bench.fit.do"),
      act: () => service.post(path, { order: found.changes }),
    });
  });
}

function told(found) {
  const unfit = found.cannot_fit.map((one) => make("li", misfit(one, found.unit)));
  const unmeasured = found.unmeasured.length ? [make("p", t("bench.fit.unmeasured", { pieces: found.unmeasured.map(words.plain).join(", ") }))] : [];
  return [table(found), ...(unfit.length ? [list(t("bench.fit.unfit"), unfit)] : []), ...unmeasured];
}

function list(title, items) {
  const node = make("div", "", "said");
  const list_ = make("ul");
  list_.append(...items);
  node.append(make("h3", title), list_);
  return node;
}

function misfit(one, unit) {
  if (one.nearest === null) return `${one.part}`;
  return t("bench.fit.misfit", { part: one.part, nearest: one.nearest, clearance: `${one.clearance} ${unit}`, off: `${one.off} ${unit}` });
}

function table(found) {
  const frame = make("div", "", "scroll");
  // It may be wider than a phone: then the keyboard has to be able to move it.
  Object.assign(frame, { tabIndex: 0, role: "region", ariaLabel: t("bench.fit.proposal") });
  const node = make("table");
  const head = make("tr");
  const heads = [t("bench.fit.at"), t("bench.fit.piece"), t("bench.fit.clearance", { unit: found.unit }), t("bench.fit.to", { target: `${found.target} ${found.unit}` })];
  head.append(...heads.map((text) => scoped("col", text)));
  node.append(make("caption", t("bench.fit.best")), head, ...found.pairs.map((pair) => row(pair, found)));
  frame.append(node);
  return frame;
}

function scoped(scope, text) {
  const node = make("th", text);
  node.scope = scope;
  return node;
}

function row(pair, found) {
  const node = make("tr");
  const moves = String(pair.number) in found.changes;
  node.append(
    scoped("row", String(pair.number)),
    make("td", moves ? t("bench.fit.moves", { piece: pair.piece }) : pair.piece),
    make("td", `${pair.clearance} ${pair.within ? t("bench.fit.within") : t("bench.fit.outside")}`, pair.within ? "" : "outside"),
    make("td", pair.hone_says),
  );
  return node;
}
