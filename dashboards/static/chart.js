// Draws a place's history with its band as a shelf; the figures come from our own server only.
"use strict";
(() => {
  const box = document.getElementById("chart");
  const readout = document.getElementById("readout");
  const key = document.getElementById("chart-key");
  const back = document.getElementById("chart-whole");
  if (!box || typeof uPlot === "undefined") return;
  const { place, quantity, unit, zone } = box.dataset;
  const factor = Number(box.dataset.factor);
  const offset = Number(box.dataset.offset);
  const spanMs = Number(box.dataset.spanMs);
  const AGAIN_MS = 30000;
  const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const shown = (value) => (value === null || value === undefined ? null : value * factor + offset);
  let plot = null;
  let limits = {};
  let reach = [0, 1];
  let marks = [];
  let span = { min: 0, max: 1 };
  let asked = 0;
  let zoomed = null;
  let latest = Infinity;

  const at = (seconds) => new Date(seconds * 1000).toISOString();
  const ask = async () => {
    const points = Math.max(200, Math.min(1000, box.clientWidth));
    const [since, until] = zoomed ? [at(zoomed.min), at(zoomed.max)] : [`${Math.round(spanMs / 1000)} s ago`, "now"];
    const query = new URLSearchParams({ place, quantity, points, since, until, most: box.dataset.most });
    const answer = await fetch(`/api/series?${query}`);
    return answer.ok ? answer.json() : null;
  };

  const shelf = (u) => {
    const { ctx } = u;
    const { left, top, width, height } = u.bbox;
    const y = (value) => Math.min(top + height, Math.max(top, u.valToPos(value, "y", true)));
    ctx.save();
    const { low, high, harmLow, harmHigh } = limits;
    if (low !== null || high !== null) {
      const head = high === null ? top : y(high);
      const foot = low === null ? top + height : y(low);
      ctx.fillStyle = ink("--shelf");
      ctx.fillRect(left, head, width, Math.max(0, foot - head));
      if (low !== null) { ctx.fillStyle = ink("--band"); ctx.fillRect(left, foot, width, 2); }
    }
    ctx.setLineDash([8, 6]);
    ctx.lineWidth = 2;
    for (const [value, colour] of [[harmLow, "--down"], [harmHigh, "--up"]]) {
      if (value === null || y(value) === top || y(value) === top + height) continue;
      ctx.strokeStyle = ink(colour);
      ctx.beginPath();
      ctx.moveTo(left, y(value));
      ctx.lineTo(left + width, y(value));
      ctx.stroke();
    }
    ctx.restore();
  };

  const ALARM = 7; // height of an alarm's bar along the top, in pixels of the page
  const FOOT = 12; // height of what stands at the foot
  const happened = (u) => {
    const { ctx } = u;
    const { left, top, width, height } = u.bbox;
    const scale = devicePixelRatio || 1;
    const foot = top + height;
    const x = (ms) => Math.min(left + width, Math.max(left, u.valToPos(ms / 1000, "x", true)));
    ctx.save();
    for (const mark of marks) {
      const from = x(mark.from_ms);
      const wide = Math.max(x(mark.until_ms ?? span.max * 1000) - from, 2 * scale);
      ctx.strokeStyle = ctx.fillStyle = ink(mark.kind === "alarm" ? "--up" : "--ink");
      ctx.lineWidth = 1.5 * scale;
      if (mark.kind === "alarm") ctx.fillRect(from, top, wide, ALARM * scale);
      else if (mark.kind === "expected") ctx.strokeRect(from, top + scale, wide, (ALARM - 2) * scale);
      else if (mark.kind === "door") ctx.fillRect(from, foot - FOOT * scale, wide, FOOT * scale);
      else if (mark.kind === "loading") ctx.strokeRect(from, foot - FOOT * scale, wide, FOOT * scale);
      else { ctx.globalAlpha = 0.3; ctx.fillRect(from, foot - FOOT * scale, wide, FOOT * scale); ctx.globalAlpha = 1; }
    }
    ctx.restore();
  };

  const range = () => {
    const all = [...reach, limits.low, limits.high].filter((each) => Number.isFinite(each));
    if (!all.length) return [0, 1];
    const least = Math.min(...all);
    const most = Math.max(...all);
    const wide = Math.max(most - least, 1);
    const near = [limits.harmLow, limits.harmHigh]
      .filter((each) => Number.isFinite(each) && each > least - wide && each < most + wide);
    const pad = wide * 0.1;
    return [Math.min(least, ...near) - pad, Math.max(most, ...near) + pad];
  };

  const day = new Intl.DateTimeFormat(document.documentElement.lang, {
    timeZone: zone, weekday: "short", day: "numeric", month: "short", ...(spanMs > 300 * 86400000 ? { year: "numeric" } : {}), hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });
  const say = (u) => {
    const at = u.cursor.idx;
    if (at === null || at === undefined) { readout.textContent = u.names.length > 1 ? speak("Lines: {names}", { names: u.names.join(", ") }) : "\u00a0"; return; }
    const told = u.names.flatMap((name, which) => {
      const [low, high, mean] = [1, 2, 3].map((part) => u.data[which * 3 + part][at]);
      if (mean === null || mean === undefined) return [];
      const spread = high - low > 0.05 ? ` (${speak("{low} to {high}", { low: low.toFixed(1), high: high.toFixed(1) })})` : "";
      return [`${u.names.length > 1 ? `${name} ` : ""}${mean.toFixed(1)} ${unit}${spread}`];
    });
    u.extras.forEach((extra, which) => {
      const value = u.data[1 + u.names.length * 3 + which][at];
      if (Number.isFinite(value)) told.push(`${extra.word} ${value.toFixed(1)} ${unit}`);
    });
    const ms = u.data[0][at] * 1000;
    const here = marks.filter((mark) => mark.from_ms <= ms && (mark.until_ms === null || mark.until_ms >= ms));
    told.push(...new Set(here.map((mark) => mark.text)));
    readout.textContent = `${day.format(new Date(ms))}: ${told.join(" · ") || speak("not known")}`;
  };

  const size = () => ({ width: box.clientWidth, height: box.clientHeight });
  const FEW = 30; // readings that would make a line too short to see, or none
  const few = (u, which) => u.data[which].filter((each) => Number.isFinite(each)).length <= FEW;
  const KINDS = { contents: { word: speak("kept there, about"), dash: [], width: 6, alpha: "55", says: speak("the thick line is what is kept there, as an estimate") },
    dew_point: { word: speak("dew point"), dash: [2, 5], width: 1.5, alpha: "", says: speak("the dotted line is the dew point") } };
  const SAYS = { alarm: speak("a bar along the top is an alarm"), expected: speak("a hollow one was expected"), door: speak("a dark block at the foot is an open door"),
    defrost: speak("a pale one is like a defrost"), loading: speak("a hollow one is loading") };
  const settings = (names, extras) => {
    const axis = {
      stroke: ink("--soft"), font: "13px system-ui", grid: { stroke: ink("--line"), width: 1 }, ticks: { show: false },
    };
    const strokes = [[], [8, 4], [2, 4]];
    const edge = { stroke: `${ink("--ink")}80`, width: 1, points: { show: false } };
    return {
      ...size(),
      tzDate: (at) => uPlot.tzDate(new Date(at * 1000), zone),
      legend: { show: false },
      cursor: { drag: { x: true, y: false, setScale: false }, points: { show: false } },
      scales: { x: { auto: false, ...span }, y: { range } },
      axes: [
        { ...axis, space: 70, values: [
          [86400 * 360, "{YYYY}", null, null, null, null, null, null, 1],
          [86400 * 28, "{MMM}", "\n{YYYY}", null, null, null, null, null, 1],
          [86400, "{D} {MMM}", null, null, null, null, null, null, 1],
          [60, "{HH}:{mm}", "\n{D} {MMM}", null, "\n{D} {MMM}", null, null, null, 1],
        ] },
        { ...axis, size: 46, values: (u, ticks) => ticks.map((each) => `${each}`) },
      ],
      series: [{}, ...names.flatMap((name, which) => [
        { ...edge }, { ...edge },
        { stroke: ink("--ink"), width: 2, dash: strokes[which % 3], points: { show: few, size: 6, fill: ink("--ink") } },
      ]), ...extras.map((extra) => ({
        stroke: `${ink("--ink")}${extra.alpha}`, width: extra.width, dash: extra.dash, points: { show: false },
      }))],
      bands: names.map((name, which) => ({ series: [which * 3 + 2, which * 3 + 1], fill: `${ink("--ink")}26` })),
      hooks: { drawClear: [shelf], draw: [happened], setCursor: [say], setSelect: [chosen] },
    };
  };

  const LEAST_S = 600;
  const zoom = (wanted) => {
    const wide = Math.max(wanted.max - wanted.min, LEAST_S);
    const end = Math.min(wanted.max, latest);
    zoomed = wide >= spanMs / 1000 ? null : { min: end - wide, max: end };
    back.hidden = zoomed === null;
    draw();
  };
  const chosen = (u) => {
    if (u.select.width < 10) return;
    const [min, max] = [u.select.left, u.select.left + u.select.width].map((x) => u.posToVal(x, "x"));
    u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
    zoom({ min, max });
  };
  // Two fingers draw time apart; one pushes it along once it is drawn apart, or else scrolls the page.
  const fingers = (u) => {
    const down = new Map();
    let begun = null;
    const begin = () => {
      const xs = [...down.values()];
      begun = xs.length ? { xs, from: { ...u.scales.x } } : null;
    };
    const moved = () => {
      const wide = u.over.clientWidth;
      const { xs, from } = begun;
      const now = [...down.values()];
      const per = (from.max - from.min) / wide;
      if (now.length === 1) { const by = (xs[0] - now[0]) * per; return { min: from.min + by, max: from.max + by }; }
      const apart = Math.max(Math.abs(now[1] - now[0]), 20) / Math.max(Math.abs(xs[1] - xs[0]), 20);
      const held = from.min + ((xs[0] + xs[1]) / 2) * per;
      const min = held - ((now[0] + now[1]) / 2) * (per / apart);
      return { min, max: min + (from.max - from.min) / apart };
    };
    const touch = (event) => event.pointerType === "touch";
    const x = (event) => event.clientX - u.over.getBoundingClientRect().left;
    u.over.addEventListener("pointerdown", (event) => { if (touch(event)) { down.set(event.pointerId, x(event)); begin(); } });
    u.over.addEventListener("pointermove", (event) => {
      if (!begun || !down.has(event.pointerId)) return;
      down.set(event.pointerId, x(event));
      if (down.size === 2 || (down.size === 1 && zoomed)) u.setScale("x", moved());
    });
    for (const name of ["pointerup", "pointercancel", "pointerleave"]) {
      u.over.addEventListener(name, (event) => {
        if (!down.has(event.pointerId)) return;
        const wanted = { ...u.scales.x };
        const turned = wanted.min !== span.min || wanted.max !== span.max;
        down.delete(event.pointerId);
        if (down.size === 0 && turned) zoom(wanted);
        begin();
      });
    }
  };
  back?.addEventListener("click", () => { zoomed = null; back.hidden = true; draw(); });

  const draw = async () => {
    asked = Date.now();
    const told = await ask().catch(() => null);
    if (!told) return;
    limits = {
      low: shown(told.ideal?.low), high: shown(told.ideal?.high),
      harmLow: shown(told.harm?.low), harmHigh: shown(told.harm?.high),
    };
    marks = told.marks;
    const lines = told.lines.filter((line) => line.at.length);
    if (!lines.length) { readout.textContent = "Nothing was heard in this time."; return; }
    const main = lines.map((line) => [line.at, line.low.map(shown), line.high.map(shown), line.mean.map(shown)]);
    const extras = Object.keys(KINDS).flatMap((kind) => lines.slice(0, 1)
      .filter((line) => line[kind]).map((line) => ({ ...KINDS[kind], at: line[kind].at, value: line[kind].value.map(shown) })));
    const data = uPlot.join([...main, ...extras.map((extra) => [extra.at, extra.value])]);
    const finite = main.flatMap(([, low, high]) => [...low, ...high]).filter((each) => Number.isFinite(each));
    reach = [Math.min(...finite), Math.max(...finite)];
    const names = lines.map((line) => line.name);
    key.textContent = [...extras.map((extra) => extra.says), ...Object.keys(SAYS)
      .filter((kind) => marks.some((mark) => mark.kind === kind)).map((kind) => SAYS[kind])].join("; ").replace(/^./, (first) => first.toUpperCase());
    span = { min: told.since_ms / 1000, max: told.until_ms / 1000 };
    if (!zoomed) latest = span.max;
    const like = `${names.length} ${extras.map((extra) => extra.word)}`;
    if (plot?.like === like) {
      plot.names = names;
      plot.extras = extras;
      plot.setData(data, false);
      plot.setScale("x", span);
      return;
    }
    plot?.destroy();
    plot = new uPlot(settings(names, extras), data, (u, ready) => { box.append(u.root); ready(); });
    Object.assign(plot, { names, extras, like });
    fingers(plot);
    say(plot);
  };

  draw();
  document.addEventListener("fresh", () => { if (Date.now() - asked > AGAIN_MS && spanMs <= 7 * 86400000 && !zoomed) draw(); });
  addEventListener("resize", () => plot?.setSize(size()));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { if (plot) plot.like = ""; draw(); });
})();
