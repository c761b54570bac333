// Draws the bench between the server's frames: it carries angles on at the speed that the frame gives, and shows the words of the frame.
import { lineSays } from "./line.js";

const still = matchMedia("(prefers-reduced-motion: reduce)");

export function showBench() {
  const bench = document.getElementById("bench");
  if (!bench) return;
  let frame = JSON.parse(bench.dataset.frame), at = performance.now(), sparks = frame.sparks, drawn = "";
  const turn = (id, deg) => document.getElementById(id)?.setAttribute("transform", `rotate(${deg.toFixed(2)})`);

  function words() {
    for (const place of bench.querySelectorAll("[data-show]")) {
      const text = frame.show[place.dataset.show] ?? "";
      if (place.textContent !== text) place.textContent = text;
    }
    for (const b of bench.querySelectorAll("[data-switch]")) {
      const on = !!frame.on[b.dataset.switch];
      b.setAttribute("aria-pressed", on);
      b.value = on ? "off" : "on";
    }
    for (const l of bench.querySelectorAll("[data-lamp]")) l.classList.toggle("on", !!frame.on[l.dataset.lamp]);
    fill("heard", "li", frame.notes || []);
    fill("asked", "p", frame.asked || []);
    if (drawn !== frame.vanes + frame.camvane) {
      drawn = frame.vanes + frame.camvane;
      document.querySelector("#bench-vanes path")?.setAttribute("d", frame.vanes);
      document.querySelector("#bench-camvane path")?.setAttribute("d", frame.camvane);
    }
    turn("bench-housing", frame.housing);
    const spark = document.getElementById("bench-spark");
    if (spark && frame.sparks !== sparks) {
      sparks = frame.sparks;
      turn("bench-spark", frame.spark);
      spark.classList.add("on");
      setTimeout(() => spark.classList.remove("on"), 45);
    }
  }

  function fill(id, tag, lines) {
    const box = document.getElementById(id);
    if (!box || [...box.children].map((e) => e.textContent).join("\n") === lines.join("\n")) return;
    box.replaceChildren(...lines.map((text) => Object.assign(document.createElement(tag), { textContent: text })));
  }

  function draw(now) {
    const dt = still.matches && frame.spin ? 0 : Math.min((now - at) / 1000, 0.3);
    turn("bench-rotor", frame.rotor + frame.spin * dt);
    turn("bench-wheel", frame.wheel + frame.spin * dt);
    turn("damper-wheel", frame.damper + frame.roll * dt);
    document.getElementById("damper-marks")?.classList.toggle("blurred", Math.abs(frame.roll) > 900);
  }

  function loop(now) { draw(now); requestAnimationFrame(loop); }
  words();
  if (still.matches) draw(at); else requestAnimationFrame(loop);

  const source = new EventSource(`/bench/${bench.dataset.room}/live`);
  source.addEventListener("frame", (e) => {
    frame = JSON.parse(e.data);
    at = performance.now();
    lineSays("bench", "");
    words();
    if (still.matches) draw(at);
  });
  source.addEventListener("alive", () => lineSays("bench", ""));
  source.onerror = () => lineSays("bench", "The line to the host is lost. The bench is shown as it last was.");
  addEventListener("pagehide", () => source.close());

  for (const form of bench.querySelectorAll("form[data-bench]")) {
    form.addEventListener("submit", async (e) => {
      e.preventDefault();
      const refused = document.getElementById("refused");
      try {
        const answer = await fetch(form.getAttribute("action"), { method: "POST", body: new URLSearchParams(new FormData(form, e.submitter)), headers: { Accept: "application/json" } });
        const reply = await answer.json();
        refused.textContent = answer.ok ? "" : [reply.say, reply.do].filter(Boolean).join(" ");
      } catch { lineSays("bench", "The line to the host is lost. The bench is shown as it last was."); }
    });
  }
}
