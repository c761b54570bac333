// @ts-check
// Entries are put on this device first, with the configuration of the engine that the page shows, then sent.
// What the server has not acknowledged stays and is sent again under the same key,
// so that nothing is lost and nothing is recorded twice.
import { fieldsOf, parts, part } from "./find.js";
import { isCut, refresh } from "./live.js";

/** @typedef {{say?: string, do?: string, fields?: Record<string, string>}} Reply what the server says of an entry */
/** @typedef {{key: string, url: string, kind: string, fields: [string, string][], at: number, said?: string, conflict?: boolean, ask?: boolean}} Entry ask: it may be confirmed */
/** @typedef {{kind: "sent"} | {kind: "refused", reply: Reply} | {kind: "kept", said: string}} Answer */

const prefix = "pw.wait.";
const patience = 6000; // ms
/** @type {Answer} */
const kept = { kind: "kept", said: "" };
let sending = false;
/** @type {Set<string>} */
const underWay = new Set(); // keys of the entries that the server is being sent

export function queueForms() {
  for (const form of parts(document, "form[data-queue]", HTMLFormElement)) form.addEventListener("submit", (e) => enter(form, e));
  document.addEventListener("submit", stay);
  navigator.serviceWorker?.addEventListener("message", (e) => { if (e.data.unsent && leaving) unsent(leaving); });
  addEventListener("online", flush);
  addEventListener("storage", show);
  document.addEventListener("pw:online", flush);
  show();
  flush();
}

// Other forms are not kept to be sent later: whether a step is locked is for the host to say, and after a correction what
// is read counts anew. Without a line they stay as they are, and say so.
/** @type {HTMLFormElement | null} */
let leaving = null;

/** @param {SubmitEvent} e */
function stay(e) {
  const form = e.target;
  if (e.defaultPrevented || !(form instanceof HTMLFormElement) || form.method !== "post") return;
  form.querySelector(".unsent")?.remove();
  leaving = form;
  if (isCut()) { e.preventDefault(); unsent(form); }
}

/** @param {HTMLFormElement} form */
function unsent(form) {
  leaving = null;
  sessionStorage.removeItem("pw.sent"); // keep.js: what was typed is not done with
  const said = document.createElement("p");
  said.className = "wrong wide unsent";
  said.setAttribute("role", "alert");
  said.textContent = "Not recorded until the line is back. What you typed stays here. Press again then.";
  form.append(said);
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
  const back = waiting().find((e) => e.key === value(entry, "id") && !underWay.has(e.key));
  if (back) { event.preventDefault(); drop(back); show(); return; } // taken back before it left this device
  try { put(entry); } catch { return; } // no room on this device: the form goes the plain way
  event.preventDefault();
  clearWrong(form);
  const button = parts(form, "button", HTMLButtonElement)[0];
  button.disabled = true;
  if (document.getElementById("waiting-list")) show(); // it stands in the list at once
  const answer = isCut() ? kept : await post(entry);
  button.disabled = false;
  if (answer.kind === "refused") { drop(entry); show(); showWrong(form, answer.reply); return; }
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
  underWay.add(entry.key);
  const body = new URLSearchParams(entry.fields);
  body.set("key", entry.key);
  body.set("taken", String(entry.at)); // the same each time, so that an entry sent again is the same entry
  try {
    const answer = await fetch(entry.url, { method: "POST", body, headers: { Accept: "application/json" }, signal: AbortSignal.timeout(patience) });
    const reply = await answer.json().catch(() => ({}));
    if (answer.ok) { drop(entry); return { kind: "sent" }; }
    if ([400, 404, 409, 413, 422].includes(answer.status)) return { kind: "refused", reply };
    return { kind: "kept", said: [reply.say, reply.do].filter(Boolean).join(" ") };
  } catch { return { kind: "kept", said: "" }; } finally { underWay.delete(entry.key); }
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

// show lists what waits on this device, and what the server would not take, with what to do about it: readings of this page
// in its own list, if it has one, the rest in a box.
function show() {
  const list = document.getElementById("waiting-list");
  const all = waiting(), here = list ? all.filter((e) => e.kind === "reading" && new URL(e.url, location.href).pathname === location.pathname) : [];
  list?.replaceChildren(...here.map((e) => item(e, `${value(e, "rpm")} rpm, ${value(e, "shown")}°`)));
  if (list) list.hidden = here.length === 0;
  const rest = all.filter((e) => !here.includes(e));
  let box = document.getElementById("waiting");
  if (rest.length === 0) { box?.remove(); return; }
  if (!box) {
    box = document.createElement("section");
    box.id = "waiting"; box.className = "waiting"; box.setAttribute("aria-label", "Kept on this device");
    const main = part("main", HTMLElement);
    main.insertBefore(box, main.querySelector("#next")?.nextSibling || main.firstChild);
  }
  const head = document.createElement("b"), items = document.createElement("ul");
  head.textContent = rest.length === 1 ? "1 entry is kept on this device" : `${rest.length} entries are kept on this device`;
  items.append(...rest.map((e) => item(e, e.kind + ": " + e.fields.filter(([n, v]) => v && n !== "configuration" && n !== "id").map(([n, v]) => `${n} ${v}`).join(", "))));
  box.replaceChildren(head, items);
}

/** @param {Entry} entry @param {string} name */
function value(entry, name) { return entry.fields.find(([n]) => n === name)?.[1] || "–"; }

/** @param {Entry} entry @param {string} text */
function item(entry, text) {
  const one = document.createElement("li"), what = document.createElement("p"), said = document.createElement("p");
  what.textContent = text + " ";
  const state = document.createElement("em");
  state.textContent = entry.conflict ? "not taken" : "waiting";
  what.append(state);
  one.append(what);
  said.className = "small soft";
  said.textContent = entry.said || "";
  if (entry.said) one.append(said);
  if (!entry.conflict) return one;
  const row = document.createElement("div");
  row.className = "actions";
  if (entry.ask) row.append(button("Yes, it showed that", () => { put({ ...entry, conflict: false, fields: [...entry.fields, ["confirmed", "yes"]] }); flush(); }));
  row.append(button("Send again", () => { put({ ...entry, conflict: false }); flush(); }), button("Drop it", () => { drop(entry); show(); }));
  one.append(row);
  return one;
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
