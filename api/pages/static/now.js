// The state of now, for what happens after a touch: it may be newer than what was drawn.

let state = null;
let live = true;
// How far this computer's clock is ahead of the service's (ms).
let ahead = 0;

export function now() {
  return state;
}

export function keep(fresh) {
  if (fresh.at && fresh.at !== state?.at) ahead = Date.now() - Date.parse(fresh.at);
  state = fresh;
}

// The time by the service's clock, in ms: ages are told by it.
export function clock() {
  return Date.now() - ahead;
}

// Whether the service is heard.
export function line(heard) {
  if (heard !== undefined) live = heard;
  return live;
}
