package figure

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Bottles are shown beside the downcast, and beside the closures only where no level of the downcast matches; each
// system has the line of its own fit, over the pressures of its samples.
func TestBottleComparisonShowsTheFits(t *testing.T) {
	s, _ := invent(wideLayout)
	f := bottlesBesideCasts(s)
	o, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	if len(o.rows) != 2 || len(o.systems) != 2 {
		t.Fatalf("%d rows and %d systems, want 2 of each", len(o.rows), len(o.systems))
	}
	oxygen := &o.rows[1]
	for _, l := range oxygen.lines {
		// 2.2 at 2000 dbar, 1.1 per 1000 dbar
		if got, want := l.yTo, 2.2+1.1*(l.to-2000)/1000; math.Abs(got-want) > 1e-12 || l.from != 1000 {
			t.Errorf("line of system %d from %g to %g dbar ends at %g, want %g", l.system, l.from, l.to, got, want)
		}
	}
	if len(o.rows[0].lines) != 2 { // not that of the whole cruise
		t.Errorf("%d lines of salinity, want one of each system", len(o.rows[0].lines))
	}
	for i := range f.Rows {
		f.Rows[i].Closure, f.Rows[i].Down = f.Rows[i].Value-7, math.NaN()
	}
	f.Fits = nil
	if o, err = f.prepare(); err != nil || o.rows[0].points[0].y != 7 {
		t.Errorf("without a downcast the differences are %v (%v), want 7", o.rows[0].points[0], err)
	}
	if _, err := (&SensorPairs{Name: "none"}).prepare(); !errors.Is(err, ErrNoValues) {
		t.Errorf("no pairs: %v", err)
	}
}

// Captions give limits, and say which sensor agrees with bottles.
func TestCaptionOfSensorPairs(t *testing.T) {
	s, _ := invent(wideLayout)
	c, err := captionOf(sensorPairs(s), aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Practical salinity: 28 differences; limit ±0.0030\n", "Casts: 28\n",
		"Which sensor agrees with bottles: psal agrees better"} {
		if !strings.Contains(c, want) {
			t.Errorf("caption lacks %q:\n%s", want, c)
		}
	}
}
