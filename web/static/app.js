// @ts-check
// The page's script. It sends, fetches and swaps; every figure comes from the server.
import { first, parts } from "./find.js";
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

performance.mark("ready"); // forms, keeping and following work from here on
