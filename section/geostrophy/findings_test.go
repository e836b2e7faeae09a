package geostrophy

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// What is said of many pairs is one finding that names the section, counts the pairs and stays short; every finding
// names the section.
func TestFindingsOfManyPairs(t *testing.T) {
	line := func(n int, lat, top, bottom float64) *section.Section {
		var casts []*section.Cast
		for i := range n {
			c := simple(fmt.Sprint(i+1), lat, -40+0.5*float64(i), top, bottom-float64(10*i), 0.2*float64(i))
			c.Source.Name = fmt.Sprintf("%d_ct1.csv", i+1)
			casts = append(casts, c)
		}
		return sectionOf("LINE", casts...)
	}
	for _, x := range []struct {
		name     string
		sec      *section.Section
		change   func(*Options, *section.Section)
		check    string
		severity metadata.Severity
		pairs    int
	}{
		{"a reference below all casts", line(30, 40, 0, 900), func(o *Options, _ *section.Section) {
			o.Reference = Reference{Kind: AtPressure, PressureDbar: 2000}
		},
			"geostrophy.reference", metadata.Note, 29},
		{"a density that is nowhere", line(5, 40, 0, 900), func(o *Options, _ *section.Section) {
			o.Reference = Reference{Kind: AtDensity, Density: 60}
		},
			"geostrophy.reference", metadata.Note, 4},
		{"near the equator", line(9, 4, 0, 900), nil, "geostrophy.equator", metadata.Warning, 8},
		{"at the equator", line(9, 1, 0, 900), nil, "geostrophy.withheld", metadata.Warning, 8},
		{"no level was given", line(4, 40, 0, 900), func(o *Options, _ *section.Section) {
			o.Reference.Kind = AtLevels
		}, "geostrophy.withheld", metadata.Warning, 3},
		{"deep first levels", line(4, 40, 100, 900), nil, "geostrophy.unsampled", metadata.Note, 3},
		{"casts that end high", line(4, 40, 0, 900), func(_ *Options, s *section.Section) {
			for _, c := range s.Casts {
				c.BottomM = 4000
			}
		}, "geostrophy.unsampled", metadata.Note, 3},
		{"one pair alone", line(2, 40, 0, 900), func(o *Options, _ *section.Section) {
			o.Reference = Reference{Kind: AtPressure, PressureDbar: 2000}
		},
			"geostrophy.reference", metadata.Note, 1},
		{"water depths above the casts", line(4, 40, 0, 900), func(_ *Options, s *section.Section) {
			s.Casts[1].BottomM = 100
		}, "geostrophy.bottom", metadata.Warning, 1},
	} {
		opts := DefaultOptions()
		if x.change != nil {
			x.change(&opts, x.sec)
		}
		r := mustCompute(t, x.sec, opts)
		n := 0
		for _, f := range r.Findings {
			if !strings.HasPrefix(f.Message, "section LINE, station") || len(f.Message) > 400 {
				t.Errorf("%s: %d bytes, %s", x.name, len(f.Message), f.Message)
			}
			if f.Check != x.check {
				continue
			}
			n++
			if f.Count != x.pairs || f.Severity != x.severity {
				t.Errorf("%s: %+v, want %d pairs", x.name, f, x.pairs)
			}
			if want := fmt.Sprintf("likewise in %s", pairsOf(x.pairs-1)); x.pairs > 1 &&
				(!strings.Contains(f.Message, want) || f.File != "" || f.Cast != "") {
				t.Errorf("%s: %+v lacks %q", x.name, f, want)
			}
			if x.pairs == 1 && (f.File == "" || f.Cast == "") {
				t.Errorf("%s: %+v belongs to a cast", x.name, f)
			}
		}
		if n != 1 {
			t.Errorf("%s: %d findings of %s", x.name, n, x.check)
		}
	}
}

// A finding about a gap carries the key that bridges the widest one, whichever pair it is in.
func TestFindingsOfGaps(t *testing.T) {
	whole, cut := simple("1", 40, -40, 0, 1000, 0), func(name string, lon, from, to float64) *section.Cast {
		c := simple(name, 40, lon, 0, 1000, 1)
		for i, p := range c.PressureDbar {
			if p > from && p < to {
				for k := range c.Columns[1:] {
					c.Columns[1+k].Values[i] = math.NaN()
				}
			}
		}
		return c
	}
	r := mustCompute(t, sectionOf("G", whole, cut("2", -39.5, 300, 500), simple("3", 40, -39, 0, 1000, 0),
		cut("4", -38.5, 300, 700)), DefaultOptions())
	widest, n := 0.0, 0
	for i := range r.Pairs {
		for _, note := range r.Pairs[i].Notes {
			widest = max(widest, note.GapDbar)
		}
	}
	for _, f := range r.Findings {
		if f.BridgeDbar != 0 {
			n++
			if f.BridgeDbar != math.Ceil(widest) || f.Count != 3 {
				t.Errorf("%+v, the widest gap is %g dbar", f, widest)
			}
		}
	}
	if n != 1 || widest < 300 {
		t.Errorf("%d findings, widest gap %g dbar", n, widest)
	}
}

// An Each that ends early ends Compute with its error, whichever step it was in, and nothing of an unfinished step is
// used.
func TestEachEndsCompute(t *testing.T) {
	stop := errors.New("stop")
	calls := 0
	for last := 0; ; last++ {
		opts := DefaultOptions()
		opts.Members, opts.Layers, opts.Classes = 4, []float64{0, 100}, []float64{27}
		n := 0
		opts.Each = func(count int, do func(int)) error {
			if n++; n > last {
				return stop
			}
			for i := range count {
				do(i)
			}
			return nil
		}
		r, err := Compute(current(4, 38, 0.1, 0.3), opts)
		if err == nil {
			calls = n
			break
		}
		if r != nil || !errors.Is(err, stop) {
			t.Fatalf("ended at call %d: %v, %v", n, r, err)
		}
	}
	if calls < 6 {
		t.Errorf("%d steps", calls)
	}
}
