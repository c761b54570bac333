// @ts-check
// What hands do to the bench: forms sent without leaving the page, a crank button that works by holding or tapping, and a cap and a damper that are turned
// with a finger or the arrow keys. Nothing is believed until the host says so.
import { fieldsOf, first, part, partIf, parts } from "./find.js";

/** @typedef {import("./bench-motion.js").Bench} Bench */

const beatEvery = 600; // ms between two words that whoever cranks is there; the host lets the starter go after 2 s without
const dead = 8; // px that a finger on the lever moves before the lever does
const thumb = 30; // px from the middle of the lever's handle that count as on it
const quick = 350; // ms: a shorter press of the crank button is a tap, and stays

/** @param {HTMLElement} root @param {Bench} state @param {string} tab @param {(text: string) => void} tell */
export function makeHands(root, state, tab, tell) {
  const base = root.dataset.bench;

  // One after the other: what hands do in a hurry arrives in their order.
  let turn = Promise.resolve(true);
  /** @param {string} action @param {Record<string, string> | [string, string][]} fields @returns whether the host took it */
  function send(action, fields) { return (turn = turn.then(() => post(action, fields))); }

  /** @param {string} action @param {Record<string, string> | [string, string][]} fields */
  async function post(action, fields) {
    const body = new URLSearchParams(fields);
    body.set("tab", tab);
    try {
      const answer = await fetch(action, { method: "POST", body, headers: { Accept: "application/json" }, signal: AbortSignal.timeout(6000) });
      const reply = await answer.json().catch(() => ({}));
      if (answer.ok) { if (!sticky()) tell(""); return true; }
      tell([reply.say, reply.do].filter(Boolean).join(" ") || "That did not get through. Try again.");
    } catch { tell("That did not get through: the line to the host is lost."); }
    return false;
  }

  // What was just told of the controls or heard stays until something else is said.
  function sticky() { return /^(Heard|You hold|A fault|What was|The work was|.+ (asks for|has) the controls)/.test(part("said", HTMLElement).textContent); }

  root.addEventListener("submit", (e) => {
    const form = e.target;
    if (!(form instanceof HTMLFormElement && form.matches("form[data-do]"))) return;
    e.preventDefault();
    const action = form.getAttribute("action") || "", fields = fieldsOf(form, e.submitter);
    send(action, fields).then((ok) => {
      if (!ok) return;
      if (form.closest("#settings")) tell("Done. " + (fields.some(([, v]) => v === "settings") ? "On the screen; store it next." : fields.some(([, v]) => v === "store") ? "Stored; switch off and on to bring it into force." : "In force is what is stored."));
      if (/judge|reveal/.test(action)) setTimeout(judged, 600);
    });
  });

  // What was judged is gone to, so that eyes and ears begin with it.
  function judged() {
    part("outcome", HTMLElement).scrollIntoView({ block: "start" });
    first(part("outcome", HTMLElement), "h2", HTMLElement)?.focus({ preventScroll: true });
  }

  // The crank button: held it cranks while held; tapped, or pressed by key, it stays until pressed again.
  const starter = partIf("starter", HTMLButtonElement);
  /** @param {"on" | "off"} to */
  const crank = (to) => send(base + "/do", { do: "starter", to });
  let pressed = 0, begun = false, took = Promise.resolve(false);
  if (starter) {
    starter.form?.addEventListener("submit", (e) => { e.preventDefault(); crank(state.starter === "on" ? "off" : "on"); });
    starter.addEventListener("pointerdown", (e) => {
      begun = e.button === 0 && state.starter !== "on";
      if (!begun) return;
      pressed = performance.now();
      starter.setPointerCapture(e.pointerId);
      took = crank("on");
    });
    starter.addEventListener("click", (e) => { if (e.detail > 0 && begun) e.preventDefault(); }); // the press has done it already
    starter.addEventListener("contextmenu", (e) => e.preventDefault());
    for (const name of ["pointerup", "pointercancel"]) starter.addEventListener(name, letGo);
  }
  function letGo() {
    const held = pressed && performance.now() - pressed > quick;
    pressed = 0;
    if (held) took.then((ok) => ok && crank("off"));
  }

  // Turning is gathered while a message is on its way.
  /** @param {{do: string, least: number, whole?: boolean}} fields */
  function gather(fields) {
    let waiting = 0, busy = false;
    /** @param {number} by */
    return async function add(by) {
      waiting += by;
      if (busy) return;
      busy = true;
      while (Math.abs(waiting) >= fields.least) {
        const now = fields.whole ? Math.trunc(waiting) : Math.round(waiting * 100) / 100;
        waiting -= now;
        if (!(await send(base + "/do", { do: fields.do, by: String(now) }))) waiting = 0;
      }
      busy = false;
    };
  }
  const housing = gather({ do: "housing", least: 0.05 });
  const byHand = gather({ do: "crank", least: 1, whole: true });

  // The buttons beside the crank: a tap turns a little, holding goes on and then faster.
  for (const form of parts(root, "form[data-turn]", HTMLFormElement)) {
    const button = first(form, "button", HTMLButtonElement), way = new FormData(form).get("way") === "with" ? -1 : 1;
    if (!button) continue;
    /** @type {number | undefined} */
    let again;
    form.addEventListener("submit", (e) => { e.preventDefault(); });
    /** @param {number} n */
    const step = (n) => { housing(way * (n > 14 ? 0.5 : 0.2)); again = setTimeout(() => step(n + 1), n === 0 ? 420 : 110); };
    const end = () => { clearTimeout(again); again = undefined; };
    button.addEventListener("pointerdown", (e) => { if (e.button === 0) { end(); step(0); } });
    for (const name of ["pointerup", "pointercancel", "pointerleave", "blur"]) button.addEventListener(name, end);
    button.addEventListener("contextmenu", (e) => e.preventDefault());
    button.addEventListener("click", (e) => { if (e.detail === 0) housing(way * 0.2); }); // by key or by a helper's press
  }

  // A finger on the cap turns the housing; on the damper's rim it turns the crank, forward only.
  const cap = part("cap", HTMLElement), rim = part("rim", HTMLElement);
  const rotor = Math.sign(Number(root.dataset.wheel)), front = Math.sign(Number(root.dataset.damper));
  drag(cap, (e, was) => {
    const box = cap.getBoundingClientRect(), cx = box.left + box.width / 2, cy = box.top + box.height * 125 / 259;
    /** @param {number} x @param {number} y */
    const deg = (x, y) => Math.atan2(y - cy, x - cx) * 180 / Math.PI;
    let by = deg(e.clientX, e.clientY) - deg(was.x, was.y);
    by -= 360 * Math.round(by / 360);
    if (state.clamp === "on") return tell("Housing: the clamp is tight. Loosen it first.");
    housing(-rotor * by);
  });
  drag(rim, (e, was) => {
    const by = front * (e.clientX - was.x) / rim.clientWidth * 344 / 300 * 180 / Math.PI;
    if (by > 0) byHand(by);
  });

  /** @typedef {{x: number, y: number}} Point */
  /** @param {HTMLElement} where @param {(e: PointerEvent, was: Point) => void} move */
  function drag(where, move) {
    if (!where.hasAttribute("tabindex")) return;
    /** @type {Point | undefined} */
    let was;
    where.addEventListener("pointerdown", (e) => { if (e.button === 0) { was = { x: e.clientX, y: e.clientY }; if (where === rim || state.clamp === "off") where.setPointerCapture(e.pointerId); } });
    where.addEventListener("pointermove", (e) => {
      if (!was || Math.hypot(e.clientX - was.x, e.clientY - was.y) < 2) return;
      move(e, was);
      was = { x: e.clientX, y: e.clientY };
    });
    for (const name of ["pointerup", "pointercancel"]) where.addEventListener(name, () => { was = undefined; });
  }

  /** @param {HTMLElement} where @param {number} small @param {number} large @param {(by: number) => void} act */
  function keys(where, small, large, act) {
    where.hasAttribute("tabindex") && where.addEventListener("keydown", (e) => {
      /** @type {Record<string, number>} */
      const steps = { ArrowRight: small, ArrowUp: small, ArrowLeft: -small, ArrowDown: -small, PageUp: large, PageDown: -large };
      const by = steps[e.key];
      if (by === undefined || e.altKey || e.ctrlKey || e.metaKey) return;
      e.preventDefault();
      act(by);
    });
  }
  keys(cap, 0.1, 1, housing);
  keys(rim, 1, 10, (by) => (by > 0 ? byHand(by) : tell("Crank: it is turned forward only. Past the mark and back takes up the slack the wrong way.")));

  // The lever is sent while it moves, a few times a second; what the host says does not pull it out of the hand.
  const lever = partIf("lever", HTMLInputElement);
  let holding = 0;
  /** @type {number | undefined} */
  let sending;
  lever?.addEventListener("input", () => {
    holding = performance.now();
    lever.setAttribute("aria-valuetext", lever.value + " rpm");
    sending ||= setTimeout(() => { sending = undefined; send(base + "/do", { do: "lever", rpm: lever.value }); }, 120);
  });

  // The lever follows a finger that began on its handle, past a small dead way; anywhere else the finger scrolls the page.
  const slot = lever?.parentElement;
  if (lever && slot) {
    /** @param {number} y */
    const on = (y) => {
      const box = slot.getBoundingClientRect(), share = (Number(lever.value) - Number(lever.min)) / (Number(lever.max) - Number(lever.min));
      return Math.abs(y - (box.bottom - 9 - share * (box.height - 18))) <= thumb;
    };
    let from = NaN, began = 0;
    slot.addEventListener("touchstart", (e) => { if (e.cancelable && on(e.touches[0].clientY)) e.preventDefault(); }, { passive: false });
    slot.addEventListener("pointerdown", (e) => {
      if (e.button !== 0 || !on(e.clientY)) return;
      from = e.clientY; began = Number(lever.value);
      slot.setPointerCapture(e.pointerId);
      lever.focus({ preventScroll: true });
    });
    slot.addEventListener("pointermove", (e) => {
      const way = from - e.clientY;
      if (!(Math.abs(way) > dead)) return;
      lever.value = String(began + (way - Math.sign(way) * dead) / (slot.clientHeight - 18) * (Number(lever.max) - Number(lever.min)));
      lever.dispatchEvent(new Event("input"));
    });
    for (const name of ["pointerup", "pointercancel"]) slot.addEventListener(name, () => { from = NaN; });
  }

  // A page out of sight lets the starter go. One in sight says that it is there while its hands crank.
  const mine = () => root.dataset.hold === "mine";
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) return;
    pressed = 0;
    if (mine() && state.starter === "on") crank("off");
  });
  setInterval(() => {
    if (!mine() || state.starter !== "on" || document.hidden) return;
    fetch(base + "/beat", { method: "POST", body: new URLSearchParams({ tab }), headers: { Accept: "application/json" } }).catch(() => {}); // the host lets go by itself
  }, beatEvery);

  function follow() {
    if (starter && starter.getAttribute("aria-pressed") !== String(state.starter === "on")) {
      const on = state.starter === "on";
      starter.setAttribute("aria-pressed", String(on));
      starter.value = on ? "off" : "on";
      starter.textContent = (on ? starter.dataset.yes : starter.dataset.no) || "";
    }
    if (lever && lever.getAttribute("aria-valuetext") !== state.lever + " rpm" && performance.now() - holding > 1500) { lever.value = String(state.lever); lever.setAttribute("aria-valuetext", state.lever + " rpm"); }
  }

  return { follow };
}
