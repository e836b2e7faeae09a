package pipeline

import (
	"fmt"
	"io"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// writeComparisons writes what the checks of the cruise compared: sensor pairs, bottles, and the fits of both.
// Tables without a line are not written.
func (w *archive) writeComparisons() error {
	r := w.compared
	if r == nil {
		return nil
	}
	tables := []struct {
		rel, what string
		lines     int
		write     func(io.Writer) error
	}{
		{"tables/sensor_pairs.csv", "Difference of the two sensors of each pair, cast by cast: second minus first.",
			len(r.Pairs),
			func(o io.Writer) error { return export.WritePairs(o, pairRows(w.ids, r.Pairs)) }},
		{"tables/bottle_comparison.csv",
			"Each bottle sample beside the CTD: at closure, and at the matching level of the downcast.", len(r.Matches),
			func(o io.Writer) error { return export.WriteComparison(o, comparisonRows(w.ids, r.Matches)) }},
		{"tables/sensor_fits.csv",
			"Robust fits of the differences of sensor pairs and bottles, with standard errors clustered by cast: " +
				"numbers for the " +
				"processing upstream. No correction was applied.", len(r.Fits),
			func(o io.Writer) error { return export.WriteFits(o, fitRows(r.Fits)) }},
	}
	for _, t := range tables {
		if t.lines == 0 {
			continue
		}
		if err := w.put(t.rel, t.what, t.write); err != nil {
			return err
		}
		inputs := w.castDigests(w.casts)
		for _, b := range w.bottles {
			inputs = append(inputs, b.Source)
		}
		w.record(metadata.Record{Step: "write", Text: "comparison of sensors and bottles", Inputs: inputs,
			Outputs: []string{t.rel}})
	}
	return nil
}

func pairRows(ids map[*section.Cast]string, pairs []qc.Pair) []export.PairRow {
	rows := make([]export.PairRow, len(pairs))
	part := func(p qc.PairPart) export.PairPart {
		return export.PairPart{FirstDbar: p.FirstDbar, LastDbar: p.LastDbar, Levels: p.Levels, Median: p.Median,
			Spread: p.Spread, Error: p.Err}
	}
	for i, p := range pairs {
		rows[i] = export.PairRow{ID: ids[p.Cast], Cast: p.Cast, Variable: variableOf(p.Cast, p.Variable),
			Deep: part(p.Deep), Upper: part(p.Upper),
			Shallow: p.Weak, Limit: p.LimitOf}
	}
	return rows
}

// variableOf returns a variable as a cast has it, else as the table of variables does: the up cast whose bottles were
// closed may hold a variable that the down cast beside it lacks.
func variableOf(c *section.Cast, name string) metadata.Variable {
	if col := c.Column(name); col != nil {
		return col.Variable
	}
	return metadata.MustVariable(name)
}

func comparisonRows(ids map[*section.Cast]string, matches []qc.Match) []export.ComparisonRow {
	rows := make([]export.ComparisonRow, len(matches))
	for i, m := range matches {
		b := &m.Bottles.Rows[m.Row]
		rows[i] = export.ComparisonRow{ID: ids[m.Cast], Cast: m.Cast, Sample: b.Sample, Bottle: b.Bottle,
			Variable: variableOf(m.Cast, m.Variable),
			Dbar:     m.Dbar, Value: m.Sample, Samples: m.Samples, Closure: m.Closure, MatchedBy: m.How.String(),
			DownDbar: m.DownDbar, Down: m.Down,
			Second: m.Second, Steep: m.Steep, Fitted: m.Fitted}
	}
	return rows
}

func fitRows(fits []qc.Fitting) []export.FitRow {
	var rows []export.FitRow
	for i := range fits {
		f := &fits[i]
		for _, t := range f.Terms {
			rows = append(rows, export.FitRow{Of: f.Of, Variable: f.Variable, System: f.System, Term: t.Name,
				Per: t.Per, Value: t.Value, Error: t.Error,
				Target: t.Target, Values: f.Values, Casts: f.Casts, MeanDbar: f.MeanDbar, Median: f.Median,
				MedianError: f.MedianErr, PerCast: f.PerCast,
				Common: f.Common})
		}
	}
	return rows
}

// comparedHow returns the sentences for the README on what the comparisons say.
func (w *survey) comparedHow() []string {
	var out []string
	if w.compared == nil {
		return nil
	}
	for _, d := range w.compared.Duplicates {
		out = append(out, fmt.Sprintf("Two samples of one bottle repeat to %.2g in %s (root mean square "+
			"difference over the root of 2, %d bottles).", d.Rms, d.Variable, d.Bottles))
	}
	return append(out, w.agreements()...)
}

// agreements returns the sentences on which sensor of a pair agrees with bottles.
func (w *survey) agreements() []string {
	var out []string
	for _, a := range w.compared.Agreements {
		where := ""
		if a.System != "" {
			where = " in system " + a.System
		}
		better := "Which of the two sensors agrees better with the bottles is undecided"
		if a.Better != "" {
			better = a.Better + " agrees better with the bottles"
		}
		out = append(out, fmt.Sprintf("%s%s: bottles minus %s are %+.5f (standard error %.5f), bottles minus %s2 "+
			"%+.5f (%.5f). Nothing was switched.", better, where,
			a.Variable, a.First.Value, a.First.Error, a.Variable, a.Second.Value, a.Second.Error))
	}
	return out
}
