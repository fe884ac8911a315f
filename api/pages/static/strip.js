// The strip at the top: which build, how far, whose spec, and whether all is well.

import { element, list, write } from "./dom.js";
import { read, write as keep } from "./kept.js";
import { t } from "./labels.js";
import { line as heard } from "./now.js";

export function build(state) {
  const one = state.build;
  write("build", one ? one.title : "");
  write("progress", one ? t("bench.strip.progress", { done: one.steps_done, total: one.steps_total }) : "");
  // A notice matters where a spec is not invented, too: then it stands without the mark.
  const notice = one?.notice?.trim() ?? "";
  const general = one?.cautions ?? [];
  element("invented").hidden = !one?.invented && !notice;
  element("invented").querySelector("b").hidden = !one?.invented;
  write("notice", notice);
  list("general", general);
  element("about").hidden = !one?.invented && !notice && general.length === 0;
  fold();
}

// On a narrow screen the notice and all cautions but the first are folded up, as this browser keeps it.
function fold() {
  const open = read("about open", false);
  element("about").dataset.open = open ? "yes" : "no";
  element("more").setAttribute("aria-expanded", String(open));
  write("more", open ? t("bench.strip.less") : t("bench.strip.more"));
  element("more").onclick = () => {
    keep("about open", !open);
    fold();
  };
}

export function alarm(text) {
  write("alarm", text ?? "");
  element("alarm").hidden = !text;
}

export function line(live) {
  heard(live);
  write("line", live ? t("bench.strip.live") : t("bench.strip.lost"));
  element("line").dataset.live = live ? "yes" : "no";
}
