// @ts-check
// The waveform under hand: wheel, pinch, drag and keys move the view. The drawing at hand is stretched at once, the server draws the new one, and the newest
// answer is swapped in. The page knows times only; what was recorded stays with the server.
import { first, part, partIf, parts } from "./find.js";
import { lineSays } from "./line.js";
import { refresh } from "./live.js";

/** @typedef {{from: number, to: number}} View */

const pause = 60; // ms without a move before the server is asked
const wave = part("wave", HTMLElement);
/** @type {View | null} the view wanted, null while it is the one drawn */
let wanted = null;
/** @type {AbortController | null} */
let asking = null;
/** @type {number | undefined} */
let soon;

/** The view that is drawn, and the limits. @returns {{drawn: View, start: number, end: number, least: number, data: DOMStringMap} | null} */
function standing() {
  const view = partIf("view", HTMLElement);
  if (!view) return null;
  const of = (/** @type {string} */ name) => Number(view.dataset[name]);
  return { drawn: { from: of("from"), to: of("to") }, start: of("start"), end: of("end"), least: of("least"), data: view.dataset };
}

/** The plate that has room in an element, as recordings.css says. @param {HTMLElement} e */
function plateOf(e) { return e.clientWidth < 41 * parseFloat(getComputedStyle(document.documentElement).fontSize) ? "phone" : "desk"; }

/** The plate that the page shows. */
function plate() {
  return parts(wave, "#drawing > div", HTMLElement).find((e) => e.offsetParent) || null;
}

/** Whether a place on the screen lies on the strip of the whole recording. @param {number} y */
function onWhole(y) {
  const p = plate(), below = p && first(p, ".wave-trace", SVGGElement);
  return !!below && !!p && first(p, ".wave-window", SVGGElement) !== null && y < below.getBoundingClientRect().top;
}

/** Where on the time axis a place on the screen lies, 0 at its left end, 1 at its right. @param {number} x */
function share(x) {
  const p = plate(), svg = p && first(p, "svg", SVGSVGElement);
  if (!p || !svg) return 0.5;
  const box = svg.getBoundingClientRect(), mm = box.width / svg.viewBox.baseVal.width;
  const left = Number(p.dataset.left), right = Number(p.dataset.right);
  return ((x - box.left) / mm - left) / (right - left);
}

/** Wants another view: held inside the recording, shown at once, asked for soon. @param {View} v @param {number} [wait] */
function want(v, wait = pause) {
  const now = standing();
  if (!now) return;
  const most = now.end - now.start, width = Math.min(Math.max(v.to - v.from, now.least), most);
  const middle = (v.from + v.to) / 2, asWanted = Math.abs(width - (v.to - v.from)) < width * 1e-9;
  const from = Math.min(Math.max(asWanted ? v.from : middle - width / 2, now.start), now.end - width);
  wanted = { from, to: from + width };
  move(now.drawn, wanted, now.start, now.end);
  clearTimeout(soon);
  soon = setTimeout(ask, wait);
}

/** @returns {View | null} */
function present() { return wanted || standing()?.drawn || null; }

/** Zooms about a place on the axis. @param {number} factor below 1: closer @param {number} at 0…1 */
function zoom(factor, at) {
  const v = present(), now = standing();
  if (!v || !now) return;
  const width = v.to - v.from, next = Math.max(width * factor, now.least), about = v.from + width * at;
  want({ from: about - next * at, to: about + next * (1 - at) });
}

/** @param {number} by in views, later is positive */
function pan(by) {
  const v = present();
  if (v) want({ from: v.from + (v.to - v.from) * by, to: v.to + (v.to - v.from) * by });
}

/** Stretches the drawing at hand from the view drawn to the view wanted. @param {View} drawn @param {View} v @param {number} start @param {number} end */
function move(drawn, v, start, end) {
  const p = plate();
  if (!p) return;
  const left = Number(p.dataset.left), field = Number(p.dataset.right) - left;
  const a = (drawn.to - drawn.from) / (v.to - v.from), b = left + ((drawn.from - v.from) / (v.to - v.from)) * field - a * left;
  for (const g of parts(p, ".wave-moving", SVGGElement)) g.setAttribute("transform", `matrix(${a} 0 0 1 ${b} 0)`);
  const at = (/** @type {number} */ t) => left + ((t - start) / (end - start)) * field;
  const k = (v.to - v.from) / (drawn.to - drawn.from);
  for (const g of parts(p, ".wave-window", SVGGElement)) g.setAttribute("transform", `matrix(${k} 0 0 1 ${at(v.from) - k * at(drawn.from)} 0)`);
  part("drawing", HTMLElement).classList.toggle("moved", drawn.from !== v.from || drawn.to !== v.to);
}

/** The address of a view. @param {string} path @param {View} v */
function address(path, v) {
  const q = new URLSearchParams();
  q.set("from", String(v.from));
  q.set("to", String(v.to));
  for (const name of new URLSearchParams(location.search).getAll("channel")) q.append("channel", name);
  return path + "?" + q;
}

// ask fetches the view wanted; an answer that came too late for a newer wish is not waited for.
async function ask() {
  const now = standing(), v = wanted;
  if (!now || !v) return;
  asking?.abort();
  const mine = asking = new AbortController();
  const which = plateOf(part("drawing", HTMLElement));
  try {
    const answer = await fetch(address(now.data.part || "", v) + "&plate=" + which, { signal: mine.signal });
    if (answer.redirected) { location.href = answer.url; return; } // not paired any more
    const text = await answer.text();
    if (mine !== asking) return;
    asking = null;
    if (!answer.ok) { lineSays("wave", "The host could not draw that stretch. Load the page again."); return; }
    lineSays("wave", "");
    take(new DOMParser().parseFromString(text, "text/html"), v === wanted);
  } catch (e) {
    if (mine !== asking || mine.signal.aborted) return;
    asking = null;
    lineSays("wave", "The line to the host is lost. The drawing is as it last was.");
  }
}

// take swaps a fresh drawing in and leaves links, fields and focus where they are.
/** @param {Document} fresh @param {boolean} settled no newer view is wanted */
function take(fresh, settled) {
  const then = fresh.getElementById("view"), now = partIf("view", HTMLElement);
  if (!then || !now) { // the host has to read the file again first
    wanted = null;
    wave.setAttribute("data-swap", "");
    refresh();
    return;
  }
  for (const [name, value] of Object.entries(then.dataset)) now.dataset[name] = value;
  const drawing = part("drawing", HTMLElement), came = fresh.getElementById("drawing");
  if (came) drawing.replaceChildren(...came.childNodes);
  drawing.classList.remove("moved");
  history.replaceState(null, "", now.dataset.address || "");
  for (const link of parts(now, "a[data-do]", HTMLAnchorElement)) {
    const other = first(fresh, `#moves [data-do=${link.dataset.do}]`, HTMLAnchorElement);
    if (!other) continue;
    link.setAttribute("href", other.getAttribute("href") || "");
    if (other.hasAttribute("aria-disabled")) link.setAttribute("aria-disabled", "true"); else link.removeAttribute("aria-disabled");
  }
  for (const id of ["where", "found", "levels"]) {
    const old = document.getElementById(id), other = fresh.getElementById(id);
    if (!old || !other || old.innerHTML === other.innerHTML) continue;
    const open = first(old, "details[open]", HTMLDetailsElement) !== null;
    const held = old.contains(document.activeElement) && document.activeElement instanceof HTMLElement ? document.activeElement.dataset.do : undefined;
    old.replaceChildren(...other.childNodes);
    if (open) for (const d of parts(old, "details", HTMLDetailsElement)) d.open = true;
    if (held) (first(old, `[data-do=${held}]`, HTMLElement) || first(old, "a", HTMLElement) || drawing).focus();
  }
  for (const input of parts(wave, "form input[type=hidden]:not([name=channel])", HTMLInputElement)) {
    const other = first(fresh, `#${input.form?.id} input[type=hidden][name=${input.name}]`, HTMLInputElement);
    if (other) input.value = other.value;
  }
  if (settled) { wanted = null; return; }
  const at = standing(); // more was wanted meanwhile: stretch the fresh drawing to it
  if (at && wanted) move(at.drawn, wanted, at.start, at.end);
}

// While the host reads the file the page fetches itself; once the drawing is there, only the hands change it: a reading entered on another screen must not
// take the drawing from under them.
const claim = () => { if (partIf("view", HTMLElement)) wave.removeAttribute("data-swap"); };
new MutationObserver(claim).observe(wave, { childList: true });
claim();

// Links become moves: the address in them says where to. A link with a key held down is the browser's own.
wave.addEventListener("click", (e) => {
  const link = e.target instanceof Element ? e.target.closest("a") : null, now = standing();
  if (!link || !now || e.ctrlKey || e.metaKey || e.shiftKey || e.button !== 0) return;
  const to = new URL(link.href);
  if (to.pathname + "/part" !== now.data.part) return;
  e.preventDefault();
  const q = to.searchParams;
  want(q.has("from") ? { from: Number(q.get("from")), to: Number(q.get("to")) } : { from: now.start, to: now.end }, 0);
});

wave.addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey || e.target instanceof HTMLInputElement) return;
  const now = standing(), v = present();
  if (!now || !v) return;
  const width = v.to - v.from;
  const jump = (/** @type {string} */ way) => first(wave, `[data-do=${way}]`, HTMLElement)?.click();
  /** @type {Record<string, () => void>} */
  const keys = {
    ArrowLeft: () => pan(e.shiftKey ? -1 : -0.2), ArrowRight: () => pan(e.shiftKey ? 1 : 0.2),
    "+": () => zoom(0.5, 0.5), "=": () => zoom(0.5, 0.5), "-": () => zoom(2, 0.5), "0": () => want({ from: now.start, to: now.end }),
    Home: () => want({ from: now.start, to: now.start + width }), End: () => want({ from: now.end - width, to: now.end }),
    n: () => jump("after"), p: () => jump("before"),
  };
  const act = keys[e.key];
  if (!act) return;
  e.preventDefault();
  act();
});

wave.addEventListener("wheel", (e) => {
  const now = standing(), v = present();
  if (!now || !v || !(e.target instanceof Element) || !e.target.closest("#drawing")) return;
  const lines = e.deltaMode === WheelEvent.DOM_DELTA_LINE ? 16 : 1;
  const across = e.shiftKey ? e.deltaY || e.deltaX : e.deltaX;
  if (Math.abs(across) > Math.abs(e.shiftKey ? 0 : e.deltaY)) { e.preventDefault(); pan(across * lines * 0.001); return; }
  const factor = Math.exp(Math.min(Math.max(e.deltaY * lines * (e.ctrlKey ? 0.01 : 0.0016), -1), 1));
  if (factor > 1 && v.to - v.from >= (now.end - now.start) * (1 - 1e-9)) return; // nothing wider: the page scrolls
  e.preventDefault();
  zoom(factor, Math.min(Math.max(share(e.clientX), 0), 1));
}, { passive: false });

// Fingers and mouse: one drags, two pinch.
/** @type {Map<number, number>} */
const fingers = new Map();
/** @type {{v: View, places: number[]} | null} the view and the fingers' places as they took hold */
let grip = null;
let carried = false; // the window on the strip of the whole recording, by one finger

function takeHold() {
  const v = present();
  grip = v && fingers.size ? { v, places: [...fingers.values()].slice(0, 2).map(share) } : null;
  partIf("drawing", HTMLElement)?.classList.toggle("held", fingers.size > 0);
}

wave.addEventListener("pointerdown", (e) => {
  if (!(e.target instanceof Element) || !e.target.closest("#drawing") || e.button !== 0) return;
  part("drawing", HTMLElement).setPointerCapture(e.pointerId);
  carried = fingers.size === 0 && onWhole(e.clientY);
  fingers.set(e.pointerId, e.clientX);
  takeHold();
  if (carried) carry(e.clientX);
});

/** Brings the view to where the finger stands on the strip of the whole recording. @param {number} x */
function carry(x) {
  const now = standing();
  if (!now || !grip) return;
  const middle = now.start + share(x) * (now.end - now.start), half = (grip.v.to - grip.v.from) / 2;
  want({ from: middle - half, to: middle + half });
}

wave.addEventListener("pointermove", (e) => {
  if (!fingers.has(e.pointerId) || !grip) return;
  fingers.set(e.pointerId, e.clientX);
  if (carried) { carry(e.clientX); return; }
  const at = [...fingers.values()].slice(0, 2).map(share), width = grip.v.to - grip.v.from;
  const time = grip.places.map((p) => grip ? grip.v.from + p * width : 0); // what each finger took hold of
  if (at.length === 2 && Math.abs(at[1] - at[0]) > 0.02 && Math.abs(time[1] - time[0]) > 0) {
    const next = Math.abs((time[1] - time[0]) / (at[1] - at[0]));
    const middle = (time[0] + time[1]) / 2, place = (at[0] + at[1]) / 2;
    want({ from: middle - next * place, to: middle + next * (1 - place) });
  } else if (at.length === 1) {
    const from = time[0] - at[0] * width;
    want({ from, to: from + width });
  }
});

for (const name of ["pointerup", "pointercancel"]) {
  wave.addEventListener(name, (e) => {
    if (e instanceof PointerEvent && fingers.delete(e.pointerId)) takeHold();
  });
}

// Another plate comes into sight: it is drawn for the view that stands.
let shown = "";
new ResizeObserver(() => {
  const drawing = partIf("drawing", HTMLElement), which = drawing ? plateOf(drawing) : shown, v = present();
  if (shown && which !== shown && v) want(v, 0);
  shown = which;
}).observe(wave);
