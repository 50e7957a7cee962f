// Sorts and filters the table of jobs. The rows are there without it; it only moves and hides them.
"use strict";
(function () {
  const table = document.getElementById("jobs");
  const body = table.tBodies[0];
  const rows = Array.from(body.rows);
  const count = document.getElementById("count");
  const filters = Array.from(document.querySelectorAll(".filters [data-column]"));

  const text = (row, column) => row.cells[column].textContent.trim();
  // A cell says by what it is sorted where that is not what it shows.
  const value = (row, column) => {
    const given = row.cells[column].dataset.value;
    return given === undefined ? text(row, column) : given;
  };

  function fill(select) {
    const column = Number(select.dataset.column);
    const found = Array.from(new Set(rows.map((row) => text(row, column)))).sort();
    for (const name of found) {
      const option = document.createElement("option");
      option.value = "=" + name;
      option.textContent = name === "" ? "(none)" : name;
      select.append(option);
    }
  }

  function matches(row) {
    return filters.every((filter) => {
      if (filter.value === "") return true;
      const cell = filter.dataset.column === "all" ? row.textContent : text(row, Number(filter.dataset.column));
      if (filter.tagName === "SELECT") return cell === filter.value.slice(1);
      if (filter.type === "date") return cell !== "" && (filter.dataset.end ? cell <= filter.value : cell >= filter.value);
      return cell.toLowerCase().includes(filter.value.toLowerCase());
    });
  }

  function show() {
    let shown = 0;
    for (const row of rows) {
      row.hidden = !matches(row);
      shown += row.hidden ? 0 : 1;
    }
    count.textContent = shown + " of " + rows.length + " jobs";
  }

  function sort(head) {
    const column = head.cellIndex;
    const sign = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", sign > 0 ? "ascending" : "descending");
    const isNumber = head.classList.contains("number") || head.classList.contains("by-number");
    const ordered = rows.slice().sort((one, two) => {
      const a = value(one, column);
      const b = value(two, column);
      // What is unknown stands last, whichever way.
      if (a === "" || b === "") return (a === "" ? 1 : 0) - (b === "" ? 1 : 0);
      return sign * (isNumber ? Number(a) - Number(b) : a.localeCompare(b, undefined, { numeric: true }));
    });
    body.append(...ordered);
  }

  for (const filter of filters) {
    if (filter.tagName === "SELECT") fill(filter);
    filter.addEventListener("input", show);
  }
  for (const head of table.tHead.rows[0].cells) head.querySelector("button").addEventListener("click", () => sort(head));
  show();
})();
