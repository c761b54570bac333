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

// Papers go to whoever should have them by the device's own way of sharing, where it has one for files.
for (const button of parts(document, "button[data-share]", HTMLButtonElement)) {
  const { share = "", name = "" } = button.dataset, kind = "application/pdf";
  if (!navigator.canShare?.({ files: [new File([], name, { type: kind })] })) continue;
  button.hidden = false;
  /** @type {File | undefined} */
  let paper; // fetched once: sharing must follow the tap at once, a slow line would spend it
  button.addEventListener("click", async () => {
    try {
      if (!paper) {
        const answer = await fetch(share);
        if (!answer.ok) throw new Error(answer.statusText);
        paper = new File([await answer.blob()], name, { type: kind });
      }
    } catch { lineSays("share", "The paper did not come from the host. Try again when the line is back."); return; }
    lineSays("share", "");
    try { await navigator.share({ files: [paper], title: name }); } catch (why) {
      if (why instanceof Error && why.name === "NotAllowedError") lineSays("share", "The paper is here now. Press Share again.");
    }
  });
}

performance.mark("ready"); // forms, keeping and following work from here on
