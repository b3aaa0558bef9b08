// Draws a place's history with its band as a shelf; the figures come from our own server only.
"use strict";
(async () => {
  const box = document.getElementById("chart");
  if (!box || typeof uPlot === "undefined") return;
  const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const data = await (await fetch(box.dataset.source)).json();
  if (!data.at.length) return;
  const shelf = (u) => {
    const { ctx } = u;
    const { left, width } = u.bbox;
    const y = (value) => u.valToPos(value, "y", true);
    ctx.save();
    const { low, high } = data.ideal;
    if (low !== null || high !== null) {
      const top = high === null ? u.bbox.top : Math.max(y(high), u.bbox.top);
      const foot = low === null ? u.bbox.top + u.bbox.height : Math.min(y(low), u.bbox.top + u.bbox.height);
      ctx.fillStyle = ink("--band-wash");
      if (foot > top) ctx.fillRect(left, top, width, foot - top);
    }
    ctx.setLineDash([6, 5]);
    ctx.lineWidth = 2;
    for (const [value, colour] of [[data.harm.low, "--cold"], [data.harm.high, "--warm"]]) {
      if (value === null) continue;
      const at = y(value);
      if (at < u.bbox.top || at > u.bbox.top + u.bbox.height) continue;
      ctx.strokeStyle = ink(colour);
      ctx.beginPath(); ctx.moveTo(left, at); ctx.lineTo(left + width, at); ctx.stroke();
    }
    ctx.restore();
  };
  const size = () => ({ width: box.clientWidth - 16, height: box.clientHeight - 60 });
  const axis = { stroke: ink("--soft"), grid: { stroke: ink("--line"), width: 1 }, ticks: { stroke: ink("--line") } };
  const zone = box.dataset.zone;
  const plot = new uPlot({
    ...size(),
    tzDate: (at) => uPlot.tzDate(new Date(at * 1000), zone),
    scales: { y: { range: (u, low, high) => {
      const all = [low, high, data.ideal.low, data.ideal.high].filter((v) => v !== null && v !== undefined);
      const pad = (Math.max(...all) - Math.min(...all)) * 0.08 || 1;
      return [Math.min(...all) - pad, Math.max(...all) + pad];
    } } },
    axes: [{ ...axis }, { ...axis, label: data.unit, size: 54 }],
    series: [
      { label: "When" },
      { label: "Lowest", stroke: ink("--soft"), width: 0.5, points: { show: false } },
      { label: "Highest", stroke: ink("--soft"), width: 0.5, points: { show: false } },
      { label: data.name, stroke: ink("--ink"), width: 2, points: { show: false } },
    ],
    bands: [{ series: [2, 1], fill: ink("--unknown-wash") }],
    hooks: { drawClear: [shelf] },
  }, [data.at, data.low, data.high, data.mean], box);
  box.querySelector("noscript, .soft")?.remove();
  addEventListener("resize", () => plot.setSize(size()));
})();
