// Draws a place's history with its band as a shelf; the figures come from our own server only.
"use strict";
(() => {
  const box = document.getElementById("chart");
  const readout = document.getElementById("readout");
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
  let span = { min: 0, max: 1 };
  let asked = 0;

  const ask = async () => {
    const points = Math.max(200, Math.min(1000, box.clientWidth));
    const query = new URLSearchParams({
      place, quantity, points, since: `${Math.round(spanMs / 1000)} s ago`, until: "now",
    });
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

  const range = (u, low, high) => {
    const all = [low, high, limits.low, limits.high].filter((each) => Number.isFinite(each));
    if (!all.length) return [0, 1];
    const least = Math.min(...all);
    const most = Math.max(...all);
    const reach = Math.max(most - least, 1);
    const near = [limits.harmLow, limits.harmHigh]
      .filter((each) => Number.isFinite(each) && each > least - reach && each < most + reach);
    const pad = reach * 0.06;
    return [Math.min(least, ...near) - pad, Math.max(most, ...near) + pad];
  };

  const day = new Intl.DateTimeFormat("en", {
    timeZone: zone, weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });
  const say = (u) => {
    const at = u.cursor.idx;
    if (at === null || at === undefined) { readout.textContent = u.names.length > 1 ? `Lines: ${u.names.join(", ")}` : "\u00a0"; return; }
    const told = u.names.flatMap((name, which) => {
      const [low, high, mean] = [1, 2, 3].map((part) => u.data[which * 3 + part][at]);
      if (mean === null || mean === undefined) return [];
      const spread = high - low > 0.05 ? ` (${low.toFixed(1)} to ${high.toFixed(1)})` : "";
      return [`${u.names.length > 1 ? `${name} ` : ""}${mean.toFixed(1)} ${unit}${spread}`];
    });
    readout.textContent = `${day.format(new Date(u.data[0][at] * 1000))}: ${told.join(" · ") || "not known"}`;
  };

  const size = () => ({ width: box.clientWidth, height: box.clientHeight });
  const FEW = 30; // readings that would make a line too short to see, or none
  const few = (u, which) => u.data[which].filter((each) => Number.isFinite(each)).length <= FEW;
  const settings = (names) => {
    const axis = {
      stroke: ink("--soft"), font: "13px system-ui", grid: { stroke: ink("--line"), width: 1 }, ticks: { show: false },
    };
    const strokes = [[], [8, 4], [2, 4]];
    const quiet = { stroke: "transparent", width: 0, points: { show: false } };
    return {
      ...size(),
      tzDate: (at) => uPlot.tzDate(new Date(at * 1000), zone),
      legend: { show: false },
      cursor: { drag: { x: true, y: false }, points: { show: false } },
      scales: { x: { auto: false, ...span }, y: { range } },
      axes: [
        { ...axis, space: 70, values: [
          [86400 * 28, "{MMM}", "\n{YYYY}", null, null, null, null, null, 1],
          [86400, "{D} {MMM}", null, null, null, null, null, null, 1],
          [60, "{HH}:{mm}", "\n{D} {MMM}", null, "\n{D} {MMM}", null, null, null, 1],
        ] },
        { ...axis, size: 46, values: (u, ticks) => ticks.map((each) => `${each}`) },
      ],
      series: [{}, ...names.flatMap((name, which) => [
        { ...quiet }, { ...quiet },
        { stroke: ink("--ink"), width: 2, dash: strokes[which % 3], points: { show: few, size: 6, fill: ink("--ink") } },
      ])],
      bands: names.map((name, which) => ({ series: [which * 3 + 2, which * 3 + 1], fill: `${ink("--ink")}26` })),
      hooks: { drawClear: [shelf], setCursor: [say] },
    };
  };

  const draw = async () => {
    asked = Date.now();
    const told = await ask().catch(() => null);
    if (!told) return;
    limits = {
      low: shown(told.ideal?.low), high: shown(told.ideal?.high),
      harmLow: shown(told.harm?.low), harmHigh: shown(told.harm?.high),
    };
    const lines = told.lines.filter((line) => line.at.length);
    if (!lines.length) { readout.textContent = "Nothing was heard in this time."; return; }
    const data = uPlot.join(lines.map((line) => [
      line.at, line.low.map(shown), line.high.map(shown), line.mean.map(shown),
    ]));
    const names = lines.map((line) => line.name);
    const before = span;
    span = { min: told.since_ms / 1000, max: told.until_ms / 1000 };
    if (plot && plot.names.length === names.length) {
      const whole = plot.scales.x.min === before.min && plot.scales.x.max === before.max;
      plot.names = names;
      plot.setData(data, false);
      if (whole) plot.setScale("x", span);
      return;
    }
    plot?.destroy();
    plot = new uPlot(settings(names), data, (u, ready) => { box.append(u.root); ready(); });
    plot.names = names;
    plot.over.addEventListener("dblclick", () => plot.setScale("x", span));
    say(plot);
  };

  draw();
  document.addEventListener("fresh", () => { if (Date.now() - asked > AGAIN_MS && spanMs <= 7 * 86400000) draw(); });
  addEventListener("resize", () => plot?.setSize(size()));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { plot?.destroy(); plot = null; draw(); });
})();
