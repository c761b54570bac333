// @ts-check
// Long forms are kept on the device while they are written, so that a flat battery or a lost line costs nothing.
import { fieldsOf, parts } from "./find.js";

/** @typedef {{version: string, fields: [string, string][]}} Kept */

const prefix = "pw.keep.";

export function keepTyping() {
  for (const form of parts(document, "form[data-keep]", HTMLFormElement)) {
    const name = prefix + form.dataset.keep;
    const version = /** @type {HTMLInputElement | null} */ (form.elements.namedItem("version"))?.value || "";
    restore(form, name, version);
    form.addEventListener("input", () => {
      const fields = fieldsOf(form).filter(([n]) => !["key", "version", "confirm"].includes(n)); // what was looked at is ticked anew
      try { localStorage.setItem(name, JSON.stringify({ version, fields })); } catch { /* no room: typing goes on */ }
    });
    form.addEventListener("submit", () => sessionStorage.setItem("pw.sent", name));
  }
  // The page after a successful save shows another form, or none: what was kept is then done with.
  const sent = sessionStorage.getItem("pw.sent");
  if (sent) {
    sessionStorage.removeItem("pw.sent");
    const failed = document.querySelector("[role=alert]:not(:empty), .bad, [data-theirs]");
    if (!failed) localStorage.removeItem(sent);
  }
}

/** @param {HTMLFormElement} form @param {string} name @param {string} version */
function restore(form, name, version) {
  if (sessionStorage.getItem("pw.sent") === name) return; // the server has answered this one itself
  /** @type {Kept | null} */
  let kept;
  try { kept = JSON.parse(localStorage.getItem(name) || "null"); } catch { return; }
  if (!kept || !differs(form, kept.fields)) return;
  const fields = kept.fields;
  if (kept.version === version) {
    fill(form, fields);
    form.prepend(note("What you had typed on this device before is back in the form."));
    return;
  }
  // Somebody recorded more meanwhile: whoever typed decides.
  const said = note("You had typed something here before the job moved on. ");
  const back = choice("Put it back", () => { fill(form, fields); said.remove(); });
  const drop = choice("Drop it", () => { localStorage.removeItem(name); said.remove(); });
  said.append(back, drop);
  form.prepend(said);
}

/** @param {HTMLFormElement} form @param {string} name
 * @returns {HTMLInputElement | null} */
function entry(form, name) { return /** @type {HTMLInputElement | null} */ (form.elements.namedItem(name)); }

/** @param {HTMLFormElement} form @param {Kept["fields"]} fields */
function differs(form, fields) {
  return fields.some(([n, value]) => { const input = entry(form, n); return input && input.value !== value; });
}

/** @param {HTMLFormElement} form @param {Kept["fields"]} fields */
function fill(form, fields) {
  for (const [n, value] of fields) { const input = entry(form, n); if (input) input.value = value; }
  form.dispatchEvent(new Event("input")); // what follows from the fields
}

/** @param {string} text */
function note(text) {
  const p = document.createElement("p");
  p.className = "small soft actions";
  p.setAttribute("role", "status");
  p.textContent = text;
  return p;
}

/** @param {string} word @param {() => void} act */
function choice(word, act) {
  const b = document.createElement("button");
  b.type = "button"; b.textContent = word; b.addEventListener("click", act);
  return b;
}
