
// Sorts the table of an archive by the column whose heading is pressed; pressed again, the other way.
(function () {
  const table = document.querySelector("table.archive");
  if (!table) return;
  const rows = table.tBodies[0];
  for (const button of table.querySelectorAll("th button")) {
    button.addEventListener("click", function () {
      const head = button.parentElement;
      const column = head.cellIndex;
      const way = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
      for (const other of head.parentElement.cells) {
        if (other.hasAttribute("aria-sort")) other.setAttribute("aria-sort", "none");
      }
      head.setAttribute("aria-sort", way > 0 ? "ascending" : "descending");
      const keyed = Array.from(rows.rows, (row) => [row.cells[column].dataset.key, row]);
      // A strip that lacks the number stands last, whichever way the others are sorted.
      keyed.sort(function ([a], [b]) {
        if (a === "" || b === "") return (a === "") - (b === "");
        const numbers = [Number(a), Number(b)];
        return way * (numbers.some(Number.isNaN) ? a.localeCompare(b) : numbers[0] - numbers[1]);
      });
      rows.append(...keyed.map(([, row]) => row));
    });
  }
})();
