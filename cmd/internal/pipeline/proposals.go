package pipeline

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"

	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// Proposals is what a person can decide about: lines of flag edits, and entries of quality: accept.
type Proposals struct {
	Edits   []Edit
	Accept  []string // entries without initials and reason, of open findings that propose no flag
	Skipped int      // proposals that no range of pressures names alone: a pressure occurs twice
}

// An Edit is one line of flag edits that a check proposes.
type Edit struct {
	Expocode, Station, Cast, Variable string
	FromDbar, ToDbar                  float64
	Flag                              metadata.Flag
	Check                             string
}

// proposals returns what is open, in the order of the casts.
func (w *survey) proposals() Proposals {
	var p Proposals
	seen := map[Edit]bool{}
	for i := range w.findings {
		f := &w.findings[i]
		if !f.Open() || f.Severity == metadata.Failure {
			continue
		}
		col, levels := w.proposal(f)
		if col == nil {
			if text := w.acceptText(f); !slices.Contains(p.Accept, text) {
				p.Accept = append(p.Accept, text)
			}
			continue
		}
		k := w.castOf(f)
		if !alone(k, col, f, levels) {
			p.Skipped++
			continue
		}
		e := Edit{k.Expocode, k.Station, k.Number, col.Name, f.First, f.Last, f.Proposed, f.Check}
		if !seen[e] {
			seen[e] = true
			p.Edits = append(p.Edits, e)
		}
	}
	return p
}

// alone reports whether the range of a finding holds no value that it does not propose against.
func alone(k *section.Cast, col *section.Column, f *metadata.Finding, levels []int) bool {
	n := 0
	for j, v := range k.PressureDbar {
		if v >= f.First && v <= f.Last && col.Values[j] == col.Values[j] {
			n++
		}
	}
	return n == len(levels)
}

// Write writes the lines of flag edits as a table that the cruise file can name. Initials, reason and date are for
// a person to add.
func (p *Proposals) Write(o io.Writer) error {
	c := csv.NewWriter(o)
	if err := c.Write([]string{"expocode", "station", "cast", "variable", "from_dbar", "to_dbar", "flag",
		"initials", "reason", "date", "check"}); err != nil {
		return err
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	for _, e := range p.Edits {
		if err := c.Write([]string{e.Expocode, e.Station, e.Cast, e.Variable, number(e.FromDbar), number(e.ToDbar),
			strconv.Itoa(int(e.Flag)), "", "", "", e.Check}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// HelpOnChecks lists every check with what it finds, its thresholds and their source.
func HelpOnChecks() string {
	out := "The checks of castwright check and build. A check alters no value and no flag: it proposes, and a " +
		"person decides. Thresholds can be\n" +
		"replaced in the cruise file, as quality: thresholds: {CHECK.NAME: NUMBER}.\n"
	for _, r := range qc.Rules() {
		out += "\n" + r.ID + "\n    " + r.Does + "\n"
		for _, t := range r.Thresholds {
			out += fmt.Sprintf("    %s.%s: %s%s (%s)\n", r.ID, t.Name, strconv.FormatFloat(t.Default, 'g', -1, 64),
				map[bool]string{true: " " + t.Units, false: ""}[t.Units != ""], t.Does)
		}
		out += "    source: " + r.Source + "\n"
		if r.Proposes {
			out += "    proposes flags; quality: apply can let it set them\n"
		}
	}
	return out
}
