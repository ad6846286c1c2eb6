// Keeps the newest copy of each run sheet that was open on this device, so that it can be read when the page is loaded
// anew without a connection. The network always comes first; a copy says that it is one, and takes no presses.
// The server has a browser forget all of it when somebody signs out.
"use strict";

const COPIES = "run-sheets";
const HOURS_KEPT = 24;
const IS_SHEET = /^\/kitchens\/[^/]+\/days\/[^/]+\/canners\/(?:[^/]+\/)?$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== self.location.origin) return;
  if (IS_SHEET.test(address.pathname)) {
    const isPage = address.search === "" || event.request.mode === "navigate";
    if (isPage) event.respondWith(sheet(event.request, address));
  } else if (address.pathname.startsWith("/static/")) event.respondWith(beside(event.request));
});

// The page asks for itself and for what it needs once this worker is there: it was loaded before.
self.addEventListener("message", (event) => {
  if (Array.isArray(event.data?.keep)) event.waitUntil(Promise.all(event.data.keep.map(keep)));
});

async function keep(name) {
  const address = new URL(name, self.location.origin);
  const request = new Request(address.origin + address.pathname);
  if (IS_SHEET.test(address.pathname)) await sheet(request, address);
  else await beside(request);
}

async function sheet(request, address) {
  const copies = await caches.open(COPIES);
  const key = address.origin + address.pathname;
  let answer;
  try {
    answer = await fetch(request);
  } catch (lost) {
    const copy = await copies.match(key);
    if (request.mode === "navigate" && copy && isFresh(copy)) return marked(copy);
    throw lost;
  }
  // Sent to the sign-in: nobody is signed in here any more.
  if (answer.redirected || answer.type === "opaqueredirect") await caches.delete(COPIES);
  else if (answer.ok && address.search === "") await copies.put(key, answer.clone());
  return answer;
}

async function beside(request) {
  const copies = await caches.open(COPIES);
  try {
    const answer = await fetch(request);
    if (answer.ok) await copies.put(request.url, answer.clone());
    return answer;
  } catch (lost) {
    const copy = await copies.match(request.url);
    if (!copy) throw lost;
    return copy;
  }
}

function isFresh(copy) {
  return Date.now() - Date.parse(copy.headers.get("Date")) < HOURS_KEPT * 3600 * 1000;
}

// The page holds the words for a copy, hidden, with the time at which it was made.
async function marked(copy) {
  const page = await copy.text();
  return new Response(page.replace('id="copy" hidden', 'id="copy"'), {
    headers: {
      "Content-Type": copy.headers.get("Content-Type"),
      "Content-Security-Policy": copy.headers.get("Content-Security-Policy"),
      "Cache-Control": "no-store",
    },
  });
}
