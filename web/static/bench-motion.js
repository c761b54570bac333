// @ts-check
// Motion between the states that the server sends: angles are followed a little late, so that there nearly always is a later one, and carried on at the
// last speed where there is none. Only transforms change.
/** What the stream says of the bench, whole each time. Angles on the screen are degrees, clockwise positive, as they stand at the last of a; times are
 * seconds of the bench.
 * @typedef {object} Bench
 * @property {number} t
 * @property {number[]} a crank degrees turned, the samples since the message before
 * @property {number} rate crank degrees per second
 * @property {number} slow how many times slower it is drawn
 * @property {number} housing
 * @property {number} wheel
 * @property {number} rotor
 * @property {number} damper
 * @property {number} axis place on the axis of the signals
 * @property {number} hd housing, shaft degrees
 * @property {number} md damper at the pointer
 * @property {string} going what the engine does
 * @property {string} says speed and light in sentences
 * @property {"lit" | "blur" | "still"} look
 * @property {string} turned
 * @property {string} mark
 * @property {[number, number][]} sparks crank degrees and tower
 * @property {[string, string][]} labels
 * @property {number} notes how many were heard
 * @property {string} heard the last of them
 * @property {string} did
 * @property {string} starter
 * @property {string} clamp
 * @property {number} lever rpm
 * @property {string} holder
 * @property {number} held
 * @property {"none" | "hidden" | "revealed"} faults
 * @property {boolean} judged
 * @property {string[]} towers what stands on each, in firing order
 * @property {{n: number, who: string}[]} asks for the controls
 * @property {number} version
 * @property {number} scene
 */

const late = 0.12; // seconds behind the host
const ahead = 0.3; // seconds that may be carried on

/** @param {HTMLElement} root */
export function makeMotion(root) {
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const half = Number(root.dataset.wheel), crank = Number(root.dataset.damper);
  /** @param {string} id */
  const part = (id) => document.getElementById(id);
  /** @type {Record<string, (Element | null)[]>} */
  const parts = { housing: [part("housing"), part("housing-front"), part("towers")], wheel: [part("wheel")], rotor: [part("rotor")], damper: [part("damper"), part("damper-small")] };
  const towers = [...root.querySelectorAll("[data-tower]")], cursor = part("cursor");
  let s = /** @type {Bench} */ ({});
  /** @type {{t: number, a: number}[]} */
  let knots = [];
  let offset = NaN, shown = 0, last = 0, running = false, slow = 1;
  /** @type {Map<string, string>} */
  const drawn = new Map();
  const until = towers.map(() => 0);

  /** @param {string} name @param {number} deg */
  function turn(name, deg) {
    const text = `rotate(${(((deg % 360) + 360) % 360).toFixed(2)})`;
    if (drawn.get(name) === text) return;
    drawn.set(name, text);
    for (const e of parts[name]) e?.setAttribute("transform", text);
  }

  /** @param {Bench} state */
  function take(state) {
    s = state;
    const now = performance.now() / 1000;
    const way = s.a, t = s.t, before = knots.length ? knots[knots.length - 1].t : t - 0.066;
    const step = Math.min(Math.max(t - before, 0.01), 0.25) / way.length;
    if (way.length === 1) knots = [{ t, a: way[0] }];
    else way.forEach((a, i) => knots.push({ t: t - step * (way.length - 1 - i), a }));
    if (knots.length > 40) knots.splice(0, knots.length - 40);
    const lag = now - t;
    offset = Number.isNaN(offset) || Math.abs(lag - offset) > 0.5 ? lag : Math.min(lag, offset + 0.002); // the quickest message tells the offset best
    if (still.matches) { hold(); return; }
    if (!running) { running = true; last = now; requestAnimationFrame(frame); }
  }

  // at gives the crank's way at a time of the bench.
  /** @param {number} t */
  function at(t) {
    const n = knots.length;
    if (n === 0) return 0;
    if (t >= knots[n - 1].t) return knots[n - 1].a + (s.rate && n > 1 ? s.rate * Math.min(t - knots[n - 1].t, ahead) : 0);
    for (let i = n - 1; i > 0; i--) {
      const p = knots[i - 1], q = knots[i];
      if (t >= p.t) return q.t > p.t ? p.a + (q.a - p.a) * (t - p.t) / (q.t - p.t) : q.a;
    }
    return knots[0].a;
  }

  /** @param {number} ms */
  function frame(ms) {
    if (still.matches) { running = false; hold(); return; }
    const now = ms / 1000, before = shown;
    if (s.slow === 1) shown = at(now - offset - late);
    else {
      if (slow === 1) shown = at(now - offset - late);
      shown += s.rate / s.slow * Math.min(now - last, 0.1);
    }
    const moved = shown - before;
    slow = s.slow; last = now;
    draw(shown);
    if (moved > 0 && moved < 360) strike(before, shown, ms);
    quench(ms);
    const turning = s.rate > 0 || knots.length > 1 && Math.abs(knots[knots.length - 1].a - shown) > 0.05 && s.slow === 1;
    running = turning || until.some((u) => u > ms);
    if (running) requestAnimationFrame(frame);
  }

  /** @param {number} a */
  function draw(a) {
    const on = shaft(a);
    if (s.look !== "blur") turn("damper", s.look === "lit" ? s.damper : s.damper + crank * on);
    root.classList.toggle("b-fast", s.slow > 1);
    const x = 46 + ((((on + s.axis) % 720) + 720) % 720) * 294 / 720;
    cursor?.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
  }

  // shaft draws what turns with the shaft where the crank's way is a, and gives how far that is from where the last message saw the crank.
  /** @param {number} a */
  function shaft(a) {
    const on = a - s.a[s.a.length - 1];
    turn("housing", s.housing);
    turn("wheel", s.wheel + half * on);
    turn("rotor", s.rotor + half * on);
    return on;
  }

  // strike lights the towers whose sparks lie on the way from one angle to another.
  /** @param {number} from @param {number} to @param {number} ms */
  function strike(from, to, ms) {
    for (const [way, tower] of s.sparks) {
      const next = from + ((((way - from) % 720) + 720) % 720);
      if (next <= to && next > from && towers[tower]) { until[tower] = ms + flash(); towers[tower].classList.add("b-fires"); }
    }
  }

  // flash is how long a spark is shown: about fifteen degrees of the rotor's way, and at least two pictures of a slow screen.
  function flash() { return Math.min(Math.max(30000 * s.slow / Math.max(s.rate, 1), 45), 140); }

  /** @param {number} ms */
  function quench(ms) {
    until.forEach((u, i) => { if (u && u <= ms) { until[i] = 0; towers[i].classList.remove("b-fires"); } });
  }

  // hold is for people who asked for no motion: while it turns, the drawing stands as one spark shows it, and what the light shows is drawn once a second.
  let held = false, looked = 0;
  function hold() {
    const sparks = s.sparks, now = performance.now();
    if (!(s.rate > 0) || !held) for (const t of towers) t.classList.remove("b-fires");
    if (!(s.rate > 0)) { held = false; draw(knots.length ? knots[knots.length - 1].a : 0); return; }
    root.classList.add("b-fast");
    turn("housing", s.housing);
    if (!held && sparks.length) {
      const [way, tower] = sparks.reduce((a, b) => (b[1] < a[1] ? b : a));
      held = true;
      towers[tower]?.classList.add("b-fires");
      shaft(way);
    }
    if (s.look === "lit" && now - looked > 1000) { looked = now; turn("damper", s.damper); }
  }

  function stop() { s = { ...s, rate: 0 }; }

  return { take, stop };
}
