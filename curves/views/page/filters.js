// Shows the curves, the casts and the numbers of the stack that the list or a row of the table chooses.
(function () {
  const chooser = document.getElementById("stack");
  if (!chooser) return;
  const figures = Drawn.of("filters").filter((figure) => figure.stacks);
  const rows = [...document.querySelectorAll("[name=stack-row]")];
  const best = chooser.value;
  function choose(place) {
    const known = rows.some((row) => row.value === place) ? place : best;
    chooser.value = known;
    for (const row of rows) {
      row.checked = row.value === known;
      row.closest("tr").classList.toggle("chosen-row", row.checked);
    }
    for (const card of document.querySelectorAll("[data-stack]")) card.hidden = ![known, best].includes(card.dataset.stack);
    Address.write("page", { stack: known === best ? null : known });
    if (!Drawn.ready()) return;
    for (const figure of figures) {
      const stack = figure.stacks[Number(known)];
      Plotly.restyle(figure.id, { x0: stack.x0, dx: stack.dx, y: stack.y }, figure.moved);
      Plotly.relayout(figure.id, { shapes: stack.shapes, annotations: stack.annotations });
    }
  }
  chooser.addEventListener("change", () => choose(chooser.value));
  for (const row of rows) {
    row.disabled = false;
    row.addEventListener("change", () => choose(row.value));
    row.closest("tr").addEventListener("click", function (event) {
      if (event.target.closest("label, a") === null) choose(row.value);
    });
  }
  chooser.disabled = false;
  const kept = () => choose(Address.read("page").stack);
  kept();
  document.addEventListener("figures-drawn", kept);
  window.addEventListener("hashchange", () => { if (Address.any()) kept(); });
})();
