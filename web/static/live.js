// @ts-check
// Follows the job: when the book has something newer than this page shows, the page fetches itself and swaps what differs.
import { first, parts } from "./find.js";
import { lineSays } from "./line.js";

const nothingLost = "What you enter is kept on this device and sent when it returns.";
const silence = 13000; // ms without a beat (they come every 5 s) after which the line counts as lost
const hiddenFor = 10000; // ms out of sight after which the stream is closed
const fullFor = 30000; // ms after which a page that the host refused to tell asks again
/** @type {EventSource | null} */
let source = null;
/** @type {number | undefined} */
let watch;
let busy = false, again = false;
let heard = Date.now(); // when the host last answered this page
let cut = false;

/** Whether the line to the host is known to be lost. */
export function isCut() { return cut || !navigator.onLine; }

export function follow() {
  const body = document.body;
  const kept = document.getElementById("line")?.dataset.kept;
  if (kept) lost();
  if (!("live" in body.dataset)) {
    if (kept) setInterval(() => navigator.onLine && backAgain(), silence);
    return;
  }
  open();
  askAgain();
  addEventListener("online", open);
  addEventListener("offline", lost);
  addEventListener("pagehide", () => source && source.close());
  addEventListener("pageshow", (e) => { if (e.persisted) open(); });
  // Browsers allow six lines to a host for all tabs together: a tab that nobody sees gives its own back.
  /** @type {number | undefined} */
  let away;
  document.addEventListener("visibilitychange", () => {
    clearTimeout(away);
    if (document.hidden) away = setTimeout(rest, hiddenFor);
    else if (!source) open();
  });
}

function open() {
  if (source) source.close();
  const body = document.body;
  source = new EventSource(`/live?job=${encodeURIComponent(body.dataset.live || "")}&since=${encodeURIComponent(body.dataset.version || "")}`);
  source.addEventListener("alive", alive);
  source.addEventListener("change", (e) => {
    alive();
    const change = JSON.parse(e.data);
    if (!body.dataset.live || change.version > Number(body.dataset.version)) refresh();
  });
  source.addEventListener("closed", () => { source?.close(); lost(); setTimeout(open, 2000); });
  source.addEventListener("full", (e) => { rest(); lineSays("live", JSON.parse(e.data)); setTimeout(open, fullFor); });
  source.onerror = () => {
    lost();
    if (source?.readyState === EventSource.CLOSED) { refresh(); setTimeout(open, 5000); } // refused: the page says why
  };
  clearTimeout(watch);
  watch = setTimeout(hush, silence);
}

function rest() {
  clearTimeout(watch);
  source?.close();
  source = null;
}

/** The host has answered this page, on whatever line. */
export function answered() {
  heard = Date.now();
  cut = false;
  lineSays("live", "");
}

function alive() {
  answered();
  clearTimeout(watch);
  watch = setTimeout(hush, silence);
  document.dispatchEvent(new Event("pw:online"));
  if (document.getElementById("line")?.dataset.kept) backAgain();
}

// backAgain replaces a page that was kept on this device by the host's own, unless something is typed into it.
let going = false;
async function backAgain() {
  if (going) return;
  going = true;
  const fields = parts(document, "input:not([type=hidden]), textarea", HTMLElement);
  const typed = fields.some((e) => (e instanceof HTMLInputElement ? e.value !== e.defaultValue || e.checked !== e.defaultChecked : e instanceof HTMLTextAreaElement && e.value !== e.defaultValue));
  if (!typed && (await fetch(location.href, { headers: { "X-Part": "1" } }).catch(() => null))) location.reload();
  else going = false;
}

function hush() { lost(); open(); }

// lost says since when the page stands still. One that was kept on this device carries that itself.
function lost() {
  cut = true;
  const since = document.getElementById("line")?.dataset.kept || new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" }).format(heard);
  lineSays("live", `The line to the host is lost. This is as of ${since}. ${nothingLost}`);
}

// refresh runs once at a time; a change that comes meanwhile makes it run once more.
export async function refresh() {
  if (busy) { again = true; return; }
  busy = true;
  try {
    const answer = await fetch(location.href, { headers: { "X-Part": "1" } });
    const away = answer.redirected && new URL(answer.url).pathname === "/pair";
    lineSays("pair", away ? "This device is not paired with the host any more. What you entered is kept here; load the page again to enter a code." : "");
    if (answer.ok) heard = Date.now();
    if (answer.ok && !away) swap(new DOMParser().parseFromString(await answer.text(), "text/html"));
  } catch { lost(); }
  busy = false;
  if (again) { again = false; refresh(); } else askAgain(); // also where nothing came: it is asked for again
}

// swap takes over the parts that differ. A part in which somebody is typing stays as it is.
/** @param {Document} fresh */
export function swap(fresh) {
  for (const now of parts(document, "[data-swap]", HTMLElement)) {
    const then = fresh.getElementById(now.id);
    if (!then || plain(now) === plain(then)) continue;
    const typing = now.contains(document.activeElement) && document.activeElement?.matches("input, select, textarea");
    if (typing) continue;
    const open = [...now.querySelectorAll("details[open]")].length > 0;
    const focused = now.contains(document.activeElement) ? document.activeElement : null;
    const mark = focused && [focused.tagName, focused.getAttribute("aria-label"), focused.textContent].join();
    if (then.dataset.again) now.dataset.again = then.dataset.again; else delete now.dataset.again;
    now.replaceChildren(...then.childNodes);
    if (open) for (const d of parts(now, "details", HTMLDetailsElement)) d.open = true;
    if (mark) parts(now, "a, button, summary", HTMLElement).find((e) => [e.tagName, e.getAttribute("aria-label"), e.textContent].join() === mark)?.focus();
    now.classList.remove("fresh"); void now.offsetWidth; now.classList.add("fresh");
  }
  askAgain();
  const main = fresh.body.dataset.version;
  if (main) document.body.dataset.version = main;
}

// askAgain refreshes parts that say they are still at work.
/** @type {number | undefined} */
let asking;
function askAgain() {
  clearTimeout(asking);
  const part = first(document, "[data-again]", HTMLElement);
  if (part) asking = setTimeout(refresh, Number(part.dataset.again));
}

// plain compares parts without the keys of forms, which differ each time.
/** @param {Element} part */
function plain(part) {
  return part.innerHTML.replace(/name="key" value="[^"]*"/g, "").replace(/ open=""/g, "");
}
