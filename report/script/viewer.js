"use strict";
// The viewer of a flight's page: see package script. Nothing here evaluates a rule: limits,
// events and heights come from the page as downlock found them.
(() => {
const data = document.getElementById("viewer-data");
if (!data) return;
const info = JSON.parse(data.textContent);
const NS = "http://www.w3.org/2000/svg";
const el = (name, props, ...children) => {
  const e = document.createElement(name);
  for (const [k, v] of Object.entries(props || {})) {
    if (k in e && k !== "list") e[k] = v; else e.setAttribute(k, v);
  }
  e.append(...children);
  return e;
};
const draw = (parent, name, attributes, text) => {
  const e = document.createElementNS(NS, name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  if (text !== undefined) e.textContent = text;
  parent.append(e);
  return e;
};
const clamp = (x, low, high) => Math.min(Math.max(x, low), high);

// ---------------------------------------------------------------- samples

// first returns the place of the first time that is at least t.
const first = (times, t) => {
  let low = 0, high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < t) low = middle + 1; else high = middle;
  }
  return low;
};
// lastAt returns the place of the last time that is at most t, -1 for none.
const lastAt = (times, t) => {
  const i = first(times, t);
  return i < times.length && times[i] === t ? i : i - 1;
};

// unpack turns the samples of the page into times and values; see packSamples of package report.
const unpack = async () => {
  const text = document.getElementById("samples").textContent.trim();
  const packed = Uint8Array.from(atob(text), c => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  let at = 0;
  const unsigned = () => { // numbers beyond 32 bits, so no shifts
    let value = 0, place = 1;
    for (;;) {
      const b = bytes[at++];
      value += (b & 127) * place;
      if (b < 128) return value;
      place *= 128;
    }
  };
  const signed = () => { const u = unsigned(); return u % 2 ? -(u + 1) / 2 : u / 2; };
  const all = new Map();
  for (const s of info.series) {
    const times = new Float64Array(s.count), values = new Float64Array(s.count);
    for (let i = 0, t = 0; i < s.count;) {
      const step = signed();
      for (let n = unsigned(); n > 0; n--) { t += step; times[i++] = t / 1e6; }
    }
    if (s.kind === "continuous" || s.kind === "step") {
      const by = 10 ** s.decimals;
      for (let i = 0, v = 0; i < s.count; i++) { v += signed(); values[i] = v / by; }
    } else {
      for (let i = 0; i < s.count;) {
        const code = unsigned();
        for (let n = unsigned(); n > 0; n--) values[i++] = code;
      }
    }
    all.set(s.name, { ...s, times, values, numeric: s.kind === "continuous" || s.kind === "step" });
  }
  if (info.height) all.set("height", { ...info.height, kind: "derived", numeric: true });
  return all;
};

// here says whether the samples at a time, or between two, are in the page.
const here = (from, to) => info.windows.some(w => from <= w.end && to >= w.start);

// joined says whether two neighbouring samples belong together: no gap, none left out.
const joined = (s, i) => {
  const from = s.times[i], to = s.times[i + 1];
  return to - from <= s.gap + 1e-9 && info.windows.some(w => to >= w.start && from <= w.end);
};

const trim = (x, n) => { const t = x.toFixed(n); return t.includes(".") ? t.replace(/\.?0+$/, "") : t; };
const seconds = t => trim(t, 3);
const epoch = info.epoch ? Date.parse(info.epoch) : NaN;
const clock = t => isNaN(epoch) ? "" : new Date(epoch + Math.round(t * 1000)).toISOString().slice(11, 23);
const word = (s, v) => s.numeric ? trim(v, s.decimals ?? 2) : s.states ? (s.states[v] ?? "?") : v ? "on" : "off";
const withUnit = (s, v) => word(s, v) + (s.numeric && s.unit ? " " + s.unit : "");

// readingAt says what is known of a series at a time: the value of the last sample, its
// time, and what may be between it and the next.
const readingAt = (s, t) => {
  if (s.kind === "derived") {
    const p = s.pieces.find(p => p[0] <= t && t <= p[1]);
    if (!p) return { value: "", at: "", between: "not known" };
    const v = p[2] + (p[3] - p[2]) * (p[1] > p[0] ? (t - p[0]) / (p[1] - p[0]) : 0);
    return { value: trim(v, 1) + " " + s.unit, at: "", between: "along the lines between samples", number: v };
  }
  const i = lastAt(s.times, t);
  const known = i >= 0 && (s.times[i] === t || (i + 1 < s.count ? joined(s, i) : t - s.times[i] <= s.gap));
  if (!known) {
    const from = i >= 0 ? s.times[i] : null, to = i + 1 < s.count ? s.times[i + 1] : null;
    if (!here(t, t)) return { value: "", at: "", between: "sample not in this page" };
    return { value: "", at: "", between: "not recorded" + (from !== null ? " after " + seconds(from) : "") + (to !== null ? " until " + seconds(to) : "") + (from !== null || to !== null ? " s" : "") };
  }
  const out = { value: withUnit(s, s.values[i]), number: s.values[i], time: s.times[i], index: i,
    at: seconds(s.times[i]) + (s.time_accuracy ? " ± " + seconds(s.time_accuracy) : ""), between: "" };
  if (s.times[i] === t) { out.between = "sampled here"; return out; }
  if (i + 1 >= s.count) { out.between = "last sample"; return out; }
  const a = s.values[i], b = s.values[i + 1], when = seconds(s.times[i]) + " and " + seconds(s.times[i + 1]) + " s";
  if (s.kind === "continuous") {
    const v = a + (b - a) * (t - s.times[i]) / (s.times[i + 1] - s.times[i]);
    out.between = (s.accuracy ? trim(v, 2) + " ± " + trim(s.accuracy, 2) : "about " + trim(v, 2)) + "; next " + word(s, b) + " at " + seconds(s.times[i + 1]);
  } else if (a !== b) {
    out.between = "changed to " + withUnit(s, b) + " between " + when;
  } else {
    out.between = "the same at " + seconds(s.times[i + 1]);
  }
  return out;
};

// ---------------------------------------------------------------- state

let series = null;         // by name, once unpacked
let view = null;           // {start, end}
let cursor = null;         // s
let shown = [];
let chosen = "";
let event = null;          // of info.events, null for the whole flight
const LEAST = 0.2;         // s, the least that is shown
const whole = { start: info.span.start, end: info.span.end };
const LEFT = 46, RIGHT = 8, TITLE = 14, STRIP = 62, BAND = 13, GAP = 5, AXIS = 30;

// ---------------------------------------------------------------- the elements

const strips = el("div", { className: "strips", tabIndex: 0 });
strips.setAttribute("role", "group");
strips.setAttribute("aria-label", "Strips of recorded parameters. Arrow keys pan, plus and minus zoom, comma and full stop step from sample to sample, Home shows the whole flight.");
const when = el("output", { className: "when" });
const spoken = el("p", { className: "spoken" });
spoken.setAttribute("aria-live", "polite");
const button = (text, title, act) => el("button", { type: "button", textContent: text, title, onclick: act });
const find = el("input", { type: "search", placeholder: "find a parameter" });
find.setAttribute("aria-label", "find a parameter");
const rows = el("tbody");
const note = el("p", { className: "soft note" });
const title = el("h4");
const box = el("div", { className: "viewer", id: "viewer" },
  el("div", { className: "bar" }, title,
    button("whole flight", "Home", () => open(null)), button("+", "zoom in (+)", () => zoom(0.5)), button("−", "zoom out (-)", () => zoom(2)),
    button("◀", "earlier (arrow left)", () => pan(-0.25)), button("▶", "later (arrow right)", () => pan(0.25)),
    button("‹ sample", "the sample before, of the parameter in bold (comma)", () => step(-1)), button("sample ›", "the next sample (full stop)", () => step(1)),
    button("CSV", "the samples shown, as CSV", () => saveCSV(view, event)), button("SVG", "the strips as SVG", () => saveSVG()), button("PNG", "the strips as PNG", () => savePNG()),
    button("close", "Escape", () => close())),
  when, strips, note,
  el("details", { className: "readout", open: true }, el("summary", { textContent: "Values at the cursor, and which parameters to draw" }), find,
    el("div", { className: "scroll" }, el("table", {}, el("thead", {}, el("tr", {}, ...["draw", "parameter", "value", "sampled at, s", "until the next sample"].map(t => el("th", { textContent: t })))), rows))),
  spoken);

// rowOf makes the row of a parameter in the table of values.
const cells = new Map();
const makeRows = () => {
  rows.replaceChildren();
  for (const [name, s] of series) {
    const check = el("input", { type: "checkbox", checked: shown.includes(name), onchange: () => {
      shown = check.checked ? [...shown, name] : shown.filter(n => n !== name);
      redraw();
    } });
    check.setAttribute("aria-label", "draw " + s.label);
    const pick = button(s.label, "step along its samples", () => { chosen = name; redraw(); strips.focus(); });
    pick.className = "pick";
    const label = el("td", {}, pick);
    if (s.unused) label.append(el("span", { className: "soft", textContent: name.includes("/") ? " compared only" : " not used: a check failed" }));
    const value = el("td"), at = el("td", { className: "num" }), between = el("td", { className: "soft" });
    const row = el("tr", {}, el("td", {}, check), label, value, at, between);
    row.dataset.parameter = name;
    value.dataset.is = "value"; at.dataset.is = "at"; between.dataset.is = "between";
    cells.set(name, { row, check, pick, value, at, between });
    rows.append(row);
  }
};
find.oninput = () => {
  const wanted = find.value.toLowerCase();
  for (const [name, c] of cells) c.row.hidden = !(name + " " + series.get(name).label + " " + (series.get(name).column || "")).toLowerCase().includes(wanted);
};

// ---------------------------------------------------------------- drawing

const X = t => LEFT + (t - view.start) / (view.end - view.start) * (strips.clientWidth - LEFT - RIGHT);
const T = x => view.start + (x - LEFT) / (strips.clientWidth - LEFT - RIGHT) * (view.end - view.start);
const inView = (from, to) => to >= view.start && from <= view.end;

const roundStep = least => {
  const power = 10 ** Math.floor(Math.log10(least || 1));
  return [1, 2, 5, 10].map(m => m * power).find(s => s >= least * (1 - 1e-9)) || least;
};
const timeStep = least => [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200].find(s => s >= least) || roundStep(least);
const ticks = (low, high, step) => {
  const out = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step && out.length < 200; k++) out.push(k * step);
  return out;
};

// isSparse says whether dots of samples can be told apart.
const isSparse = (s, from, to) => (to - from + 1) * 4 < X(s.times[to]) - X(s.times[from]);

// pathOf draws the samples of a number, thinned to the columns of the screen: of those
// in a column the first, least, greatest and last.
const pathOf = (s, Y) => {
  let d = "", dots = "";
  if (s.kind === "derived") {
    let before = null;
    for (const p of s.pieces) {
      if (!inView(p[0], p[1])) { before = null; continue; }
      const meets = before && before[1] === p[0] && before[3] === p[2];
      d += (meets ? "L" : "M") + X(p[0]).toFixed(1) + " " + Y(p[2]).toFixed(1) + "L" + X(p[1]).toFixed(1) + " " + Y(p[3]).toFixed(1);
      before = p;
    }
    return { d, dots };
  }
  const from = Math.max(0, lastAt(s.times, view.start)), to = Math.min(s.count - 1, first(s.times, view.end));
  let pen = false, column = [];
  const flush = () => {
    if (!column.length) return;
    let low = 0, high = 0;
    column.forEach((p, i) => { if (p[1] < column[low][1]) low = i; if (p[1] > column[high][1]) high = i; });
    for (const i of [...new Set([0, Math.min(low, high), Math.max(low, high), column.length - 1])]) {
      const [x, y, flat] = column[i];
      if (pen && flat !== null) d += "L" + x.toFixed(1) + " " + flat.toFixed(1);
      d += (pen ? "L" : "M") + x.toFixed(1) + " " + y.toFixed(1);
      pen = true;
    }
    column = [];
  };
  const sparse = isSparse(s, from, to);
  for (let i = from; i <= to; i++) {
    const x = X(s.times[i]), y = Y(s.values[i]);
    if (column.length && x - column[0][0] >= 0.8) flush();
    column.push([x, y, s.kind === "step" && i > from ? Y(s.values[i - 1]) : null]);
    if (sparse && x >= LEFT && inView(s.times[i], s.times[i])) dots += "M" + x.toFixed(1) + " " + y.toFixed(1) + "h0";
    if (i < to && !joined(s, i)) { flush(); pen = false; }
  }
  flush();
  return { d, dots };
};

// limitsOf lists the limits to draw: at an event those of its own rule.
const limitsOf = name => info.limits.filter(l => l.of === name && (!event || l.rules.includes(event.rule)));
const extentOf = (s, limits) => {
  let low = Infinity, high = -Infinity;
  const take = v => { if (v < low) low = v; if (v > high) high = v; };
  if (s.kind === "derived") {
    for (const p of s.pieces) if (inView(p[0], p[1])) { take(p[2]); take(p[3]); }
  } else {
    for (let i = Math.max(0, lastAt(s.times, view.start)); i < s.count && s.times[i] <= view.end; i++) take(s.values[i]);
  }
  if (!(low <= high)) return [0, 1];
  const reach = Math.max(high - low, Math.abs(high) * 0.2);
  for (const l of limits) for (const p of l.pieces) if (inView(p[0], p[1])) for (const v of [p[2], p[3]]) {
    if (v > low - reach && v < high + reach) take(v);
  }
  const least = { kt: 10, ft: 30, deg: 2, "%": 5 }[s.unit] || 0.05;
  if (high - low < least) { const middle = (low + high) / 2; low = middle - least / 2; high = middle + least / 2; }
  return [low, high];
};

const numberStrip = (g, s, top) => {
  const limits = limitsOf(s.name);
  const [low, high] = extentOf(s, limits), margin = (high - low) * 0.06;
  const Y = v => top + STRIP - (v - low + margin) / (high - low + 2 * margin) * STRIP;
  draw(g, "path", { class: "rule", d: `M${LEFT} ${top + STRIP}H${strips.clientWidth - RIGHT}` });
  for (const v of ticks(low, high, roundStep((high - low) / 3))) {
    if (Y(v) < top + 6) continue;
    draw(g, "path", { class: "level", d: `M${LEFT} ${Y(v).toFixed(1)}H${strips.clientWidth - RIGHT}` });
    draw(g, "text", { class: "value", x: LEFT - 4, y: (Y(v) + 3).toFixed(1) }, trim(v, 2));
  }
  const clipped = draw(g, "g", { "clip-path": "url(#viewer-clip)" });
  const taken = []; // where names stand
  for (const l of limits) {
    const pieces = l.pieces.filter(p => inView(p[0], p[1]) && Math.max(p[2], p[3]) >= low - margin && Math.min(p[2], p[3]) <= high + margin);
    if (!pieces.length) continue;
    draw(clipped, "path", { class: "limit", d: pieces.map(p => `M${X(p[0]).toFixed(1)} ${Y(p[2]).toFixed(1)}L${X(p[1]).toFixed(1)} ${Y(p[3]).toFixed(1)}`).join("") });
    for (const p of pieces) {
      const text = l.label + " " + trim(p[2], 1), y = clamp(Y(p[2]), top + 11, top + STRIP) - 2.5;
      const x = Math.min(Math.max(LEFT + 4, X(p[0]) + 3), strips.clientWidth - RIGHT - text.length * 5);
      if (taken.some(o => Math.abs(o.y - y) < 9 && x < o.to && x + text.length * 5 > o.x)) continue;
      taken.push({ x, y, to: x + text.length * 5 });
      const t = draw(clipped, "text", { class: "in-left limit-name", x: x.toFixed(1), y: y.toFixed(1) }, text);
      draw(t, "title", {}, l.label + ": " + l.source + "; " + l.rules.join(", "));
      break;
    }
  }
  const path = pathOf(s, Y);
  draw(clipped, "path", { class: "line line1", d: path.d });
  if (path.dots) draw(clipped, "path", { class: "dots dots1", d: path.dots });
  for (const c of s.changes || []) if (inView(c.at, c.at)) {
    draw(clipped, "path", { class: "reference", d: `M${X(c.at).toFixed(1)} ${top}V${top + STRIP}` });
    const left = X(c.at) > strips.clientWidth / 2;
    draw(clipped, "text", { class: (left ? "value" : "in-left") + " reference-name", x: (X(c.at) + (left ? -4 : 4)).toFixed(1), y: top + 9 }, c.name);
  }
};

const boxClass = (s, v) => {
  if (s.states) return { UP: "up", DOWN: "down" }[s.states[v]] || "neutral";
  return v ? (info.alarms.includes(s.name) ? "alarm" : "on") : "off";
};

// bandStrip draws a discrete: a box where two samples agree, a hatched one where they
// differ, since either value is possible there up to one change.
const bandStrip = (g, s, top) => {
  const clipped = draw(g, "g", { "clip-path": "url(#viewer-clip)" });
  const box = (from, to, cls, text) => {
    const a = Math.max(X(from), LEFT - 2), b = Math.min(X(to), strips.clientWidth);
    if (cls === "off") { draw(clipped, "path", { class: "off", d: `M${a.toFixed(1)} ${top + BAND - 0.5}H${Math.max(b, a + 0.5).toFixed(1)}` }); return; }
    draw(clipped, "rect", { class: cls, x: a.toFixed(1), y: top, width: Math.max(b - a, 0.6).toFixed(1), height: BAND });
    if (text && b - a > text.length * 6 + 6) draw(clipped, "text", { class: "at " + cls, x: (a + 4).toFixed(1), y: top + BAND - 3 }, text);
  };
  const from = Math.max(0, lastAt(s.times, view.start)), to = Math.min(s.count - 1, first(s.times, view.end));
  for (let i = from; i <= to;) {
    const start = i;
    while (i < to && s.values[i + 1] === s.values[start] && joined(s, i)) i++;
    box(s.times[start], s.times[i], boxClass(s, s.values[start]), s.states ? word(s, s.values[start]) : "");
    if (i < to && joined(s, i)) box(s.times[i], s.times[i + 1], "undecided", "");
    i++;
  }
  if (isSparse(s, from, to)) {
    let d = "";
    for (let i = from; i <= to; i++) if (X(s.times[i]) >= LEFT) d += "M" + X(s.times[i]).toFixed(1) + " " + (top + BAND + 2.5) + "h0";
    draw(clipped, "path", { class: "dots", d });
  }
};

let svg = null, line = null, labels = new Map();
const redraw = () => {
  if (!series || !view) return;
  const width = strips.clientWidth;
  shown = shown.filter(n => series.has(n));
  if (!shown.includes(chosen)) chosen = shown.find(n => series.get(n).kind !== "derived") || shown[0] || "";
  let height = TITLE + 18;
  const places = shown.map(name => { const s = series.get(name), top = height + TITLE; height = top + (s.numeric ? STRIP : BAND + 4) + GAP; return { s, top }; });
  const bottom = height;
  height += AXIS;
  const fresh = document.createElementNS(NS, "svg");
  fresh.setAttribute("class", "chart look");
  fresh.setAttribute("width", width); fresh.setAttribute("height", height);
  fresh.setAttribute("viewBox", `0 0 ${width} ${height}`);
  draw(draw(draw(fresh, "defs", {}), "clipPath", { id: "viewer-clip" }), "rect", { x: LEFT, y: 0, width: Math.max(width - LEFT - RIGHT, 1), height });
  const back = draw(fresh, "g", { "clip-path": "url(#viewer-clip)" });
  const shade = (from, to, cls) => { if (inView(from, to)) draw(back, "rect", { class: cls, x: X(from).toFixed(1), y: TITLE + 16, width: Math.max(X(to) - X(from), 0.5).toFixed(1), height: bottom - TITLE - 16 }); };
  let covered = view.start;
  for (const w of info.windows) { if (w.start > covered) shade(covered, Math.min(w.start, view.end), "left-out"); covered = Math.max(covered, w.end); }
  if (covered < view.end) shade(covered, view.end, "left-out");
  const step = timeStep((view.end - view.start) / Math.max(2, Math.floor(width / 95)));
  for (const t of ticks(view.start, view.end, step)) {
    draw(back, "path", { class: "grid", d: `M${X(t).toFixed(1)} 14V${bottom}` });
    draw(fresh, "text", { class: "tick", x: X(t).toFixed(1), y: bottom + 12 }, trim(t, 1) + (width > 500 ? " s" : ""));
    if (!isNaN(epoch)) draw(fresh, "text", { class: "tick", x: X(t).toFixed(1), y: bottom + 24 }, clock(t).slice(0, step < 1 ? 10 : 8));
  }
  for (const e of event ? [event] : info.events) {
    for (const s of e.possible) { // hatched where not certain as well
      let from = s.start;
      for (const c of e.certain) if (c.end > from && c.start < s.end) { if (c.start > from) shade(from, c.start, "maybe"); from = Math.max(from, c.end); }
      if (from < s.end) shade(from, s.end, "maybe");
    }
    for (const s of e.certain) shade(s.start, s.end, "sure");
  }
  let free = -1e9;
  for (const e of info.events) {
    const x = clamp(X(e.start.nominal), LEFT, width - 18);
    if (!inView(e.start.nominal, e.end.nominal) || x < free) continue;
    free = x + 18;
    const g = draw(fresh, "g", { class: "jump", "data-event": e.number });
    draw(g, "path", { class: "flag", d: `M${x.toFixed(1)} 0V${TITLE + 16}` });
    draw(g, "rect", { class: "mark " + e.severity, x: x.toFixed(1), y: 0, width: 16, height: 12 });
    draw(g, "text", { class: "in " + e.severity, x: (x + 8).toFixed(1), y: 9.5 }, e.number);
    draw(g, "title", {}, e.number + " " + e.title + ", " + e.severity);
  }
  info.phases.forEach((p, i) => {
    if (!inView(p.start, p.end)) return;
    const a = Math.max(X(p.start), LEFT), b = Math.min(X(p.end), width - RIGHT);
    draw(back, "rect", { class: "phase" + (i % 2 ? " odd-phase" : ""), x: a.toFixed(1), y: 16, width: Math.max(b - a, 0.5).toFixed(1), height: 12 });
    if (b - a > p.phase.length * 5.8 + 6) draw(fresh, "text", { class: "at", x: (a + 4).toFixed(1), y: 25 }, p.phase);
  });
  labels = new Map();
  for (const { s, top } of places) {
    labels.set(s.name, draw(fresh, "text", { class: "in-strip" + (s.name === chosen ? " strong" : ""), x: 2, y: top - 3 }, s.label));
    if (s.numeric) numberStrip(fresh, s, top); else bandStrip(fresh, s, top);
  }
  if (event) for (const t of new Set([event.start.earliest, event.start.nominal, event.start.latest, event.end.earliest, event.end.nominal, event.end.latest])) {
    const nominal = t === event.start.nominal || t === event.end.nominal;
    if (inView(t, t)) draw(fresh, "path", { class: nominal ? "nominal" : "bound", d: `M${X(t).toFixed(1)} ${TITLE + 14}V${bottom}` });
  }
  draw(fresh, "path", { class: "axis", d: `M${LEFT} ${bottom}H${width - RIGHT}` });
  line = draw(fresh, "path", { class: "cursor", d: "" });
  if (svg) svg.replaceWith(fresh); else strips.append(fresh);
  svg = fresh;
  const partly = info.windows.length > 1 || info.windows[0].start > whole.start || info.windows[0].end < whole.end;
  note.textContent = "Drag across to zoom in, double-click for the whole flight, wheel to zoom; arrow keys, + and -, comma and full stop, Home." +
    (partly ? " This page holds the samples around events only (grey: left out); scan --samples all keeps all." : "");
  for (const [name, c] of cells) { c.check.checked = shown.includes(name); c.pick.classList.toggle("strong", name === chosen); }
  point();
};

// point moves the cursor and writes what was recorded there.
const point = () => {
  if (cursor === null) cursor = event ? event.start.nominal : (view.start + view.end) / 2;
  line.setAttribute("d", inView(cursor, cursor) ? `M${X(cursor).toFixed(2)} 14V${svg.getAttribute("height") - AXIS}` : "");
  strips.dataset.cursor = cursor;
  strips.dataset.start = view.start; strips.dataset.end = view.end;
  when.textContent = "cursor at " + seconds(cursor) + " s" + (isNaN(epoch) ? "" : ", " + clock(cursor) + " UTC") + "; shown " + seconds(view.start) + " to " + seconds(view.end) + " s";
  for (const [name, c] of cells) {
    const r = readingAt(series.get(name), cursor);
    c.value.textContent = r.value || "–"; c.at.textContent = r.at; c.between.textContent = r.between;
    const label = labels.get(name);
    if (label) label.textContent = series.get(name).label + "  " + (r.value || "–");
  }
};
let waiting = 0;
const soon = act => { if (!waiting) waiting = requestAnimationFrame(() => { waiting = 0; act(); }); };

const look = (start, end) => {
  const length = clamp(end - start, LEAST, whole.end - whole.start);
  start = clamp(start, whole.start, whole.end - length);
  view = { start, end: start + length };
  redraw();
};
const zoom = (by, around) => {
  const at = around ?? clamp(cursor ?? view.start, view.start, view.end);
  look(at - (at - view.start) * by, at + (view.end - at) * by);
};
const pan = by => look(view.start + by * (view.end - view.start), view.end + by * (view.end - view.start));
const step = by => {
  const s = series.get(chosen);
  if (!s || !s.times) return;
  const i = by > 0 ? lastAt(s.times, cursor) + 1 : first(s.times, cursor) - 1;
  if (i < 0 || i >= s.count) return;
  cursor = s.times[i];
  const margin = (view.end - view.start) / 2;
  if (!inView(cursor, cursor)) look(cursor - margin, cursor + margin); else point();
  spoken.textContent = s.label + " " + withUnit(s, s.values[i]) + " at " + seconds(cursor) + " s";
};

// ---------------------------------------------------------------- hand and keys

let drag = null;
const xOf = e => e.clientX - strips.getBoundingClientRect().left;
strips.addEventListener("pointerdown", e => {
  if (e.button !== 0) return;
  const jump = e.target.closest("[data-event]");
  if (jump) { open(info.events[jump.dataset.event - 1]); return; }
  drag = { x: xOf(e), moved: false };
  if (e.pointerType === "mouse") strips.setPointerCapture(e.pointerId);
});
strips.addEventListener("pointermove", e => {
  if (!view) return;
  const x = xOf(e);
  if (drag && Math.abs(x - drag.x) > 4) {
    drag.moved = true;
    drag.mark = drag.mark || draw(svg, "rect", { class: "picked", y: 14, height: svg.getAttribute("height") - AXIS - 14 });
    drag.mark.setAttribute("x", Math.min(x, drag.x)); drag.mark.setAttribute("width", Math.abs(x - drag.x));
  }
  cursor = clamp(T(x), view.start, view.end);
  soon(point);
});
strips.addEventListener("pointerup", e => {
  const d = drag;
  drag = null;
  if (!d) return;
  const x = xOf(e);
  if (d.moved) { look(T(clamp(Math.min(x, d.x), LEFT, 1e6)), T(Math.max(x, d.x))); return; }
  cursor = clamp(T(x), view.start, view.end);
  point();
});
strips.addEventListener("pointercancel", () => { drag = null; redraw(); });
strips.addEventListener("dblclick", () => look(whole.start, whole.end));
strips.addEventListener("wheel", e => {
  e.preventDefault();
  const horizontal = Math.abs(e.deltaX) > Math.abs(e.deltaY);
  const at = T(xOf(e));
  soon(() => horizontal ? pan(Math.sign(e.deltaX) * 0.1) : zoom(e.deltaY > 0 ? 1.25 : 0.8, at));
}, { passive: false });
const keys = {
  ArrowLeft: () => pan(-0.25), ArrowRight: () => pan(0.25), "+": () => zoom(0.5), "=": () => zoom(0.5), "-": () => zoom(2),
  ",": () => step(-1), ".": () => step(1), Home: () => look(whole.start, whole.end), Escape: () => close(),
};
strips.addEventListener("keydown", e => {
  const act = keys[e.key];
  if (!act || e.ctrlKey || e.metaKey || e.altKey) return;
  e.preventDefault();
  act();
});
new ResizeObserver(() => soon(redraw)).observe(strips);

// ---------------------------------------------------------------- what leaves the page

const save = (name, type, content) => {
  const link = el("a", { download: name, href: URL.createObjectURL(new Blob([content], { type })) });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
};
const fileName = e => (info.recording + "-flight-" + info.flight).replace(/[^A-Za-z0-9._-]+/g, "-") + (e ? "-event-" + e.number : "");
const cell = t => /[",\n\r]/.test(t) ? '"' + t.replaceAll('"', '""') + '"' : t;

// csvOf lists the samples of all parameters in a span: a row for each sample.
const csvOf = span => {
  const rest = [cell(info.recording), info.flight, cell(info.caution)].join(",");
  const lines = ["time_s,time_utc,parameter,value,unit,recording,flight,general_caution"];
  for (const s of series.values()) {
    if (s.kind === "derived") continue;
    for (let i = first(s.times, span.start); i < s.count && s.times[i] <= span.end; i++) {
      const utc = isNaN(epoch) ? "" : new Date(epoch + Math.round(s.times[i] * 1000)).toISOString();
      lines.push([seconds(s.times[i]), utc, cell(s.name), cell(word(s, s.values[i])), s.numeric ? s.unit : "", rest].join(","));
    }
  }
  return lines.join("\r\n") + "\r\n";
};
const saveCSV = async (span, e) => { await load(); save(fileName(e) + ".csv", "text/csv", csvOf(span)); };

// svgOf is a drawing that stands by itself, with the page's style and patterns.
const svgOf = drawn => {
  const out = drawn.cloneNode(true);
  out.setAttribute("xmlns", NS);
  const size = drawn.viewBox.baseVal;
  out.setAttribute("width", size.width); out.setAttribute("height", size.height);
  const defs = document.querySelector("svg.defs defs");
  if (defs) out.prepend(defs.cloneNode(true));
  const back = document.createElementNS(NS, "rect");
  for (const [k, v] of Object.entries({ width: "100%", height: "100%", fill: "#fff" })) back.setAttribute(k, v);
  out.prepend(back);
  const style = document.createElementNS(NS, "style");
  style.textContent = document.querySelector("style").textContent;
  out.prepend(style);
  return new XMLSerializer().serializeToString(out);
};
const drawingOf = e => (box.isConnected && event === e && svg) || document.querySelector("#event-" + e.number + " svg.chart") || svg;
const saveSVG = e => save(fileName(e || event) + ".svg", "image/svg+xml", svgOf(e ? drawingOf(e) : svg));
const savePNG = e => {
  const drawn = e ? drawingOf(e) : svg, size = drawn.viewBox.baseVal, image = new Image();
  image.onload = () => {
    const canvas = el("canvas", { width: size.width * 2, height: size.height * 2 });
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    canvas.toBlob(b => save(fileName(e || event) + ".png", "image/png", b), "image/png");
  };
  image.src = "data:image/svg+xml;charset=utf-8," + encodeURIComponent(svgOf(drawn));
};

// ---------------------------------------------------------------- opening

let loading = null;
const load = () => loading = loading || unpack().then(all => { series = all; makeRows(); }, problem => {
  document.getElementById("configuration").querySelector("h2").after(
    el("p", { className: "warn", textContent: "This browser cannot unpack the samples of the page (" + problem.message + "). The drawings and tables hold all findings; a current browser shows the samples." }));
  throw problem;
});

// open shows the viewer at an event, or for null the whole flight.
const open = async e => {
  await load();
  close(true);
  event = e;
  shown = [...(e ? e.shown : info.shown)];
  chosen = "";
  cursor = e ? e.start.nominal : null;
  title.textContent = e ? "Event " + e.number + ": " + e.title : "The whole flight";
  if (e) {
    const article = document.getElementById("event-" + e.number);
    article.classList.add("looking");
    article.insertBefore(box, article.querySelector(".foot"));
    look(e.window.start, e.window.end);
  } else {
    document.getElementById("configuration").querySelector("h2").after(box);
    look(whole.start, whole.end);
  }
  strips.focus({ preventScroll: true });
  const top = box.getBoundingClientRect().top;
  if (top < 0 || top > innerHeight * 0.6) box.scrollIntoView({ block: "start" });
};
const close = quietly => {
  const article = box.closest("article");
  if (article) article.classList.remove("looking");
  box.remove();
  if (!quietly && article) article.querySelector(".tools button")?.focus();
};

// Every event and the whole flight get their buttons.
for (const e of info.events) {
  const tools = document.querySelector("#event-" + e.number + " .tools");
  if (!tools) continue;
  tools.prepend(button("look closer", "zoom, cursor and other parameters", () => open(e)),
    button("samples as CSV", "those around this event", () => saveCSV(e.window, e)),
    button("strip as SVG", "", async () => { await load(); if (!drawingOf(e)) await open(e); saveSVG(e); }),
    button("strip as PNG", "", async () => { await load(); if (!drawingOf(e)) await open(e); savePNG(e); }));
  document.querySelector("#event-" + e.number + " svg.chart")?.addEventListener("click", () => open(e));
}
document.getElementById("configuration")?.querySelector("h2").after(
  el("p", { className: "tools" }, button("look closer at the whole flight", "zoom, cursor and other parameters", () => open(null))));
})();
