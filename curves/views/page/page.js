// Draws the figures of the page, shows and hides channels, and lays the page out for paper before printing.
"use strict";
(function () {
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
  for (const figure of figures) figure.whole = { x: whole(figure.layout.xaxis), y: whole(figure.layout.yaxis) };
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

  // One density is as long as one log H: the height follows from the width.
  function even(figure) {
    return figure.layout.yaxis.scaleanchor === "x";
  }
  function tall(figure, width) {
    const m = figure.layout.margin, span = (range) => range[1] - range[0];
    return (width - m.l - m.r) * (span(figure.whole.y) / span(figure.whole.x)) + m.t + m.b;
  }
  document.documentElement.classList.add("scripted");
  if (typeof Plotly === "undefined") {
    document.documentElement.classList.add("no-figures");
    return;
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
  const rules = document.getElementById("print-rules");
  const millimetre = 96 / 25.4;
  const opened = []; // what was closed on the screen and is printed
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
    return { width: width, height: height, "xaxis.range": x.slice(), "yaxis.range": figure.whole.y.slice() };
  }
  function toPaper() {
    if (rules.media === "all") return;
    rules.media = "all";
    document.documentElement.classList.add("on-paper");
    for (const closed of document.querySelectorAll("details:not([open])")) {
      closed.open = true;
      opened.push(closed);
    }
    for (const figure of figures) {
      const plot = document.getElementById(figure.id);
      Plotly.relayout(plot, onPaper(figure, plot));
    }
  }
  function toScreen() {
    if (rules.media !== "all") return;
    document.documentElement.classList.remove("on-paper");
    rules.media = "print";
    for (const closed of opened.splice(0)) closed.open = false;
    for (const figure of figures) {
      const plot = document.getElementById(figure.id);
      plot.style.width = "";
      if (even(figure)) plot.style.height = tall(figure, plot.clientWidth) + "px";
      Plotly.relayout(plot, { width: null, height: null, autosize: true }).then(() => Plotly.Plots.resize(plot));
    }
  }
  window.addEventListener("beforeprint", toPaper);
  window.addEventListener("afterprint", toScreen);
})();
