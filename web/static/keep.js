// Long forms are kept on the device while they are written, so that a flat battery or a lost line costs nothing.
const prefix = "pw.keep.";

export function keepTyping() {
  for (const form of document.querySelectorAll("form[data-keep]")) {
    const name = prefix + form.dataset.keep;
    const version = form.elements.namedItem("version")?.value || "";
    restore(form, name, version);
    form.addEventListener("input", () => {
      const fields = [...new FormData(form)].filter(([n]) => n !== "key" && n !== "version");
      try { localStorage.setItem(name, JSON.stringify({ version, fields })); } catch { /* no room: typing goes on */ }
    });
    form.addEventListener("submit", () => sessionStorage.setItem("pw.sent", name));
  }
  // The page after a successful save shows another form, or none: what was kept is then done with.
  const sent = sessionStorage.getItem("pw.sent");
  if (sent) {
    sessionStorage.removeItem("pw.sent");
    const failed = document.querySelector("[role=alert]:not(:empty), .bad, form[action*=card] input[name=version][data-theirs]");
    if (!failed) localStorage.removeItem(sent);
  }
}

function restore(form, name, version) {
  if (sessionStorage.getItem("pw.sent") === name) return; // the server has answered this one itself
  let kept;
  try { kept = JSON.parse(localStorage.getItem(name)); } catch { return; }
  if (!kept || kept.version !== version) return;
  let differs = false;
  for (const [n, value] of kept.fields) {
    const input = form.elements.namedItem(n);
    if (!input) continue;
    if (input instanceof RadioNodeList ? input.value !== value : input.value !== value) { input.value = value; differs = true; }
  }
  if (!differs) return;
  const said = document.createElement("p");
  said.className = "small soft";
  said.setAttribute("role", "status");
  said.textContent = "What you had typed on this device before is back in the form.";
  form.prepend(said);
}
