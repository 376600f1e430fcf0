"use strict";
// The cursor of charts drawn in the page: see package script. Below such a chart lies the
// table of what it draws, details.values, a row for each point with its place as data-x. The
// row at the cursor is read out above the chart. All charts that have a point of that name,
// such as a month, show it.
(() => {
const charts = [];
const spoken = Object.assign(document.createElement("p"), { className: "spoken" });
spoken.setAttribute("aria-live", "polite");

// place puts the cursor of every chart on the point of a name; "" takes it away.
const place = name => {
  for (const c of charts) c.show(c.names.indexOf(name));
};

const setUp = details => {
  const svg = details.previousElementSibling, table = details.querySelector("table");
  const heads = [...table.tHead.rows[0].cells].map(cell => cell.textContent);
  const rows = [...table.tBodies[0].rows], at = rows.map(row => +row.dataset.x);
  const box = svg.viewBox.baseVal;
  const hint = charts.length ? "" : "Point at a chart, or select it and use the arrow keys, to read its values.";
  const reading = Object.assign(document.createElement("p"), { className: "reading soft", textContent: hint });
  const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
  line.setAttribute("class", "cursor");
  svg.before(reading);
  svg.append(line);
  svg.tabIndex = 0;
  svg.classList.add("read");

  const textOf = row => {
    const parts = [];
    [...row.cells].forEach((cell, i) => {
      const text = cell.textContent.trim();
      if (text) parts.push(i === 0 || heads[i] === "remark" ? text : heads[i] + " " + text);
    });
    return parts.join(" · ");
  };
  const chart = {
    names: rows.map(row => row.cells[0].textContent.trim()),
    point: -1,
    show(i) {
      chart.point = i;
      reading.textContent = i < 0 ? hint : textOf(rows[i]);
      reading.classList.toggle("soft", i < 0);
      line.setAttribute("d", i < 0 ? "" : `M${at[i]} 14V${box.height - 20}`);
      for (const [k, row] of rows.entries()) row.classList.toggle("at-cursor", k === i);
    },
  };
  const nearest = x => at.reduce((best, v, i) => Math.abs(v - x) < Math.abs(at[best] - x) ? i : best, 0);
  let waiting = 0, x = 0;
  const follow = e => {
    const edge = svg.getBoundingClientRect();
    x = (e.clientX - edge.left) / edge.width * box.width;
    if (!waiting) waiting = requestAnimationFrame(() => { waiting = 0; place(chart.names[nearest(x)]); });
  };
  svg.addEventListener("pointermove", follow);
  svg.addEventListener("pointerdown", follow);
  const go = i => {
    place(chart.names[Math.min(Math.max(i, 0), rows.length - 1)]);
    spoken.textContent = reading.textContent;
  };
  const from = () => chart.point < 0 ? rows.length - 1 : chart.point; // the newest comes first
  const keys = {
    ArrowLeft: () => go(from() - 1), ArrowRight: () => go(chart.point < 0 ? rows.length - 1 : chart.point + 1),
    ",": () => keys.ArrowLeft(), ".": () => keys.ArrowRight(), Home: () => go(0), End: () => go(rows.length - 1), Escape: () => place(""),
    Enter: () => rows[chart.point]?.querySelector("a")?.click(),
  };
  svg.addEventListener("keydown", e => {
    const act = keys[e.key];
    if (!act || e.ctrlKey || e.metaKey || e.altKey) return;
    e.preventDefault();
    act();
  });
  charts.push(chart);
};

for (const details of document.querySelectorAll("details.values")) {
  if (details.querySelector("tbody tr")) setUp(details);
}
document.body.append(spoken);
})();
