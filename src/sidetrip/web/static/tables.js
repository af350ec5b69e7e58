// Tables sort, filter when they are long, and are copied as CSV.

import { element, say } from "./ask.js";

const LONG = 12;

function cells(row) {
  return [...row.cells].map((cell) => cell.textContent.trim());
}

function sort(table, column, heading) {
  const down = heading.getAttribute("aria-sort") === "ascending";
  for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
  heading.setAttribute("aria-sort", down ? "descending" : "ascending");
  const value = (row) => cells(row)[column];
  const rows = [...table.tBodies[0].rows].sort((one, other) => value(one).localeCompare(value(other), "en", { numeric: true }));
  table.tBodies[0].append(...(down ? rows.reverse() : rows));
}

function csv(table) {
  // a spreadsheet computes what begins like a formula
  const cell = (text) => `"${(/^[=+\-@]/.test(text) ? "'" : "") + text.replaceAll('"', '""')}"`;
  return [...table.rows].map((row) => cells(row).map(cell).join(",")).join("\r\n");
}

function equip(table) {
  if (table.dataset.equipped) return;
  table.dataset.equipped = "yes";
  [...table.tHead.rows[0].cells].forEach((heading, column) => {
    if (!heading.textContent.trim()) return;
    const button = element("button", { type: "button", textContent: heading.textContent });
    heading.replaceChildren(button);
    button.addEventListener("click", () => sort(table, column, heading));
  });
  const tools = element("div", { className: "tabletools" });
  if (table.tBodies[0].rows.length > LONG) {
    const filter = element("input", { type: "search", placeholder: "Only rows with …", "aria-label": "Only rows with these letters" });
    filter.addEventListener("input", () => {
      const wanted = filter.value.toLowerCase();
      for (const row of table.tBodies[0].rows) row.hidden = !row.textContent.toLowerCase().includes(wanted);
    });
    tools.append(filter);
  }
  const copy = element("button", { type: "button", className: "plain", textContent: "Copy as CSV" });
  copy.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(csv(table));
      say("Copied.");
    } catch {
      say("This browser lets nothing be copied here. Take the CSV under Paper.");
    }
  });
  tools.append(copy);
  table.closest(".scroll").after(tools);
}

export function startTables() {
  const all = () => document.querySelectorAll("table.sheet").forEach(equip);
  document.addEventListener("renewed", all);
  all();
}
