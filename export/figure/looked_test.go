package figure

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// The tests of this file hold what was changed after looking at the figures of the demo and of four sections of 38 stations.

// A line close above a sloping bottom, and along it, is one line: with values from beside a column it was cut into a step for each.
func TestLinesAlongTheBottom(t *testing.T) {
	f := &field{}
	bottomAt := func(x float64) float64 { return 200 + 4*x }
	for j := range 41 {
		f.x = append(f.x, 2.5*float64(j))
	}
	for i := range 401 {
		f.y = append(f.y, 2*float64(i))
	}
	below := make([]bool, 0, len(f.x)*len(f.y))
	for _, y := range f.y {
		for _, x := range f.x {
			v := y/100 - x/25 // lines slope as the bottom does
			under := y > bottomAt(x)
			if under {
				v = math.NaN()
			}
			f.data, below = append(f.data, v), append(below, under)
		}
	}
	f.fillBelow(below, 3)
	fr := &frame{l: 0, r: 400, t: 0, b: 200, x0: 0, x1: 100, y0: 0, y1: 800}
	const level = 1.97 // lies 3 dbar above the bottom
	inWater, longest := 0, 0.0
	for _, line := range f.trace(fr, []float64{level})[0] {
		west, east, above := math.Inf(1), math.Inf(-1), false
		for _, q := range line {
			x, y := q.x/fr.r*fr.x1, q.y/fr.b*fr.y1
			if y < bottomAt(x) {
				above, west, east = true, min(west, x), max(east, x)
			}
		}
		if above {
			inWater++
			longest = max(longest, east-west)
		}
	}
	if inWater != 1 || longest < 95 {
		t.Errorf("the line is in %d pieces, of which the longest spans %.1f of 100 km", inWater, longest)
	}
}

// A row of lines half a point apart keeps the round ones, and no two of what is left run together.
func TestLinesThatRunTogether(t *testing.T) {
	var lines [][][]pt
	var levels []float64
	for k := range 11 {
		levels = append(levels, 30+float64(k))
		y := 10 + 0.5*float64(k)
		lines = append(lines, [][]pt{{{0, y}, {100, y}}})
	}
	got := partTogether(lines, levels, 1.4)
	last := math.Inf(-1)
	for k, l := range got {
		if len(l) == 0 {
			continue
		}
		if y := l[0][0].y; y-last < 1.4 {
			t.Errorf("lines of %g and the one before are %.1f points apart", levels[k], y-last)
		}
		last = l[0][0].y
	}
	for _, k := range []int{0, 5, 10} { // 30, 35, 40
		if len(got[k]) != 1 {
			t.Errorf("the line of %g is left out", levels[k])
		}
	}
	if far := partTogether(lines, levels, 0.4); len(far[3]) != 1 || len(far[7]) != 1 {
		t.Error("lines that stand apart are left out")
	}
}

// The reference level at the lower end of a pair makes no zero line along it; one in the middle does.
func TestReferenceAtTheLowerEnd(t *testing.T) {
	f := &field{x: []float64{0}, y: []float64{0, 1, 2, 3}, data: []float64{-0.3, -0.1, 0, math.NaN()}}
	f.signAtEnd(0)
	if f.data[2] >= 0 || f.data[2] < -1e-3 {
		t.Errorf("zero below -0.1 became %g", f.data[2])
	}
	f.data = []float64{-0.3, 0, 0.1, 0.2}
	f.signAtEnd(0)
	if f.data[1] != 0 || f.data[3] != 0.2 {
		t.Errorf("a zero that is no lower end was changed: %v", f.data)
	}
}

// The numbers of small differences, which are long, stand apart: four of them did nearly touch.
func TestTicksThatFit(t *testing.T) {
	fr := frame{l: 0, r: 130, x0: -0.0019, x1: 0.0019}
	at := fr.ticksThatFit(8, mainType)
	if len(at) < 2 {
		t.Fatalf("%v", at)
	}
	d := decimalsOf(at)
	for k := 1; k < len(at); k++ {
		room := fr.X(at[k]) - fr.X(at[k-1]) - (textWidth(regular, number(at[k], d), mainType)+textWidth(regular, number(at[k-1], d), mainType))/2
		if room < 0.75*mainType {
			t.Errorf("%g and %g are %.1f points apart", at[k-1], at[k], room)
		}
	}
	fr = frame{l: 0, r: 400, x0: 0, x1: 1800}
	if n := len(fr.ticksThatFit(12, mainType)); n < 8 {
		t.Errorf("%d numbers where there is room for ten", n)
	}
}

func TestSettingsLeaveOutWhatIsNotSet(t *testing.T) {
	got := settings([]metadata.Param{{Name: "reference", Value: "deepest"}, {Name: "second_reference"}, {Name: "triangle", Value: "none"}})
	if got != "reference deepest; triangle none" {
		t.Errorf("%q", got)
	}
}

// In the middle of many upright lines labels stand upright, and are read upward.
func TestUprightLabels(t *testing.T) {
	s, _ := invent(wideLayout)
	page, err := (&Velocity{Name: "a", Result: currents(s)}).draw(TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	labels, upright := 0, 0
	for _, o := range page.ops {
		if o.kind != opText || o.label.turn == 0 || strings.ContainsAny(o.label.text, "abcdefghijklmnopqrstuvwxyz") {
			continue
		}
		labels++
		if math.Abs(o.label.turn) > 72 {
			upright++
		}
		if o.label.turn < -80 {
			t.Errorf("%s is read downward (%.0f degrees)", o.label.text, o.label.turn)
		}
	}
	if labels < 10 || upright == 0 {
		t.Errorf("%d labels on lines, %d upright", labels, upright)
	}
}

// A corner of a mask that a level just cuts leaves no dot of line behind; a line as long as a millimetre stays.
func TestNoSpecks(t *testing.T) {
	f := &field{x: []float64{0, 1}, y: []float64{0, 1}, data: []float64{0, 1, 1, 1}}
	fr := &frame{l: 0, r: 100, t: 0, b: 100, x0: 0, x1: 1, y0: 0, y1: 1}
	lines := f.trace(fr, []float64{0.01, 0.5}) // 1.4 and 71 points long
	if len(lines[0]) != 0 || len(lines[1]) != 1 {
		t.Errorf("%d and %d lines, want none and one", len(lines[0]), len(lines[1]))
	}
}
