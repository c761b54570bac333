// @ts-check
// One thing to do: the screen stays awake, and its sentences are read aloud where the device has a voice of its own.
import { stayAwake } from "./awake.js";
import { partIf, parts } from "./find.js";

stayAwake();

const button = partIf("aloud", HTMLButtonElement);
const speech = "speechSynthesis" in window ? window.speechSynthesis : null;

// voice is one that speaks on the device, without a network: English, since the page is.
function voice() {
  return speech?.getVoices().find((v) => v.localService && v.lang.toLowerCase().startsWith("en")) || null;
}

function offer() { if (button) button.hidden = !voice(); }

if (button && speech) {
  offer();
  speech.addEventListener("voiceschanged", offer); // they come later
  button.addEventListener("click", () => {
    if (speech.speaking) { speech.cancel(); return; }
    for (const line of parts(document, ".huge, .way, .hazard span, #words li", HTMLElement)) {
      const said = new SpeechSynthesisUtterance(line.textContent || "");
      said.voice = voice();
      said.lang = said.voice?.lang || "en";
      speech.speak(said);
    }
  });
  addEventListener("pagehide", () => speech.cancel());
}
