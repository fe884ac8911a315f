// The shape of a pull as it is drawn while it lasts: what looks like a click, and a curve of no more
// points than a screen has. Floats, for drawing: what is stored is found by the service. Knows no page.

// A click is a sudden fall that then stops: by a tenth within 10 ms, with a quarter left, and falling
// by less than a quarter as much over the next 10 ms. The service's rule (capture/trace/breaks.py)
// looks at the noise as well; so what is found here is only likely.
const WINDOW_US = 10000;
const FALL = 0.1;
const LEFT = 0.25;
const GOES_ON = 0.25;
// Below this part of the pull's highest torque nobody set a tool to click.
const FLOOR = 0.2;

// Index of the last sample that looks like the peak of a click; null where none does.
export function click(torque, interval) {
  const window_ = Math.ceil(WINDOW_US / interval - 1e-6) + 1;
  const floor = FLOOR * torque.reduce((most, one) => Math.max(most, one), 0);
  for (let at = torque.length - 1 - 2 * window_; at > 0; at -= 1) {
    const top = torque[at];
    if (top > floor && top >= torque[at - 1] && top > torque[at + 1] && broke(torque, at, window_)) return at;
  }
  return null;
}

function broke(torque, at, window_) {
  const least = (from) => Math.min(...torque.slice(from, from + window_));
  const foot = least(at + 1);
  const fall = torque[at] - foot;
  return fall >= FALL * torque[at] && foot >= LEFT * torque[at] && foot - least(at + 1 + window_) <= GOES_ON * fall;
}

// [index, value] of a curve with at most about so many points: of each group its least and its most,
// so that no peak is lost.
export function thinned(values, most) {
  const size = Math.max(1, Math.ceil((2 * values.length) / most));
  if (size === 1) return [...values.entries()];
  const points = [];
  for (let from = 0; from < values.length; from += size) {
    const group = values.slice(from, from + size);
    const [low, high] = [Math.min(...group), Math.max(...group)];
    const ends = [[from + group.indexOf(low), low], [from + group.indexOf(high), high]];
    points.push(...(low === high ? [ends[0]] : ends.sort(([one], [other]) => one - other)));
  }
  return points;
}
