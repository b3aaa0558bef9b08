// What was written down on this phone and has not arrived: kept here with its own time, sent when
// there is a signal, shown on every page. Sent again it is still one entry: its token says so.
"use strict";
const unsent = (() => {
  const NAME = "cormwatch-unsent";
  const PATIENCE_MS = 8000;
  const AGAIN_MS = 10000;
  const box = document.getElementById("unsent");
  const signedIn = Boolean(document.getElementById("nav"));

  const database = () => new Promise((done, fail) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("items", { keyPath: "token" });
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  const inDatabase = (base) => {
    const run = (mode, act) => new Promise((done, fail) => {
      const turn = base.transaction("items", mode);
      const asked = act(turn.objectStore("items"));
      turn.oncomplete = () => done(asked.result);
      turn.onabort = turn.onerror = () => fail(turn.error);
    });
    return {
      all: () => run("readonly", (items) => items.getAll()),
      put: (item) => run("readwrite", (items) => items.put(item)),
      drop: (token) => run("readwrite", (items) => items.delete(token)),
    };
  };
  const inText = () => {
    const read = () => JSON.parse(localStorage.getItem(NAME) || "[]");
    const write = (items) => localStorage.setItem(NAME, JSON.stringify(items));
    const others = (token) => read().filter((each) => each.token !== token);
    return {
      all: async () => read(),
      put: async (item) => write([...others(item.token), item]),
      drop: async (token) => write(others(token)),
    };
  };
  const store = database().then(inDatabase, inText);

  const all = async () => (await (await store).all()).sort((one, other) => one.written - other.written);
  const put = async (item) => { await (await store).put(item); await show(); };
  const drop = async (token) => { await (await store).drop(token); await show(); };

  const newToken = () => [...crypto.getRandomValues(new Uint8Array(18))]
    .map((each) => each.toString(16).padStart(2, "0")).join("");

  // How long ago, by the phone's own reckoning: a clock that is wrong is wrong at both ends. On the
  // page it was written on, a clock that was set back meanwhile is seen through; the farm's time
  // on that page lets the monitor notice one that was set on.
  const age = (item) => {
    const clock = Date.now() - item.written;
    const ticked = item.origin === performance.timeOrigin ? performance.now() - item.tick : clock;
    return Math.round(Math.max(clock, ticked));
  };
  const note = (verb, by, words, title, token) => ({
    token: token || newToken(), verb, by, words, title, refused: "", waits: "",
    written: Date.now(), seen: Number(box.dataset.seenMs) || 0, origin: performance.timeOrigin, tick: performance.now(),
  });

  const post = async (item) => {
    const { token, verb, by, words } = item;
    let answer;
    try {
      answer = await fetch("/api/entries", {
        method: "POST", headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ token, verb, by, words, age_ms: age(item), seen_ms: item.seen || 0 }),
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
    } catch {
      return { silent: true };
    }
    let told = {};
    try { told = await answer.json(); } catch { /* a broken answer is no answer */ }
    if (answer.ok && told.page) return { page: told.page };
    if (answer.status === 422 || answer.status === 400) return { refused: told.detail || speak("it was not understood") };
    if (answer.status === 401) return { waits: speak("Sign in again to send it."), door: true };
    if (answer.status === 403 || answer.status === 409) return { waits: told.detail || "" };
    return { silent: true };
  };

  const sending = new Set();
  const send = async (item) => {
    sending.add(item.token);
    try {
      const told = await post(item);
      if (told.page) await drop(item.token);
      else if (!told.silent) await put({ ...item, refused: told.refused || "", waits: told.waits || "", door: Boolean(told.door) });
      return told;
    } finally {
      sending.delete(item.token);
    }
  };

  let busy = false;
  const flush = async () => {
    if (busy || !signedIn) return;
    busy = true;
    try {
      for (const item of await all()) {
        if (item.refused || sending.has(item.token)) continue;
        if ((await send(item)).silent) break;
      }
    } finally {
      busy = false;
    }
  };

  const span = (ms) => (ms < 90000 ? speak("just now") : speak("{span} ago", { span: ms < 5400000 ? `${Math.round(ms / 60000)} min` : `${Math.round(ms / 3600000)} h` }));
  const button = (text, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "plain";
    made.textContent = text;
    made.addEventListener("click", act);
    return made;
  };
  const line = (item) => {
    const made = document.createElement("li");
    const about = document.createElement("p");
    about.textContent = `${item.title}, ${item.by}, ${span(age(item))}`;
    made.append(about);
    const why = item.refused ? speak("Not taken, because {why}", { why: item.refused }) : item.waits;
    if (why) { const told = document.createElement("p"); told.className = "refused"; told.textContent = why; made.append(told); }
    if (item.refused) {
      const mend = document.createElement("a");
      mend.className = "go";
      mend.href = `/record/${item.verb}?unsent=${item.token}`;
      mend.textContent = speak("Correct it");
      made.append(mend, " ");
    }
    if (item.door) {
      const door = document.createElement("a");
      door.className = "go";
      door.href = "/sign-in";
      door.textContent = speak("Sign in");
      made.append(door, " ");
    }
    made.append(button(speak("Drop it"), () => drop(item.token)));
    return made;
  };
  const show = async () => {
    const items = await all();
    const refused = items.filter((each) => each.refused).length;
    const waiting = items.length - refused;
    const told = [waiting && (items.some((each) => each.door) ? speak("{number} not sent yet: sign in again", { number: waiting }) : speak("{number} not sent yet", { number: waiting })),
      refused && speak("{number} not taken", { number: refused })].filter(Boolean).join(", ");
    if (box.firstElementChild.textContent !== told) box.firstElementChild.textContent = told;
    box.lastElementChild.replaceChildren(...(signedIn ? items.map(line) : []));
    box.hidden = !items.length;
    document.body.classList.toggle("has-unsent", items.length > 0);
  };

  const wake = () => { if (!document.hidden) flush(); };
  addEventListener("online", wake);
  addEventListener("pageshow", () => show().then(wake));
  document.addEventListener("visibilitychange", wake);
  document.addEventListener("fresh", wake);
  setInterval(() => { if (!box.hidden) wake(); }, AGAIN_MS);

  // The pages one may need without a signal are kept by a small worker; it needs TLS or this computer.
  if ("serviceWorker" in navigator) {
    navigator.serviceWorker.register("/sw.js").catch(() => {});
    if (signedIn) setTimeout(async () => (await navigator.serviceWorker.ready).active.postMessage("keep"), 2000);
  }
  return { all, put, drop, note, send, newToken };
})();
