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
  let kept = stale.hasAttribute("data-kept");
  let unreachable = false;

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
      const answer = await fetch(location.href, { cache: "no-store", headers: { "X-Fresh": "1" } });
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      for (const here of document.querySelectorAll("[data-fresh]")) {
        const there = fresh.getElementById(here.id);
        if (there) fit(here, document.adoptNode(there));
      }
      made = Date.now();
      kept = false;
      stale.removeAttribute("data-kept");
      hear();
      document.dispatchEvent(new Event("fresh"));
    } catch {
      // The line about an old page says what the grower needs to know.
    } finally {
      busy = false;
    }
  };

  const span = (ms) => (ms < 90000 ? `${Math.round(ms / 1000)} s` : ms < 5400000 ? `${Math.round(ms / 60000)} min` : `${Math.round(ms / 3600000)} h`);
  // An old page kept on the phone stays called old until a new one stands in its place.
  const say = () => {
    const silent = unreachable || Date.now() - heard > SILENT_MS;
    stale.hidden = !kept && !silent;
    if (kept || !silent) return;
    const asOf = document.querySelector("#as-of .figure")?.textContent || stale.dataset.asOf;
    stale.textContent = speak("No word from the monitor for {span}. What stands here may be old: it is as of {as_of}.", { span: span(Date.now() - heard), as_of: asOf });
  };
  const hear = () => { heard = Date.now(); unreachable = false; say(); };
  const knock = async () => {
    try { await fetch("/health/live", { cache: "no-store", signal: AbortSignal.timeout(8000) }); } catch { unreachable = true; say(); }
  };
  let stream;
  const listen = () => {
    let lost = kept;
    stream = new EventSource("/live");
    stream.addEventListener("changed", () => { hear(); refresh(); });
    stream.addEventListener("alive", () => { hear(); if (lost) { lost = false; refresh(); } });
    stream.addEventListener("error", () => {
      lost = true;
      knock();
      if (stream.readyState === EventSource.CLOSED) setTimeout(() => { listen(); refresh(); }, 10000);
    });
  };
  listen();
  addEventListener("pagehide", () => stream.close());
  addEventListener("pageshow", (event) => { if (event.persisted) { listen(); refresh(); } });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
  setInterval(() => {
    say();
    if (Date.now() - heard <= SILENT_MS && (waiting || Date.now() - made > AGES_MS)) refresh();
  }, 3000);
})();
