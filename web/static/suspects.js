// @ts-check
// The ranking moves as answers are tapped: each asks the server and swaps in what it says, with the questions that then
// come first. Nothing is worked out here.
import { fieldsOf, part, partIf, parts } from "./find.js";
import { lineSays } from "./line.js";

const form = partIf("evidence", HTMLFormElement);
let asking = false, again = false;
/** @type {string[] | null} */
let go = null; // name and value of the button that leads to other questions
let byKeys = false; // the arrows go through answers: only the one that is left counts
let waiting = false;
const severalFor = 900; // ms in which one more answer of several is tapped
/** @type {number | undefined} */
let soon;

/** @param {HTMLFormElement} form */
async function ask(form) {
  if (asking) { again = true; return; }
  asking = true;
  const q = new URLSearchParams(), to = go;
  go = null;
  for (const [name, value] of [...fieldsOf(form), ...(to ? [to] : [])]) if (name !== "key" && value.trim() !== "") q.append(name, value.trim());
  history.replaceState(null, "", form.getAttribute("action") + "?" + q);
  try {
    const answer = await fetch(form.dataset.part + "?" + q);
    if (answer.redirected) { location.href = answer.url; return; } // not paired any more
    if (answer.ok || answer.status === 422) {
      const then = new DOMParser().parseFromString(await answer.text(), "text/html");
      swap(then, again ? ["now", "ranking"] : ["now", "ranking", "asked"]); // what was tapped meanwhile stays
      if (to && !again) {
        part("round", HTMLElement).scrollIntoView();
        part("round", HTMLElement).focus({ preventScroll: true });
      }
    }
    lineSays("suspects", answer.ok || answer.status === 422 ? "" : "The host could not weigh that. Load the page again.");
  } catch { lineSays("suspects", "The line to the host is lost. The ranking is as it last was."); }
  if (again && to && !go) go = to;
  asking = false;
  if (again) { again = false; ask(form); }
}

// swap takes the parts over. What was unfolded stays so, what is being typed is kept, and what has the focus stays
// where it is on the screen.
/** @param {Document} then @param {string[]} ids */
function swap(then, ids) {
  const had = document.activeElement;
  const inside = had instanceof HTMLElement && part("asked", HTMLElement).contains(had);
  const before = inside ? had.getBoundingClientRect().top : 0;
  const typed = had instanceof HTMLInputElement && had.type === "text" || had instanceof HTMLTextAreaElement ? had.value : null;
  for (const id of ids) {
    const fresh = then.getElementById(id);
    const now = part(id, HTMLElement);
    if (!fresh || now.innerHTML === fresh.innerHTML) continue;
    const open = parts(now, "details[open][id]", HTMLDetailsElement).map((d) => d.id);
    now.replaceChildren(...fresh.childNodes);
    for (const d of open) { const e = partIf(d, HTMLDetailsElement); if (e) e.open = true; }
  }
  if (!inside || had.isConnected) return;
  const same = had.id ? document.getElementById(had.id) : null;
  if (same instanceof HTMLInputElement || same instanceof HTMLTextAreaElement) {
    if (typed !== null) same.value = typed;
    same.focus({ preventScroll: true });
    scrollBy(0, same.getBoundingClientRect().top - before);
  } else (partIf("look", HTMLElement) || partIf("round", HTMLElement))?.focus({ preventScroll: true });
}

if (form) {
  form.addEventListener("keydown", (e) => { byKeys = e.key.startsWith("Arrow"); });
  form.addEventListener("pointerdown", () => { byKeys = false; });
  form.addEventListener("change", (e) => {
    const t = e.target;
    if (t instanceof HTMLInputElement && t.type === "radio" && byKeys) { waiting = true; return; }
    clearTimeout(soon);
    // "none" and another answer cannot both be
    if (t instanceof HTMLInputElement && t.type === "checkbox" && t.checked) {
      for (const x of parts(form, "input[type=checkbox]", HTMLInputElement)) {
        if (x !== t && x.name === t.name && (t.value === "none" || x.value === "none")) x.checked = false;
      }
    }
    if (t instanceof HTMLInputElement && t.type === "checkbox") soon = setTimeout(() => ask(form), severalFor); else ask(form);
  });
  form.addEventListener("focusout", (e) => {
    const to = e.relatedTarget instanceof HTMLInputElement ? e.relatedTarget.name : "";
    if (waiting && e.target instanceof HTMLInputElement && e.target.name !== to) { waiting = false; ask(form); }
  });
  form.addEventListener("submit", (e) => {
    const by = e.submitter instanceof HTMLButtonElement ? e.submitter : null;
    if (by && by.formMethod === "post") return;
    e.preventDefault();
    clearTimeout(soon);
    waiting = false;
    if (by && by.name) go = [by.name, by.value];
    ask(form);
  });
}
