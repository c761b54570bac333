// @ts-check
// The bench in the page: follows the stream, shows its words, and leaves motion and hands to the other two files. Every figure comes from the server.
import { first, part, partIf, parts } from "./find.js";
import { lineSays } from "./line.js";
import { answered, refresh } from "./live.js";
import { makeMotion } from "./bench-motion.js";
import { makeHands } from "./bench-hands.js";

/** @typedef {import("./bench-motion.js").Bench} Bench */

const root = part("bench", HTMLElement), base = root.dataset.bench || "";
const state = /** @type {Bench} */ ({}); // as the stream last said it
const words = /** @type {Record<string, unknown>} */ (/** @type {unknown} */ (state)); // the same by name, for what is only shown
let you = 0, heard = 0, met = false;
/** @type {EventSource | null} */
let source = null;
/** @type {number | undefined} */
let watch;
const silence = 13000; // ms without a word (a beat comes every 5 s) after which the line counts as lost

// A page keeps its own name over reloads, so that the controls come back to it.
const tab = sessionStorage.getItem("pw.tab") || [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
sessionStorage.setItem("pw.tab", tab);

const motion = makeMotion(root);
const hands = makeHands(root, state, tab, tell);

open();
addEventListener("pagehide", () => source?.close());
addEventListener("pageshow", (e) => { if (e.persisted) open(); });
addEventListener("online", open);

function open() {
  source?.close();
  const line = source = new EventSource(`${base}/live?tab=${tab}`);
  source.addEventListener("hello", (e) => { you = JSON.parse(e.data).you; alive(); });
  source.addEventListener("alive", alive);
  source.addEventListener("ended", (e) => gone(JSON.parse(e.data)));
  source.addEventListener("closed", () => { line.close(); lost(); setTimeout(open, 2000); });
  source.addEventListener("full", (e) => {
    line.close();
    clearTimeout(watch);
    motion.stop();
    lineSays("bench", JSON.parse(e.data));
    setTimeout(open, 30000);
  });
  source.onmessage = (e) => { alive(); take(JSON.parse(e.data)); };
  source.onerror = () => { lost(); if (line.readyState === EventSource.CLOSED) missing(); };
  clearTimeout(watch);
  watch = setTimeout(hush, silence);
}

function alive() {
  lineSays("bench", ""); answered();
  clearTimeout(watch);
  watch = setTimeout(hush, silence);
}

function hush() { lost(); open(); }

function lost() {
  motion.stop();
  lineSays("bench", "The line to the host is lost. The bench is shown as it last was.");
}

// missing asks why the stream was refused: the bench may be gone, or the host just starting.
async function missing() {
  clearTimeout(watch);
  try {
    const answer = await fetch(base, { headers: { Accept: "application/json" } });
    if (answer.status === 404 || answer.status === 410) {
      const { say, do: then } = await answer.json();
      gone(`${say} ${then}`);
      return;
    }
    if (answer.redirected && new URL(answer.url).pathname === "/pair") { location.href = answer.url; return; }
  } catch { /* no line yet */ }
  setTimeout(open, 2000);
}

/** @param {string} why */
function gone(why) {
  source?.close();
  clearTimeout(watch);
  motion.stop();
  lineSays("bench", ""); answered();
  const again = part("again", HTMLElement);
  again.hidden = false;
  tell(why);
  again.scrollIntoView({ block: "center" });
}

// tell puts one line where the hands are looking.
/** @param {string} text */
function tell(text) {
  const said = part("said", HTMLElement);
  if (said.textContent !== text) said.textContent = text;
}

/** @param {Bench} news */
function take(news) {
  const told = met, before = state.faults, went = state.going, final = state.judged, asked = state.asks;
  Object.assign(state, news);
  if (String(state.scene) !== root.dataset.scene) { location.reload(); return; }
  for (const place of root.querySelectorAll("[data-show]")) {
    const name = place.getAttribute("data-show") || "";
    const text = name === "did" ? state.did || "nothing yet" : words[name];
    if (text !== undefined && place.textContent !== String(text)) place.textContent = String(text);
  }
  for (const button of parts(root, "[data-switch]", HTMLButtonElement)) {
    const is = words[button.dataset.switch || ""], on = is === "on", word = first(button, "b", HTMLElement);
    const says = (on ? word?.dataset.yes : is === "not felt" ? is : word?.dataset.no) || "";
    if (!word || word.textContent === says) continue;
    button.setAttribute("aria-pressed", String(on));
    button.value = on ? "off" : "on";
    word.textContent = says;
  }
  for (const lamp of parts(root, "[data-lamp]", HTMLElement)) {
    const is = String(words[lamp.dataset.lamp || ""]);
    if (lamp.dataset.state === is) continue;
    lamp.dataset.state = is;
    lamp.getElementsByTagName("b")[0].textContent = is;
    speak();
  }
  for (const line of ["crank", "cam", "coil", "spark"]) {
    document.getElementById(line + "-line")?.setAttribute("d", String(words[line + "Line"]));
  }
  label(state.labels);
  parts(root, "[data-tower] text", SVGElement).forEach((text, i) => { if (text.textContent !== state.towers[i]) text.textContent = state.towers[i] || ""; });
  const rim = part("rim", HTMLElement), cap = part("cap", HTMLElement);
  if (rim.dataset.look !== state.look) rim.dataset.look = state.look;
  if (rim.hasAttribute("tabindex")) { rim.setAttribute("aria-valuenow", String(state.md)); rim.setAttribute("aria-valuetext", state.mark); }
  if (cap.hasAttribute("tabindex")) { cap.setAttribute("aria-valuenow", String(state.hd)); cap.setAttribute("aria-valuetext", state.turned); cap.classList.toggle("b-loose", state.clamp === "off"); }
  holder();
  met = true;
  if (told && state.notes !== heard) tell("Heard: " + state.heard + ".");
  heard = state.notes;
  if (told && state.faults !== before) tell({ none: "Nothing is hidden.", hidden: "A fault is hidden.", revealed: "What was hidden is shown below." }[state.faults]);
  if (told && state.judged && !final) tell("The work was judged: see below.");
  const asker = state.asks.find((a) => !asked?.some((b) => b.n === a.n));
  if (told && asker && root.dataset.hold === "mine") tell(asker.who + " asks for the controls.");
  if (told && state.going !== went) hear(state.going);
  hands.follow();
  motion.take(state);
  if (String(state.version) !== root.dataset.version) { root.dataset.version = String(state.version); refresh(); }
}

/** @param {Bench["labels"]} all */
function label(all) {
  const box = part("spark-labels", SVGElement);
  while (box.children.length > all.length) box.lastChild?.remove();
  while (box.children.length < all.length) {
    const text = document.createElementNS("http://www.w3.org/2000/svg", "text");
    text.setAttribute("class", "b-plug");
    text.setAttribute("y", "76");
    box.append(text);
  }
  all.forEach(([x, word], i) => {
    const text = box.children[i];
    text.setAttribute("x", String(x));
    if (text.textContent !== word) text.textContent = word;
  });
}

// holder says who has the controls, and tells somebody who had them and has them no more.
function holder() {
  const mine = state.held !== 0 && state.held === you;
  const now = mine ? "mine" : state.holder ? "other" : "free";
  const was = root.dataset.hold, place = part("holder", HTMLElement), button = partIf("take", HTMLButtonElement);
  const asks = mine ? state.asks[0] : undefined;
  const text = (asks ? asks.who + " asks" : mine ? place.dataset.you : state.holder ? state.holder + " holds the controls" : place.dataset.none) || "";
  if (place.textContent !== text) place.textContent = text;
  if (button) {
    const asked = now === "other" && state.asks.some((a) => a.n === you);
    const word = button.dataset[asks ? "give" : asked ? "asked" : now === "other" ? "take" : now] || "";
    if (button.textContent !== word) button.textContent = word;
    button.name = asks ? "give" : "do";
    button.value = asks ? String(asks.n) : mine ? "leave" : "take";
  }
  if (was === now) return;
  root.dataset.hold = now;
  if (!met) return; // as it was when the page came
  if (was === "mine" && now === "other") tell(state.holder + " has the controls now.");
  else if (was === "mine" && now === "free") tell("The controls are free.");
  else if (now === "mine" && !part("said", HTMLElement).textContent) tell("You hold the controls."); // an answer is not talked over
}

// hear tells whoever listens. The same said twice differs by a blank, or it would not be told again.
/** @param {string} text */
function hear(text) {
  const live = part("live", HTMLElement);
  live.textContent = live.textContent === text ? text + "\u00a0" : text;
}
partIf("say", HTMLButtonElement)?.addEventListener("click", () => hear(state.says));

// speak reads the lamps out, not more often than one can listen.
/** @type {number | undefined} */
let speaking;
function speak() {
  if (speaking) return;
  speaking = setTimeout(() => {
    speaking = undefined;
    const lamps = parts(root, "[data-lamp]", HTMLElement).map((l) => `${l.dataset.lamp} lamp ${l.dataset.state}`).join(", ");
    if (part("live", HTMLElement).textContent !== lamps) hear(lamps);
  }, 1200);
}

// The table of signals is fetched anew while it is open; the size box says what it takes.
const table = part("signals-box", HTMLDetailsElement);
setInterval(() => { if (table.open && source?.readyState === EventSource.OPEN) refresh(); }, 2500);
for (const choice of parts(root, "[data-likes]", HTMLSelectElement)) {
  choice.addEventListener("change", () => {
    const chosen = choice.selectedOptions[0], size = part(choice.id.replace("fault", "size"), HTMLInputElement);
    size.placeholder = chosen.dataset.like || "the usual";
    size.title = chosen.dataset.accepts || "";
  });
}
