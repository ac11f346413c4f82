// Draws the week's small charts from the page's data: lines, limits, flags and the state band.
(() => {
  "use strict";
  const SVG = "http://www.w3.org/2000/svg";
  const HEIGHT = 60;
  const data = JSON.parse(document.getElementById("week-data").textContent);

  const make = (name, attributes, parent) => {
    const node = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
    parent.append(node);
    return node;
  };

  const canvas = (host, height) => make("svg", {
    viewBox: `0 0 ${data.hours} ${height}`, preserveAspectRatio: "none", "aria-hidden": "true",
  }, host);

  const titled = (node, words) => { make("title", {}, node).textContent = words; return node; };

  // A link for the pointer; the same address stands in the page's lists for the keyboard.
  const link = (href, words, parent) =>
    titled(make("a", { href, tabindex: "-1" }, parent), words);

  // One slip must not flatten the week: what lies far out is drawn at the edge.
  const range = (chart) => {
    const known = [...chart.values, ...chart.before].flat().filter((value) => value !== null).sort((a, b) => a - b);
    const usual = [known[Math.floor(known.length * 0.02)], known[Math.ceil(known.length * 0.98) - 1]];
    const spread = (usual[1] - usual[0]) || Math.abs(usual[1]) * 0.02 || 1;
    const warnings = chart.limits.filter(([, kind]) => kind === "warning").map(([value]) => value);
    const low = Math.min(usual[0] - spread * 0.3, ...warnings.map((value) => value - spread * 0.1));
    const high = Math.max(usual[1] + spread * 0.3, ...warnings.map((value) => value + spread * 0.1));
    return [low < 0 && known[0] >= 0 ? 0 : low, high];
  };

  const path = (values, y) => {
    let pen = "M";
    return values.map((value, hour) => {
      if (value === null) { pen = "M"; return ""; }
      const step = `${pen}${hour + 0.5} ${y(value).toFixed(2)}`;
      pen = "L";
      return pen === "L" && step.startsWith("M") ? `${step}h0.01` : step;
    }).join("");
  };

  const daysOver = (svg, code, height) => data.days.forEach((day, number) => {
    const over = link(`/log/${code}/day/${day}`, `${code} ${day}`, svg);
    make("rect", { x: number * 24, y: 0, width: 24, height, class: "day" }, over);
  });

  const flagsOver = (svg, flags, height, width) => flags.forEach((flag) => {
    const over = link(flag.href, flag.words, svg);
    const x = Math.min(flag.hour + 0.5, data.hours - width);
    const pennant = `h${width}l${-width / 3} ${height / 6}l${width / 3} ${height / 6}h${-width}`;
    make("rect", { x, y: 0, width, height, class: "hit" }, over);
    make("path", { d: `M${x} ${height}V1${pennant}`, class: "flag-mark" }, over);
  });

  const draw = (host) => {
    const chart = data.charts[host.dataset.chart];
    const [low, high] = range(chart);
    const y = (value) => HEIGHT * Math.min(1, Math.max(0, 1 - (value - low) / (high - low)));
    const svg = canvas(host, HEIGHT);
    chart.limits.filter(([value]) => value > low && value < high).forEach(([value, kind]) =>
      make("line", { x1: 0, x2: data.hours, y1: y(value), y2: y(value), class: `limit-${kind}` }, svg));
    chart.before.forEach((values) => make("path", { d: path(values, y), class: "before" }, svg));
    chart.values.forEach((values, number) =>
      make("path", { d: path(values, y), class: `line trace-${number + 1}` }, svg));
    daysOver(svg, chart.code, HEIGHT);
    flagsOver(svg, chart.flags, HEIGHT, 8);
    const digits = Number(host.dataset.decimals);
    for (const [place, value] of [["top", high], ["bottom", low]]) {
      const label = document.createElement("span");
      label.className = `edge edge-${place}`;
      label.textContent = value.toFixed(digits);
      host.append(label);
    }
  };

  const drawStrip = (host) => {
    const strip = data.strips[host.dataset.strip];
    const svg = canvas(host, 14);
    strip.states.forEach(([first, last, tone]) =>
      make("rect", { x: first, y: 4, width: last - first, height: 10, class: `state-${tone}` }, svg));
    daysOver(svg, strip.code, 14);
    flagsOver(svg, strip.flags, 14, 1.5);
  };

  document.querySelectorAll("[data-chart]").forEach(draw);
  document.querySelectorAll("[data-strip]").forEach(drawStrip);
})();
