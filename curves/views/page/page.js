// Draws the figures of the page, shows and hides channels, and lays the page out for paper before printing.
"use strict";
const Drawn = (function () {
  const config = {
    displaylogo: false,
    showSendToCloud: false,
    responsive: true,
    toImageButtonOptions: { format: "png", scale: 2, filename: document.title },
    modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"],
  };
  const figures = JSON.parse(document.getElementById("figures").textContent);
  // The library writes a zoom into the layout that it is given.
  const whole = (axis) => (axis.range ? axis.range.slice() : null);
  for (const figure of figures) {
    figure.whole = { x: whole(figure.layout.xaxis), y: whole(figure.layout.yaxis) };
    figure.even = figure.layout.yaxis.scaleanchor === "x";
  }
  const rules = document.getElementById("print-rules");
  const narrow = window.matchMedia("(max-width: 44rem)").matches;
  const touch = window.matchMedia("(pointer: coarse)").matches;

  // 1. Draw. A finger scrolls the page instead of zooming the figure.
  function draw(figure) {
    const plot = document.getElementById(figure.id);
    const small = plot.classList.contains("small");
    const bar = { displayModeBar: touch || narrow || small ? false : "hover" };
    const layout = Object.assign({}, figure.layout, { autosize: true, dragmode: touch ? false : "zoom" });
    if (even(figure)) plot.style.height = tall(figure, plot.clientWidth) + "px";
    return Plotly.newPlot(plot, figure.data, layout, Object.assign({}, config, bar)).then(function () {
      plot.on("plotly_relayout", (change) => follow(figure, change));
      plot.on("plotly_afterplot", moved);
    });
  }
  // Figures of one strip share the part of log H that they show.
  let following = false;
  function follow(figure, change) {
    moved();
    if (following || !Object.keys(change).some((key) => key.startsWith("xaxis."))) return;
    const back = change["xaxis.autorange"] === true;
    const range = document.getElementById(figure.id)._fullLayout.xaxis.range.slice();
    following = true;
    const others = figures.filter((f) => f.strip === figure.strip && (back || f.id !== figure.id) && f.whole.x);
    const set = (f) => Plotly.relayout(f.id, { "xaxis.range": back ? f.whole.x.slice() : range.slice() });
    Promise.all(others.map(set)).then(function () {
      following = false;
      moved();
    });
  }
  function moved() {
    document.dispatchEvent(new Event("figures-moved"));
  }

  // One density is as long as one log H: the height follows from the width. A figure may fill the width in its stead.
  const filling = new Set();
  const even = (figure) => figure.even && (!filling.has(figure.strip) || rules.media === "all");
  function fit(figure) {
    const plot = document.getElementById(figure.id);
    plot.style.height = even(figure) ? tall(figure, plot.clientWidth) + "px" : "";
    // The library has kept the scale while the figure had its old height, by another range and a part of the width.
    const ranges = { "xaxis.range": figure.whole.x.slice(), "yaxis.range": figure.whole.y.slice() };
    Plotly.Plots.resize(plot).then(() => Plotly.relayout(plot, Object.assign({ "xaxis.domain": [0, 1] }, ranges)));
  }
  // Return how many times as long as one log H one density is.
  function fill(strip, on) {
    const figure = figures.find((one) => one.strip === strip && one.even);
    if (!figure) return null;
    if (filling.has(strip) !== on) {
      if (on) filling.add(strip);
      else filling.delete(strip);
      Plotly.relayout(figure.id, { "yaxis.scaleanchor": on ? false : "x" });
      fit(figure);
    }
    const plot = document.getElementById(figure.id), m = figure.layout.margin, { x: x, y: y } = figure.whole;
    return ((plot.clientHeight - m.t - m.b) / (y[1] - y[0])) / ((plot.clientWidth - m.l - m.r) / (x[1] - x[0]));
  }
  function tall(figure, width) {
    const m = figure.layout.margin, span = (range) => range[1] - range[0];
    return (width - m.l - m.r) * (span(figure.whole.y) / span(figure.whole.x)) + m.t + m.b;
  }
  document.documentElement.classList.add("scripted");
  const ready = () => document.documentElement.dataset.drawn !== undefined;
  const drawn = { of: (strip) => figures.filter((figure) => figure.strip === strip), fill: fill, fit: fit, ready: ready };
  if (typeof Plotly === "undefined") {
    document.documentElement.classList.add("no-figures");
    return drawn;
  }
  Promise.all(figures.map(draw)).then(function () {
    document.documentElement.dataset.drawn = String(figures.length);
    document.dispatchEvent(new Event("figures-drawn"));
  });
  window.addEventListener("resize", function () {
    for (const figure of figures.filter(even)) {
      const plot = document.getElementById(figure.id);
      if (rules.media !== "all") plot.style.height = tall(figure, plot.clientWidth) + "px";
    }
  });

  // 2. Show and hide a channel in all figures of its strip.
  function toggle(button) {
    const shown = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(shown));
    for (const figure of figures.filter((f) => f.strip === button.dataset.strip)) {
      const traces = figure.data.flatMap((trace, i) => (trace.meta === button.dataset.channel ? [i] : []));
      if (traces.length) Plotly.restyle(figure.id, { visible: shown }, traces);
    }
  }
  for (const button of document.querySelectorAll("button[data-channel]")) {
    button.addEventListener("click", () => toggle(button));
  }

  // 3. Print: lay the page out by the rules for paper, a log H at a stated length, then put everything back.
  const millimetre = 96 / 25.4;
  const scales = [40, 30, 20, 10]; // lengths of one log H [mm]

  function onPaper(figure, plot) {
    if (!even(figure)) return { width: plot.clientWidth, height: plot.clientHeight };
    const m = figure.layout.margin, x = figure.whole.x;
    const most = plot.parentElement.clientWidth - m.l - m.r;
    const unit = scales.find((mm) => (x[1] - x[0]) * mm * millimetre <= most) || scales[scales.length - 1];
    const width = (x[1] - x[0]) * unit * millimetre + m.l + m.r;
    const height = tall(figure, width);
    plot.style.width = width + "px";
    plot.style.height = height + "px";
    const stated = plot.parentElement.querySelector(".scale-stated");
    if (stated) stated.textContent = " On this sheet one log H and one density are " + unit + " mm long.";
    const ranges = { "xaxis.range": x.slice(), "yaxis.range": figure.whole.y.slice() };
    return Object.assign({ width: width, height: height, "yaxis.scaleanchor": "x", "xaxis.domain": [0, 1] }, ranges);
  }
  function toPaper() {
    if (rules.media === "all") return;
    rules.media = "all";
    document.documentElement.classList.add("on-paper");
    document.dispatchEvent(new Event("before-paper"));
    for (const figure of figures) {
      const plot = document.getElementById(figure.id);
      Plotly.relayout(plot, onPaper(figure, plot));
    }
  }
  function toScreen() {
    if (rules.media !== "all") return;
    document.documentElement.classList.remove("on-paper");
    rules.media = "print";
    for (const figure of figures) {
      const plot = document.getElementById(figure.id);
      plot.style.width = "";
      plot.style.height = even(figure) ? tall(figure, plot.clientWidth) + "px" : "";
      const anchor = figure.even ? { "yaxis.scaleanchor": even(figure) ? "x" : false } : {};
      const back = Object.assign({ width: null, height: null, autosize: true }, anchor);
      Plotly.relayout(plot, back).then(() => (figure.even ? fit(figure) : Plotly.Plots.resize(plot)));
    }
    document.dispatchEvent(new Event("after-paper"));
  }
  window.addEventListener("beforeprint", toPaper);
  window.addEventListener("afterprint", toScreen);
  return drawn;
})();
