// @ts-check
// The ranking moves as evidence is entered: each change asks the server and swaps the answer in. Nothing is worked out here.
import { fieldsOf, part, partIf } from "./find.js";
import { lineSays } from "./line.js";

const form = partIf("evidence", HTMLFormElement);
let asking = false, again = false;

/** @param {HTMLFormElement} form */
async function ask(form) {
  if (asking) { again = true; return; }
  asking = true;
  const q = new URLSearchParams();
  for (const [name, value] of fieldsOf(form)) if (name !== "key" && value.trim() !== "") q.append(name, value.trim());
  history.replaceState(null, "", form.getAttribute("action") + "?" + q);
  try {
    const answer = await fetch(form.dataset.part + "?" + q);
    if (answer.redirected) { location.href = answer.url; return; } // not paired any more
    if (answer.ok || answer.status === 422) {
      const then = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("ranking");
      if (then) part("ranking", HTMLElement).replaceChildren(...then.childNodes);
    }
    lineSays("suspects", answer.ok || answer.status === 422 ? "" : "The host could not weigh that. Load the page again.");
  } catch { lineSays("suspects", "The line to the host is lost. The ranking is as it last was."); }
  asking = false;
  if (again) { again = false; ask(form); }
}

if (form) form.addEventListener("change", () => ask(form));
