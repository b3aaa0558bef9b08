// Keeps the page fresh: one stream tells that something changed, the page fetches its own body again.
"use strict";
(() => {
  const main = document.querySelector("main[data-live]");
  const stale = document.getElementById("stale");
  if (!main || !window.EventSource) return;
  let heard = Date.now();
  let busy = false;

  const refresh = async () => {
    if (busy || document.activeElement?.matches("input, textarea, select")) return;
    busy = true;
    try {
      const answer = await fetch(location.href, { headers: { "X-Fragment": "1" } });
      if (answer.ok) {
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
        const body = fresh.querySelector("[data-fresh]");
        const here = main.querySelector("[data-fresh]");
        if (body && here) here.replaceWith(body);
      }
    } catch {
      // The stale line below says what the grower needs to know.
    } finally {
      busy = false;
    }
  };

  const stream = new EventSource("/live");
  stream.addEventListener("changed", () => { heard = Date.now(); stale.hidden = true; refresh(); });
  stream.addEventListener("alive", () => { heard = Date.now(); stale.hidden = true; });
  addEventListener("pagehide", () => stream.close());
  setInterval(() => { if (Date.now() - heard > 30000) stale.hidden = false; }, 5000);
})();
