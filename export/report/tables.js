// Tables that sort and filter.

for (const table of document.querySelectorAll("table.sortable")) {
  const body = table.tBodies[0], rows = [...body.rows], box = table.closest(".tablebox");
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((th, column) => {
    const text = th.textContent;
    if (table === ledger && column === 0) return;
    const button = make("button", { type: "button" }, text);
    th.replaceChildren(button);
    button.addEventListener("click", () => {
      const up = th.getAttribute("aria-sort") !== "ascending";
      heads.forEach((h) => h.removeAttribute("aria-sort"));
      th.setAttribute("aria-sort", up ? "ascending" : "descending");
      const key = (row) => row.cells[column].textContent;
      const numeric = rows.every((r) => key(r) === "" || Number.isFinite(Number(key(r))));
      rows.sort((a, b) => {
        const x = key(a), y = key(b);
        if (x === "" || y === "") return (x === "") - (y === ""); // empty cells last
        const d = numeric ? Number(x) - Number(y) : x.localeCompare(y, "en", { numeric: true });
        return up ? d : -d;
      });
      body.append(...rows);
    });
  });
  const input = make("input", { type: "search" }), count = make("span", { role: "status" });
  const texts = new Map(rows.map((r) => [r, r.textContent.toLowerCase()]));
  const filter = () => {
    const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
    let n = 0;
    for (const r of rows) {
      const on = words.every((w) => texts.get(r).includes(w));
      r.hidden = !on;
      if (on) n++;
    }
    count.textContent = n + " of " + rows.length + " rows";
  };
  input.addEventListener("input", filter);
  filter();
  box.querySelector(".filter").append(make("label", {}, "Filter", input), count);
}
