// @ts-check
// Finds the parts of the page, each of the kind that it must be, so that script and page cannot drift apart unseen.

/** The part with the id; a page without it is a fault of ours.
 * @template {Element} T @param {string} id @param {new () => T} kind @returns {T} */
export function part(id, kind) {
  const e = partIf(id, kind);
  if (!e) throw new Error(`no ${kind.name} #${id} on this page`);
  return e;
}

/** The part with the id, on pages that have it.
 * @template {Element} T @param {string} id @param {new () => T} kind @returns {T | null} */
export function partIf(id, kind) {
  const e = document.getElementById(id);
  return e instanceof kind ? e : null;
}

/** All parts that a selector picks.
 * @template {Element} T @param {ParentNode} within @param {string} css @param {new () => T} kind @returns {T[]} */
export function parts(within, css, kind) {
  return [...within.querySelectorAll(css)].flatMap((e) => (e instanceof kind ? [e] : []));
}

/** The first part that a selector picks.
 * @template {Element} T @param {ParentNode} within @param {string} css @param {new () => T} kind @returns {T | null} */
export function first(within, css, kind) {
  const e = within.querySelector(css);
  return e instanceof kind ? e : null;
}

/** The fields of a form as text; files are not for script.
 * @param {HTMLFormElement} form @param {HTMLElement | null} [by] @returns {[string, string][]} */
export function fieldsOf(form, by) {
  return [...new FormData(form, by)].map(([name, value]) => [name, typeof value === "string" ? value : ""]);
}
