
// Shows the curves and the numbers of the chosen stack.
(function () {
  const chooser = document.getElementById("stack");
  if (!chooser || typeof Plotly === "undefined") return;
  const figure = JSON.parse(document.getElementById("figures").textContent).find((f) => f.stacks);
  chooser.addEventListener("change", function () {
    const chosen = figure.stacks[Number(chooser.value)];
    Plotly.restyle(figure.id, { x: chosen.x, y: chosen.y }, figure.moved);
    Plotly.relayout(figure.id, { shapes: chosen.shapes, annotations: chosen.annotations });
    for (const card of document.querySelectorAll("[data-stack]")) card.hidden = card.dataset.stack !== chooser.value;
  });
  chooser.disabled = false;
})();
