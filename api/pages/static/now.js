// The state of now, for what happens after a touch: it may be newer than what was drawn.

let state = null;

export function now() {
  return state;
}

export function keep(fresh) {
  state = fresh;
}
