package pipeline

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/statement"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/geostrophy"
)

func (w *archive) stateSections(d *statement.Document) {
	if len(w.sections) == 0 {
		return
	}
	d.Heading("Sections and velocities")
	var rows, levels [][]string
	for i := range w.sections {
		s := &w.sections[i]
		sum := s.summary()
		rows = append(rows, []string{s.settings.Name, s.settings.Title, s.settings.Stations.String(),
			strconv.Itoa(sum.Stations), fixedText(sum.LengthKm, 1), s.settings.Distance.String(),
			strconv.Itoa(sum.Pairs),
			strconv.Itoa(sum.Withheld)})
		if s.flow == nil {
			continue
		}
		for _, p := range s.flow.Params {
			if what := flowStated[p.Name]; what != "" {
				levels = append(levels, []string{s.settings.Name, what, settingValue(&p)})
			}
		}
	}
	d.Table([]string{"Section", "Title", "Stations asked for", "Casts", "Length, km", "Distance", "Pairs",
		"Pairs without velocity"}, rows)
	if len(levels) > 0 {
		d.Text("Velocities are geostrophic and relative to a reference level, at which they are set to zero or to a " +
			"known velocity. Below the deepest level that two casts have in common lies the bottom triangle. " +
			"Transports are in documents/transport_summary.md.")
	}
	d.Table([]string{"Section", "Setting", "Value"}, levels)
	for i := range w.sections {
		if f := w.sections[i].flow; f != nil {
			for _, n := range f.Notes {
				d.Text("Section %s: %s", w.sections[i].settings.Name, strings.TrimSuffix(n, ".")+".")
			}
		}
	}
	w.stateBudgets(d)
}

// stateBudgets states the budgets of closed lines.
func (w *archive) stateBudgets(d *statement.Document) {
	var rows [][]string
	for _, r := range w.flowsOf() {
		if r.Budget == nil || r.Budget.Reason != "" {
			continue
		}
		for _, k := range export.BudgetKinds {
			unit, factor, decimals := export.TransportUnit(k)
			cell := func(v float64) string { return fixedText(v*factor, decimals) }
			rows = append(rows, []string{r.Section, k.String(), unit, string(r.Budget.Towards), cell(r.Total[k].Value),
				cell(r.Total[k].Stated), cell(r.Budget.Beta[k]), cell(r.Budget.Absolute[k])})
		}
	}
	if len(rows) == 0 {
		return
	}
	d.Heading("Budgets of closed lines")
	d.Text("Net transport of the pairs through each closed line. The beta term is the part that comes from the " +
		"change of the " +
		"Coriolis parameter along the line: a geostrophic flow leaves it even where no water gathers. More is in " +
		budgetsFile + ".")
	d.Table([]string{"Section", "Kind", "Unit", "Positive", "Net", "Error", "Beta term",
		"Sum of absolute transports"}, rows)
}

func fixedText(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

func (w *archive) stateGrids(d *statement.Document) {
	type named struct {
		name string
		grid *gridding.Grid
	}
	var grids []named
	for i := range w.sections {
		if g := w.sections[i].grid; g != nil {
			grids = append(grids, named{"section " + w.sections[i].settings.Name, g})
		}
	}
	for i := range w.fields {
		if g := w.fields[i].grid; g != nil {
			grids = append(grids, named{"field " + g.Name, g})
		}
	}
	if len(grids) == 0 {
		return
	}
	d.Heading("Grids")
	d.Text(
		"The skill says how well a grid predicts measurements that it was made without: each station is left out in " +
			"turn and predicted from the others. RMS and bias are of prediction minus measurement, in the unit of " +
			"the " +
			"variable. The skill is 1 for a perfect prediction, 0 for one as good as straight lines between the " +
			"neighbouring stations, and below 0 for a worse one.")
	var skill, settings [][]string
	for _, g := range grids {
		for i := range g.grid.Skill {
			k := &g.grid.Skill[i]
			skill = append(skill, []string{g.name, k.Variable + orEmpty(", ", longNameOf(g.grid, k.Variable)),
				number(k.RMS), number(k.Bias), strconv.Itoa(k.N),
				fixedText(k.SkillLinear, 2)})
		}
		for _, p := range g.grid.Params {
			if what := settingsStated[p.Name]; what != "" {
				settings = append(settings, []string{g.name, what + orEmpty(", of ", p.Of),
					settingValue(&p)})
			}
		}
	}
	for i := range w.fields {
		if g := w.fields[i].surfaces; g != nil {
			for _, p := range g.Params {
				if p.Name == "surfaces" {
					settings = append(settings, []string{"field " + w.fields[i].settings.Name, p.Name, p.Value})
				}
			}
		}
	}
	d.Table([]string{"Grid", "Variable", "RMS", "Bias", "Values", "Skill"}, skill)
	d.Table([]string{"Grid", "Setting", "Value"}, settings)
}

// longNameOf returns what a variable of a grid is, in words.
func longNameOf(g *gridding.Grid, name string) string {
	for i := range g.Fields {
		if g.Fields[i].Name == name {
			return g.Fields[i].LongName
		}
	}
	return ""
}

// settingValue is the value of a setting of a grid or velocity in words. Which keys give an estimated covariance again
// is
// in provenance/history.txt.
func settingValue(p *metadata.Param) string {
	value := p.Value
	switch p.Name {
	case "covariance_by":
		value, _, _ = strings.Cut(value, ":")
	case "method":
		return orDefault(methodWords[value], value)
	case "bottom", "triangle":
		if value = strings.ReplaceAll(value, "_", " "); value == "depth" {
			value = "as stated for the casts"
		}
	}
	return orDefault(valueWords[value], value)
}

// settingsStated are the settings of a grid that a reader of the statement needs, in words; all are in
// provenance/history.txt.
var settingsStated = map[string]string{"method": "method of mapping", "step_km": "distance between columns, km",
	"step_dbar": "distance between levels, dbar", "length_km": "horizontal length over which data are correlated, km",
	"length_dbar":   "vertical length over which data are correlated, dbar",
	"covariance":    "covariance of the signal over its variance",
	"covariance_by": "where lengths, noise and covariance are from",
	"noise":         "variance of the noise over that of the signal",
	"max_error":     "greatest error variance over signal variance of a value that is kept",
	"bottom":        "source of the water depth", "vertical": "interpolation between the bins of a cast"}

// flowStated are the same of geostrophic velocities.
var flowStated = map[string]string{"interpolation": "interpolation between the bins of a cast",
	"reference_level": "reference level", "second_reference": "second reference level, for comparison",
	"triangle": "flow in the bottom triangle", "max_gap": "widest step between bins that is interpolated across",
	"surface_carry_dbar": "greatest pressure of a first level whose velocity is taken up to the surface, dbar"}

// methodWords are methods of mapping in words.
var methodWords = map[string]string{string(gridding.Optimal): "optimal interpolation",
	string(gridding.Successive): "successive correction", string(gridding.Linear): "straight lines at each level",
	string(gridding.Triangles): "straight on triangles", string(gridding.Natural): "natural neighbours",
	string(gridding.Density): "along surfaces of equal potential density",
	string(gridding.Choose):  "the method that predicted left-out stations best"}

// valueWords are values of other settings in words.
var valueWords = map[string]string{"pchip": "cubic, without overshoot (pchip)", "linear": "straight lines",
	"akima": "cubic (Akima 1970)", "reiniger-ross": "weighted parabolas (Reiniger and Ross 1968)",
	"rotated": "cubic, of salinity and temperature together (Barker and McDougall 2020)",
	"rule: more than 50 dbar (200 below 1500) and 3 times the median step": "50 dbar (200 dbar below 1500 dbar), " +
		"or 3 " +
		"times the median step where that is more"}

func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

func (w *archive) stateLimits(d *statement.Document) {
	d.Heading("Known limits")
	d.Text("%s", strings.Join(strings.Fields(export.Cautions), " "))
	d.List(w.madeHow())
	var rows [][]string
	for i := range w.sections {
		f := w.sections[i].flow
		if f == nil {
			continue
		}
		for j := range f.Pairs {
			p := &f.Pairs[j]
			if !p.Status.HasVelocity() {
				rows = append(rows, []string{w.sections[i].settings.Name, f.Stations[p.A].Cast.Station + " to " +
					f.Stations[p.B].Cast.Station, p.Reason})
			}
		}
		for _, l := range f.LeftOut {
			rows = append(rows, []string{w.sections[i].settings.Name, l.Cast.Station, l.Reason})
		}
	}
	d.Table([]string{"Section", "No velocity between or at", "Reason"}, rows)
}

// transportSummary makes the summary of transports: a narrow table, a row a section.
func (w *archive) transportSummary() *statement.Document {
	d := &statement.Document{Title: "Transport summary: " + w.cruise.Title}
	d.Text(
		"Volume transport of each section in 10^6 m3/s (sverdrup), from the surface to the bottom, positive in the " +
			"direction named. The error is one standard error from the accuracies of sensors and positions. The " +
			"choice " +
			"of the reference level, at which the velocity is set to zero or to a known value, is not part of it and " +
			"usually matters more: the column Other reference has the same transport relative to a second level, " +
			"which the " +
			"processing statement names. The column Leaves out names the part of the section that the transport does " +
			"not hold. The deepest common level is the deepest pressure " +
			"that both casts of a pair reached. Layers and other transports are in tables/transports.csv.")
	d.Table([]string{"Section", "Transport", "Error", "Positive", "Reference", "Other reference", "Leaves out"},
		w.transportRows())
	for i := range w.sections {
		f := w.sections[i].flow
		if f == nil {
			continue
		}
		d.Heading("Section " + f.Section + ", by pair of stations")
		var rows [][]string
		for j := range f.Pairs {
			p := &f.Pairs[j]
			row := []string{f.Stations[p.A].Cast.Station + " to " + f.Stations[p.B].Cast.Station, "", "", ""}
			if p.Status.HasVelocity() {
				row[1] = fixedText(p.Transport[geostrophy.Volume].Value/1e6, 3)
				row[2] = fixedText(p.Transport[geostrophy.Volume].Stated/1e6, 3)
				var out []string
				if p.UnsampledAreaM2 > 0 {
					out = append(out, fixedText(p.UnsampledAreaM2/1e6, 2)+" km2 below the deepest common level")
				}
				if p.TopUnsampledM > 0 {
					out = append(out, "the uppermost "+fixedText(p.TopUnsampledM, 1)+" m")
				}
				row[3] = strings.Join(out, "; ")
			} else {
				row[3] = "all: " + p.Reason
			}
			rows = append(rows, row)
		}
		total := &f.Total[geostrophy.Volume]
		rows = append(rows, []string{"all", fixedText(total.Value/1e6, 3), fixedText(total.Stated/1e6, 3),
			leavesOut(&f.Partial)})
		d.Table([]string{"Stations", "Transport", "Error", "Leaves out"}, rows)
	}
	return d
}

func (w *archive) transportRows() [][]string {
	var rows [][]string
	for i := range w.sections {
		f := w.sections[i].flow
		if f == nil {
			continue
		}
		total := &f.Total[geostrophy.Volume]
		reference := ""
		for _, p := range f.Params {
			if p.Name == "reference_level" {
				reference = p.Value
			}
		}
		rows = append(rows, []string{w.sections[i].settings.Name, fixedText(total.Value/1e6, 2),
			fixedText(total.Stated/1e6, 2), f.PositiveText(), reference,
			fixedText(f.SecondTotal[geostrophy.Volume]/1e6, 2), leavesOut(&f.Partial)})
	}
	return rows
}

// leavesOut says what a transport leaves out.
func leavesOut(p *geostrophy.Partial) string {
	var parts []string
	if p.Pairs < p.Of {
		parts = append(parts, fmt.Sprintf("%d of %d pairs, %.1f of %.1f km", p.Of-p.Pairs, p.Of, p.OfKm-p.Km, p.OfKm))
	}
	if p.Unsampled > 0 {
		parts = append(parts, fmt.Sprintf("below the deepest common level of %s, %.2f km2", count(p.Unsampled, "pair"),
			p.UnsampledAreaM2/1e6))
	}
	if p.TopUnsampled > 0 {
		parts = append(parts, fmt.Sprintf("near the surface of %s, %.2f km2", count(p.TopUnsampled, "pair"),
			p.TopUnsampledAreaM2/1e6))
	}
	if len(parts) == 0 {
		return "nothing"
	}
	return strings.Join(parts, "; ")
}

// unlisted is the exchange name of a variable that has none.
const unlisted = "unlisted"

// submissionSheet makes the sheet that a data centre asks for with a submission.
func (w *archive) submissionSheet() *statement.Document {
	c := w.cruise
	d := &statement.Document{Title: "Submission sheet: " + c.Title}
	d.Text("What a data centre asks for with a submission. An entry that nobody gave is marked not stated.")
	var rows [][]string
	add := func(name, value string) { rows = append(rows, []string{name, orDefault(value, "not stated")}) }
	var expocodes, chiefs, ships, ports []string
	for _, l := range c.Legs {
		expocodes = append(expocodes, l.Expocode)
		ports = append(ports, strings.Join(slices.DeleteFunc([]string{l.From, l.To},
			func(s string) bool { return s == "" }),
			" to "))
	}
	if len(expocodes) == 0 {
		expocodes = w.dataCite().Expocodes
	}
	chiefs = chiefScientists(&c.Cruise)
	for _, s := range c.Ships {
		ships = append(ships, strings.TrimPrefix(s.Name+orEmpty(", ICES code ", s.Code), ", "))
	}
	first, last := days(&c.Cruise, w.casts)
	open := "yes"
	if c.Release.Embargo != "" {
		open = "from " + c.Release.Embargo
	}
	add("Expocode", strings.Join(expocodes, ", "))
	add("Cruise", c.ID)
	add("Ship", strings.Join(ships, ", "))
	add("Dates", span(first, last))
	add("Ports", strings.Join(slices.DeleteFunc(ports, func(s string) bool { return s == "" }), "; "))
	add("Sea area", c.Region)
	add("Chief scientist", strings.Join(chiefs, ", "))
	add("Contact", c.Release.Contact)
	add("Public", open)
	add("Licence", c.Release.Licence)
	add("Status of the data", string(c.Release.Status))
	add("DOI", c.Release.DOI)
	var grants, reports []string
	for _, g := range c.Funding {
		grants = append(grants, g.String())
	}
	for _, r := range c.References {
		if r.Is == metadata.CruiseReport {
			reports = append(reports, r.Link)
		}
	}
	add("Projects", strings.Join(c.Projects, ", "))
	add("Funding", strings.Join(grants, "; "))
	add("Cruise report", strings.Join(reports, ", "))
	add("Casts", strconv.Itoa(len(w.casts)))
	add("Flag scheme", "WOCE CTD")
	d.Table([]string{"What", "Value"}, rows)
	d.Heading("Parameters")
	rows = nil
	seen := map[string]bool{}
	for _, k := range w.casts {
		for i := range k.Columns {
			col := &k.Columns[i]
			if col.Derived || seen[col.Name] {
				continue
			}
			seen[col.Name] = true
			flagged := "no"
			if col.Flags != nil {
				flagged = "yes"
			}
			rows = append(rows, []string{orDefault(col.Exchange, unlisted), col.ExchangeUnit, col.Name, col.LongName,
				flagged})
		}
	}
	if slices.ContainsFunc(rows, func(r []string) bool { return r[0] == unlisted }) {
		d.Text("Unlisted: a variable for which the exchange format has no name; it was carried along as it was read.")
	}
	d.Table([]string{"Exchange name", "Unit", "Name in NetCDF", "What", "Flagged"}, rows)
	return d
}
