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
    const shapes = figure.marks.map((mark) => ({
      type: "line",
      line: { color: ink, width: 1, dash: "dot" },
      ...(mark.axis === "x"
        ? { x0: mark.at, x1: mark.at, y0: 0, y1: 1, yref: "paper" }
        : { y0: mark.at, y1: mark.at, x0: 0, x1: 1, xref: "paper" }),
    }));
    const annotations = figure.marks.map((mark) => ({
      text: mark.label,
      showarrow: false,
      font: { color: ink },
      ...(mark.axis === "x"
        ? { x: mark.at, y: 0, yref: "paper", xanchor: "right", yanchor: "bottom" }
        : { y: mark.at, x: 0, xref: "paper", xanchor: "left", yanchor: "bottom" }),
    }));
    const layout = {
      shapes,
      annotations,
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
