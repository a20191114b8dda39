// The phone without signal: entries are kept here until the server has them. Without this script every form works
// as it is; with it, an entry is written down before it is sent.
(() => {
  "use strict";
  const body = document.body, HOME = body.dataset.home, OWNER = body.dataset.athlete;
  if (!HOME || !OWNER || !window.isSecureContext || !window.indexedDB || !navigator.locks) return;

  // --- the store ---------------------------------------------------------------------------
  const open = () => new Promise((done, fail) => {
    const asked = indexedDB.open("entries", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "id" });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  async function store(mode, act) {
    const db = await open();
    try {
      return await new Promise((done, fail) => {
        const change = db.transaction("entries", mode, { durability: "strict" });
        const asked = act(change.objectStore("entries"));
        change.oncomplete = () => done(asked.result);
        change.onabort = change.onerror = () => fail(change.error);
      });
    } finally {
      db.close();
    }
  }
  const put = (entry) => store("readwrite", (entries) => entries.put(entry));
  const drop = (id) => store("readwrite", (entries) => entries.delete(id));
  const all = async () => (await store("readonly", (entries) => entries.getAll())).sort((a, b) => a.made - b.made);
  const mine = async () => (await all()).filter((entry) => entry.owner === OWNER);

  // --- sending -----------------------------------------------------------------------------
  const ask = (url, options = {}) =>
    fetch(url, { ...options, headers: { Accept: "application/json", ...options.headers }, signal: AbortSignal.timeout(15000) });

  async function token() {
    const answer = await ask(`${HOME}keep/`);
    if (!answer.ok || answer.redirected) throw new Error("signed out");
    const list = await answer.json();
    if (String(list.athlete) !== OWNER) throw new Error("somebody else");
    return list.csrf;
  }

  // Sends what waits, one by one, for all tabs at once; says what became of each. What the server won't take is marked
  // and shown with its question; not the entry of the form that is open `here`: that page asks by itself.
  const flush = (here) => navigator.locks.request("entries", async () => {
    const became = {};
    const waiting = (await mine()).filter((entry) => !entry.asks);
    if (!waiting.length) return became;
    const csrf = await token();
    for (const entry of waiting) {
      const answer = await ask(entry.url, {
        method: "POST",
        headers: { "X-CSRFToken": csrf },
        body: new URLSearchParams(entry.fields),
      });
      if ([401, 403].includes(answer.status) || answer.status >= 500) break;
      const said = await answer.json().catch(() => ({}));
      if (answer.ok && said.stored) await drop(entry.id);
      else if (entry.id !== here) await put({ ...entry, asks: true, status: answer.status, said });
      became[entry.id] = { status: answer.status, ...said };
    }
    return became;
  }).finally(show);

  // A network that is said to be back often takes some seconds more: while something waits, it is tried again.
  let again, pause = 4000;
  async function trySending(here) {
    clearTimeout(again);
    try {
      const became = await flush(here);
      pause = 4000;
      return became;
    } catch (silent) {
      if ((await mine().catch(() => [])).some((entry) => !entry.asks)) again = setTimeout(begin, pause);
      pause = Math.min(pause * 2, 120000);
      return {};
    }
  }

  // --- forms -------------------------------------------------------------------------------
  const localDay = (zone) => new Intl.DateTimeFormat("en-CA", { timeZone: zone || undefined }).format(new Date());

  // A page that was kept is older than today: its entry gets a number of its own, and today's day.
  function freshen(form) {
    const number = form.elements.entry_id, day = form.elements.day;
    number.value = crypto.randomUUID();
    const today = localDay(form.dataset.zone);
    if (day && form.dataset.made && form.dataset.made < today && form.dataset.planned) {
      day.max = today;
      day.value = form.dataset.planned < today ? form.dataset.planned : today;
    }
  }

  async function submit(form, button) {
    const fields = [...new FormData(form, button || undefined)].filter(([name]) => name !== "csrfmiddlewaretoken");
    const id = form.elements.entry_id.value;
    await put({ id, owner: OWNER, url: form.dataset.to, fields, label: form.dataset.entry, made: Date.now() });
    const became = (await trySending(id))[id];
    if (became && became.stored) {
      sessionStorage.setItem("said", JSON.stringify([became.level, became.said]));
    } else if (became && [409, 422].includes(became.status)) {
      return plainly(form, button, id);
    }
    location.assign(form.dataset.back || HOME);
  }

  // The server shows what is wrong, beside the field, with all that was typed. Only then the kept copy goes.
  async function plainly(form, button, id) {
    if (button && button.name) {
      const hidden = document.createElement("input");
      Object.assign(hidden, { type: "hidden", name: button.name, value: button.value });
      form.append(hidden);
    }
    const csrf = await token().catch(() => "");
    if (!csrf && id) return location.assign(HOME);  // the signal went meanwhile: the entry waits there
    if (csrf) form.elements.csrfmiddlewaretoken.value = csrf;
    if (id) await drop(id);
    form.submit();
  }

  // What the page showed of the coach's words has been read.
  async function tellRead(form) {
    const fields = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
    await ask(form.action, { method: "POST", headers: { "X-CSRFToken": await token() }, body: new URLSearchParams(fields) });
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post") return;
    if (new URL(form.action, location).pathname.endsWith("/sign-out/")) {
      event.preventDefault();
      leave(form);
    } else if (form.dataset.entry) {
      event.preventDefault();
      if (form.dataset.sent) return;
      form.dataset.sent = "1";
      form.setAttribute("aria-busy", "true");
      submit(form, event.submitter).catch(() => plainly(form, event.submitter));
    } else if (!navigator.onLine) {
      event.preventDefault();
      say("warning", "No signal. This one needs it: what you typed stays here, send it again later.");
    }
  });

  // --- what is said ------------------------------------------------------------------------
  function say(level, words) {
    const list = document.createElement("ul"), line = document.createElement("li");
    list.className = "messages";
    list.setAttribute("role", "status");
    line.className = level;
    line.textContent = words;
    list.append(line);
    document.getElementById("main").prepend(list);
    list.scrollIntoView({ block: "nearest" });
  }

  function button(words, act) {
    const made = document.createElement("button");
    Object.assign(made, { type: "button", className: "btn", textContent: words });
    made.addEventListener("click", () => act().then(show));
    return made;
  }

  async function show() {
    const place = document.getElementById("waiting");
    if (!place) return;
    const entries = await mine();
    place.hidden = !entries.length;
    place.replaceChildren();
    if (!entries.length) return;
    const head = document.createElement("b");
    head.textContent = "Written down here, not yet with your coach:";
    const list = document.createElement("ul");
    for (const entry of entries) list.append(lineOf(entry));
    place.append(head, list);
    for (const entry of entries)
      for (const mark of document.querySelectorAll("[data-session]"))
        if (entry.url.includes(mark.dataset.session)) Object.assign(mark, { textContent: "waiting", hidden: false });
  }

  function lineOf(entry) {
    const line = document.createElement("li"), words = document.createElement("span");
    const fields = Object.fromEntries(entry.fields);
    const said = fields.words && `“${fields.words.slice(0, 60)}${fields.words.length > 60 ? "…" : ""}”`;
    words.textContent = [entry.label, fields.day, fields.outcome, fields.effort && `effort ${fields.effort}`, said].filter(Boolean).join(", ");
    line.append(words);
    if (entry.status === 409) {
      words.textContent += `. Another entry came in meanwhile: ${entry.said.clash}.`;
      const again = entry.fields.filter(([name]) => name !== "seen").concat([["seen", entry.said.seen]]);
      line.append(
        button("Send mine instead", () => put({ ...entry, fields: again, asks: false, status: 0 }).then(trySending)),
        button("Keep the other", () => drop(entry.id)),
      );
    } else if (entry.asks) {
      const why = Object.values(entry.said.errors || {}).flat().map((one) => one.message || one).join(" ");
      words.textContent += `. ${why || "It is no longer in your plan."}`;
      const link = document.createElement("a");
      Object.assign(link, { className: "btn", textContent: "Open it", href: `${entry.url}#${entry.id}` });
      line.append(link, button("Drop it", () => drop(entry.id)));
    }
    return line;
  }

  // An entry that could not be stored, opened again: the form shows what it said.
  async function refill(form) {
    const entry = (await mine()).find((one) => one.id === location.hash.slice(1));
    if (!entry) return;
    for (const [name, value] of entry.fields) {
      const field = form.elements[name];
      if (!field || name === "csrfmiddlewaretoken" || name === "seen") continue;
      if (field.type === "checkbox") field.checked = true;
      else field.value = value;
    }
  }

  // --- signing out -------------------------------------------------------------------------
  async function leave(form) {
    const entries = await all().catch(() => []);
    if (entries.length && !(await sure(entries.length))) return;
    // Without signal nobody is signed out: wiping would only take the week away from somebody out on the road.
    if (!(await ask(`${HOME}keep/`).then(() => true, () => false)))
      return say("warning", "No signal. Signing out needs it: you are still signed in, and what this phone keeps stays.");
    await wipe();
    form.submit();
  }

  function sure(count) {
    return new Promise((done) => {
      const asks = document.createElement("dialog"), words = document.createElement("p"), row = document.createElement("div");
      words.id = "leaving";
      words.textContent = `${count === 1 ? "One entry has" : `${count} entries have`} not been sent yet. Sign out now, and it is lost.`;
      asks.setAttribute("aria-labelledby", "leaving");
      row.className = "do";
      const stay = document.createElement("button"), go = document.createElement("button");
      Object.assign(stay, { type: "button", className: "btn main", textContent: "Stay" });
      Object.assign(go, { type: "button", className: "btn grave", textContent: "Sign out, lose it" });
      const end = (answer) => { asks.remove(); done(answer); };
      stay.addEventListener("click", () => end(false));
      go.addEventListener("click", () => end(true));
      asks.addEventListener("cancel", () => end(false));
      row.append(stay, go);
      asks.append(words, row);
      body.append(asks);
      asks.showModal();
    });
  }

  async function wipe() {
    await store("readwrite", (entries) => entries.clear()).catch(() => {});
    sessionStorage.clear();
    navigator.serviceWorker?.controller?.postMessage("stop");
    await navigator.locks.request("keep", async () => {
      for (const name of await caches.keys()) await caches.delete(name);
    });
    if (navigator.serviceWorker) for (const one of await navigator.serviceWorker.getRegistrations()) await one.unregister();
  }

  // --- begin -------------------------------------------------------------------------------
  const forms = [...document.querySelectorAll("form[data-entry]")];
  for (const form of forms) {
    freshen(form);
    if (location.hash.length > 30) refill(form);
  }
  addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    for (const form of forms) { delete form.dataset.sent; form.removeAttribute("aria-busy"); freshen(form); }
    show();
  });
  const said = sessionStorage.getItem("said");
  if (said) {
    sessionStorage.removeItem("said");
    say(...JSON.parse(said));
  }
  const begin = () => trySending().then((became) => {
    if (Object.values(became).some((one) => one.stored) && !forms.length) say("success", "What was written down here is with your coach now.");
    navigator.serviceWorker?.controller?.postMessage("keep");
  });
  show();
  begin();
  addEventListener("online", () => { pause = 4000; begin(); });
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && begin());
  for (const form of document.querySelectorAll("form[data-read]")) tellRead(form).catch(() => {});
  if (navigator.serviceWorker)
    navigator.serviceWorker.register(`${HOME}sw.js`, { scope: HOME }).then(() => navigator.serviceWorker.ready)
      .then((ready) => ready.active.postMessage("keep")).catch(() => {});
})();
