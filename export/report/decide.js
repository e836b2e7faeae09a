// Decisions about proposals, and a warning before those that are not saved are lost.

// The bar at the lower edge of the window is there while one of its lines is. A notice returns a function that sets the
// text of its line; "" takes it away.
const bar = make("aside", { class: "bar", "aria-label": "Notices", hidden: true });
document.body.append(bar);
function notice(control) {
  const text = make("span", { role: "status" }), line = make("p", { hidden: true }, text, " ", control);
  bar.append(line);
  return (said) => {
    if (text.textContent !== said) text.textContent = said;
    line.hidden = said === "";
    bar.hidden = [...bar.children].every((e) => e.hidden);
    document.documentElement.classList.toggle("barred", !bar.hidden);
  };
}

const decisions = data.proposals.map((p) => ({ act: "", flag: p.flag, reason: "", saved: "" }));

// contents is what a decision comes to, "" for none: it is saved when the last table that was saved has the same.
const contents = (d) => d.act === "" ? "" : JSON.stringify([d.act, d.flag, d.reason.trim()]);
const unsaved = () => decisions.filter((d) => contents(d) !== d.saved);

let leaving = false; // the page is loaded again on purpose, and its decisions are kept
addEventListener("beforeunload", (event) => {
  if (leaving || unsaved().length === 0) return;
  event.preventDefault();
  event.returnValue = true;
});

// Decisions are kept while the tab is open, so that they are there again after the page, or a newer one of the same
// cruise, is loaded.
const shelf = "castwright " + data.cruise;
const identity = (p) => JSON.stringify([p.expocode, p.station, p.cast, p.variable, p.from, p.to, p.flag, p.check]);
function keep(initials) {
  const all = {};
  data.proposals.forEach((p, i) => {
    const d = decisions[i];
    if (d.act || d.reason || d.saved) all[identity(p)] = d;
  });
  try { sessionStorage.setItem(shelf, JSON.stringify({ initials, all })); } catch { /* a browser that keeps nothing */ }
}
function kept() {
  try { return JSON.parse(sessionStorage.getItem(shelf)) || { initials: "", all: {} }; } catch { return { initials: "", all: {} }; }
}

// pictureOf draws the profile around a proposal and those of the neighbours.
function pictureOf(p) {
  const all = p.profiles;
  if (!all) return make("p", { class: "small" }, "No picture: the page carries those of the first proposals only.");
  const x = range(all.map((q) => q.v)), y = range([all[0].p]);
  const label = p.title + " of cast " + all[0].name + " and " + ["no neighbour", "its neighbour ", "its neighbours "][all.length - 1] +
    all.slice(1).map((q) => q.name).join(" and ") + (all.length > 1 ? " (dashed)" : "") + "; the values in question are ringed";
  const c = chart(420, 260, x, y, p.title, label, "Pressure (dbar)");
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

// edits returns the table of flag edits, the decisions that it has, and how many lack a reason.
function edits(initials, date) {
  const lines = [["expocode", "station", "cast", "variable", "from_dbar", "to_dbar", "flag", "initials", "reason", "date", "check"]];
  const decided = [];
  let bare = 0;
  data.proposals.forEach((p, i) => {
    const d = decisions[i];
    if (d.act === "") return;
    if (d.reason.trim() === "") { bare++; return; }
    decided.push(d);
    const ranges = d.act === "reject" ? p.keep : [{ from: p.from, to: p.to, flag: d.flag }];
    for (const r of ranges) {
      lines.push([p.expocode, p.station, p.cast, p.variable, r.from, r.to, String(r.flag), initials, d.reason.trim(), date, p.check]);
    }
  });
  return { text: lines.map((l) => l.map(cell).join(",") + "\n").join(""), decided, bare };
}

const many = (n, word) => n + " " + word + (n === 1 ? "" : "s");

const saving = document.getElementById("save");
if (saving) {
  const before = kept();
  const initials = make("input", { type: "text", maxlength: 40, autocomplete: "off", size: 8, value: before.initials });
  const date = make("input", { type: "date", value: new Date().toISOString().slice(0, 10) });
  const out = document.getElementById("decided");
  const warn = notice(make("a", { href: "#save" }, "Save them"));
  const changed = () => {
    const open = decisions.filter((d) => d.act === "").length, left = unsaved();
    const bare = left.filter((d) => d.act !== "" && d.reason.trim() === "").length;
    out.textContent = (decisions.length - open) + " of " + many(decisions.length, "proposal") + " decided" +
      (left.length ? ", " + left.length + " not saved yet." : ".");
    warn(left.length ? many(left.length, "decision") + " not saved yet" + (bare ? ", " + bare + " without a reason" : "") + "." : "");
    keep(initials.value);
  };
  initials.addEventListener("input", () => keep(initials.value));
  const drawIn = (box) => {
    draw.unobserve(box);
    box.replaceChildren(pictureOf(data.proposals[Number(box.dataset.proposal)]));
  };
  const draw = new IntersectionObserver((seen) => {
    for (const s of seen) if (s.isIntersecting) drawIn(s.target);
  }, { rootMargin: "400px" });
  onPaper.push(() => document.querySelectorAll(".picture:empty").forEach(drawIn));
  data.proposals.forEach((p, i) => {
    const item = document.getElementById("proposal-" + (i + 1)), d = Object.assign(decisions[i], before.all[identity(p)]);
    delete before.all[identity(p)];
    const flag = make("select", { autocomplete: "off" }, ...[1, 2, 3, 4, 5, 6, 7, 9].map((f) =>
      make("option", { value: f, selected: f === d.flag }, f + " " + data.flags[f])));
    const reason = make("input", { type: "text", maxlength: 300, size: 30, autocomplete: "off", value: d.reason });
    const flagLabel = make("label", { hidden: d.act !== "change" }, "Flag", flag);
    const set = radios("Decision", [["", "open"], ["accept", "accept"], ["reject", "reject"], ["change", "change"]], d.act, (act) => {
      d.act = act;
      d.flag = act === "change" ? Number(flag.value) : p.flag;
      flagLabel.hidden = act !== "change";
      changed();
    });
    flag.addEventListener("change", () => { d.flag = Number(flag.value); changed(); });
    reason.addEventListener("input", () => { d.reason = reason.value; changed(); });
    item.querySelector(".decide").append(set, flagLabel, make("label", {}, "Reason", reason));
    const picture = item.querySelector(".picture");
    picture.dataset.proposal = i;
    draw.observe(picture);
  });
  const save = make("button", { type: "button", class: "main" }, "Save the decisions as flag edits");
  save.addEventListener("click", () => {
    const who = initials.value.trim();
    if (who === "") {
      out.textContent = "Nothing is saved: write your initials first.";
      initials.focus();
      return;
    }
    const e = edits(who, date.value);
    if (e.decided.length === 0) {
      out.textContent = "Nothing is saved: " + (e.bare ? "no decision has a reason." : "no proposal is decided.");
      return;
    }
    const link = make("a", { href: URL.createObjectURL(new Blob([e.text], { type: "text/csv" })), download: "flag_edits.csv" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    for (const d of decisions) d.saved = e.decided.includes(d) ? contents(d) : "";
    changed();
    out.textContent = "Saved " + many(e.decided.length, "decision") + " as flag_edits.csv." +
      (e.bare ? " Left out: " + e.bare + " without a reason." : "") + " Name the file in the cruise file under casts: edits, and build again.";
  });
  saving.append(make("label", {}, "Your initials", initials), make("label", {}, "Date", date), save);
  changed();
  const lost = Object.values(before.all).filter((d) => contents(d) !== d.saved).length;
  if (lost) out.textContent += " " + many(lost, "earlier decision") + " not saved: the proposal is no longer open.";
}
