// @ts-check
// The sliders of coil, spark and rotor: each move asks the server what it comes to and swaps the answer in. Nothing is worked out here.
import { part, partIf, parts } from "./find.js";
import { lineSays } from "./line.js";

const form = partIf("try", HTMLFormElement);
let asking = false, again = false;

/** @param {HTMLFormElement} form */
function query(form) {
  const q = new URLSearchParams();
  for (const input of parts(form, "input[name]", HTMLInputElement)) if (input.value.trim() !== "") q.set(input.name, input.value.trim());
  return q.toString();
}

// ask has one question under way at a time; moves that come meanwhile become one more, so that the page keeps up on a slow line.
/** @param {HTMLFormElement} form */
async function ask(form) {
  if (asking) { again = true; return; }
  asking = true;
  const asked = query(form);
  history.replaceState(null, "", form.getAttribute("action") + "?" + asked);
  try {
    const answer = await fetch(form.dataset.part + "?" + asked);
    if (answer.redirected) { location.href = answer.url; return; } // not paired any more
    if (answer.ok || answer.status === 422) swap(form, new DOMParser().parseFromString(await answer.text(), "text/html"));
    lineSays("spark", answer.ok || answer.status === 422 ? "" : "The host could not work that out. Load the page again.");
  } catch { lineSays("spark", "The line to the host is lost. The chart is as it last was."); }
  asking = false;
  if (again) { again = false; ask(form); }
}

// swap takes over what the answer holds; findings that were unfolded stay so.
/** @param {HTMLFormElement} form @param {Document} fresh */
function swap(form, fresh) {
  for (const then of fresh.querySelectorAll("[data-swap]")) {
    const now = document.getElementById(then.id);
    if (!now || now.innerHTML === then.innerHTML) continue;
    const open = [...now.querySelectorAll("details[open]")].map((d) => d.parentElement?.id || "");
    now.replaceChildren(...then.childNodes);
    for (const id of open) { const d = document.getElementById(id)?.querySelector("details"); if (d) d.open = true; }
  }
  for (const input of parts(form, "input[name]", HTMLInputElement)) {
    const wrong = part(input.name + "-said", HTMLElement).textContent.trim() !== "";
    if (wrong) input.setAttribute("aria-invalid", "true"); else input.removeAttribute("aria-invalid");
  }
}

if (form) {
  for (const slider of parts(form, ".slider", HTMLInputElement)) {
    const box = part(slider.dataset.for || "", HTMLInputElement);
    const say = () => slider.setAttribute("aria-valuetext", slider.value + " " + (slider.dataset.unit === "°" ? "degrees" : slider.dataset.unit));
    slider.hidden = false;
    say();
    slider.addEventListener("input", () => { box.value = slider.value; say(); ask(form); });
    box.addEventListener("input", () => {
      const typed = Number(box.value.trim().replace(",", "."));
      if (box.value.trim() !== "" && Number.isFinite(typed)) { slider.value = String(typed); say(); }
      ask(form);
    });
  }
  form.addEventListener("submit", (e) => { e.preventDefault(); ask(form); });
}
