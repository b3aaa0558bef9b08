// Keeps the page fresh: a stream tells that something changed, the page is fetched again,
// and only what differs is put in place, so that no button moves out from under a thumb.
"use strict";
(() => {
  const stale = document.getElementById("stale");
  const SILENT_MS = 30000;
  const AGES_MS = 30000;
  let heard = Date.now();
  let made = Date.now();
  let busy = false;
  let waiting = false;

  const same = (one, other) => one.nodeType === other.nodeType && one.nodeName === other.nodeName
    && (one.id || "") === (other.id || "");

  const dress = (here, fresh) => {
    for (const { name } of [...here.attributes]) {
      if (!fresh.hasAttribute(name) && !(here.nodeName === "DETAILS" && name === "open")) here.removeAttribute(name);
    }
    for (const { name, value } of fresh.attributes) {
      if (here.getAttribute(name) !== value) here.setAttribute(name, value);
    }
  };

  const fit = (here, fresh) => {
    if (here.isEqualNode(fresh)) return;
    if (here.nodeType !== Node.ELEMENT_NODE) { here.nodeValue = fresh.nodeValue; return; }
    dress(here, fresh);
    const kept = new Map([...here.children].filter((each) => each.id).map((each) => [each.id, each]));
    let next = here.firstChild;
    for (const wanted of [...fresh.childNodes]) {
      const known = wanted.id ? kept.get(wanted.id) : undefined;
      if (known) {
        if (known === next) next = next.nextSibling; else here.insertBefore(known, next);
        fit(known, wanted);
      } else if (next && same(next, wanted)) {
        const after = next.nextSibling;
        fit(next, wanted);
        next = after;
      } else {
        here.insertBefore(wanted, next);
      }
    }
    while (next) { const after = next.nextSibling; next.remove(); next = after; }
  };

  const writing = () => document.activeElement?.matches("input:not([type=hidden]), textarea, select");

  const refresh = async () => {
    if (busy || writing() || document.hidden) { waiting = true; return; }
    busy = true;
    waiting = false;
    try {
      const answer = await fetch(location.href, { cache: "no-store" });
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const here of document.querySelectorAll("[data-fresh]")) {
        const there = fresh.getElementById(here.id);
        if (there) fit(here, document.adoptNode(there));
      }
      made = Date.now();
      document.dispatchEvent(new Event("fresh"));
    } catch {
      // The line about an old page says what the grower needs to know.
    } finally {
      busy = false;
    }
  };

  const hear = () => { heard = Date.now(); stale.hidden = true; };
  let stream;
  const listen = () => {
    let lost = false;
    stream = new EventSource("/live");
    stream.addEventListener("changed", () => { hear(); refresh(); });
    stream.addEventListener("alive", () => { hear(); if (lost) { lost = false; refresh(); } });
    stream.addEventListener("error", () => {
      lost = true;
      if (stream.readyState === EventSource.CLOSED) setTimeout(() => { listen(); refresh(); }, 10000);
    });
  };
  listen();
  addEventListener("pagehide", () => stream.close());
  addEventListener("pageshow", (event) => { if (event.persisted) { listen(); refresh(); } });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
  setInterval(() => {
    if (Date.now() - heard > SILENT_MS) stale.hidden = false;
    else if (waiting || Date.now() - made > AGES_MS) refresh();
  }, 3000);
})();
