// @ts-check
// Earlier jobs are found while their name, owner or cylinders are typed. The host finds them.
import { first, partIf } from "./find.js";
import { lineSays } from "./line.js";

const box = partIf("q", HTMLInputElement);
const form = partIf("find", HTMLFormElement);
const pause = 250; // ms without a key
/** @type {number | undefined} */
let soon;

async function find() {
  if (!box) return;
  const asked = box.value.trim();
  try {
    const answer = await fetch("/new?" + new URLSearchParams({ q: asked }));
    if (answer.redirected) { location.href = answer.url; return; } // not paired any more
    const then = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("similar");
    const now = partIf("similar", HTMLElement);
    if (!answer.ok || !then || !now || asked !== box.value.trim()) return;
    const chosen = first(now, "input:checked", HTMLInputElement)?.closest("label");
    const id = chosen && first(chosen, "input", HTMLInputElement)?.value;
    now.replaceChildren(...then.childNodes);
    if (chosen) { // what was chosen stays, found or not
      first(now, `input[value="${id}"]`, HTMLInputElement)?.closest("label")?.remove();
      now.prepend(chosen);
    }
    lineSays("similar", "");
  } catch { lineSays("similar", "The line to the host is lost. The jobs are as they were found last."); }
}

if (box && form) {
  box.addEventListener("input", () => { clearTimeout(soon); soon = setTimeout(find, pause); });
  form.addEventListener("submit", (e) => { e.preventDefault(); clearTimeout(soon); find(); });
}
