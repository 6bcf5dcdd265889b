// Tables: a click on a head sorts by number where the cells are numbers, a word typed above keeps the rows with it.

const UNITS = { kHz: 1e3, MHz: 1e6, mg: 1e-3, kg: 1e3, µm: 1e-3, m: 1e3, mV: 1e-3, kPa: 1e3, MPa: 1e6, GPa: 1e9 };
const NUMBER = /^[^\d+−-]{0,3}([+−-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?)\s*([a-zµ%]*)/i;

/** What a cell is sorted by: its number with its unit's prefix, or NaN. */
function numberOf(text) {
  const found = NUMBER.exec(text.trim());
  if (!found) return NaN;
  return Number(found[1].replace("−", "-")) * (UNITS[found[2]] ?? 1);
}

function enliven(table) {
  const heads = findAll("thead th", table), body = find("tbody", table), rows = [...body.rows];
  for (const head of heads) if (!head.children.length) head.textContent = syllables(head.textContent);
  if (rows.length > 2) heads.forEach((head, column) => head.textContent.trim() && !head.matches(".bars") && makeSortable(head, column, heads, body, rows));
  const filter = table.parentElement.querySelector("input[type=search]");
  filter?.addEventListener("input", () => {
    const words = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const row of rows) {
      const text = row.textContent.toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
    }
  });
}

function makeSortable(head, column, heads, body, rows) {
  const button = make("button", { type: "button", class: "sort" });
  button.append(...head.childNodes);
  head.append(button);
  button.addEventListener("click", () => {
    const down = head.getAttribute("aria-sort") === "ascending";
    heads.forEach((each) => each.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    body.append(...sorted(rows, (row) => row.cells[column].textContent, down));
  });
}

/** Rows by number, then by words; what has no value comes last either way. */
function sorted(rows, textOf, down) {
  const keyed = rows.map((row) => [row, numberOf(textOf(row)), textOf(row).trim()]);
  const sign = down ? -1 : 1;
  keyed.sort(([, a, one], [, b, other]) => {
    const [here, there] = [Number.isFinite(a), Number.isFinite(b)];
    if (here && there) return sign * (a - b) || 0;
    if (here !== there) return here ? -1 : 1;
    if (!one !== !other) return one ? -1 : 1;
    return sign * one.localeCompare(other, "en");
  });
  return keyed.map(([row]) => row);
}
