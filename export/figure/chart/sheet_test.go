package chart

import (
	"testing"

	"github.com/castwright/castwright/export/figure/page"
)

// Areas that look alike are one entry with the words of all; what looks otherwise, and lines, have entries of their
// own.
func TestOneKeyForEachLook(t *testing.T) {
	ks := Add(nil, AreaKey(NoValue, "no value", NoValueAngle), AreaKey(page.Paper, "large error", DoubtAngle))
	ks = Add(ks, AreaKey(NoValue, "no common levels", NoValueAngle), AreaKey(NoValue, "no value", NoValueAngle),
		AreaKey(NoValue, "withheld", NoValueAngle, DoubtAngle), LineKey(InkHair, nil, "a"), LineKey(InkHair, nil, "b"))
	want := []string{"no value; no common levels", "large error", "withheld", "a", "b"}
	if len(ks) != len(want) {
		t.Fatalf("%d entries, want %d", len(ks), len(want))
	}
	for k := range ks {
		if ks[k].Text != want[k] {
			t.Errorf("%q, want %q", ks[k].Text, want[k])
		}
	}
}

// Hatching leaves out lines shorter than their distance, which look like dirt, and lines below the bottom.
func TestHatchSeen(t *testing.T) {
	everywhere := func(page.Point) bool { return true }
	for _, c := range []struct {
		name string
		area page.Path
		open func(page.Point) bool
		want bool
	}{
		{"a strip", page.Rect(10, 0, 11, 80), everywhere, false},
		{"an area", page.Rect(10, 0, 30, 80), everywhere, true},
		{"an area below the bottom", page.Rect(10, 0, 30, 80), func(page.Point) bool { return false }, false},
	} {
		s := page.New(100, 100)
		if got := HatchSeen(s, c.area, DoubtAngle, c.open); got != c.want {
			t.Errorf("%s is hatched: %v", c.name, got)
		}
		drawn := 0
		for _, o := range s.Ops {
			drawn += len(o.Path)
			for _, l := range o.Path {
				if page.Length(l) < hatchApart {
					t.Errorf("%s: a line of %.1f points", c.name, page.Length(l))
				}
			}
		}
		if drawn > 0 != c.want {
			t.Errorf("%s: %d lines", c.name, drawn)
		}
	}
}
