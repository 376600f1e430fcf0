"use strict";
// Sorting and filtering of the tables of class "sift": see package script. A heading says
// with data-key what its column is called in the address and with data-kind how it is
// filtered: "choice" (one of its values), "date" (from and to), or not at all. A cell may
// state its values for the filter, separated by "|", as data-v, and for sorting as data-s;
// else its text counts. The address holds #ID?key=value&sort=-key, ID that of the section.
(() => {
const MOST = 200; // rows shown at once, as many as the page has outside of its noscript
const el = (name, props, ...children) => {
  const e = Object.assign(document.createElement(name), props);
  e.append(...children);
  return e;
};
const counted = n => n + (n === 1 ? " row" : " rows");
const tables = new Map();

const wordsOf = (heading, value) => {
  const from = heading.dataset.labels; // values are places in another table
  if (!from || value === "") return value;
  return document.querySelector(`#${from} tr[data-n="${CSS.escape(value)}"]`)?.dataset.label ?? value;
};

const setUp = table => {
  const section = table.closest("section"), id = section.id;
  const headings = [...table.tHead.rows[0].cells];
  const columns = headings.map((heading, place) => ({ heading, place, key: heading.dataset.key, kind: heading.dataset.kind || "" })).filter(c => c.key);
  const body = table.tBodies[0];
  let rows = null; // read at the first need: an index opens before it is touched
  const total = +section.dataset.total;
  const read = () => {
    if (rows) return rows;
    const rest = section.querySelector("noscript"); // further rows, of which a browser with script makes text
    // The whole body at once: taking thousands of rows out of a table one by one takes a minute.
    if (rest) table.append(new DOMParser().parseFromString(rest.textContent, "text/html").querySelector("tbody"));
    return rows = [...table.tBodies].flatMap(b => [...b.rows]).map((row, place) => ({ row, place, cells: row.cells }));
  };
  const valuesOf = (r, c) => { const cell = r.cells[c.place]; return (cell.dataset.v ?? cell.textContent.trim()).split("|"); };
  const sortOf = (r, c) => {
    const cell = r.cells[c.place], text = cell.dataset.s ?? cell.textContent.trim();
    const order = c.heading.dataset.order;
    if (order) return order.split(",").indexOf(text);
    const n = parseFloat(text);
    return c.heading.classList.contains("num") ? (isNaN(n) ? -Infinity : n) : text;
  };

  let all = false; // whether more than MOST rows are shown
  const state = () => {
    const [where, query] = location.hash.split(/\?(.*)/s);
    return new URLSearchParams(where === "#" + id ? query || "" : "");
  };
  const status = el("output", { className: "soft" });
  const more = el("button", { type: "button", onclick: () => { all = true; show(); } });
  const fields = new Map();
  const bar = el("div", { className: "tools sieve" });
  const search = el("input", { type: "search", placeholder: "any text", oninput: () => change() });
  search.setAttribute("aria-label", "rows that hold a text");
  bar.append(search);
  fields.set("text", search);
  for (const c of columns) {
    const name = c.heading.dataset.name || c.heading.textContent.trim();
    if (c.kind === "date") {
      for (const [key, label] of [["from", "from"], ["to", "to"]]) {
        const input = el("input", { type: "date", onchange: () => change() });
        fields.set(key, input);
        bar.append(el("label", {}, label + " ", input));
      }
    } else if (c.kind === "choice") {
      const select = el("select", { onchange: () => change() }, el("option", { value: "", textContent: "any " + name }));
      select.setAttribute("aria-label", name);
      // The choices are read when somebody wants to see them.
      const fill = () => {
        if (select.options.length > 2 || select.dataset.full) return;
        select.dataset.full = "yes";
        const counts = new Map();
        for (const r of read()) for (const v of new Set(valuesOf(r, c))) counts.set(v, (counts.get(v) || 0) + 1);
        const chosen = select.value;
        const order = (c.heading.dataset.order || "").split(",");
        const label = v => v === "" || v === "·" ? "(none)" : wordsOf(c.heading, v);
        const list = [...counts.keys()].sort((a, b) => order.indexOf(b) - order.indexOf(a) || label(a).localeCompare(label(b)));
        select.replaceChildren(select.options[0], ...list.map(v => el("option", { value: v === "" ? "(none)" : v, textContent: label(v) + " (" + counts.get(v) + ")" })));
        select.value = chosen;
      };
      select.addEventListener("pointerdown", fill);
      select.addEventListener("focus", fill);
      fields.set(c.key, select);
      bar.append(select);
    }
    const sorter = el("button", { type: "button", className: "sorter", title: "sort", onclick: () => {
      const q = state(), now = q.get("sort");
      const firstDown = c.heading.classList.contains("num") || c.heading.dataset.order;
      const [one, other] = firstDown ? ["-" + c.key, c.key] : [c.key, "-" + c.key];
      q.set("sort", now === one ? other : one);
      go(q);
    } }, ...c.heading.childNodes);
    c.heading.append(sorter);
  }
  bar.append(el("button", { type: "button", textContent: "all", title: "no filter", onclick: () => go(new URLSearchParams()) }), status);
  table.before(bar);
  table.after(more);

  const go = q => {
    const text = q.toString();
    history.replaceState(null, "", "#" + id + (text ? "?" + text : ""));
    show();
  };
  const change = () => {
    const q = state(), fresh = new URLSearchParams();
    for (const [key, field] of fields) if (field.value) fresh.set(key, field.value);
    if (q.get("sort")) fresh.set("sort", q.get("sort"));
    go(fresh);
  };

  const show = () => {
    const q = state();
    const active = [...q.keys()].length > 0;
    if (!active && !rows && !all) { more.hidden = total <= MOST; more.textContent = "show all " + total; status.textContent = counted(total); return; }
    read();
    for (const [key, field] of fields) {
      const value = q.get(key) || "";
      if (field.tagName === "SELECT" && value && ![...field.options].some(o => o.value === value)) {
        const c = columns.find(c => c.key === key);
        field.append(el("option", { value, textContent: wordsOf(c.heading, value) }));
      }
      if (field.value !== value) field.value = value;
    }
    const text = (q.get("text") || "").toLowerCase();
    const date = columns.find(c => c.kind === "date");
    const passing = rows.filter(r => {
      for (const c of columns) {
        const wanted = c.kind === "choice" && q.get(c.key);
        if (wanted && !valuesOf(r, c).some(v => v === wanted || v === "" && wanted === "(none)")) return false;
      }
      if (date && (q.get("from") || q.get("to"))) {
        const day = valuesOf(r, date)[0], from = q.get("from") || "", to = q.get("to") || "";
        const month = day.length === 7; // a day that is withheld: its month may hold it
        if (!day || day < (month ? from.slice(0, 7) : from) || to && day > (month ? to.slice(0, 7) : to)) return false;
      }
      return !text || r.row.textContent.toLowerCase().includes(text);
    });
    const sort = q.get("sort") || "", c = columns.find(c => c.key === sort.replace(/^-/, ""));
    const sign = sort.startsWith("-") ? -1 : 1;
    if (c) {
      const keys = new Map(passing.map(r => [r, sortOf(r, c)]));
      passing.sort((a, b) => { const x = keys.get(a), y = keys.get(b); return (x < y ? -1 : x > y ? 1 : 0) * sign || a.place - b.place; });
    }
    for (const other of columns) {
      other.heading.removeAttribute("aria-sort");
      if (other === c) other.heading.setAttribute("aria-sort", sign > 0 ? "ascending" : "descending");
    }
    const shown = all ? passing : passing.slice(0, MOST);
    const keep = new Set(shown.map(r => r.row));
    for (const r of rows) r.row.hidden = !keep.has(r.row);
    body.prepend(...shown.map(r => r.row)); // the others keep their places behind them
    more.hidden = shown.length === passing.length;
    more.textContent = "show all " + passing.length;
    status.textContent = passing.length + " of " + counted(rows.length);
    table.dataset.passing = passing.length;
  };
  tables.set(id, { show, printing: yes => { const before = all; if (yes) { all = true; read(); show(); } all = before; if (!yes) show(); } });
  show();
};

for (const table of document.querySelectorAll("section > table.sift")) setUp(table);
// A link with a filter leads to the rows that pass it.
for (const link of document.querySelectorAll("a[data-filter]")) link.href = link.getAttribute("href") + "?" + link.dataset.filter;
const follow = () => {
  for (const t of tables.values()) t.show();
  const [where, query] = location.hash.split("?");
  if (query !== undefined) document.getElementById(where.slice(1))?.scrollIntoView();
};
addEventListener("hashchange", follow);
if (location.hash.includes("?")) follow();
addEventListener("beforeprint", () => { for (const t of tables.values()) t.printing(true); });
addEventListener("afterprint", () => { for (const t of tables.values()) t.printing(false); });
})();
