// Carries an entry's proof out once more, in the reader's own browser: SHA-256 over the entry's
// bytes as the service hands them out, then up the path to the root (RFC 9162, 2.1.3.2).

const place = document.querySelector("#proof-again");
const proof = JSON.parse(document.querySelector("#proof-data").textContent);

async function sha256(...parts) {
  const whole = new Uint8Array(parts.reduce((size, part) => size + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return new Uint8Array(await crypto.subtle.digest("SHA-256", whole));
}

function bytes(hex) {
  return Uint8Array.from(hex.match(/../g) ?? [], (pair) => parseInt(pair, 16));
}

function hex(data) {
  return Array.from(data, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function rootOf(entry) {
  let made = await sha256(Uint8Array.of(0), entry);
  for (const step of proof.steps) {
    const given = bytes(step.given);
    const pair = step.side === "left" ? [given, made] : [made, given];
    made = await sha256(Uint8Array.of(1), ...pair);
  }
  return hex(made);
}

function say(text, fits) {
  place.textContent = text;
  place.dataset.fits = String(fits);
  place.hidden = false;
}

async function check() {
  // Given on the loopback and over HTTPS only. What the service says above is not checked then.
  if (!globalThis.crypto?.subtle) return say(place.dataset.unable, "unknown");
  const answer = await fetch(`/v1/entries/${proof.seq}`).catch(() => null);
  if (!answer?.ok) return say(place.dataset.unheard, "unknown");
  const made = await rootOf(new Uint8Array(await answer.arrayBuffer()));
  const fits = made === proof.signed_root;
  return say(fits ? place.dataset.fitting : place.dataset.differing, fits);
}

check();
