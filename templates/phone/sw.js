// The phone's own worker. It keeps whole pages under this address and the files they need; nothing else.
// Network first; what was kept comes when the network is silent for some seconds.
"use strict";
const HOME = "{{ home }}";
const PAGES = "pages", FILES = "files", KEPT = HOME + "kept/", WAIT = 4000;
const AWAY = [502, 503, 504]; // the proxy's answers when the server is being started

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
let stopped = 0; // when somebody signed out: what began before, a page that was open or a request, keeps nothing more
let halt = new AbortController();
self.addEventListener("message", (event) => {
  const { act, opened } = event.data;
  if (act === "stop") {
    stopped = Date.now();
    halt.abort();
    halt = new AbortController();
  }
  if (act !== "keep" || opened <= stopped) return;
  event.waitUntil(navigator.locks.request("keep", { ifAvailable: true }, (lock) => lock && keep(opened)));
});

self.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate" && url.pathname.startsWith(HOME)) event.respondWith(page(event, url));
  else if (["style", "script", "image", "manifest", "font"].includes(request.destination) && !url.pathname.startsWith(HOME))
    event.respondWith(file(event));
});

async function page(event, url) {
  const kept = await keptPage(url);
  try {
    const answer = await inTime(event, kept ? WAIT : 60000, async (response) => {
      // Refresh what is kept, and today's page under today's date; a redirect or an error is nobody's page.
      const store = await caches.open(PAGES);
      for (const key of url.href === new URL(HOME, url).href ? [HOME, await todays()] : [url.pathname + url.search])
        if (await store.match(key)) await store.put(key, response.clone());
    });
    return kept && AWAY.includes(answer.status) ? kept : answer;
  } catch (silent) {
    return kept || (await (await caches.open(PAGES)).match(HOME + "not-kept/")) || Response.error();
  }
}

async function file(event) {
  const kept = await (await caches.open(FILES)).match(event.request);
  try {
    return await inTime(event, kept ? WAIT : 60000);
  } catch (silent) {
    return kept || Response.error();
  }
}

async function inTime(event, ms, remember) {
  const began = Date.now();
  let timer;
  const late = new Promise((_, refuse) => { timer = setTimeout(() => refuse(new Error("late")), ms); });
  const asked = fetch(event.request).then((response) => {
    if (remember && began > stopped && whole(response)) event.waitUntil(remember(response.clone()).catch(() => {}));
    return response;
  });
  asked.catch(() => {});
  try {
    return await Promise.race([asked, late]);
  } finally {
    clearTimeout(timer);
  }
}

const whole = (response) => response.ok && response.type === "basic" && !response.redirected;

async function meta() {
  const stored = await (await caches.open(PAGES)).match(KEPT);
  return stored ? stored.json() : { stamps: {} };
}

// The address under which today's page is kept: today where the athlete is.
async function todays() {
  const { zone } = await meta();
  return `${HOME}?day=${new Intl.DateTimeFormat("en-CA", { timeZone: zone || undefined }).format(new Date())}`;
}

async function keptPage(url) {
  const store = await caches.open(PAGES);
  if (url.pathname === HOME && !url.searchParams.has("week")) return (await store.match(await todays())) || store.match(HOME);
  return store.match(url.pathname + url.search);
}

async function keep(began) {
  const { signal } = halt;
  const answer = await fetch(HOME + "keep/", { headers: { Accept: "application/json" }, signal }).catch(() => null);
  if (!answer || !answer.ok || answer.redirected) return;
  const list = await answer.json();
  if (began <= stopped) return;
  let known = await meta();
  if (known.athlete !== list.athlete) {
    await caches.delete(PAGES);
    known = { stamps: {} };
  }
  const pages = await caches.open(PAGES), files = await caches.open(FILES);
  // Whose pages these are, before there is one: a worker that is ended half-way leaves what the next can go on with.
  const note = (facts) => pages.put(KEPT, new Response(JSON.stringify({ athlete: list.athlete, zone: list.zone, ...facts })));
  await note({ stamps: known.stamps });
  for (const url of list.files)
    if (!(await files.match(url))) await files.add(url).catch(() => {});
  const wanted = new Set(list.files.map((url) => new URL(url, self.location).href));
  for (const one of await files.keys()) if (!wanted.has(one.url)) await files.delete(one);
  let lost = false; // signed out meanwhile: what is kept stays as it is
  const stamps = {}, queue = [[HOME, list.pages[0][1]], ...list.pages];
  const one = async () => {
    for (let next; !lost && began > stopped && (next = queue.shift()); ) {
      await navigator.locks.request("entries", { mode: "shared", signal }, () => {}).catch(() => {});  // an entry that is being sent goes first
      const [url, stamp] = next;
      if (known.stamps[url] === stamp && (await pages.match(url))) stamps[url] = stamp;
      else {
        const response = await fetch(url, { headers: { "X-Keep": "1" }, signal }).catch(() => null);
        lost ||= !!response?.redirected;
        if (lost || began <= stopped) return;
        if (response && whole(response)) {
          await pages.put(url, response);
          stamps[url] = stamp;
        } else if ((!response || response.status >= 500) && (await pages.match(url))) stamps[url] = "old"; // better than none
      }
    }
  };
  await Promise.all([one(), one()]);
  if (lost || began <= stopped) return;
  for (const request of await pages.keys()) {
    const { pathname, search } = new URL(request.url);
    if (!(pathname + search in stamps) && pathname !== KEPT) await pages.delete(request);
  }
  await note({ stamps, whole: true });
}
