"use strict";

// Draws the curves of a test from the data on the page. Without this script the tables below say the same.
(() => {
  const source = document.getElementById("curve-figures");
  if (!source || !window.Plotly) {
    return;
  }
  const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const ink = colour("--ink");
  const shades = { loading: colour("--accent"), unloading: colour("--band-3") };
  const axis = (text) => ({ title: { text }, color: ink, gridcolor: colour("--line"), zerolinecolor: colour("--line-strong") });

  for (const [kind, figure] of Object.entries(JSON.parse(source.textContent))) {
    const place = document.getElementById(`figure-${kind}`);
    if (!place) {
      continue;
    }
    const traces = figure.traces.map((trace) => ({
      x: trace.x,
      y: trace.y,
      name: trace.name,
      type: "scatter",
      mode: "lines",
      line: { color: shades[trace.branch], width: 1.5, dash: trace.branch === "unloading" ? "dash" : "solid" },
    }));
    const layout = {
      xaxis: axis(figure.x),
      yaxis: axis(figure.y),
      paper_bgcolor: colour("--sheet"),
      plot_bgcolor: colour("--sheet"),
      font: { color: ink },
      margin: { l: 70, r: 20, t: 70, b: 60 },
      hovermode: "closest",
      legend: { orientation: "h", y: 1.02, yanchor: "bottom" },
    };
    window.Plotly.newPlot(place, traces, layout, { responsive: true, displayModeBar: false });
  }
})();
