// @ts-check
// Recorded files on their way to the host: chosen or dropped on the page, sent one after the other, with how far they are. Without script the form sends one.
import { part, partIf } from "./find.js";
import { refresh } from "./live.js";
import { newKey } from "./queue.js";

const form = partIf("send", HTMLFormElement);
if (form) {
  const file = part("file", HTMLInputElement);
  form.addEventListener("submit", (e) => {
    if (!file.files?.length) return;
    e.preventDefault();
    sendAll(form, [...file.files]);
  });
  let within = 0; // drag events come for every element that is crossed
  const dropping = (/** @type {boolean} */ on) => document.body.toggleAttribute("data-dropping", on);
  const carriesFiles = (/** @type {DragEvent} */ e) => !!e.dataTransfer && [...e.dataTransfer.types].includes("Files");
  addEventListener("dragenter", (e) => { if (carriesFiles(e)) { within++; dropping(true); } });
  addEventListener("dragleave", (e) => { if (carriesFiles(e) && --within <= 0) { within = 0; dropping(false); } });
  addEventListener("dragover", (e) => { if (carriesFiles(e)) e.preventDefault(); });
  addEventListener("drop", (e) => {
    if (!carriesFiles(e) || !e.dataTransfer) return;
    e.preventDefault(); // else the browser would open the file in place of the page
    within = 0;
    dropping(false);
    sendAll(form, [...e.dataTransfer.files]);
  });
}

let busy = false;

/** @param {HTMLFormElement} form @param {File[]} files */
async function sendAll(form, files) {
  const box = part("sending", HTMLElement);
  if (busy) { box.prepend(line("A file is still on its way. Wait for it, then drop this one again.", "wrong")); return; }
  busy = true;
  box.replaceChildren();
  for (const one of files) {
    const said = await send(form, box, one);
    if (said) { box.replaceChildren(line(`${one.name}: ${said}`, "wrong")); break; }
    box.replaceChildren();
    refresh();
  }
  form.reset();
  busy = false;
}

/** Sends one file. @param {HTMLFormElement} form @param {HTMLElement} box @param {File} file @returns {Promise<string>} what went wrong; "" when the host has it */
function send(form, box, file) {
  return new Promise((done) => {
    if (file.size > Number(form.dataset.most)) { done(`The file is larger than the ${form.dataset.words} that the host takes. Cut the recording, or pack it with gzip or zstd.`); return; }
    const body = new FormData();
    body.set("key", newKey());
    const shown = /** @type {HTMLInputElement | null} */ (form.elements.namedItem("configuration"));
    body.set("configuration", shown?.value || "");
    body.set("taken", String(file.lastModified));
    body.set("file", file);
    const way = new XMLHttpRequest(); // fetch does not tell how much was sent
    const words = line(`Sending ${file.name}`, ""), bar = document.createElement("progress"), stop = document.createElement("button");
    bar.max = 1; bar.value = 0;
    bar.setAttribute("aria-label", file.name + ", sent so far");
    stop.type = "button"; stop.textContent = "Stop sending";
    stop.addEventListener("click", () => way.abort());
    box.replaceChildren(words, bar, stop);
    const began = Date.now();
    way.upload.addEventListener("progress", (e) => {
      if (!e.lengthComputable || !e.total) return;
      bar.value = e.loaded / e.total;
      const took = (Date.now() - began) / 1000, left = took * (e.total / e.loaded - 1);
      words.textContent = `Sending ${file.name}: ${Math.floor(100 * e.loaded / e.total)} %` + (took > 1 ? `, about ${left < 100 ? Math.ceil(left) + " s" : Math.ceil(left / 60) + " min"} to go` : "");
    });
    way.upload.addEventListener("load", () => { words.textContent = `${file.name} is sent; the host puts it away.`; });
    way.addEventListener("load", () => done(way.status === 200 ? "" : said(way)));
    way.addEventListener("error", () => done("The line to the host broke off. Nothing was recorded. Send it again."));
    way.addEventListener("abort", () => done("Stopped. Nothing was recorded."));
    way.open("POST", form.action);
    way.setRequestHeader("Accept", "application/json");
    way.send(body);
  });
}

/** What the host said. @param {XMLHttpRequest} way */
function said(way) {
  try {
    const reply = JSON.parse(way.responseText);
    return [reply.say, reply.do].filter(Boolean).join(" ");
  } catch { return "The host did not take it. Load the page again, then send it again."; }
}

/** @param {string} text @param {string} look */
function line(text, look) {
  const p = document.createElement("p");
  p.className = look;
  p.textContent = text;
  return p;
}
