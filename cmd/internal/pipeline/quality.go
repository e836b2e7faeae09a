package pipeline

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/coast"
	"github.com/paulmach/orb"
)

// checkSettings returns what the cruise file says of a cast that the checks use.
func (w *survey) checkSettings(k *section.Cast) qc.Settings {
	s := qc.Settings{NotCalibrated: w.cruise.Casts.Uncalibrated, IceShelf: w.cruise.Casts.IceShelf}
	if i := slices.IndexFunc(w.cruise.Systems, func(y cruisefile.System) bool { return y.Label == k.System }); i >= 0 {
		s.BinDbar = w.cruise.Systems[i].Bin.WidthDbar
	}
	return s
}

// checkCasts runs the checks of single casts on the values and flags as they were read, side by side, and sets the
// flags that the cruise file lets checks apply.
func (w *survey) checkCasts(ctx context.Context) error {
	checks, err := qc.New(w.cruise.Quality.Thresholds)
	if err != nil { // the cruise file was read with the same table
		return err
	}
	w.checks = checks
	w.byName = map[[2]string]*section.Cast{}
	for _, k := range w.casts {
		w.byName[[2]string{k.ID(), k.Source.Name}] = k
	}
	found := make([][]metadata.Finding, len(w.casts))
	if err := each(ctx, w.plan.Workers, len(w.casts), func(i int) error {
		found[i] = checks.Cast(w.casts[i], w.checkSettings(w.casts[i]))
		return nil
	}); err != nil {
		return err
	}
	w.quality = slices.Concat(found...)
	w.applyChecks(w.quality)
	return nil
}

// checkCruise runs the checks of the whole cruise, on the flags in force.
func (w *survey) checkCruise() {
	if w.checks == nil {
		return
	}
	c := &qc.Cruise{Casts: w.casts, Bottles: w.bottles, Settings: w.checkSettings, Clocks: w.clocks,
		Now: w.plan.Now, OnLand: w.onLand,
		Remark: func(k *section.Cast) string { return w.remarks[k] }}
	for _, o := range w.out {
		if o.cast != nil {
			c.LeftOut = append(c.LeftOut, o.cast)
		}
	}
	if w.depthAt != nil {
		c.DepthM = w.depthAt
	}
	w.compared = w.checks.Cruise(c)
	first := len(w.quality)
	w.quality = append(w.quality, w.compared.Findings...)
	w.applyChecks(w.quality[first:])
	if slices.ContainsFunc(w.compared.Findings, func(f metadata.Finding) bool { return f.Check == "time.zone" }) {
		w.oneZone()
	}
	w.passed()
	w.decide()
	w.find(w.quality...)
	w.quality = nil
}

// oneZone removes the differences of times that one finding about the zone names together.
func (w *survey) oneZone() {
	w.findings = slices.DeleteFunc(w.findings, func(f metadata.Finding) bool { return f.Check == "station_table.time" })
}

// landMarginKm is by how much a position must be inside the coastline to be on land beyond doubt: the coastline is
// uncertain by a kilometre or two.
const landMarginKm = 3

// onLand reports whether a position is on land beyond doubt: all nodes of the depth grid around it are, or all
// places a little away in every direction are inside the coastline.
func (w *survey) onLand(at orb.Point) bool {
	if w.depths != nil {
		return w.depths.Land(at)
	}
	if w.cruise.Casts.Lake {
		return false
	}
	const degree = 111.2 // km
	dLat := landMarginKm / degree
	dLon := dLat / max(0.05, math.Cos(at[1]*math.Pi/180))
	for _, d := range [][2]float64{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
		if !coast.Contains(at[0]+d[0]*dLon, math.Max(-90, math.Min(90, at[1]+d[1]*dLat))) {
			return false
		}
	}
	return true
}

// passed sets the proposed flag of values that the checks saw and propose nothing against, for variables that have
// a proposal somewhere in the cruise: acceptable.
func (w *survey) passed() {
	against := map[string]bool{}
	for _, k := range w.casts {
		for i := range k.Columns {
			if k.Columns[i].Proposed != nil {
				against[k.Columns[i].Name] = true
			}
		}
	}
	for _, k := range w.casts {
		for i := range k.Columns {
			col := &k.Columns[i]
			if !against[col.Name] || col.Values == nil || col.Derived {
				continue
			}
			if col.Proposed == nil {
				col.Proposed = make([]metadata.Flag, len(col.Values))
			}
			for j, f := range col.Proposed {
				if f == metadata.NotEvaluated && col.UsableAt(j, w.cruise.Casts.Uncalibrated) {
					col.Proposed[j] = metadata.Acceptable
				}
			}
		}
	}
}

// proposal returns the column of a finding that proposes flags, and the levels that it proposes against; nil when it
// proposes none.
func (w *survey) proposal(f *metadata.Finding) (*section.Column, []int) {
	if f.Proposed == metadata.NotEvaluated || f.Cast == "" {
		return nil, nil
	}
	k := w.castOf(f)
	if k == nil {
		return nil, nil
	}
	col := k.Column(f.Variable)
	if col == nil || col.Proposed == nil {
		return nil, nil
	}
	var levels []int
	for j, p := range k.PressureDbar {
		if p >= f.First && p <= f.Last && col.Proposed[j] > metadata.Acceptable {
			levels = append(levels, j)
		}
	}
	return col, levels
}

// applyChecks sets the flags that checks propose and that the cruise file lets them apply. A flag is only lowered.
func (w *survey) applyChecks(found []metadata.Finding) {
	for i := range found {
		f := &found[i]
		if !slices.Contains(w.cruise.Quality.Apply, f.Check) {
			continue
		}
		col, levels := w.proposal(f)
		was, n := map[metadata.Flag]int{}, 0
		for _, j := range levels {
			ensureFlags(col)
			if metadata.Worse(col.Flags[j], f.Proposed) == col.Flags[j] {
				continue
			}
			was[col.Flags[j]]++
			col.Flags[j] = f.Proposed
			n++
		}
		if len(levels) == 0 {
			continue
		}
		f.Accepted = metadata.Acceptance{Initials: "quality: apply",
			Reason: "the cruise file lets " + f.Check + " set flags", At: w.cruise.Quality.At}
		w.record(metadata.Record{Step: "flag", Inputs: []metadata.Digest{w.plan0, w.castOf(f).Source},
			Text: fmt.Sprintf("%s of cast %s, %g to %g dbar: flag %d at %s by check %s, which quality: apply "+
				"lets set flags", col.Name, f.Cast, f.First, f.Last,
				f.Proposed, plural(n, "level"), f.Check),
			Params: []metadata.Param{{Name: "line", Value: w.cruise.Quality.At.String()}, {Name: "was",
				Value: orDefault(flagCounts(was), "all at least as bad")},
				{Name: "proposed_by", Value: f.Check}}})
	}
}

// castOf returns the cast of a finding; nil when it has none.
func (w *survey) castOf(f *metadata.Finding) *section.Cast {
	return w.byName[[2]string{f.Cast, f.File}]
}

// ensureFlags gives a column flags that say nothing of its values, when it has none.
func ensureFlags(col *section.Column) {
	if col.Flags != nil {
		return
	}
	col.Flags = make([]metadata.Flag, len(col.Values))
	for i, v := range col.Values {
		if math.IsNaN(v) {
			col.Flags[i] = metadata.NotSampled
		}
	}
}

// decide closes the proposals that flag edits decided about.
func (w *survey) decide() {
	for i := range w.quality {
		f := &w.quality[i]
		if f.Accepted != (metadata.Acceptance{}) {
			continue
		}
		col, levels := w.proposal(f)
		by := w.decided[col]
		if col == nil || by == nil {
			continue
		}
		k := w.castOf(f)
		open := slices.DeleteFunc(slices.Clone(levels), func(j int) bool { return by[j] != nil })
		switch {
		case len(levels) == 0:
		case len(open) == 0:
			e := by[levels[0]]
			f.Accepted = metadata.Acceptance{Initials: e.Initials, Reason: e.Reason, At: e.Place("flag")}
		case len(open) < len(levels):
			f.First, f.Last, f.Count = k.PressureDbar[open[0]], k.PressureDbar[open[len(open)-1]], len(open)
		}
	}
}

// accept closes the findings that the cruise file accepts, each one that it names exactly, and names entries that
// match none. Joined findings are looked at before they are joined.
func (w *survey) accept() {
	for i := range w.cruise.Quality.Accept {
		a := &w.cruise.Quality.Accept[i]
		hit := false
		var near []string
		for j := range w.findings {
			f := &w.findings[j]
			if f.Check == a.ID {
				near = append(near, w.acceptText(f))
			}
			if w.accepts(a, f) {
				hit = true
				if f.Accepted == (metadata.Acceptance{}) {
					f.Accepted = metadata.Acceptance{Initials: a.Initials, Reason: a.Reason, At: a.At}
				}
			}
		}
		if hit {
			continue
		}
		n := metadata.Finding{Position: a.At, Severity: metadata.Warning, Check: "quality.accept",
			Message: fmt.Sprintf("accept names a finding of %s "+
				"that was not made; nothing is accepted by it", a.ID),
			Remedy: "take the entry out when it is no longer needed"}
		if len(near) > 0 {
			n.Remedy = "write cast, variable, pressure and file as the finding has them, such as " +
				"" + near[0] + "; or take the entry out"
		}
		w.find(n)
	}
}

// accepts reports whether an entry is of a finding: the same check, cast, variable and pressures, and for a finding
// without a cast the same place.
func (w *survey) accepts(a *cruisefile.Accept, f *metadata.Finding) bool {
	if f.Severity == metadata.Failure || f.Check != a.ID || f.Variable != a.Variable {
		return false
	}
	if (a.File != "" || needsFile(f)) && f.Position.String() != a.File {
		return false
	}
	if f.Cast == "" {
		if a.Cast != (cruisefile.CastName{}) {
			return false
		}
	} else if !slices.ContainsFunc(w.casts, func(k *section.Cast) bool {
		return k.ID() == f.Cast && named(a.Cast,
			k) && a.Cast.Number != ""
	}) {
		return false
	}
	if f.First == 0 && f.Last == 0 {
		return math.IsNaN(a.Pressure[0])
	}
	const alike = 0.005 // dbar: pressures are printed with two decimals at most
	return math.Abs(a.Pressure[0]-f.First) <= alike && math.Abs(a.Pressure[1]-f.Last) <= alike
}

// needsFile reports whether a finding is named by its place in a file, beside or instead of a cast: two of one
// check may be in a cast.
func needsFile(f *metadata.Finding) bool {
	return f.File != "" && (f.Cast == "" || f.Line > 0 && f.First == 0 && f.Last == 0)
}

// acceptText returns the entry that accepts a finding, without initials and reason.
func (w *survey) acceptText(f *metadata.Finding) string {
	parts := []string{"id: " + f.Check}
	if needsFile(f) {
		parts = append(parts, fmt.Sprintf("file: %q", f.Position.String()))
	}
	if i := slices.IndexFunc(w.casts, func(k *section.Cast) bool { return k.ID() == f.Cast }); i >= 0 {
		k := w.casts[i]
		parts = append(parts, "cast: "+k.Expocode+":"+metadata.CastText(k.Station, k.Number))
	}
	if f.Variable != "" {
		parts = append(parts, "variable: "+f.Variable)
	}
	if f.First != 0 || f.Last != 0 {
		text := pressureText(f.First)
		if f.Last != f.First {
			text += "-" + pressureText(f.Last)
		}
		parts = append(parts, "pressure: "+text)
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func pressureText(p float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", p), "0"), ".")
}

// refuseOpen makes an error of a final release whose findings are not all decided.
func (w *survey) refuseOpen() {
	if w.cruise.Release.Status != metadata.Final || w.plan.Watched != nil {
		return
	}
	n := 0
	for i := range w.findings {
		if w.findings[i].Severity == metadata.Warning && w.findings[i].Open() {
			n++
		}
	}
	if n == 0 {
		return
	}
	w.find(metadata.Finding{Position: w.cruise.File, Severity: metadata.Failure, Check: "quality.open", Count: n,
		Message: fmt.Sprintf("%s open: a final release is made when each is decided", plural(n, "warning")),
		Remedy: "decide about proposals in the flag edits (castwright check --propose FILE writes them), accept " +
			"other findings under quality: accept, or " +
			"make the release preliminary"})
}
