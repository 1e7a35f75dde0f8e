"use strict";

// Replaces the drawings of curves by ones that show values with their units, and saves them as PNG.
// Without this script the drawings stay as they are.
(() => {
  const source = document.getElementById("overlay-figures");
  if (!source || !window.Plotly) {
    return;
  }
  const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const ink = colour("--ink");
  const axis = (text) => ({ title: { text }, color: ink, gridcolor: colour("--line"), zerolinecolor: colour("--line-strong") });
  const WIDTH = 1400;
  const HEIGHT = 800;

  const save = async (place, part) => {
    // The picture is drawn from a data address: the content security policy allows no other.
    const address = await window.Plotly.toImage(place, { format: "svg", width: WIDTH, height: HEIGHT });
    const picture = new Image();
    picture.src = address;
    await picture.decode();
    const canvas = document.createElement("canvas");
    canvas.width = WIDTH;
    canvas.height = HEIGHT;
    canvas.getContext("2d").drawImage(picture, 0, 0);
    const link = document.createElement("a");
    link.href = canvas.toDataURL("image/png");
    link.download = `${part}.png`;
    link.click();
  };

  for (const [part, figure] of Object.entries(JSON.parse(source.textContent))) {
    const place = document.getElementById(`figure-${part}`);
    const [xUnit, yUnit] = figure.units;
    const traces = figure.traces.map((trace) => ({
      x: trace.x,
      y: trace.y,
      name: trace.name,
      type: "scatter",
      mode: "lines",
      line: { color: trace.colour, width: 2, dash: trace.dash },
      hovertemplate: `%{x:.2f} ${xUnit}, %{y:.4g} ${yUnit}<extra>%{fullData.name}</extra>`,
    }));
    const layout = {
      xaxis: axis(figure.x),
      yaxis: axis(figure.y),
      paper_bgcolor: colour("--sheet"),
      plot_bgcolor: colour("--sheet"),
      font: { color: ink },
      margin: { l: 70, r: 20, t: 20, b: 60 },
      hovermode: "closest",
      // The list above the drawings is the key where there is no room for one.
      showlegend: place.clientWidth > 600,
      legend: { orientation: "h", y: -0.2 },
    };
    place.replaceChildren();
    place.classList.add("lab-figure");
    window.Plotly.newPlot(place, traces, layout, { responsive: true, displayModeBar: false });
    const button = document.querySelector(`[data-save-png="${part}"]`);
    button.hidden = false;
    button.addEventListener("click", () => save(place, part));
  }
})();
