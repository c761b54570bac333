// @ts-check
// Keeps the shell and the pages of the open job on this device: a page that is opened without a line shows what was last
// seen there, and says since when. Nothing that is sent is kept here; entries wait in the pages' own store (queue.js).

/** @typedef {{prefix: string, shell: string[]}} Release what the server puts in front of this script */
const worker = /** @type {ServiceWorkerGlobalScope & {release: Release}} */ (/** @type {unknown} */ (self));
const { prefix, shell } = worker.release;
const assets = "pw.shell." + prefix, pages = "pw.pages."; // pages: for one holder, a device at one shop book
const mostPages = 30, largestPage = 400_000; // characters
const mostAssets = 40;
const manual = /^\/(manual|words)(\/|$)/;
const patience = 4000; // ms after which what is kept is shown instead

worker.addEventListener("install", (e) => e.waitUntil(install()));
worker.addEventListener("activate", (e) => e.waitUntil(activate()));
worker.addEventListener("message", (e) => e.waitUntil(take(e.data)));
worker.addEventListener("fetch", (e) => {
  const request = e.request, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST") {
    const form = request.headers.get("Content-Type") === "application/x-www-form-urlencoded"; // no file
    if (form && request.mode === "navigate") e.respondWith(send(request));
  } else if (request.method !== "GET" || url.pathname.endsWith("/everything.zip")) return; // large, and not kept
  else if (url.pathname.startsWith("/static/")) e.respondWith(asset(request, url));
  else if (request.mode === "navigate") e.respondWith(open(e, url));
  else if (request.headers.has("X-Part")) e.respondWith(follow(e, url));
});

async function install() {
  await (await caches.open(assets)).addAll(shell);
  await worker.skipWaiting();
}

async function activate() {
  for (const name of await caches.keys()) if (name.startsWith("pw.shell.") && name !== assets) await caches.delete(name);
  await worker.registration.navigationPreload?.enable();
  await worker.clients.claim();
}

// take keeps the page that was open before this worker was there, with what it is made of.
/** @param {{page: string, made: string[]}} seen */
async function take(seen) {
  await Promise.all([
    ...seen.made.map((made) => asset(new Request(made), new URL(made)).catch(() => undefined)),
    fetch(seen.page, { headers: { "X-Part": "1" } }).then((answer) => keep(new URL(seen.page), answer)).catch(() => undefined),
  ]);
}

// asset gives a file of the shell. One of an older release, which a kept page may ask for, is replaced by today's.
/** @param {Request} request @param {URL} url @returns {Promise<Response>} */
async function asset(request, url) {
  const kept = await caches.match(url.href, { ignoreVary: true });
  if (kept) return kept;
  try {
    const fresh = await fetch(request);
    if (fresh.ok && url.pathname.startsWith(prefix)) await put(assets, url.href, fresh.clone(), mostAssets);
    return fresh;
  } catch (lost) {
    const today = await caches.match(prefix + url.pathname.split("/").pop(), { ignoreVary: true });
    if (today) return today;
    throw lost;
  }
}

/** @param {FetchEvent} e @param {URL} url @returns {Promise<Response>} */
async function open(e, url) {
  const fresh = Promise.resolve(e.preloadResponse).then((early) => early || fetch(e.request));
  const known = await find(url);
  try {
    const answer = await (known ? Promise.race([fresh, late()]) : fresh);
    e.waitUntil(keep(url, answer.clone()));
    return answer;
  } catch {
    fresh.catch(() => undefined);
    return known ? lastSeen(known) : notKept();
  }
}

/** @returns {Promise<never>} */
function late() { return new Promise((_, refuse) => setTimeout(() => refuse(new Error("late")), patience)); }

// follow answers the page's script, which fetches its own page again.
/** @param {FetchEvent} e @param {URL} url */
async function follow(e, url) {
  const answer = await fetch(e.request);
  e.waitUntil(keep(url, answer.clone()));
  return answer;
}

// send passes a form on. Where there is no line the page stays, with all that was typed, and is told.
/** @param {Request} request */
async function send(request) {
  try { return await fetch(request); } catch {
    for (const page of await worker.clients.matchAll({ type: "window" })) page.postMessage({ unsent: new URL(request.url).pathname });
    return new Response(null, { status: 204 });
  }
}

// keep puts a page by for its holder. What another holder left, a device that was sent away or another shop book, goes.
/** @param {URL} url @param {Response} answer */
async function keep(url, answer) {
  const holder = answer.headers.get("X-Kept-For"), own = pages + holder;
  if (!holder || answer.type !== "basic") return;
  for (const name of await caches.keys()) if (name.startsWith(pages) && name !== own) await caches.delete(name);
  const job = jobOf(url);
  if (holder === "nobody" || answer.redirected || !(job || url.pathname === "/" || manual.test(url.pathname))) return;
  if (!answer.headers.get("Content-Type")?.startsWith("text/html")) return;
  const cache = await caches.open(own);
  await cache.delete(url.href);
  if (!answer.ok) return;
  for (const other of await cache.keys()) if (job && jobOf(new URL(other.url)) && jobOf(new URL(other.url)) !== job) await cache.delete(other);
  const text = await answer.text(), headers = new Headers(answer.headers);
  if (text.length > largestPage) return;
  headers.delete("Content-Encoding");
  headers.delete("Content-Length");
  headers.set("X-Kept-At", String(Date.now()));
  await put(own, url.href, new Response(text, { headers }), mostPages);
}

/** @param {URL} url @returns {string} the job that a page belongs to, "" for none */
function jobOf(url) { return /^\/job\/([^/]+)/.exec(url.pathname)?.[1] || ""; }

// put keeps no more than so many, the oldest go; without room nothing is kept, which is no reason to show nothing.
/** @param {string} name @param {string} address @param {Response} what @param {number} most */
async function put(name, address, what, most) {
  try {
    const cache = await caches.open(name);
    await cache.put(address, what);
    const all = await cache.keys();
    for (const old of all.slice(0, Math.max(0, all.length - most))) await cache.delete(old);
  } catch { /* no room on this device */ }
}

/** @param {URL} url @returns {Promise<Response | undefined>} */
async function find(url) {
  for (const name of await caches.keys()) {
    const kept = name.startsWith(pages) && await (await caches.open(name)).match(url.href, { ignoreVary: true });
    if (kept) return kept;
  }
  return undefined;
}

/** @param {Response} kept @returns {string} such as 14:05, with the day where it is not today */
function when(kept) {
  const at = new Date(Number(kept.headers.get("X-Kept-At")));
  const today = at.toDateString() === new Date().toDateString();
  return new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", ...(today ? {} : { day: "numeric", month: "short" }) }).format(at);
}

// lastSeen is a kept page that says what it is, with or without its script.
/** @param {Response} kept */
async function lastSeen(kept) {
  const at = when(kept), line = '<div class="line" id="line" role="status"';
  const text = (await kept.text()).replace(line + " hidden></div>", `${line} data-kept="${at}">The line to the host is lost. This is as of ${at}.</div>`);
  return new Response(text, { headers: kept.headers });
}

// notKept stands for a page that this device never saw, and leads to those that it did.
async function notKept() {
  let list = "";
  for (const name of await caches.keys()) {
    if (!name.startsWith(pages)) continue;
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const kept = await cache.match(request);
      const title = kept && /<title>(.*?)( – Phasewright)?<\/title>/.exec(await kept.text())?.[1]; // escaped as the server wrote it
      if (kept && title) list += `<li><a href="${new URL(request.url).pathname + escape(new URL(request.url).search)}"><b>${title}</b><span class="at">as of ${when(kept)}</span></a></li>`;
    }
  }
  const body = `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No line – Phasewright</title>
<link rel="stylesheet" href="${prefix}look.css"></head><body><div class="frame alone"><header class="strip"><a class="job" href="/"><b>Shop book</b></a><h1>No line</h1></header>
<main id="main"><div class="notice" role="alert"><div><p><b>The line to the host is lost.</b></p><p>This page was not opened on this device before. Go back within reach of the host, then load it again.</p></div></div>
${list ? `<h2>Kept on this device</h2><ul class="jobs">${list}</ul>` : ""}</main></div></body></html>`;
  return new Response(body, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'; style-src 'self'; font-src 'self'; base-uri 'none'; form-action 'none'" } });
}

/** @param {string} text */
function escape(text) { return text.replace(/[&<>"']/g, (c) => `&#${c.charCodeAt(0)};`); }
