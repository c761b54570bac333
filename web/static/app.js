// @ts-check
// The page's script. It sends, fetches and swaps; every figure comes from the server.
import { first, parts } from "./find.js";
import { lineSays } from "./line.js";
import { follow } from "./live.js";
import { queueForms } from "./queue.js";
import { keepTyping } from "./keep.js";

document.documentElement.dataset.script = "on";
keepTyping();
queueForms();
follow();

// Choosing to paste is implied by pasting.
for (const box of parts(document, "[data-picks]", HTMLTextAreaElement)) {
  box.addEventListener("input", () => {
    const radio = first(document, `input[type=radio][value="${box.dataset.picks}"]`, HTMLInputElement);
    if (radio && box.value) radio.checked = true;
  });
}

// A form that asks for it takes along when it was sent, by the clock of this screen.
document.addEventListener("submit", (e) => {
  const taken = e.target instanceof HTMLFormElement ? e.target.elements.namedItem("taken") : null;
  if (taken instanceof HTMLInputElement) taken.value = String(Date.now());
});

// Where the browser may, the shell and the pages seen stay on this device (sw.js), once this page has all it needs.
addEventListener("load", async () => {
  if (!navigator.serviceWorker) return; // plain http, or an older browser: all works as long as the line does
  try {
    const controlled = navigator.serviceWorker.controller;
    await navigator.serviceWorker.register("/sw.js");
    const ready = await navigator.serviceWorker.ready;
    if (controlled) return;
    const made = performance.getEntriesByType("resource").map((e) => e.name).filter((name) => name.includes("/static/"));
    ready.active?.postMessage({ page: location.href, made });
  } catch { /* a certificate that is not trusted: as without */ }
});

// A paper goes to whoever should have it by the device's own way of sharing, where it has one for files. It is fetched at the
// first tap; where that took so long that the tap does not count any more, the next one shares it.
const pdf = { type: "application/pdf" };
/** @type {Map<string, File>} */
const papers = new Map();
document.addEventListener("click", async (e) => {
  const button = e.target instanceof Element ? e.target.closest("button[data-share]") : null;
  if (!(button instanceof HTMLButtonElement)) return;
  const from = button.dataset.share || "";
  try {
    if (!papers.has(from)) {
      const answer = await fetch(from);
      if (!answer.ok) throw new Error(answer.statusText);
      const name = /filename="([^"]+)"/.exec(answer.headers.get("Content-Disposition") || "")?.[1] || "phasewright.pdf";
      papers.set(from, new File([await answer.blob()], name, pdf));
    }
  } catch { lineSays("share", "The paper did not come from the host. Try again when the line is back."); return; }
  const paper = papers.get(from);
  if (!paper) return;
  try {
    await navigator.share({ files: [paper] });
    papers.delete(from); // the next one may hold more
    lineSays("share", "");
  } catch (why) {
    lineSays("share", why instanceof Error && why.name === "NotAllowedError" ? "The paper has come. Press again to share it." : "");
  }
});
if (navigator.canShare?.({ files: [new File([], "a.pdf", pdf)] })) document.documentElement.dataset.shares = "on";

performance.mark("ready"); // forms, keeping and following work from here on
