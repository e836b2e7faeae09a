//go:build cgo

package netcdf

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// repeat gives level k of a cast a second time.
func repeat(c *section.Cast, k int) {
	c.PressureDbar = slices.Insert(slices.Clone(c.PressureDbar), k, c.PressureDbar[k])
	for i := range c.Columns {
		col := &c.Columns[i]
		if col.Values != nil {
			col.Values = slices.Insert(slices.Clone(col.Values), k, col.Values[k]+0.125)
		}
		if col.Text != nil {
			col.Text = slices.Insert(slices.Clone(col.Text), k, "again")
		}
		if col.Flags != nil {
			col.Flags = slices.Insert(slices.Clone(col.Flags), k, metadata.Questionable)
		}
		if col.Proposed != nil {
			col.Proposed = slices.Insert(slices.Clone(col.Proposed), k, metadata.Questionable)
		}
	}
	c.Columns[0].Values = c.PressureDbar
}

// A pressure that a cast has twice, at its start, inside, at its end or three times, leaves the casts in rows that are
// aligned with each other: every level has its value, and what the casts have in common has one place.
func TestRepeatedPressures(t *testing.T) {
	for _, k := range []struct {
		what   string
		levels map[int][]int // cast -> levels that are repeated
		width  int
	}{
		{"inside one cast", map[int][]int{1: {40}}, 701},
		{"at the first and at the last level", map[int][]int{0: {0}, 4: {699}}, 702},
		{"three times, and the same level in two casts", map[int][]int{0: {10, 10}, 2: {10}}, 702},
		{"many levels of one cast", map[int][]int{3: {0, 2, 4, 6, 8}}, 705},
	} {
		casts := fiveCasts()
		for i, levels := range k.levels {
			for _, at := range levels {
				repeat(casts[i], at)
			}
		}
		for i := range casts {
			casts[i].Columns[0].Flags = slices.Repeat([]metadata.Flag{metadata.Acceptable}, casts[i].Levels())
		}
		path := writeCasts(t, common(), casts)
		r := conform(t, path)
		if d := r.s.Dim("level"); d < 0 || r.s.Dims[d].Len != k.width || r.s.Dim("pres") >= 0 || r.s.Dim("obs") >= 0 {
			t.Fatalf("%s: dimensions %v, want level %d", k.what, r.s.Dims, k.width)
		}
		for _, n := range []string{"temp", "psal", "sigma0", "oxy", "pres"} {
			valuesBack(t, r, casts, n, n)
		}
		// Places that several casts fill hold one pressure.
		pres := r.number["pres"]
		for j := range k.width {
			var here []float64
			for i := range casts {
				if p := pres[i*k.width+j]; p != fillValue && !slices.Contains(here, p) {
					here = append(here, p)
				}
			}
			if len(here) != 1 {
				t.Fatalf("%s: place %d holds %v dbar", k.what, j, here)
			}
		}
		if v := r.v(t, "temp"); v.Text("coordinates") != "time lat lon pres station cast" ||
			v.Text("cell_methods") != "sea_water_pressure: mean (bin average)" {
			t.Errorf("%s: temp %v", k.what, v.Attrs)
		}
		if v := r.v(t, "pres"); v.Text("bounds") != "" ||
			v.Text("comment") != "bins 2 dbar wide, labelled at the centre" ||
			v.Text("ancillary_variables") != "pres_flag_woce" {
			t.Errorf("%s: pres %v", k.what, v.Attrs)
		}
		opened(t, `
d = ds[0]
assert d.temp.dims == ("profile", "level") and d.pres.dims == ("profile", "level") and "pres" in d.temp.coords, d
assert bool(d.pres.isnull()[3, -1]) and abs(float(d.temp.where(d.pres == 12.0).max()) - 20) < 1
`, path)
	}
}

// The finding on the layout names the casts that are the cause, and there is none for casts on one axis.
func TestLayoutIsExplained(t *testing.T) {
	if f := Layout(fiveCasts()); f != nil {
		t.Errorf("casts on one axis: %v", f)
	}
	for _, k := range []struct {
		change func([]*section.Cast)
		want   []string
		count  int
	}{
		{func(c []*section.Cast) { repeat(c[1], 40) }, []string{"cast 2/1 (84 dbar twice)", "by cast and level"}, 1},
		{func(c []*section.Cast) {
			for i := range c {
				repeat(c[i], 3)
			}
			c[0].Source.Name = "a.csv"
		}, []string{"1/1 (8 dbar twice), 2/1 (10 dbar twice)", "Nörd/1"}, 5},
		{func(c []*section.Cast) { slices.Reverse(c[4].PressureDbar) },
			[]string{"cast Nörd/1 (1398 dbar after 1400 dbar)", "one after the other"}, 1},
		{func(c []*section.Cast) { c[2].PressureDbar[5] = nan; repeat(c[1], 1) },
			[]string{"cast 3A/2 (no pressure at level 6)"}, 1},
		{func(c []*section.Cast) {
			for i := range c {
				for k := range c[i].PressureDbar {
					c[i].PressureDbar[k] += 0.1 * math.Mod(float64(k*(i+1)), 7)
				}
			}
		}, []string{"share too few pressures"}, 0},
	} {
		casts := fiveCasts()
		k.change(casts)
		f := Layout(casts)
		if f == nil {
			t.Errorf("nothing for %v", k.want)
			continue
		}
		for _, w := range k.want {
			if !strings.Contains(f.Message, w) || f.Count != k.count || f.Severity != metadata.Note || f.Remedy == "" {
				t.Errorf("%+v: want %q, %d", *f, w, k.count)
			}
		}
	}
}
