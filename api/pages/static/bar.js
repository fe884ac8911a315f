// The last press between its limits, as a bar: the limits its ends, the zone at each in which the
// uncertainty leaves it undecided hatched, the size a mark with its span, and an arrow where it lies
// outside. Told apart by shape, and said in words for those who do not see it.

import { draw, element, make, redraw } from "./dom.js";
import { t } from "./labels.js";
import { brief, difference, larger, places, rounded } from "./numbers.js";
import { laid } from "./scale.js";
import * as words from "./words.js";

// What was aimed at, by build and step: a verdict holds its limits only.
const targets = new Map();
let drawn = null;

export function aim(build, step) {
  if (step?.target && step.kind === "tighten") targets.set(`${build?.id} ${step.id}`, step.target);
}

export function bar(reading) {
  const said = reading && told(reading);
  element("bar").hidden = !said;
  drawn = said;
  if (said) paint();
}

// What the bar shows, as text; null where there are no limits to lie between.
function told({ verdict, zero, placement }) {
  const { lower = null, upper = null, measured = null, unit } = verdict;
  if (zero || (lower === null && upper === null) || (measured === null && !verdict.bracket)) return null;
  const [low, high] = verdict.bracket ?? [measured, measured];
  return {
    lower, upper, low, high, unit,
    result: verdict.result,
    zone: verdict.guard_band ?? (verdict.bracket ? null : verdict.expanded_uncertainty) ?? null,
    // Of a bracket most of the uncertainty is that it is one: its ends are the span already.
    span: verdict.bracket ? null : verdict.expanded_uncertainty ?? null,
    bracket: Boolean(verdict.bracket),
    target: targets.get(`${placement.build} ${placement.step}`) ?? null,
  };
}

// By how much all of it lies outside, in words; "" where it does not. Exact, rounded once.
function beyond({ lower, upper, low, high, unit }) {
  const digits = (one, other) => rounded(difference(one, other), Math.max(places(one), places(other), 0) > 6 ? 4 : 6);
  if (upper !== null && low !== null && larger(low, upper)) return t("bench.bar.above", { amount: `${digits(low, upper)} ${unit}` });
  if (lower !== null && high !== null && larger(lower, high)) return t("bench.bar.below", { amount: `${digits(lower, high)} ${unit}` });
  return "";
}

function spoken(said) {
  const { lower, upper, low, high, unit, span, bracket, target } = said;
  return [
    t("bench.bar.size", { size: `${bracket ? words.between(low, high) : brief(low)} ${unit}` }),
    t("bench.bar.limits", { limits: words.limits(lower, upper, unit) }),
    ...(target ? [t("bench.bar.target", { target: `${target} ${unit}` })] : []),
    bracket ? "" : span ? t("bench.bar.span", { span: `${span} ${unit}` }) : t("bench.bar.no_span"),
    beyond(said),
  ].filter(Boolean).join(" ");
}

function paint() {
  const frame = element("bar");
  const width = Math.round(frame.clientWidth) || 800;
  const em = parseFloat(getComputedStyle(frame).fontSize);
  redraw(frame, [drawn, width, em], () => {
    const out = beyond(drawn);
    return [picture(drawn, width, em), ...(out ? [make("figcaption", out)] : [])];
  });
}

function picture(said, width, em) {
  const found = laid(said);
  const x = (part) => Math.round(part * width * 10) / 10;
  const y = (part) => Math.round(part * em * 10) / 10;
  const svg = draw("svg", { viewBox: `0 0 ${width} ${y(2.75)}`, width, height: y(2.75), role: "img", "aria-label": spoken(said) });
  svg.append(
    hatch(em),
    ...track(found, x, y),
    ...found.zones.map(([from, to]) => draw("rect", { class: "zone", x: x(from), y: y(0.9), width: Math.max(2, x(to) - x(from)), height: y(0.7) })),
    ...found.limits.flatMap((at, side) => (at === null ? [] : limit(x(at), y, brief([said.lower, said.upper][side]), width))),
    ...(said.target ? [draw("path", { class: "target", d: `M${x(found.target(said.target))} ${y(0.78)}v${y(0.94)}` })] : []),
    ...size(said, found.size, x, y),
  );
  return svg;
}

function hatch(em) {
  const side = Math.max(6, Math.round(em / 5));
  const pattern = draw("pattern", { id: "hatch", width: side, height: side, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" });
  pattern.append(draw("path", { class: "stripe", d: `M0 0V${side}`, "stroke-width": side * 0.9 }));
  return draw("defs", {}, pattern);
}

// Between the limits a band; beyond them, and where there is no limit, a broken line.
function track({ limits: [low, high] }, x, y) {
  const [from, to] = [low ?? 0.02, high ?? 0.98];
  return [
    draw("path", { class: "beyond", d: `M${x(0)} ${y(1.25)}H${x(1)}` }),
    draw("rect", { class: "band", x: x(from), y: y(0.9), width: x(to) - x(from), height: y(0.7) }),
  ];
}

function limit(at, y, text, width) {
  const anchor = text.length > 8 ? (at < width / 2 ? "start" : "end") : "middle";
  const from = anchor === "middle" ? at : anchor === "start" ? 0 : width;
  return [
    draw("path", { class: "limit", d: `M${at} ${y(0.7)}v${y(1.1)}` }),
    draw("text", { class: "limit-text", x: from, y: y(2.58), "text-anchor": anchor }, words.signed(text)),
  ];
}

// The span as a bar with caps, the size as a line that bears the verdict's shape.
function size(said, { from, to, at, out }, x, y) {
  const [left, right] = [x(from), x(to)];
  const caps = [
    ...(said.low === null ? [arrow(left, -1, y)] : [`M${left} ${y(1.02)}v${y(0.46)}`]),
    ...(said.high === null ? [arrow(right, 1, y)] : [`M${right} ${y(1.02)}v${y(0.46)}`]),
  ];
  const span = `M${left} ${y(1.25)}H${right}${caps.join("")}`;
  const middle = x(at);
  const half = y(0.36);
  return [
    draw("path", { class: "halo", d: span }),
    draw("path", { class: said.bracket ? "span bracket" : "span", d: span }),
    ...(said.bracket ? [] : [draw("path", { class: "value", d: `M${middle} ${y(0.72)}v${y(1.06)}` })]),
    ...(out ? [draw("path", { class: "out", d: arrow(middle + out * half * 2.2, out, y, 0.36) })] : []),
    draw("use", { href: `#shape-${said.result}`, x: middle - half, y: 0, width: 2 * half, height: 2 * half, class: "shape" }),
  ];
}

function arrow(at, way, y, height = 1.25) {
  return `M${at - way * y(0.24)} ${y(height - 0.24)}L${at} ${y(height)}L${at - way * y(0.24)} ${y(height + 0.24)}`;
}

new ResizeObserver(() => { if (drawn) paint(); }).observe(element("bar"));
