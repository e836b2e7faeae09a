package geostrophy

import (
	"fmt"
	"math"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// A Note is a limit of a pair that has numbers.
type Note struct {
	Kind NoteKind
	Text string
	// GapDbar is the width of the gap that keeps levels from the reference; 0 when the note is of no gap.
	GapDbar float64
}

// NoteKind is what a note is about.
type NoteKind uint8

// Kinds of notes.
const (
	NoteGap       NoteKind = iota // levels beyond a gap are not joined to the reference
	NoteTop                       // the water near the surface is not sampled
	NoteIce                       // the base of the ice is not stated
	NoteUnsampled                 // the casts end too high above the bottom for a triangle
)

// NoteTexts returns the notes of the pair as text.
func (p *Pair) NoteTexts() []string {
	var out []string
	for _, n := range p.Notes {
		out = append(out, n.Text)
	}
	return out
}

// A Finding is something that a person should look at.
type Finding struct {
	metadata.Finding
	// BridgeDbar is the Options.MaxGapDbar with which the gap that the finding is about would be bridged; 0 when it is
	// about none.
	BridgeDbar float64
}

// A pairFinding is a finding of one pair. Findings of several pairs of a section for the same reason are joined.
type pairFinding struct {
	severity metadata.Severity
	check    string
	reason   int // number of the reason within one check
	text     string
	remedy   string
	bridge   float64
}

// findPairs adds the findings of pairs, one for each reason.
func (r *Result) findPairs(opts *Options) {
	type key struct {
		check  string
		reason int
	}
	var order []key
	pairs, first := map[key][]int{}, map[key]pairFinding{}
	for i := range r.Pairs {
		for _, s := range r.Pairs[i].findings(opts) {
			k := key{s.check, s.reason}
			f, seen := first[k]
			if !seen {
				order, f = append(order, k), s
			}
			f.bridge = math.Max(f.bridge, s.bridge)
			first[k] = f
			if n := len(pairs[k]); n == 0 || pairs[k][n-1] != i {
				pairs[k] = append(pairs[k], i)
			}
		}
	}
	for _, k := range order {
		s, at := first[k], pairs[k]
		p := &r.Pairs[at[0]]
		f := Finding{BridgeDbar: s.bridge, Finding: metadata.Finding{Severity: s.severity, Check: s.check,
			Remedy: s.remedy, Count: len(at),
			Message: fmt.Sprintf("section %s, stations %s: %s", r.Section, r.names(p), s.text)}}
		if len(at) == 1 {
			c := r.Stations[p.B].Cast
			f.Position, f.Cast = metadata.Position{File: c.Source.Name}, c.ID()
		} else {
			f.Message += r.likewise(at[1:])
		}
		r.Findings = append(r.Findings, f)
	}
}

func (r *Result) names(p *Pair) string {
	return r.Stations[p.A].Cast.Station + " and " + r.Stations[p.B].Cast.Station
}

// listed is how many further pairs a finding names.
const listed = 6

// likewise names the further pairs that a finding is about.
func (r *Result) likewise(pairs []int) string {
	var names []string
	for _, i := range pairs[:min(len(pairs), listed)] {
		names = append(names, r.names(&r.Pairs[i]))
	}
	if n := len(pairs) - listed; n > 0 {
		names = append(names, fmt.Sprintf("%d more", n))
	}
	return fmt.Sprintf("; likewise in %s (%s; numbers of each in tables/transports.csv)", pairsOf(len(pairs)),
		strings.Join(names, ", "))
}

// findings returns the findings of the pair.
func (p *Pair) findings(opts *Options) []pairFinding {
	if !p.Status.HasVelocity() {
		return []pairFinding{{metadata.Warning, "geostrophy.withheld", int(p.Status), "no velocity: " + p.Reason,
			"the totals leave out the pairs without velocity and say so", p.bridgeDbar}}
	}
	var out []pairFinding
	if p.Status == Questionable {
		out = append(out, pairFinding{metadata.Warning, "geostrophy.equator", 0,
			"velocity is questionable: " + p.Reason, "", 0})
	}
	if p.ReferenceFallback != "" {
		out = append(out, pairFinding{metadata.Note, "geostrophy.reference", 0, p.ReferenceFallback, "", 0})
	}
	for _, n := range p.Notes {
		out = append(out, pairFinding{metadata.Note, "geostrophy.unsampled", int(n.Kind), n.Text, "",
			math.Ceil(n.GapDbar)})
	}
	if word := opts.Positive; word == "east" || word == "north" {
		want := 0.0
		if word == "east" {
			want = 90
		}
		if math.Cos((p.PositiveDeg-want)*(math.Pi/180)) < 0 {
			out = append(out, pairFinding{metadata.Warning, "geostrophy.direction", 0,
				fmt.Sprintf("this leg turns against the line: positive points towards %.0f degrees, not %s",
					p.PositiveDeg, word), "use positive: left or right, or divide the section", 0})
		}
	}
	return out
}
