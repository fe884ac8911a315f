// A pull while it lasts: its curve with the band of the step that is wanted, and the click where it
// looks like one. All of it is provisional, and drawn so (broken lines, and a word), until the
// service has stored the reading; then the last press says what holds.

import { draw, element, write } from "./dom.js";
import { t } from "./labels.js";
import { click, thinned } from "./pullshape.js";
import * as words from "./words.js";

const POINTS = 600;
// The number changes no faster than it can be read (ms).
const READABLE = 250;
// Samples come at least twenty times a second; where none come for so long, none will (ms).
const QUIET = 3000;
// How long a pull that nothing came of stays (ms).
const STAYS = 20000;
const LEAST_SECONDS = 2;
const [WIDTH, HEIGHT] = [800, 330];

let shown = null;
let asked = false;
let wrote = 0;

// `data` of a "torque" event, and the step that is wanted or null.
export function pull(data, step) {
  if (!shown || shown.instrument !== data.instrument || (shown.over && data.state === "pulling" && data.from === 0)) begin(data, step);
  const { values, texts } = shown;
  const fresh = shown.angular ? data.angle : data.torque;
  // What was sent before is not taken twice; samples that are missing leave no hole to be read.
  const known = Math.max(0, texts.length - data.from);
  texts.push(...fresh.slice(known));
  values.push(...fresh.slice(known).map(Number));
  shown.torque.push(...data.torque.slice(known).map(Number));
  shown.heard = Date.now();
  if (data.state === "ended") {
    shown.over = shown.heard;
    shown.incomplete = data.incomplete;
  }
  soon();
}

// The instrument whose pull lasts, or is not yet stored; null where there is none.
export function underWay() {
  const waits = shown && (!shown.over || Date.now() - shown.over < QUIET);
  return waits ? shown.instrument : null;
}

// A reading was stored: what was provisional is settled.
export function stored(reading) {
  if (shown?.instrument === reading.instrument) end();
}

function begin(data, step) {
  const angular = step?.unit === "°" && data.angle !== null;
  const unit = angular ? "°" : data.unit;
  const fits = step && step.unit === unit;
  shown = {
    instrument: data.instrument, interval: data.interval_us, angular, unit, values: [], texts: [], torque: [],
    lower: fits ? step.lower : null, upper: fits ? step.upper : null, target: fits ? step.target : null,
    heard: 0, over: 0, incomplete: null,
  };
  wrote = 0;
  element("last").dataset.pulling = "yes";
  element("pull").hidden = false;
}

function end() {
  shown = null;
  delete element("last").dataset.pulling;
  element("pull").hidden = true;
}

// Once a frame, however fast samples come.
function soon() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => {
    asked = false;
    if (shown) paint();
  });
}

function paint() {
  const at = click(shown.torque, shown.interval);
  write("pull-label", t("bench.pull.label", { instrument: shown.instrument }));
  number(at);
  write("pull-word", said(at));
  element("pull-curve").replaceChildren(...curve(at));
  element("pull-curve").setAttribute("aria-label", band());
}

// While it is pulled the torque of now; once it has clicked and falls, where it did; at the end of a
// pull without a click its highest.
function number(at) {
  const time = Date.now();
  if (!shown.over && time - wrote < READABLE) return;
  wrote = time;
  const most = shown.values.reduce((best, one, index) => (one > shown.values[best] ? index : best), 0);
  const fell = at !== null && shown.values.at(-1) < shown.values[at];
  const text = shown.over || fell ? shown.texts[at ?? most] : shown.texts.at(-1);
  write("pull-digits", text === undefined ? "–" : words.signed(text));
  write("pull-unit", shown.unit);
}

function said(at) {
  const mark = at === null ? "" : `${t("bench.pull.click", { size: `${words.signed(shown.texts[at])} ${shown.unit}` })} `;
  if (!shown.over) return mark + t("bench.pull.going");
  if (shown.incomplete) return mark + t("bench.pull.incomplete", { why: shown.incomplete });
  return mark + t("bench.pull.ended");
}

function band() {
  const { lower, upper, unit } = shown;
  return lower === null && upper === null ? t("bench.pull.no_band") : t("bench.pull.band", { limits: words.limits(lower, upper, unit) });
}

function curve(at) {
  const { values, interval, lower, upper, target } = shown;
  const top = values.reduce((most, one) => Math.max(most, one), 0);
  const ends = [lower, upper, target].filter((one) => one !== null && one !== undefined).map(Number);
  const high = Math.max(top * 1.08, ...ends.map((one) => one * 1.3)) || 1;
  const seconds = Math.max(LEAST_SECONDS, (values.length * interval) / 1e6);
  const x = (index) => ((index * interval) / 1e6 / seconds) * WIDTH;
  const y = (value) => HEIGHT - (Math.max(0, value) / high) * HEIGHT;
  const points = thinned(values, POINTS).map(([index, value]) => `${x(index).toFixed(1)} ${y(value).toFixed(1)}`);
  return [
    ...wanted(y, lower, upper, target),
    draw("path", { class: "axis", d: `M0 0V${HEIGHT}H${WIDTH}` }),
    ...(points.length ? [draw("path", { class: "curve", d: `M${points.join("L")}` })] : []),
    ...(at === null ? [] : [draw("circle", { class: "provisional", cx: x(at), cy: y(values[at]), r: 26 })]),
  ];
}

function wanted(y, lower, upper, target) {
  if (lower === null && upper === null) return [];
  const [top, foot] = [upper === null ? 0 : y(Number(upper)), lower === null ? HEIGHT : y(Number(lower))];
  return [
    draw("rect", { class: "wanted", x: 0, y: top, width: WIDTH, height: Math.max(2, foot - top) }),
    ...[upper, lower].filter((one) => one !== null).map((one) => draw("path", { class: "limit", d: `M0 ${y(Number(one))}H${WIDTH}` })),
    ...(target ? [draw("path", { class: "target", d: `M0 ${y(Number(target))}H${WIDTH}` })] : []),
  ];
}

// A pull that breaks off, and one that no reading comes of, do not stay for ever.
setInterval(() => {
  if (!shown) return;
  const time = Date.now();
  if (!shown.over && time - shown.heard > QUIET) {
    shown.over = time;
    shown.incomplete = t("bench.pull.quiet");
    soon();
  }
  if (shown.over && time - shown.over > STAYS) end();
}, 500);
