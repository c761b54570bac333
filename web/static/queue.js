// @ts-check
// Entries are put on this device first, with the configuration of the engine that the page shows, then sent.
// What the server has not acknowledged stays and is sent again under the same key,
// so that nothing is lost and nothing is recorded twice.
import { fieldsOf, parts, part } from "./find.js";
import { lineSays } from "./line.js";
import { refresh } from "./live.js";

/** @typedef {{say?: string, do?: string, fields?: Record<string, string>}} Reply what the server says of an entry */
/** @typedef {{key: string, url: string, kind: string, fields: [string, string][], at: number, said?: string, conflict?: boolean, ask?: boolean}} Entry ask: it may be confirmed */
/** @typedef {{kind: "sent"} | {kind: "refused", reply: Reply} | {kind: "kept", said: string}} Answer */

const prefix = "pw.wait.";
const patience = 6000; // ms
let sending = false;

export function queueForms() {
  for (const form of parts(document, "form[data-queue]", HTMLFormElement)) form.addEventListener("submit", (e) => enter(form, e));
  addEventListener("online", flush);
  addEventListener("storage", show);
  document.addEventListener("pw:online", flush);
  show();
  flush();
}

// newKey is a client-made id. crypto.randomUUID is missing on plain http, getRandomValues is not.
export function newKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/** @returns {Entry[]} */
function waiting() {
  /** @type {Entry[]} */
  const all = [];
  for (let i = 0; i < localStorage.length; i++) {
    const name = localStorage.key(i);
    if (name?.startsWith(prefix)) { try { all.push(JSON.parse(localStorage.getItem(name) || "")); } catch { /* not ours */ } }
  }
  return all.sort((a, b) => a.at - b.at);
}

/** @param {Entry} entry */
function put(entry) { localStorage.setItem(prefix + entry.key, JSON.stringify(entry)); }
/** @param {Entry} entry */
function drop(entry) { localStorage.removeItem(prefix + entry.key); }

/** @param {HTMLFormElement} form @param {Event} event */
async function enter(form, event) {
  const by = event instanceof SubmitEvent ? event.submitter : null;
  const fields = fieldsOf(form, by).filter(([name]) => name !== "key");
  /** @type {Entry} */
  const entry = { key: newKey(), url: form.getAttribute("action") || location.href, kind: form.dataset.queue || "", fields, at: Date.now() };
  try { put(entry); } catch { return; } // no room on this device: the form goes the plain way
  event.preventDefault();
  clearWrong(form);
  const button = parts(form, "button", HTMLButtonElement)[0];
  button.disabled = true;
  const answer = await post(entry);
  button.disabled = false;
  if (answer.kind === "refused") { drop(entry); showWrong(form, answer.reply); return; }
  for (const tick of parts(form, "input[type=checkbox]", HTMLInputElement)) tick.checked = false; // the next reading is another look
  for (const input of form.querySelectorAll("input:not([type=hidden]):not([type=checkbox]):not([name=locked]), textarea")) /** @type {HTMLInputElement | HTMLTextAreaElement} */ (input).value = "";
  (parts(form, "input:not([type=hidden]), textarea", HTMLElement)[0] || form).focus();
  form.dispatchEvent(new CustomEvent("pw:entered", { detail: entry })); // the page may take up what was entered just now
  if (answer.kind === "kept") { put({ ...entry, said: answer.said }); show(); return; }
  show();
  refresh();
}

// post sends one entry. "sent": the server has it. "refused": it never will. "kept": try again later.
/** @param {Entry} entry @returns {Promise<Answer>} */
async function post(entry) {
  const body = new URLSearchParams(entry.fields);
  body.set("key", entry.key);
  body.set("taken", String(entry.at)); // the same each time, so that an entry sent again is the same entry
  try {
    const answer = await fetch(entry.url, { method: "POST", body, headers: { Accept: "application/json" }, signal: AbortSignal.timeout(patience) });
    const reply = await answer.json().catch(() => ({}));
    if (answer.ok) { drop(entry); return { kind: "sent" }; }
    if ([400, 404, 409, 413, 422].includes(answer.status)) return { kind: "refused", reply };
    return { kind: "kept", said: [reply.say, reply.do].filter(Boolean).join(" ") };
  } catch { return { kind: "kept", said: "" }; }
}

async function flush() {
  if (sending) return;
  const all = waiting().filter((e) => !e.conflict);
  if (all.length === 0) return;
  sending = true;
  let any = false;
  for (const entry of all) {
    const answer = await post(entry);
    if (answer.kind === "kept") { put({ ...entry, said: answer.said }); break; } // keep the order
    if (answer.kind === "refused") put({ ...entry, conflict: true, ask: !!answer.reply.fields?.confirmed, said: [answer.reply.say, answer.reply.do, ...Object.values(answer.reply.fields || {})].filter(Boolean).join(" ") });
    any = true;
  }
  sending = false;
  show();
  if (any) refresh();
}

// show lists what waits on this device, and what the server would not take, with what to do about it.
function show() {
  const all = waiting();
  let box = document.getElementById("waiting");
  if (all.length === 0) { box?.remove(); lineSays("queue", ""); return; }
  if (!box) {
    box = document.createElement("section");
    box.id = "waiting"; box.className = "waiting"; box.setAttribute("aria-label", "Kept on this device");
    const main = part("main", HTMLElement);
    main.insertBefore(box, main.querySelector("#next")?.nextSibling || main.firstChild);
  }
  const head = document.createElement("b");
  head.textContent = all.length === 1 ? "1 entry is kept on this device" : `${all.length} entries are kept on this device`;
  const list = document.createElement("ul");
  for (const entry of all) {
    const item = document.createElement("li");
    const what = document.createElement("p");
    what.textContent = entry.kind + ": " + entry.fields.filter(([n, v]) => v && n !== "configuration").map(([n, v]) => `${n} ${v}`).join(", ");
    const said = document.createElement("p");
    said.className = "small soft";
    said.textContent = entry.said || "waiting for the line";
    item.append(what, said);
    if (entry.conflict) {
      const again = button("Send again", () => { put({ ...entry, conflict: false }); flush(); });
      const away = button("Drop it", () => { drop(entry); show(); });
      const row = document.createElement("div");
      row.className = "actions";
      if (entry.ask) row.append(button("Yes, it showed that", () => { put({ ...entry, conflict: false, fields: [...entry.fields, ["confirmed", "yes"]] }); flush(); }));
      row.append(again, away);
      item.append(row);
    }
    list.append(item);
  }
  box.replaceChildren(head, list);
}

/** @param {string} word @param {() => void} act */
function button(word, act) {
  const b = document.createElement("button");
  b.type = "button"; b.textContent = word; b.addEventListener("click", act);
  return b;
}

/** @param {HTMLFormElement} form */
function clearWrong(form) {
  for (const said of form.querySelectorAll(".wrong")) if (!said.hasAttribute("data-said")) said.remove(); else said.textContent = "";
  for (const bad of form.querySelectorAll(".bad")) bad.classList.remove("bad");
  for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
  for (const ask of parts(form, "[data-ask]", HTMLElement)) ask.hidden = true;
}

/** @param {HTMLFormElement} form @param {Reply} reply */
function showWrong(form, reply) {
  /** @type {HTMLInputElement | undefined} */
  let first;
  for (const [name, text] of Object.entries(reply.fields || {})) {
    const input = /** @type {HTMLInputElement | null} */ (form.elements.namedItem(name));
    const place = document.getElementById(name + "-said");
    if (!input || !place) continue;
    const p = document.createElement("p");
    p.className = "wrong";
    p.textContent = text;
    place.replaceChildren(p);
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", place.id);
    input.closest(".field")?.classList.add("bad");
    first ||= input;
  }
  const all = form.querySelector("[data-said]");
  if (all) all.textContent = [reply.say, reply.do].filter(Boolean).join(" ");
  const ask = form.querySelector("[data-ask]");
  if (ask instanceof HTMLElement) ask.hidden = !reply.fields?.confirmed;
  first?.focus();
}
