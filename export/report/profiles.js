// Profiles of chosen casts, and the map on which they are chosen.

const mostChosen = 8;
const chosen = [];
const boxes = new Map();
let profileVariable = 0;

function ticks(lo, hi, most) {
  const raw = (hi - lo) / most, power = Math.pow(10, Math.floor(Math.log10(raw)));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= raw);
  const out = [];
  for (let k = Math.ceil(lo / step - 1e-9); k * step <= hi + step * 1e-9; k++) out.push(Number((k * step).toPrecision(10)));
  return out;
}

// number writes a number of an axis as the figures do.
const number = (v) => String(v).replace("-", "\u2212");

// chart returns an empty chart of lines over pressure or depth, and the places of values on it.
function chart(width, height, x, y, title, label, downward) {
  const s = make("svg:svg", { viewBox: "0 0 " + width + " " + height, role: "img", "aria-label": label });
  const l = 56, r = width - 14, t = 14, b = height - 42;
  const px = (v) => l + (v - x[0]) / (x[1] - x[0] || 1) * (r - l), py = (v) => t + (v - y[0]) / (y[1] - y[0] || 1) * (b - t);
  for (const v of ticks(x[0], x[1], width / 90)) {
    s.append(make("svg:path", { class: "gridline", d: "M" + px(v) + " " + t + "V" + b }),
      make("svg:text", { x: px(v), y: b + 16, "text-anchor": "middle" }, number(v)));
  }
  for (const v of ticks(y[0], y[1], height / 50)) {
    s.append(make("svg:path", { class: "gridline", d: "M" + l + " " + py(v) + "H" + r }),
      make("svg:text", { x: l - 6, y: py(v) + 4, "text-anchor": "end" }, number(v)));
  }
  s.append(make("svg:path", { class: "axis", d: "M" + l + " " + t + "H" + r + "V" + b + "H" + l + "z" }),
    make("svg:text", { x: (l + r) / 2, y: height - 8, "text-anchor": "middle" }, title),
    make("svg:text", { x: 0, y: 0, "text-anchor": "middle", transform: "translate(12 " + (t + b) / 2 + ") rotate(-90)" },
      downward));
  return { svg: s, px, py, l, r, t, b, height };
}

// line returns the path of values over pressure; a missing value breaks it.
function line(c, p, v) {
  let d = "", pen = "M";
  p.forEach((y, i) => {
    if (v[i] === null) { pen = "M"; return; }
    d += pen + c.px(v[i]).toFixed(1) + " " + c.py(y).toFixed(1);
    pen = "L";
  });
  return d;
}

function range(lists) {
  let lo = Infinity, hi = -Infinity;
  for (const list of lists) for (const v of list) if (v !== null) { lo = Math.min(lo, v); hi = Math.max(hi, v); }
  if (lo > hi) return [0, 1];
  const pad = (hi - lo) * 0.04 || 1;
  return [lo - pad, hi + pad];
}

function drawProfiles() {
  const v = data.variables[profileVariable], box = document.getElementById("profile-chart");
  const read = document.getElementById("profile-readout");
  const level = document.getElementById("profile-level");
  box.replaceChildren();
  level.replaceChildren();
  const lines = [];
  for (const n of chosen) {
    const cast = data.casts[n], column = cast.columns.find((c) => c.variable === profileVariable);
    if (!column) continue;
    const scale = Math.pow(10, v.decimals);
    lines.push({ cast, p: cast.depth || cast.p, v: column.values.map((x) => x === null ? null : x / scale), flags: column.flags, whole: column.values });
  }
  if (!chosen.length) { read.textContent = "No cast is chosen: choose some on the map, in the list of stations or here."; return; }
  const missing = chosen.length - lines.length;
  read.textContent = v.title + " of cast " + lines.map((l) => l.cast.name).join(", ") + (lines.length ? "" : "(none)") +
    (missing ? "; " + missing + " of the chosen casts have no such variable" : "") + ". One level in " +
    [...new Set(chosen.map((n) => data.casts[n].every))].sort((a, b) => a - b).join(" or ") + " is drawn; rings are values flagged 3 or 4.";
  if (!lines.length) return;
  const x = range(lines.map((l) => l.v)), y = [0, Math.max(...lines.map((l) => l.p[l.p.length - 1] || 1))];
  const c = chart(Math.max(320, Math.min(720, innerWidth - 34)), 460, x, y, v.title + (v.unit ? " (" + v.unit + ")" : ""), read.textContent,
    data.depth ? "Depth (m)" : "Pressure (dbar)");
  lines.forEach((l, i) => {
    const g = make("svg:g", { class: "c" + i % 8 });
    g.append(make("svg:path", { class: "pen", d: line(c, l.p, l.v), "stroke-dasharray": ["none", "7 3", "2 3", "9 3 2 3"][i % 4] }));
    l.v.forEach((value, k) => {
      if (value !== null && (l.flags[k] === "3" || l.flags[k] === "4")) {
        g.append(make("svg:circle", { class: "ring", cx: c.px(value), cy: c.py(l.p[k]), r: 4 }));
      }
    });
    const ly = c.b - 14 - 16 * (lines.length - 1 - i);
    g.append(make("svg:path", { class: "pen", d: "M" + (c.r - 150) + " " + (ly - 4) + "h30",
      "stroke-dasharray": ["none", "7 3", "2 3", "9 3 2 3"][i % 4] }),
    make("svg:text", { x: c.r - 112, y: ly }, l.cast.name));
    c.svg.append(g);
  });
  box.append(c.svg);
  followProfiles(c, lines, v, y[1]);
}

// followProfiles writes the values of the lines at the pressure or depth that the pointer or the slider chooses.
function followProfiles(c, lines, v, deepest) {
  const read = document.getElementById("profile-readout"), cross = make("svg:path", { class: "axis" });
  const word = data.depth ? "Depth" : "Pressure", unit = data.depth ? "\u00a0m" : "\u00a0dbar";
  const slider = make("input", { type: "range", min: 0, max: Math.ceil(deepest), step: 1, value: 0 });
  const show = (at) => {
    slider.value = at;
    slider.setAttribute("aria-valuetext", Math.round(at) + unit);
    cross.setAttribute("d", "M" + c.l + " " + c.py(at) + "H" + c.r);
    read.textContent = v.title + ": " + lines.map((l) => {
      const k = nearest(l.p, at), place = "cast " + l.cast.name + " at " + l.p[k] + unit;
      if (l.whole[k] === null) return place + " has no value";
      return place + " " + digits(l.whole[k], v.decimals) + unitAfter(v) + " (flag " + l.flags[k] + ", " + data.flags[Number(l.flags[k])] + ")";
    }).join("; ") + ".";
  };
  c.svg.append(cross);
  const point = (event) => {
    const r = c.svg.getBoundingClientRect(), y = (event.clientY - r.top) / r.height * c.height;
    if (y >= c.t && y <= c.b) show((y - c.t) / (c.b - c.t) * deepest);
  };
  c.svg.addEventListener("pointermove", point);
  c.svg.addEventListener("pointerdown", point);
  slider.addEventListener("input", () => show(Number(slider.value)));
  document.getElementById("profile-level").append(make("label", {}, word, slider));
}

// choose adds a cast to the profiles or takes it away.
function choose(n, on) {
  const at = chosen.indexOf(n);
  if (on && at < 0) {
    chosen.push(n);
    if (chosen.length > mostChosen) mark(chosen.shift(), false);
  } else if (!on && at >= 0) chosen.splice(at, 1);
  mark(n, on);
  drawProfiles();
  drawMarks();
}
function mark(n, on) {
  const e = boxes.get(n);
  if (!e) return;
  e.checked = on;
  e.closest("tr").classList.toggle("chosen", on);
}

const ledger = document.querySelector("#stations table");
if (ledger) ledger.querySelector("thead tr").prepend(make("th", { scope: "col" }, "Profile"));
for (const row of ledger ? ledger.tBodies[0].rows : []) {
  const cell = row.insertCell(0), n = row.dataset.cast;
  if (n === undefined) continue;
  const box = make("input", { type: "checkbox", "aria-label": "Profile of cast " + data.casts[n].name });
  box.addEventListener("change", () => { choose(Number(n), box.checked); sayCast(Number(n)); });
  boxes.set(Number(n), box);
  cell.append(box);
}
const castOptions = () => data.casts.map((c, i) => make("option", { value: i }, c.name + ", " + c.when.slice(0, 10)));
function picker(text, act) {
  const select = make("select", {}, make("option", { value: "" }, "choose"), ...castOptions());
  select.addEventListener("change", () => { if (select.value !== "") act(Number(select.value)); });
  return make("label", {}, text, select);
}
if (data.casts.length) {
  const used = data.variables.map((v, i) => [i, v]).filter(([i]) => data.casts.some((c) => c.columns.some((x) => x.variable === i)));
  if (used.length) profileVariable = used[0][0];
  const clear = make("button", { type: "button" }, "Clear");
  clear.addEventListener("click", () => { for (const n of [...chosen]) choose(n, false); });
  document.getElementById("profile-choice").append(
    radios("Variable", used.map(([i, v]) => [String(i), v.title]), String(profileVariable), (i) => { profileVariable = Number(i); drawProfiles(); }),
    picker("Add cast", (n) => choose(n, true)), clear);
}

// --- map ---

let drawMarks = () => {};
let sayCast = () => {};
const mapSVG = document.querySelector("#map > svg");
if (mapSVG && data.map) {
  const read = document.getElementById("map-readout"), marks = make("svg:g", {});
  mapSVG.append(marks);
  mapSVG.closest("figure").classList.add("pointed");
  drawMarks = () => {
    marks.replaceChildren(...data.map.casts.flatMap((n, i) => chosen.includes(n)
      ? [make("svg:circle", { class: "under", cx: data.map.places[i][0], cy: data.map.places[i][1], r: 4 }),
        make("svg:circle", { class: "ring", cx: data.map.places[i][0], cy: data.map.places[i][1], r: 4 })] : []));
  };
  sayCast = (n) => {
    const c = data.casts[n];
    read.textContent = "Cast " + c.name + " (" + c.expocode + "), " + c.where + (c.when ? ", " + c.when : "") + ", " +
      (c.p.length ? "to " + c.p[c.p.length - 1] + "\u00a0dbar" : "without levels") +
      (chosen.includes(n) ? "; its profile is drawn below." : ".");
  };
  const at = (event) => {
    const r = mapSVG.getBoundingClientRect();
    const x = (event.clientX - r.left) / r.width * data.map.size[0], y = (event.clientY - r.top) / r.height * data.map.size[1];
    let best = -1, least = 12;
    data.map.places.forEach((p, i) => {
      const d = Math.hypot(p[0] - x, p[1] - y);
      if (d < least) { least = d; best = i; }
    });
    return best < 0 ? -1 : data.map.casts[best];
  };
  mapSVG.addEventListener("pointermove", (event) => { const n = at(event); if (n >= 0) sayCast(n); });
  mapSVG.addEventListener("click", (event) => {
    const n = at(event);
    if (n < 0) return;
    choose(n, !chosen.includes(n));
    sayCast(n);
  });
  document.getElementById("map-choice").append(picker("Station", (n) => { choose(n, true); sayCast(n); }));
  read.textContent = "Point at a station to read it; click it to draw its profile below.";
}
if (data.casts.length) choose(0, true);
let width = innerWidth;
addEventListener("resize", () => { if (innerWidth !== width) { width = innerWidth; drawProfiles(); } });
