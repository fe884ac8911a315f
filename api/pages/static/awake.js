// Keeping the screen awake (Screen Wake Lock, W3C). A browser does so on the loopback or HTTPS only,
// and gives it up whenever the page is not to be seen: it is asked again when the page is back.

let lock = null;
let wanted = false;
let told = () => {};

// changed(why) is called when the screen may sleep again, or not any more; `why` where it was asked
// for again in vain.
export function open({ changed }) {
  told = changed;
  document.addEventListener("visibilitychange", async () => {
    if (!wanted || lock || document.visibilityState !== "visible") return;
    told(await take().then(() => null, (error) => error.message));
  });
}

export function enabled() {
  return lock !== null;
}

// Raises an Error that says why not: "insecure", "unsupported", or "refused".
export async function enable() {
  if (!isSecureContext) throw new Error("insecure");
  if (!navigator.wakeLock) throw new Error("unsupported");
  wanted = true;
  await take();
}

export async function disable() {
  wanted = false;
  await lock?.release();
}

async function take() {
  try {
    const taken = await navigator.wakeLock.request("screen");
    lock = taken;
    taken.onrelease = () => {
      if (lock === taken) lock = null;
      told(null);
    };
  } catch {
    throw new Error("refused");
  }
}
