// Keeps the looks and the pages last seen, for a basement without a signal. VERSION stands above,
// put there by the monitor: another one empties what was kept.
"use strict";
const SHELL = `shell-${VERSION}`;
const PAGES = `pages-${VERSION}`;
const LOOKS = ["cormwatch.css", "speak.js", "live.js", "queue.js", "record.js", "chart.js", "mark.svg"].map((each) => `/static/${each}`);
const MAY_KEEP = /^\/($|tonight$|batches(\/\d+)?$|places\/[^/]+(\/card)?$|alarms(\/\d+)?$|sensors$|help(\/sensors)?$|record\/[a-z]+$)/;
const AHEAD = ["/", "/batches", "/help", ...["look", "harvest", "out", "move", "add", "hold"].map((each) => `/record/${each}`)];
const ENDS = /^\/(sign-in|sign-out|account)/;
const PATIENCE_MS = 10000;
const FRESH_MS = 300000;
const MOST = 150;
let turn = 0;

const forget = async () => { turn += 1; await caches.delete(PAGES); };

const keep = async (key, answer, mine) => {
  const page = answer.ok && !answer.redirected && (answer.headers.get("content-type") || "").startsWith("text/html");
  if (!page || mine !== turn) return;
  const headers = new Headers(answer.headers);
  headers.delete("content-encoding");
  headers.set("x-kept-ms", String(Date.now()));
  const body = await answer.text();
  if (mine !== turn) return;
  const kept = await caches.open(PAGES);
  await kept.put(key, new Response(body, { headers }));
  for (const each of (await kept.keys()).slice(0, -MOST)) await kept.delete(each);
  if (mine !== turn) await caches.delete(PAGES);
};

const [LANGUAGE, SAID] = Object.entries(TEXTS).find(([each]) => self.navigator.language.startsWith(each)) || ["en", TEXTS.en];
const NOTHING = `<!doctype html><html lang="${LANGUAGE}"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>${SAID.title}</title><link rel="stylesheet" href="/static/cormwatch.css"><main><h1>${SAID.title}</h1>
<p>${SAID.text}</p>
<p><a class="go" href="/">${SAID.now}</a> <a class="go" href="/batches">${SAID.batches}</a></p></main></html>`;

const old = async (url) => {
  const kept = await caches.open(PAGES);
  const found = (await kept.match(url.pathname + url.search)) || (await kept.match(url.pathname));
  if (!found) return new Response(NOTHING, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
  const text = await found.text();
  const told = (text.match(/data-old="([^"]*)"/) || ["", ""])[1];
  return new Response(
    text.replace(/(<p class="stale" id="stale"[^>]*?) hidden>[^<]*/, (_, open) => `${open} data-kept>${told}`),
    { headers: found.headers },
  );
};

const late = () => new Promise((_, fail) => { setTimeout(() => fail(new Error("late")), PATIENCE_MS); });

const page = async (event, url) => {
  const mine = turn;
  const opening = event.request.mode === "navigate";
  try {
    const asked = fetch(event.request);
    const answer = await (opening ? Promise.race([asked, late()]) : asked);
    if (MAY_KEEP.test(url.pathname)) event.waitUntil(keep(url.pathname + url.search, answer.clone(), mine));
    return answer;
  } catch (failure) {
    if (!opening) throw failure;
    return old(url);
  }
};

const look = async (request) => {
  const kept = await caches.open(SHELL);
  try {
    const answer = await fetch(request);
    if (answer.ok) await kept.put(request, answer.clone());
    return answer;
  } catch (failure) {
    const found = await kept.match(request);
    if (found) return found;
    throw failure;
  }
};

const keepAhead = async () => {
  const kept = await caches.open(PAGES);
  for (const path of AHEAD) {
    const mine = turn;
    const found = await kept.match(path);
    if (found && Date.now() - Number(found.headers.get("x-kept-ms")) < FRESH_MS) continue;
    try { await keep(path, await fetch(path, { redirect: "error" }), mine); } catch { return; }
  }
};

addEventListener("install", (event) => {
  skipWaiting();
  event.waitUntil(caches.open(SHELL).then((kept) => kept.addAll(LOOKS)));
});
addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== SHELL && name !== PAGES) await caches.delete(name);
  await clients.claim();
})()));
addEventListener("message", (event) => { if (event.data === "keep") event.waitUntil(keepAhead()); });
addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  // Whoever signs in or out leaves nothing behind for the next.
  if (ENDS.test(url.pathname)) { event.waitUntil(forget()); return; }
  if (request.method !== "GET") return;
  if (/^\/(static|vendor)\//.test(url.pathname)) event.respondWith(look(request));
  else if (request.mode === "navigate" || request.headers.has("x-fresh")) event.respondWith(page(event, url));
});
