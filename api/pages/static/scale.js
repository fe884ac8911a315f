// Where a size lies between its limits, as parts of a bar's width. Floats: positions only, what is
// said in digits never comes from here. Knows no page.

// The limits stand here; beyond them there is room for what lies outside.
const ENDS = [0.2, 0.8];
// What would lie further out is drawn here, with an arrow.
const EDGES = [0.045, 0.955];
// A single limit's bar is so many of its uncertainty zones long, at least.
const ZONES = 8;
const ROOM = 1.25;

// { lower, upper, zone, low, high, span } of decimal text or null, the size being from low to high
// (null: open); gives { limits: [x, x], zones: [[x, x]…], size: { from, to, at, out }, target(text) }.
// A limit that there is not is null. `out`: -1 below, 1 above, 0 between; `from` and `to` are the ends
// of the size with its uncertainty, of an open one the edge.
export function laid({ lower, upper, zone, low, high, span }) {
  const ends = [number(lower), number(upper)];
  const sizes = [number(low), number(high)];
  const guard = number(zone) ?? 0;
  const around = number(span) ?? 0;
  const place = line(ends, sizes, Math.max(guard, around));
  const at = middle(sizes);
  return {
    limits: ends.map((one) => (one === null ? null : place(one))),
    zones: guard > 0 ? ends.filter((one) => one !== null).map((one) => [place(one - guard), place(one + guard)]) : [],
    size: {
      from: sizes[0] === null ? EDGES[0] : place(sizes[0] - around),
      to: sizes[1] === null ? EDGES[1] : place(sizes[1] + around),
      at: at === null ? null : place(at),
      out: outside(ends, sizes),
    },
    target: (text) => place(Number(text)),
  };
}

function number(text) {
  return text === null || text === undefined ? null : Number(text);
}

function middle([low, high]) {
  if (low === null || high === null) return low ?? high;
  return (low + high) / 2;
}

// Of a bracket: where all of it lies outside.
function outside([lower, upper], [low, high]) {
  if (upper !== null && low !== null && low > upper) return 1;
  if (lower !== null && high !== null && high < lower) return -1;
  return 0;
}

// The straight line from sizes to places, held within the edges.
function line([lower, upper], sizes, zone) {
  const held = (x) => Math.min(EDGES[1], Math.max(EDGES[0], x));
  if (lower !== null && upper !== null) {
    const width = upper - lower || Math.abs(upper) || 1;
    return (size) => held(ENDS[0] + ((size - lower) / width) * (ENDS[1] - ENDS[0]));
  }
  const limit = lower ?? upper;
  const furthest = Math.max(...sizes.filter((one) => one !== null).map((one) => Math.abs(one - limit)), 0);
  const length = Math.max(furthest * ROOM, zone * ZONES) || Math.abs(limit) || 1;
  const [home, way] = lower === null ? [ENDS[1], 1] : [ENDS[0], -1];
  const out = sizes.some((one) => one !== null && (one - limit) * way > 0);
  // Outside there is less room than inside.
  const room = out && furthest * ROOM >= zone * ZONES ? EDGES[1] - ENDS[1] : ENDS[1] - EDGES[0];
  return (size) => held(home + ((size - limit) / length) * room);
}
