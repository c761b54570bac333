// @ts-check
// The line at the foot of a phone, under the strip on the desk: says when the page is cut off, in words and with a shape, and is silent otherwise.
/** @type {Map<string, string>} */
const states = new Map();

/** @param {string} name who says it @param {string} text "": all is well again */
export function lineSays(name, text) {
  if (text) states.set(name, text); else states.delete(name);
  const line = document.getElementById("line");
  if (!line) return;
  const place = document.getElementById("line-place"); // a page whose keys stand at the foot of a phone has it above them
  if (place && !place.contains(line) && matchMedia("(max-width: 55.99rem)").matches) place.append(line);
  const all = [...states.values()].join(" ");
  if (line.textContent !== all) line.textContent = all;
  line.hidden = all === "";
}
