"use strict";

// Draws the figures of a page closely from the data on it. Without this script the drawings and tables say the same.
(() => {
  const source = document.getElementById("figures");
  if (!source || !window.Plotly) {
    return;
  }
  const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const ink = colour("--ink");
  const shades = [colour("--accent-dark"), colour("--alarm"), colour("--band-3"), colour("--line-strong"), colour("--band-4")];
  const dashes = ["solid", "dash", "dot", "dashdot", "longdash"];
  const axis = (text, log) => ({ title: { text }, type: log ? "log" : undefined, color: ink, automargin: true, gridcolor: colour("--line"), zerolinecolor: colour("--line-strong") });
  const limits = (trace, at) => ({ type: "data", symmetric: false, array: trace.high.map((end, i) => end - trace[at][i]), arrayminus: trace.low.map((end, i) => trace[at][i] - end) });

  const kinds = {
    curve: (trace, i) => {
      const line = { color: shades[i % 5], width: 2, dash: dashes[i % 5] };
      const edge = { x: trace.x, type: "scatter", mode: "lines", line: { width: 0 }, hoverinfo: "skip", showlegend: false, legendgroup: trace.name };
      return [
        { ...edge, y: trace.low },
        { ...edge, y: trace.high, fill: "tonexty", fillcolor: `${shades[i % 5]}22` },
        { x: trace.x, y: trace.y, text: trace.text, name: trace.name, legendgroup: trace.name, type: "scatter", mode: "lines+markers", line },
      ];
    },
    interval: (trace, i) => [{ x: trace.x, y: trace.y, name: trace.name, type: "scatter", mode: "markers", marker: { color: shades[i % 5], size: 9 }, error_x: limits(trace, "x") }],
    bar: (trace, i) => [{ x: trace.x, y: trace.y, name: trace.name, type: "bar", marker: { color: [shades[0], shades[2], shades[1]][i % 3] } }],
  };

  for (const [name, figure] of Object.entries(JSON.parse(source.textContent))) {
    const place = document.getElementById(`figure-${name}`);
    if (!place) {
      continue;
    }
    const layout = {
      xaxis: axis(figure.x, figure.log),
      yaxis: { ...axis(figure.y), range: figure.range },
      paper_bgcolor: colour("--sheet"),
      plot_bgcolor: colour("--sheet"),
      font: { color: ink },
      margin: { l: 60, r: 20, t: 60, b: 60 },
      legend: { orientation: "h", y: 1.02, yanchor: "bottom" },
    };
    const traces = figure.traces.flatMap((trace, i) => kinds[trace.kind](trace, i));
    window.Plotly.newPlot(place, traces, layout, { responsive: true, displayModeBar: false });
  }
})();
