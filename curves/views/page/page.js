// Draws the figures of the page, shows and hides channels, and fits the page to paper before printing.
"use strict";
(function () {
  const config = {
    displaylogo: false,
    showSendToCloud: false,
    responsive: true,
    modeBarButtonsToRemove: ["select2d", "lasso2d", "autoScale2d"],
  };
  const figures = JSON.parse(document.getElementById("figures").textContent);
  const narrow = window.matchMedia("(max-width: 44rem)").matches;
  const touch = window.matchMedia("(pointer: coarse)").matches;

  // 1. Draw. A finger scrolls the page instead of zooming the figure.
  function draw(figure) {
    const small = document.getElementById(figure.id).classList.contains("small");
    const bar = { displayModeBar: touch || narrow || small ? false : "hover" };
    const layout = Object.assign({}, figure.layout, { autosize: true, dragmode: touch ? false : "zoom" });
    return Plotly.newPlot(figure.id, figure.data, layout, Object.assign({}, config, bar));
  }
  if (typeof Plotly === "undefined") {
    document.documentElement.classList.add("no-figures");
    return;
  }
  Promise.all(figures.map(draw)).then(function () {
    document.documentElement.dataset.drawn = String(figures.length);
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

  // 3. Print: lay the page out by the rules for paper, fit each sheet to its paper, then put everything back.
  const rules = document.getElementById("print-rules");
  const millimetre = 96 / 25.4;

  function resize(size) {
    for (const figure of figures) {
      const plot = document.getElementById(figure.id);
      Plotly.relayout(plot, size(plot));
    }
  }
  function fit(sheet) {
    const most = Number(getComputedStyle(sheet).getPropertyValue("--paper-height")) * millimetre;
    for (let scale = 1; scale > 0.55; scale -= 0.03) {
      sheet.style.setProperty("--fit", scale.toFixed(2));
      if (sheet.getBoundingClientRect().height <= most) return;
    }
  }
  function toPaper() {
    if (rules.media === "all") return;
    rules.media = "all";
    document.documentElement.classList.add("on-paper");
    resize((plot) => ({ width: plot.clientWidth, height: plot.clientHeight }));
    document.querySelectorAll(".sheet").forEach(fit);
    resize((plot) => ({ width: plot.clientWidth, height: plot.clientHeight })); // a sheet that shrank is wider within
  }
  function toScreen() {
    if (rules.media !== "all") return;
    document.documentElement.classList.remove("on-paper");
    rules.media = "print";
    document.querySelectorAll(".sheet").forEach((sheet) => sheet.style.removeProperty("--fit"));
    resize(() => ({ width: null, height: null, autosize: true }));
  }
  window.addEventListener("beforeprint", toPaper);
  window.addEventListener("afterprint", toScreen);
})();
