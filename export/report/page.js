"use strict";
// The script of the page: readouts, choices, profiles, decisions, sorting. Without it the page can be read.
(function () {
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
      const input = make("input", { type: "radio", name: name, value: value, checked: value === chosen });
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
    const level = grid.y[row] + "\u00a0" + grid.unit + (grid.down === "pres" ? "" : " (" + grid.down + ")");
    const node = grid.along === "pair"
      ? "between " + grid.pairs[column] + ", " + grid.x[column] + "\u00a0km along the section"
      : grid.x[column] + "\u00a0km along the section";
    let s;
    if (typeof value === "number") {
      s = v.title + " " + digits(value, v.decimals);
      if (typeof error === "number") s += " \u00b1 " + digits(error, v.decimals);
      s += unitAfter(v);
      if (field.below && field.below.includes(n)) s += " (extrapolated below the neighbouring casts)";
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
    const word = grid.down === "pres" ? "Pressure" : grid.down;
    box.append(out, make("div", { class: "controls" },
      make("label", {}, grid.along === "pair" ? "Station pair" : "Distance", along), make("label", {}, word, down)));
    figure.classList.add("pointed");
    const under = make("svg:path", { class: "under" }), cross = make("svg:path", { class: "cross" });
    plot.append(under, cross);
    const state = { row: 0, column: 0 };
    function show(row, column) {
      state.row = row;
      state.column = column;
      down.value = row;
      along.value = column;
      down.setAttribute("aria-valuetext", grid.y[row] + " " + grid.unit);
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

  // --- profiles ---

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

  // chart returns an empty chart of lines over pressure, and the places of values on it.
  function chart(width, height, x, y, title, label) {
    const s = make("svg:svg", { viewBox: "0 0 " + width + " " + height, role: "img", "aria-label": label });
    const l = 56, r = width - 14, t = 14, b = height - 42;
    const px = (v) => l + (v - x[0]) / (x[1] - x[0] || 1) * (r - l), py = (v) => t + (v - y[0]) / (y[1] - y[0] || 1) * (b - t);
    for (const v of ticks(x[0], x[1], width / 90)) {
      s.append(make("svg:path", { class: "gridline", d: "M" + px(v) + " " + t + "V" + b }),
        make("svg:text", { x: px(v), y: b + 16, "text-anchor": "middle" }, String(v)));
    }
    for (const v of ticks(y[0], y[1], height / 50)) {
      s.append(make("svg:path", { class: "gridline", d: "M" + l + " " + py(v) + "H" + r }),
        make("svg:text", { x: l - 6, y: py(v) + 4, "text-anchor": "end" }, String(v)));
    }
    s.append(make("svg:path", { class: "axis", d: "M" + l + " " + t + "H" + r + "V" + b + "H" + l + "z" }),
      make("svg:text", { x: (l + r) / 2, y: height - 8, "text-anchor": "middle" }, title),
      make("svg:text", { x: 0, y: 0, "text-anchor": "middle", transform: "translate(12 " + (t + b) / 2 + ") rotate(-90)" },
        "Pressure (dbar)"));
    return { svg: s, px, py, l, r, t, b };
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
    box.replaceChildren();
    const lines = [];
    for (const n of chosen) {
      const cast = data.casts[n], column = cast.columns.find((c) => c.variable === profileVariable);
      if (!column) continue;
      const scale = Math.pow(10, v.decimals);
      lines.push({ cast, p: cast.p, v: column.values.map((x) => x === null ? null : x / scale), flags: column.flags });
    }
    if (!chosen.length) { read.textContent = "No cast is chosen: choose some on the map, in the list of stations or here."; return; }
    const missing = chosen.length - lines.length;
    read.textContent = v.title + " of cast " + lines.map((l) => l.cast.name).join(", ") + (lines.length ? "" : "(none)") +
      (missing ? "; " + missing + " of the chosen casts have no such variable" : "") + ". One level in " +
      [...new Set(chosen.map((n) => data.casts[n].every))].sort((a, b) => a - b).join(" or ") + " is drawn; rings are values flagged 3 or 4.";
    if (!lines.length) return;
    const x = range(lines.map((l) => l.v)), y = [0, Math.max(...lines.map((l) => l.p[l.p.length - 1] || 1))];
    const c = chart(720, 460, x, y, v.title + (v.unit ? " (" + v.unit + ")" : ""), read.textContent);
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
  ledger.querySelector("thead tr").prepend(make("th", { scope: "col" }, "Profile"));
  for (const row of ledger.tBodies[0].rows) {
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

  // --- tables ---

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

  // --- proposals ---

  const decisions = data.proposals.map((p) => ({ act: "", flag: p.flag, reason: "" }));

  // pictureOf draws the profile around a proposal and those of the neighbours.
  function pictureOf(p) {
    const all = p.profiles;
    if (!all) return make("p", { class: "small" }, "No picture: the page carries those of the first proposals only.");
    const x = range(all.map((q) => q.v)), y = range([all[0].p]);
    const label = p.title + " of cast " + all[0].name + " and " + (all.length > 1
      ? "its neighbours " + all.slice(1).map((q) => q.name).join(" and ") + " (dashed)" : "no neighbour") +
      "; the values in question are ringed";
    const c = chart(420, 260, x, y, p.title, label);
    for (const q of all.slice(1)) {
      c.svg.append(make("svg:path", { class: "beside", d: line(c, q.p, q.v) }));
    }
    const g = make("svg:g", { class: "c0" }, make("svg:path", { class: "pen", d: line(c, all[0].p, all[0].v) }));
    all[0].v.forEach((v, i) => { if (v !== null) g.append(make("svg:circle", { class: "dot", cx: c.px(v), cy: c.py(all[0].p[i]), r: 2 })); });
    for (const i of all[0].inside || []) {
      if (all[0].v[i] !== null) g.append(make("svg:circle", { class: "ring", cx: c.px(all[0].v[i]), cy: c.py(all[0].p[i]), r: 5 }));
    }
    c.svg.append(g);
    return make("div", {}, c.svg, make("p", { class: "small" }, label + "."));
  }

  function cell(s) {
    return /^[#\s]|[",\r\n]|\s$/.test(s) ? '"' + s.replaceAll('"', '""') + '"' : s;
  }

  // edits returns the table of flag edits, and how many proposals it decides and how many lack a reason.
  function edits(initials, date) {
    const lines = [["expocode", "station", "cast", "variable", "from_dbar", "to_dbar", "flag", "initials", "reason", "date", "check"]];
    let decided = 0, bare = 0;
    data.proposals.forEach((p, i) => {
      const d = decisions[i];
      if (d.act === "") return;
      if (d.reason.trim() === "") { bare++; return; }
      decided++;
      const ranges = d.act === "reject" ? p.keep : [{ from: p.from, to: p.to, flag: d.flag }];
      for (const r of ranges) {
        lines.push([p.expocode, p.station, p.cast, p.variable, r.from, r.to, String(r.flag), initials, d.reason.trim(), date, p.check]);
      }
    });
    return { text: lines.map((l) => l.map(cell).join(",") + "\n").join(""), decided, bare };
  }

  const decider = document.getElementById("decider");
  if (decider) {
    const initials = make("input", { type: "text", maxlength: 40, autocomplete: "off", size: 8 });
    const date = make("input", { type: "date", value: new Date().toISOString().slice(0, 10) });
    decider.append(make("label", {}, "Your initials", initials), make("label", {}, "Date", date));
    const out = document.getElementById("decided");
    const say = () => {
      const open = decisions.filter((d) => d.act === "").length;
      out.textContent = (decisions.length - open) + " of " + decisions.length + " proposals are decided.";
    };
    const drawIn = (box) => {
      draw.unobserve(box);
      box.replaceChildren(pictureOf(data.proposals[Number(box.dataset.proposal)]));
    };
    const draw = new IntersectionObserver((seen) => {
      for (const s of seen) if (s.isIntersecting) drawIn(s.target);
    }, { rootMargin: "400px" });
    onPaper.push(() => document.querySelectorAll(".picture:empty").forEach(drawIn));
    data.proposals.forEach((p, i) => {
      const item = document.getElementById("proposal-" + (i + 1)), d = decisions[i];
      const flag = make("select", {}, ...[1, 2, 3, 4, 5, 6, 7, 9].map((f) =>
        make("option", { value: f, selected: f === p.flag }, f + " " + data.flags[f])));
      const reason = make("input", { type: "text", maxlength: 300, size: 30 });
      const set = radios("Decision", [["", "open"], ["accept", "accept"], ["reject", "reject"], ["change", "other flag"]], "", (act) => {
        d.act = act;
        d.flag = act === "change" ? Number(flag.value) : p.flag;
        flagLabel.hidden = act !== "change";
        say();
      });
      const flagLabel = make("label", { hidden: true }, "Flag", flag);
      flag.addEventListener("change", () => { if (d.act === "change") d.flag = Number(flag.value); });
      reason.addEventListener("input", () => { d.reason = reason.value; });
      item.querySelector(".decide").append(set, flagLabel, make("label", {}, "Reason", reason));
      const picture = item.querySelector(".picture");
      picture.dataset.proposal = i;
      draw.observe(picture);
    });
    const save = make("button", { type: "button", class: "main" }, "Save the decisions as flag edits");
    save.addEventListener("click", () => {
      const who = initials.value.trim();
      if (who === "") {
        out.textContent = "Nothing is saved: write your initials first, above the proposals.";
        initials.focus();
        return;
      }
      const e = edits(who, date.value);
      if (e.decided === 0) {
        out.textContent = "Nothing is saved: " + (e.bare ? "no decision has a reason." : "no proposal is decided.");
        return;
      }
      const link = make("a", { href: URL.createObjectURL(new Blob([e.text], { type: "text/csv" })), download: "flag_edits.csv" });
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 10000);
      out.textContent = "Saved " + e.decided + (e.decided === 1 ? " decision" : " decisions") + " as flag_edits.csv." +
        (e.bare ? " Left out: " + e.bare + " without a reason." : "") + " Name the file in the cruise file under casts: edits, and build again.";
    });
    document.getElementById("save").append(save);
    say();
  }
})();
