// @ts-check
// Readings in one hand: keys of our own under the thumb, the speed asked for set beforehand, and ten seconds in which
// one tap takes back what was added. What is typed goes into the fields of the form; the rest is the form's.
import { stayAwake } from "./awake.js";
import { first, part, parts } from "./find.js";

/** @typedef {{key: string, fields: [string, string][]}} Entered */

const takeBack = 10000; // ms
const form = first(document, "form.hands", HTMLFormElement);
stayAwake();
if (form) inHand(form);

/** @param {HTMLFormElement} form */
function inHand(form) {
  const rpm = part("rpm", HTMLInputElement), shown = part("shown", HTMLInputElement);
  const wire = first(form, "[name=wire]", HTMLInputElement), locked = part("locked", HTMLInputElement);
  const next = part("next", HTMLElement), undo = part("undo", HTMLFormElement), undoKey = part("undo-id", HTMLInputElement);
  const keys = parts(form, "[data-key]", HTMLButtonElement);
  const key = /** @param {string} name */ (name) => keys.find((k) => k.dataset.key === name) || keys[0];
  let on = shown; // the field that the keys type into
  let preset = ""; // the speed set beforehand, as long as nobody has typed over it
  let kept = ""; // the wire, which stays from reading to reading

  /** @param {HTMLInputElement} field */
  const turnTo = (field) => {
    on = field;
    for (const f of [rpm, shown]) f.closest(".field")?.classList.toggle("on", f === on);
    key("other").textContent = on === shown ? "rpm" : "° BTDC";
  };
  const mayUndo = () => undoKey.value !== "" && shown.value === "" && (rpm.value === "" || isPreset());
  const isPreset = () => preset !== "" && rpm.value === preset;
  // Set beforehand is the speed that the page asks for; typing goes over it.
  const ask = () => {
    if (rpm.value !== "" && !isPreset()) return;
    rpm.value = rpm.defaultValue = preset = first(next, "[data-rpm]", HTMLElement)?.dataset.rpm || "";
    if (document.activeElement === rpm) rpm.select();
  };
  const say = () => {
    part("setup-says", HTMLElement).textContent = `wire ${wire?.value || "1"}, locked ${locked.value || "–"}°`;
    key("after").setAttribute("aria-pressed", String(shown.value.startsWith("-")));
    key("back").textContent = mayUndo() ? "undo " + undo.dataset.what : "delete";
  };
  /** @param {string} text */
  const put = (text) => { on.value = text; say(); };

  for (const k of keys) {
    k.addEventListener("mousedown", (e) => e.preventDefault()); // the field keeps the focus
    k.addEventListener("click", () => press(k.dataset.key || ""));
  }
  /** @param {string} what */
  function press(what) {
    switch (what) {
      case "other": turnTo(on === shown ? rpm : shown); on.focus(); return;
      case "after": turnTo(shown); put(on.value.startsWith("-") ? on.value.slice(1) : "-" + on.value); return;
      case "back":
        if (mayUndo()) { undo.requestSubmit(); forget(); return; }
        put(on.value.slice(0, -1));
        return;
      case ".": if (on.value.includes(".")) return;
    }
    put(on === rpm && isPreset() ? what : on.value + what);
  }

  form.addEventListener("focusin", (e) => {
    const field = [rpm, shown].find((f) => f === e.target);
    if (field) turnTo(field);
    if (e.target === rpm && isPreset()) rpm.select();
  });
  form.addEventListener("input", say);
  // On the desk figures may be typed wherever the focus is, and Enter adds.
  document.addEventListener("keydown", (e) => {
    const at = document.activeElement;
    if (e.ctrlKey || e.metaKey || e.altKey || at && !at.matches("body, main, [data-key]")) return;
    if (/^[-0-9.,]$/.test(e.key)) on.focus();
    else if (e.key === "Enter" && at === document.body && shown.value !== "") form.requestSubmit();
  });

  form.addEventListener("submit", () => { kept = wire?.value || ""; });
  form.addEventListener("pw:entered", (e) => {
    if (!(e instanceof CustomEvent)) return;
    /** @type {Entered} */
    const entry = e.detail;
    if (wire) wire.value = kept;
    undoKey.value = entry.key;
    undo.dataset.what = entry.fields.find(([name]) => name === "shown")?.[1] || "";
    clearTimeout(forgetting);
    forgetting = setTimeout(forget, takeBack);
    preset = "";
    ask();
    (preset ? shown : rpm).focus();
    say();
  });
  /** @type {number | undefined} */
  let forgetting;
  function forget() { clearTimeout(forgetting); undoKey.value = ""; say(); }

  // The keyboard of the device stays away where ours is.
  const ours = () => { for (const f of [rpm, shown]) f.inputMode = key("0").checkVisibility() ? "none" : "decimal"; };
  addEventListener("resize", ours);

  // The title says when something was refused.
  const title = document.title.replace(/^Error: /, "");
  new MutationObserver(() => { document.title = (form.querySelector("[aria-invalid]") ? "Error: " : "") + title; })
    .observe(form, { subtree: true, attributeFilter: ["aria-invalid"] });
  new MutationObserver(ask).observe(next, { childList: true });

  turnTo(rpm.value && !shown.value || first(next, "[data-rpm]", HTMLElement)?.dataset.rpm ? shown : rpm);
  ask(); say(); ours();
}
