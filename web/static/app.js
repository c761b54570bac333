// The page's script. It sends, fetches and swaps; every figure comes from the server.
import { follow } from "./live.js";
import { queueForms } from "./queue.js";
import { keepTyping } from "./keep.js";

document.documentElement.dataset.script = "on";
keepTyping();
queueForms();
follow();

// Choosing to paste is implied by pasting.
for (const box of document.querySelectorAll("[data-picks]")) {
  box.addEventListener("input", () => {
    const radio = document.querySelector(`input[type=radio][value="${box.dataset.picks}"]`);
    if (radio && box.value) radio.checked = true;
  });
}
