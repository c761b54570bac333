// @ts-check
// The line under the strip: says when the page is cut off, in words and with a shape, and is silent otherwise.
/** @type {Map<string, string>} */
const states = new Map();

/** @param {string} name who says it @param {string} text "": all is well again */
export function lineSays(name, text) {
  if (text) states.set(name, text); else states.delete(name);
  const line = document.getElementById("line");
  if (!line) return;
  const all = [...states.values()].join(" ");
  if (line.textContent !== all) line.textContent = all;
  line.hidden = all === "";
}
