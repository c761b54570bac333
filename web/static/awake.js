// @ts-check
// Keeps the screen awake while its page is looked at, where the browser can: it gives the lock back whenever the page is
// hidden, so it is taken again as it comes back.

/** @type {WakeLockSentinel | null} */
let held = null;
let taking = false;

async function take() {
  if (held || taking || document.visibilityState !== "visible") return;
  taking = true;
  try {
    held = await navigator.wakeLock.request("screen");
    held.addEventListener("release", () => { held = null; });
    if (document.visibilityState !== "visible") release(); // hidden while it was asked for
  } catch { /* saving power: the screen goes dark as ever */ }
  taking = false;
}

function release() {
  held?.release();
  held = null;
}

export function stayAwake() {
  if (!("wakeLock" in navigator)) return;
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") take(); else release(); });
  addEventListener("pagehide", release);
  addEventListener("pageshow", take);
  take();
}
