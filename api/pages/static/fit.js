// Which piece best goes where for a clearance: a proposal, and putting the pieces so.

import { ask, flow } from "./dialog.js";
import { make } from "./dom.js";
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
      await ask({ label: `No proposal for: ${title}`, what: error.message, done: "Close", leave: null });
      return;
    }
    const changes = Object.keys(found.changes).length > 0;
    const what = `Wanted: ${words.limits(found.lower, found.upper, found.unit)}, best at ${found.target} ${found.unit}.`;
    const content = told(found);
    if (!changes) {
      content.push(make("p", "The pieces already stand so: no other order is better.", "said"));
      await ask({ label: found.title, what, content, done: "Close", leave: null });
      return;
    }
    await ask({
      label: found.title, what, content, done: "Put the pieces so",
      act: () => service.post(path, { order: found.changes }),
    });
  });
}

function told(found) {
  const unfit = found.cannot_fit.map((one) => make("li", misfit(one, found.unit)));
  const unmeasured = found.unmeasured.length ? [make("p", `Not measured yet, so left out: ${found.unmeasured.map(words.plain).join(", ")}.`)] : [];
  return [table(found), ...(unfit.length ? [list("Fits nothing as it is", unfit)] : []), ...unmeasured];
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
  return `${one.part}: with ${one.nearest} ${one.clearance} ${unit}, ${one.off} ${unit} outside`;
}

function table(found) {
  const frame = make("div", "", "scroll");
  // It may be wider than a phone: then the keyboard has to be able to move it.
  Object.assign(frame, { tabIndex: 0, role: "region", ariaLabel: "Proposal" });
  const node = make("table");
  const head = make("tr");
  head.append(...["At", "Piece", `Clearance (${found.unit})`, `To ${found.target} ${found.unit}`].map((text) => scoped("col", text)));
  node.append(make("caption", "Best order"), head, ...found.pairs.map((pair) => row(pair, found)));
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
    make("td", moves ? `${pair.piece} (moves)` : pair.piece),
    make("td", `${pair.clearance} ${pair.within ? "within" : "OUTSIDE"}`, pair.within ? "" : "outside"),
    make("td", pair.hone_says),
  );
  return node;
}
