// The phone without signal: entries are kept here until the server has them. Without this script every form works
// as it is; with it, an entry is written down before it is sent.
(() => {
  "use strict";
  const body = document.body, HOME = body.dataset.home, OWNER = body.dataset.athlete;
  const OPENED = Date.now(), PATIENCE = 10000;
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

  // An answer to the entry itself. Anything else comes from the way there (a server that is being started, a network
  // that wants a sign-in of its own) and says nothing about it: it is sent again later.
  const REFUSED = [400, 404, 405, 409, 410, 413, 422];

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
      }).catch(() => null);
      const said = answer && await answer.json().catch(() => null);
      if (answer?.ok && said?.stored) await drop(entry.id);
      else if (!REFUSED.includes(answer?.status)) break;
      else if (entry.id !== here) await put({ ...entry, asks: true, status: answer.status, said: said || {} });
      became[entry.id] = { status: answer.status, ...said };
    }
    return became;
  }).finally(show);

  // A network that is said to be back often takes some seconds more: while something waits, it is tried again.
  let again, pause = 4000;
  async function trySending(here) {
    const became = await flush(here).catch(() => ({}));
    clearTimeout(again);
    if (!(await mine().catch(() => [])).some((entry) => !entry.asks && !became[entry.id])) pause = 4000;
    else {
      again = setTimeout(begin, pause);
      pause = Math.min(pause * 2, 120000);
    }
    return became;
  }

  // --- forms -------------------------------------------------------------------------------
  const localDay = (zone) => new Intl.DateTimeFormat("en-CA", { timeZone: zone || undefined }).format(new Date());

  // A page that was kept is older than today: its entry gets a number of its own, and today's day.
  function freshen(form) {
    const number = form.elements.entry_id, day = form.elements.day;
    number.value = crypto.randomUUID();
    const today = localDay(form.dataset.zone);
    if (day && form.dataset.made && form.dataset.made < today) {
      const planned = form.dataset.planned || today;
      day.max = today;
      day.value = planned < today ? planned : today;
    }
  }

  async function submit(form, button) {
    const fields = [...new FormData(form, button || undefined)].filter(([name]) => name !== "csrfmiddlewaretoken");
    const id = form.elements.entry_id.value;
    await put({ id, owner: OWNER, url: form.dataset.to, fields, label: form.dataset.entry, made: Date.now() });
    const late = new Promise((go) => setTimeout(go, PATIENCE, {}));  // it waits, and the next page sends it
    const became = (await Promise.race([trySending(id), late]))[id];
    if (became && became.stored) {
      sessionStorage.setItem("said", JSON.stringify([became.level, became.said]));
    } else if (became && [409, 422].includes(became.status)) {
      return plainly(form, button, id);
    } else {
      navigator.storage?.persist?.();  // not to be thrown away when the phone gets full
    }
    location.assign(form.dataset.back || HOME);
  }

  // The server shows what is wrong, beside the field, with all that was typed. Only the page that shows it lets the
  // kept copy go (`data-shown`). Without a copy (no room on the phone) the form itself is the only one.
  async function plainly(form, button, id) {
    const csrf = await token().catch(() => "");
    if (!csrf && id) return location.assign(HOME);  // the signal went meanwhile: the entry waits there
    if (!csrf) {
      release(form);
      return say("warning", "No signal, and no room on this phone to write it down: it stays in this form. Send it again later.");
    }
    if (button && button.name) {
      const hidden = document.createElement("input");
      Object.assign(hidden, { type: "hidden", name: button.name, value: button.value });
      form.append(hidden);
    }
    form.elements.csrfmiddlewaretoken.value = csrf;
    form.submit();
  }

  function release(form) {
    delete form.dataset.sent;
    form.removeAttribute("aria-busy");
  }

  // What the page showed of the coach's words has been read.
  async function tellRead(form) {
    const fields = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
    await ask(form.action, { method: "POST", headers: { "X-CSRFToken": await token() }, body: new URLSearchParams(fields) });
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post") return;
    const chosen = form.querySelector("input[type=file][data-most]");
    if (chosen && chosen.files[0]?.size > Number(chosen.dataset.most)) {
      event.preventDefault();
      return say("warning", chosen.dataset.tooBig);
    }
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
        button("Send mine instead", () => put({ ...entry, fields: again, asks: false, status: 0 }).then(() => trySending())),
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

  // An entry that could not be stored, opened again: the form shows what it said, and sends it under its own number.
  async function refill(form) {
    const entry = (await mine()).find((one) => one.id === location.hash.slice(1));
    if (!entry) return;
    for (const field of form.elements) if (field.type === "checkbox") field.checked = false;
    for (const [name, value] of entry.fields) {
      const field = form.elements[name];
      if (!field || name === "seen") continue;
      if (field.type === "checkbox") field.checked = true;
      else field.value = value;
    }
  }

  // --- signing out -------------------------------------------------------------------------
  async function leave(form) {
    const entries = await all().catch(() => []);
    if (entries.length && !(await sure(entries.length))) return;
    // Without signal nobody is signed out: wiping would only take the week away from somebody out on the road.
    const answer = await ask(`${HOME}keep/`).catch(() => null);
    if (!answer) return say("warning", "No signal. Signing out needs it: you are still signed in, and what this phone keeps stays.");
    const { csrf } = await answer.json().catch(() => ({}));
    if (csrf) form.elements.csrfmiddlewaretoken.value = csrf;  // the page may be older than the sign-in
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
    tell(navigator.serviceWorker?.controller, "stop");
    await navigator.locks.request("keep", async () => {
      for (const name of await caches.keys()) await caches.delete(name);
    });
    if (navigator.serviceWorker) for (const one of await navigator.serviceWorker.getRegistrations()) await one.unregister();
  }

  // --- begin -------------------------------------------------------------------------------
  const tell = (worker, act) => worker?.postMessage({ act, opened: OPENED });
  const forms = [...document.querySelectorAll("form[data-entry]")];
  const reopen = () => { if (location.hash.length > 30) for (const form of forms) refill(form); };
  for (const form of forms) freshen(form);
  reopen();
  addEventListener("hashchange", reopen);
  addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    for (const form of forms) { release(form); freshen(form); }
    show();
  });
  const said = sessionStorage.getItem("said");
  if (said) {
    sessionStorage.removeItem("said");
    say(...JSON.parse(said));
  }
  const begin = () => trySending().then((became) => {
    if (Object.values(became).some((one) => one.stored) && !forms.length) say("success", "What was written down here is with your coach now.");
    tell(navigator.serviceWorker?.controller, "keep");
  });
  Promise.all(forms.map((form) => form.dataset.shown && drop(form.dataset.shown))).catch(() => {})
    .then(show).catch(() => {}).then(begin);
  addEventListener("online", () => { pause = 4000; begin(); });
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && begin());
  for (const form of document.querySelectorAll("form[data-read]")) tellRead(form).catch(() => {});
  if (navigator.serviceWorker)
    navigator.serviceWorker.register(`${HOME}sw.js`, { scope: HOME }).then(() => navigator.serviceWorker.ready)
      .then((ready) => tell(ready.active, "keep")).catch(() => {});
})();
