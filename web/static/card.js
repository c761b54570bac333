// @ts-check
// The card's form under one thumb: Enter goes to the next field, cylinders are tapped, the unit follows what is typed,
// and what is still needed is a tap away. What it all means is the server's business.
import { first, part, partIf, parts } from "./find.js";

const form = part("card", HTMLFormElement);

/** @param {HTMLElement} e */
function seen(e) { return e.getClientRects().length > 0; }

/** A change made by a tap is told as one that was typed.
 * @param {HTMLInputElement} input @param {string} value */
function put(input, value) {
  input.value = value;
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

// Enter goes on: to the next figure or words, behind the last of a part to the button. It never saves by itself.
/** @param {KeyboardEvent} e @returns {HTMLInputElement | null} */
function entered(e) {
  const at = e.target;
  if (e.key !== "Enter" || !(at instanceof HTMLInputElement) || at.type === "checkbox") return null;
  e.preventDefault();
  return at;
}
form.addEventListener("keypress", entered); // some keyboards send it by itself
form.addEventListener("keydown", (e) => {
  const at = entered(e);
  if (!at) return;
  const all = parts(form, "input:not([type=hidden]):not([type=radio]):not([type=checkbox]):not(.within)", HTMLInputElement).filter(seen);
  const next = all.find((x) => at.compareDocumentPosition(x) & Node.DOCUMENT_POSITION_FOLLOWING);
  if (next && next.closest("details") === at.closest("details")) { next.focus(); next.select(); } else first(form, "[data-save]", HTMLButtonElement)?.focus();
});

// What is typed with a unit that stands beside the field moves there.
form.addEventListener("change", (e) => {
  const input = e.target;
  if (!(input instanceof HTMLInputElement) || input.type !== "text" || input.classList.contains("within")) return;
  const unit = first(input.closest(".rule") || form, "select.unit", HTMLSelectElement);
  const typed = /^([-+−\d.,/ ½¼¾⅛⅜⅝⅞]*\d|.*[½¼¾⅛⅜⅝⅞])\s*([a-zA-Z]+\d?)$/.exec(input.value.trim());
  if (!unit || !typed || ![...unit.options].some((o) => o.value === typed[2])) return;
  unit.value = typed[2];
  put(input, typed[1]);
  keypad(unit);
});

// Inches come in fractions, for which a number pad has no key.
/** @param {HTMLSelectElement} unit */
function keypad(unit) {
  for (const input of parts(unit.closest(".rule") || form, "input", HTMLInputElement)) input.inputMode = unit.value === "in" ? "text" : "decimal";
}
form.addEventListener("change", (e) => {
  const by = e.target;
  if (by instanceof HTMLSelectElement && by.classList.contains("unit")) keypad(by);
  if (!(by instanceof HTMLInputElement) || by.name !== "card.job.units") return;
  for (const unit of parts(form, "select.unit", HTMLSelectElement)) { // figures that are typed already keep their unit
    const figure = first(unit.closest(".rule") || form, "input", HTMLInputElement);
    const [mm, inch] = ["mm", "in"].map((u) => [...unit.options].some((o) => o.value === u));
    if (mm && inch && figure && !figure.value && (unit.value === "mm" || unit.value === "in")) {
      unit.value = by.value === "inches" ? "in" : "mm";
      keypad(unit);
    }
  }
});

// Cylinders by tapping: how many, and the order they fire in. The last one is left over and follows by itself.
/** @param {HTMLElement} field @param {string} name @param {HTMLElement[]} keys */
function row(field, name, keys) {
  const box = document.createElement("div");
  box.className = "cylinders"; box.setAttribute("role", "group"); box.setAttribute("aria-label", name);
  box.replaceChildren(...keys);
  const said = first(field, "[id$='-said']", HTMLElement);
  field.insertBefore(box, said);
  return box;
}

/** @param {string} word @param {string} name @param {() => void} act */
function key(word, name, act) {
  const b = document.createElement("button");
  b.type = "button"; b.textContent = word; b.setAttribute("aria-label", name);
  b.addEventListener("click", act);
  return b;
}

const count = partIf("card.engine.cylinders", HTMLInputElement);
const order = partIf("card.engine.firing_order", HTMLInputElement);
const usual = [3, 4, 5, 6, 8, 12], most = 24;

/** @param {HTMLInputElement} input */
function fired(input) {
  const text = input.value.trim();
  const cut = /^\d{2,9}$/.test(text) ? text.split("") : text.split(/\D+/);
  return cut.filter((n) => n !== "").map(Number);
}

if (count && !count.readOnly) {
  const field = /** @type {HTMLElement} */ (count.closest(".field"));
  row(field, "How many cylinders", usual.map((n) => key(String(n), `${n} cylinders`, () => put(count, String(n)))));
}
if (order && count && !order.readOnly) {
  const box = row(/** @type {HTMLElement} */ (order.closest(".field")), "Tap the cylinders in the order they fire", []);
  const draw = () => {
    const n = Number(count.value), sofar = fired(order);
    box.hidden = !(n >= 2 && n <= most && Number.isInteger(n));
    if (box.hidden) return;
    if (box.querySelectorAll("[data-cylinder]").length !== n) {
      const all = Array.from({ length: n }, (_, i) => {
        const b = key(String(i + 1), `cylinder ${i + 1}`, () => {
          const now = fired(order);
          if (now.includes(i + 1)) return;
          now.push(i + 1);
          const left = Array.from({ length: Number(count.value) }, (_, k) => k + 1).filter((k) => !now.includes(k));
          put(order, [...now, ...(left.length === 1 ? left : [])].join("-"));
        });
        b.dataset.cylinder = String(i + 1);
        return b;
      });
      const undo = key("Undo", "Undo the last cylinder", () => put(order, fired(order).slice(0, -1).join("-")));
      undo.className = "undo";
      box.replaceChildren(...all, undo);
    }
    for (const b of parts(box, "[data-cylinder]", HTMLButtonElement)) b.setAttribute("aria-pressed", String(sofar.includes(Number(b.dataset.cylinder))));
  };
  form.addEventListener("input", draw);
  draw();
}

// What is needed still, as a way to the first of it.
const left = partIf("left", HTMLAnchorElement);
/** @param {HTMLElement} e */
function empty(e) {
  if (e instanceof HTMLInputElement || e instanceof HTMLSelectElement) return e.value.trim() === "";
  return !e.querySelector("input:checked");
}
function needs() {
  return parts(form, "[data-need]", HTMLElement).filter(empty).map((e) => (e instanceof HTMLFieldSetElement ? first(e, "input", HTMLInputElement) : e));
}
if (left) {
  const tell = () => {
    const open = needs();
    left.hidden = open.length === 0;
    left.textContent = `${open.length} needed`;
    left.href = "#" + (open[0]?.id || "");
  };
  form.addEventListener("input", tell);
  left.addEventListener("click", (e) => {
    const to = needs()[0];
    if (!to) return;
    e.preventDefault();
    to.focus();
    to.scrollIntoView({ block: "center" });
  });
  tell();
}
