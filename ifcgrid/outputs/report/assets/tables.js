// Tables sort by the heads of their columns; what has no value comes last either way.

const collator = new Intl.Collator(undefined, { numeric: true });

function keyOf(row, column) {
  const cell = row.cells[column];
  const text = (cell.dataset.sort ?? cell.textContent).trim();
  if (text === "" || text === "–") return null;
  const number = Number(text.replace(/,/g, ""));
  return Number.isNaN(number) ? text : number;
}

function compare(a, b) {
  if (typeof a === "number" && typeof b === "number") return a - b;
  return collator.compare(String(a), String(b));
}

function sortTable(table, head) {
  const isUp = head.getAttribute("aria-sort") !== "ascending";
  for (const other of all("thead th", table)) other.setAttribute("aria-sort", "none");
  head.setAttribute("aria-sort", isUp ? "ascending" : "descending");
  const body = table.tBodies[0];
  const keyed = [...body.rows].map((row) => [keyOf(row, head.cellIndex), row]);
  keyed.sort(([a], [b]) => {
    if (a === null || b === null) return (a === null) - (b === null);
    return isUp ? compare(a, b) : compare(b, a);
  });
  body.append(...keyed.map(([, row]) => row));
}

function startTables() {
  for (const table of all("table.sorts")) {
    for (const head of all("thead th", table)) {
      one("button", head).addEventListener("click", () => sortTable(table, head));
    }
  }
}
