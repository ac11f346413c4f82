// Draws a meter's history from the page's data in the page's own colours, and again when they change.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("history-data").textContent);
  const HOURS_AND_DAYS = [{ dtickrange: [null, 86399999], value: "%H:%M\n%m-%d" }, { dtickrange: [86400000, null], value: "%Y-%m-%d" }];
  const QUIET = { displayModeBar: false, displaylogo: false, showSendToCloud: false, plotlyServerURL: "" };
  const SYMBOLS = ["circle", "square-open", "diamond", "triangle-up-open", "cross", "x", "star", "hexagon-open"];
  const KIND_SYMBOLS = { flag: "triangle-right", correction: "x", limit: "line-ew-open", instrument: "square", tube: "diamond", trip: "star" };
  const LIMIT_DASH = { alarm: "dash", warning: "dot" };

  const token = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
  const instants = (minutes) => minutes.map((minute) => minute * 60000);
  const wave = (khz) => (khz ? `${khz} kHz` : data.words.off);
  const pick = (values, places) => places.map((place) => values[place]);

  // One set of marks a wave, so that a symbol tells them apart in black and white too.
  const byWave = (curve, axis, colour) => [...new Set(curve.waves)].sort((a, b) => a - b).map((khz, number) => {
    const places = curve.waves.flatMap((one, place) => (one === khz ? [place] : []));
    const middle = pick(curve.median, places);
    const trace = {
      x: instants(pick(curve.minutes, places)), y: middle, yaxis: axis, mode: "markers",
      name: wave(khz), legendgroup: khz, showlegend: axis === "y",
      marker: { symbol: SYMBOLS[number % SYMBOLS.length], size: 6, color: colour },
      hovertemplate: `%{y} ${curve.unit}<br>%{x|%Y-%m-%d %H:%M} UTC<br>${wave(khz)}<extra></extra>`,
    };
    if (curve.low) {
      const span = (from, to) => places.map((place) => (from[place] === null ? 0 : from[place] - to[place]));
      trace.error_y = {
        type: "data", symmetric: false, width: 0, thickness: 1, color: colour,
        array: span(curve.high, curve.median), arrayminus: span(curve.median, curve.low),
      };
    }
    return trace;
  });

  const limits = () => Object.entries(data.limits).map(([edge, values]) => {
    const kind = edge.split("_")[1];
    return {
      x: instants(data.curves[0].minutes), y: values, mode: "lines", hoverinfo: "skip", showlegend: false,
      line: { shape: "hv", width: 1.5, dash: LIMIT_DASH[kind], color: token(kind === "alarm" ? "danger" : "abnormal") },
    };
  });

  const marks = () => Object.entries(data.kinds).flatMap(([kind, words]) => {
    const own = data.marks.filter((mark) => mark[1] === kind);
    return own.length ? [{
      x: instants(own.map(([minute]) => minute)), y: own.map(() => words), yaxis: "y3", mode: "markers",
      name: words, showlegend: false, customdata: own.map((mark) => mark[3]), text: own.map((mark) => mark[2]),
      marker: { symbol: KIND_SYMBOLS[kind], size: 12, color: token("danger"), line: { color: token("danger"), width: 2 } },
      hovertemplate: "%{text}<br>%{x|%Y-%m-%d %H:%M} UTC<extra></extra>",
    }] : [];
  });

  const axis = (title) => ({
    title: { text: title }, gridcolor: token("line-soft"), linecolor: token("line"), zeroline: false, automargin: true,
  });

  const layout = (host) => ({
    width: host.clientWidth, height: host.clientHeight,
    paper_bgcolor: token("surface"), plot_bgcolor: token("surface"),
    font: { color: token("ink"), size: 16, family: getComputedStyle(document.body).fontFamily },
    margin: { l: 10, r: 10, t: 10, b: 10 }, hovermode: "closest",
    legend: { orientation: "h", y: -0.12, yanchor: "top", itemsizing: "constant" },
  });

  const titleOf = (curve) => `${curve.label}, ${curve.unit}`;

  const follow = ({ points: [point] }) => {
    const curve = data.curves[point.data.yaxis === "y2" ? 1 : 0];
    const day = new Date(point.x).toISOString().slice(0, 10);
    const href = point.data.yaxis === "y3" ? point.customdata : `/log/${curve.code}/day/${day}`;
    if (href) location.assign(href);
  };

  const drawHistory = (host) => {
    const [ours, theirs] = data.curves;
    const kinds = new Set(data.marks.map((mark) => mark[1])).size;
    const strip = kinds ? 0.05 + 0.05 * kinds : 0;
    const half = strip + (1 - strip) / 2;
    const lowest = kinds ? "y3" : (theirs ? "y2" : "y");
    const traces = [...limits(), ...byWave(ours, "y", token("ink")), ...marks()];
    if (theirs) traces.push(...byWave(theirs, "y2", token("action")));
    const isNew = !host.data;
    const top = { ...axis(titleOf(ours)), domain: [theirs ? half + 0.03 : strip, 1] };
    Plotly.react(host, traces, {
      ...layout(host),
      xaxis: { ...axis(""), type: "date", tickformatstops: HOURS_AND_DAYS, nticks: Math.max(3, host.clientWidth / 140), anchor: lowest, range: instants(data.span) },
      yaxis: top,
      ...(theirs && { yaxis2: { ...axis(titleOf(theirs)), domain: [strip, half - 0.03] } }),
      ...(kinds && { yaxis3: { ...axis(""), domain: [0, strip - 0.04], type: "category", fixedrange: true } }),
    }, QUIET);
    if (isNew) host.on("plotly_click", follow);
  };

  const drawPairs = (host) => {
    const [ours, theirs] = data.curves;
    Plotly.react(host, [{
      x: data.pairs.theirs, y: data.pairs.ours, mode: "markers", text: data.pairs.minutes.map((minute) => new Date(minute * 60000).toISOString().slice(0, 16)),
      marker: { symbol: "circle-open", size: 7, color: token("ink") }, hovertemplate: "%{y} / %{x}<br>%{text}<extra></extra>",
    }], { ...layout(host), xaxis: axis(`${theirs.code} ${titleOf(theirs)}`), yaxis: axis(`${ours.code} ${titleOf(ours)}`) }, QUIET);
  };

  const chart = document.getElementById("history-chart");
  const pairs = document.getElementById("pair-chart");

  const draw = () => {
    if (chart) drawHistory(chart);
    if (pairs) drawPairs(pairs);
  };

  // At first, when the window changes, when the light does, and when a page is made for print.
  const sizes = new ResizeObserver(draw);
  [chart, pairs].filter(Boolean).forEach((host) => sizes.observe(host));
  for (const query of ["(prefers-color-scheme: dark)", "print"]) matchMedia(query).addEventListener("change", draw);
})();
