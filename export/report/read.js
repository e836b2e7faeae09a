// Values under the pointer, and which section and variable is shown.

const data = JSON.parse(document.getElementById("data").textContent);
const svgName = "http://www.w3.org/2000/svg";
document.documentElement.classList.add("scripted");

// make returns an element with attributes and children; text is set as text.
function make(name, attributes, ...children) {
  const e = name.startsWith("svg:") ? document.createElementNS(svgName, name.slice(4)) : document.createElement(name);
  for (const [k, v] of Object.entries(attributes || {})) {
    if (v === true) e.setAttribute(k, "");
    else if (v !== false && v !== undefined) e.setAttribute(k, v);
  }
  e.append(...children);
  return e;
}

// digits returns a whole number with the point before its last decimals.
function digits(whole, decimals) {
  let s = String(Math.abs(whole));
  if (decimals > 0) {
    s = s.padStart(decimals + 1, "0");
    s = s.slice(0, -decimals) + "." + s.slice(-decimals);
  }
  return (whole < 0 ? "\u2212" : "") + s;
}

const unitAfter = (v) => v.unit ? "\u00a0" + v.unit : "";

function nearest(list, value) {
  let best = 0;
  for (let i = 1; i < list.length; i++) {
    if (Math.abs(list[i] - value) < Math.abs(list[best] - value)) best = i;
  }
  return best;
}

// radios returns a group of radio buttons; each is [value, text].
let groups = 0;
function radios(legend, choices, chosen, changed) {
  const set = make("fieldset", {}, make("legend", {}, legend));
  const name = "group" + (++groups);
  for (const [value, text] of choices) {
    const input = make("input", { type: "radio", name, value, checked: value === chosen, autocomplete: "off" });
    input.addEventListener("change", () => changed(value));
    set.append(make("label", {}, input, text));
  }
  return set;
}

// --- sections ---

// sentence says what a field holds at a node.
function sentence(field, row, column) {
  const grid = data.grids[field.grid], v = data.variables[field.variable];
  const n = row * grid.x.length + column;
  const value = field.values[n], error = field.errors[n];
  const level = grid.y[row] + "\u00a0" + grid.unit + (grid.down !== "pres" ? " (" + grid.down + ")"
    : grid.depth ? " (" + grid.depth[row] + "\u00a0m deep)" : "");
  const node = grid.along === "pair"
    ? "between " + grid.pairs[column] + ", " + grid.x[column] + "\u00a0km along the section"
    : grid.x[column] + "\u00a0km along the section";
  let s;
  if (typeof value === "number") {
    s = v.title + " " + digits(value, v.decimals);
    if (typeof error === "number") s += " \u00b1 " + digits(error, v.decimals);
    s += unitAfter(v);
    if (field.below && field.below.includes(n)) s += " (below the deepest data, taken at this pressure where the data end)";
  } else {
    s = v.title + " has no value (" + (value === null ? "none" : data.reasons[Number(value)]) + ")";
  }
  s += " at " + level + ", " + node + " (" + grid.where[column] + "); node " + grid.down + "\u00a0" +
    row * grid.every[0] + ", " + grid.along + "\u00a0" + column * grid.every[1] + " of " + grid.file + ". ";
  const cast = data.casts[grid.near[column]];
  s += "Nearest cast " + cast.name + ", " + grid.away[column] + "\u00a0km away";
  const flags = field.flags[grid.near[column]];
  if (flags === undefined) s += ".";
  else if (flags[row] === "-") s += "; it has no value here.";
  else s += "; its value here has flag " + flags[row] + ", " + data.flags[Number(flags[row])] + ".";
  return s;
}

// follow sets the readout of a figure: pointer and two sliders choose a node.
function follow(field) {
  const figure = document.getElementById(field.figure), grid = data.grids[field.grid];
  const plot = figure.querySelector(".plot > svg"), box = figure.querySelector(".reading");
  const out = make("output", {}, "Point at the figure, or move the sliders, to read a value.");
  const along = make("input", { type: "range", min: 0, max: grid.x.length - 1, step: 1, value: Math.floor(grid.x.length / 2) });
  const down = make("input", { type: "range", min: 0, max: grid.y.length - 1, step: 1, value: 0 });
  const word = grid.depth ? "Depth" : grid.down === "pres" ? "Pressure" : grid.down;
  box.append(out, make("div", { class: "controls" },
    make("label", {}, grid.along === "pair" ? "Station pair" : "Distance", along), make("label", {}, word, down)));
  figure.classList.add("pointed");
  const under = make("svg:path", { class: "under" }), cross = make("svg:path", { class: "cross" });
  plot.append(under, cross);
  function show(row, column) {
    down.value = row;
    along.value = column;
    down.setAttribute("aria-valuetext", grid.depth ? grid.depth[row] + " m" : grid.y[row] + " " + grid.unit);
    along.setAttribute("aria-valuetext", grid.along === "pair" ? grid.pairs[column] : grid.x[column] + " km");
    out.textContent = sentence(field, row, column);
    const x = grid.x[column], y = grid.y[row];
    const p = field.panels.find((q) => y >= q.Y0 && y <= q.Y1) || field.panels[field.panels.length - 1];
    const px = p.L + (x - p.X0) / (p.X1 - p.X0) * (p.R - p.L), py = p.T + (y - p.Y0) / (p.Y1 - p.Y0) * (p.B - p.T);
    const d = y < field.panels[0].Y0 || y > p.Y1 ? "" :
      "M" + (px - 6) + " " + py + "h12M" + px + " " + (py - 6) + "v12";
    under.setAttribute("d", d);
    cross.setAttribute("d", d);
  }
  function point(event) {
    const r = plot.getBoundingClientRect();
    const x = (event.clientX - r.left) / r.width * field.size[0], y = (event.clientY - r.top) / r.height * field.size[1];
    const p = field.panels.find((q) => x >= q.L && x <= q.R && y >= q.T && y <= q.B);
    if (!p) return;
    show(nearest(grid.y, p.Y0 + (y - p.T) / (p.B - p.T) * (p.Y1 - p.Y0)),
      nearest(grid.x, p.X0 + (x - p.L) / (p.R - p.L) * (p.X1 - p.X0)));
  }
  plot.addEventListener("pointermove", point);
  plot.addEventListener("pointerdown", point);
  for (const slider of [along, down]) {
    slider.addEventListener("input", () => show(Number(down.value), Number(along.value)));
  }
}
data.fields.forEach(follow);

// Each section shows one variable at a time, and the page one section or all.
const parts = [...document.querySelectorAll(".part")];
for (const part of parts) {
  const figures = [...part.querySelectorAll(".field")];
  if (figures.length < 2) continue;
  const only = (id) => figures.forEach((f) => { f.hidden = id !== "all" && f.id !== id; });
  const choices = figures.map((f) => [f.id, f.dataset.short]);
  part.querySelector(".variables").append(radios("Variable", [...choices, ["all", "all"]], figures[0].id, only));
  only(figures[0].id);
}
if (parts.length > 1) {
  const only = (id) => parts.forEach((p) => { p.hidden = id !== "all" && p.id !== id; });
  document.getElementById("section-choice").append(radios("Section",
    [["all", "all"], ...parts.map((p) => [p.id, p.dataset.short])], "all", only));
}
// On paper every variable of every section is shown, and the origin of every product.
const onPaper = [];
let hiddenBefore = [], closedBefore = [];
addEventListener("beforeprint", () => {
  hiddenBefore = [...document.querySelectorAll(".part[hidden], .field[hidden]")];
  closedBefore = [...document.querySelectorAll("details:not([open])")];
  hiddenBefore.forEach((e) => { e.hidden = false; });
  closedBefore.forEach((e) => { e.open = true; });
  onPaper.forEach((draw) => draw());
});
addEventListener("afterprint", () => {
  hiddenBefore.forEach((e) => { e.hidden = true; });
  closedBefore.forEach((e) => { e.open = false; });
});
