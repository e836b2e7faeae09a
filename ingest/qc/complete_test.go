package qc

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// cast returns a cast without levels, at a place and a time.
func cast(file, expocode, station, number, at string, lon, lat float64) *section.Cast {
	c := &section.Cast{Expocode: expocode, Station: station, Number: number, At: orb.Point{lon, lat},
		BottomM: math.NaN(),
		Source:  metadata.Digest{Name: file}}
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02"} {
		if when, err := time.Parse(layout, at); err == nil {
			c.Time, c.DateOnly = when, layout == "2006-01-02"
		}
	}
	return c
}

// complete runs the checks of lost lines.
func complete(t *testing.T, casts []*section.Cast, binDbar float64) []metadata.Finding {
	t.Helper()
	checks := newChecks(t, nil)
	var found []metadata.Finding
	for _, c := range casts {
		found = append(found, of(checks.Cast(c, Settings{BinDbar: binDbar}), "pressure.step")...)
	}
	return append(append(found, of(checks.Cruise(&Cruise{Casts: casts}).Findings, "pressure.start")...),
		of(checks.Cruise(&Cruise{Casts: casts}).Findings, "bottom")...)
}

// cutOff runs the check of casts that end above the bottom.
func cutOff(t *testing.T, casts []*section.Cast, remark string) []metadata.Finding {
	t.Helper()
	c := &Cruise{Casts: casts, Remark: func(*section.Cast) string { return remark }}
	return of(newChecks(t, nil).Cruise(c).Findings, "bottom")
}

// of returns the findings of one check.
func of(found []metadata.Finding, check string) (out []metadata.Finding) {
	for _, f := range found {
		if f.Check == check {
			out = append(out, f)
		}
	}
	return out
}

// bins returns a cast with the given pressures and water depth.
func bins(station string, bottomM float64, p ...float64) *section.Cast {
	c := cast(station+".csv", "318M20130321", station, "1", "", 10, 60)
	c.BottomM, c.PressureDbar = bottomM, p
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p}}
	return c
}

// every returns pressures from first to last, step apart, without those given.
func every(first, last, step float64, without ...float64) (p []float64) {
next:
	for v := first; v <= last; v += step {
		for _, w := range without {
			if w == v {
				continue next
			}
		}
		p = append(p, v)
	}
	return p
}

// TestMissingBins loses bins inside casts of several widths: each gap is named with its range and number. The
// outcome says check, first and last pressure and number of each finding.
func TestMissingBins(t *testing.T) {
	nan := math.NaN()
	backwards := append(every(22, 40, 2), every(2, 20, 2)...)
	for _, c := range []struct {
		name     string
		p        []float64
		declared float64
		want     string
	}{
		{"whole", every(2, 100, 2), 2, ""},
		{"whole, no width declared", every(2, 100, 2), 0, ""},
		{"one bin", every(2, 100, 2, 50), 2, "pressure.step 50 50 1"},
		{"one bin, no width declared", every(1, 100, 1, 50), 0, "pressure.step 50 50 1"},
		{"a block", every(5, 500, 5, 20, 25, 30, 35), 0, "pressure.step 20 35 4"},
		{"three places", every(2, 100, 2, 10, 50, 52, 90), 2,
			"pressure.step 10 10 1; pressure.step 50 52 2; pressure.step 90 90 1"},
		{"many places", every(2, 100, 2, 10, 20, 30, 40, 42), 2, "pressure.step 10 42 5"},
		{"every second line, width declared", every(2, 100, 4), 2, "pressure.step 2 98 25"},
		{"every second line and a block, width declared", every(2, 100, 4, 50, 54), 2,
			"pressure.step 2 98 23; pressure.step 50 54 2"},
		{"two blocks in the wrong order are all there", backwards, 2, ""},
		{"a level without pressure", append(every(2, 20, 2), nan, 22, 24), 2, ""},
		{"chosen levels have no usual step", []float64{0, 10, 20, 30, 50, 75, 100, 125, 150, 200, 250, 300, 400,
			500}, 0, ""},
		{"uneven pressures as read", []float64{1.98, 4.03, 5.97, 8.01, 9.99, 12.02, 14}, 0, ""},
		{"two levels", []float64{2, 400}, 0, ""},
	} {
		var got []string
		for _, f := range complete(t, []*section.Cast{bins("1", nan, c.p...)}, c.declared) {
			got = append(got, fmt.Sprintf("%s %g %g %d", f.Check, f.First, f.Last, f.Count))
			if f.Cast == "" || f.File == "" || f.Variable != "pres" || f.Advice() == "" ||
				f.Severity != metadata.Warning {
				t.Errorf("%s: %+v", c.name, f)
			}
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: %s, want %s", c.name, s, c.want)
		}
	}
}

// TestDepthAboveDeepestLevel compares DEPTH with the deepest level: 100 dbar is at 99.0 m at 60 degrees north (100
// dbar / 1.0267e3 kg/m3 / 9.8219 m/s2 = 99.2 m for the mean density of the standard ocean, less with pressure).
func TestDepthAboveDeepestLevel(t *testing.T) {
	for depth, want := range map[float64]bool{math.NaN(): false, 120: false, 99: false, 98: true, 50: true} {
		found := complete(t, []*section.Cast{bins("1", depth, every(2, 100, 2)...)}, 2)
		if got := len(found) == 1 && found[0].Check == "bottom" && found[0].First == 100; got != want {
			t.Errorf("%g m: %v", depth, found)
		}
	}
}

// TestStartsDeep loses the first lines of one cast of several.
func TestStartsDeep(t *testing.T) {
	casts := []*section.Cast{bins("1", 500, every(2, 400, 2)...), bins("2", 500, every(4, 400, 2)...), bins("3",
		500, every(2, 400, 2)...),
		bins("4", 500, every(30, 400, 2)...), bins("5", 500, every(10, 400, 2)...)}
	found := complete(t, casts, 2)
	if len(found) != 1 || found[0].Check != "pressure.start" || !strings.Contains(found[0].Cast, "_00004_") ||
		found[0].First != 4 || found[0].Last != 30 {
		t.Error(found)
	}
	casts = []*section.Cast{bins("1", 500, every(2, 400, 2)...), bins("2", 500, every(2, 400, 2)...), bins("3", 500,
		every(4, 400, 2)...), bins("4", 500, every(2, 400, 2)...)}
	if found = complete(t, casts, 2); len(found) != 1 || !strings.Contains(found[0].Cast, "_00003_") ||
		found[0].Last != 4 {
		t.Errorf("one line less than all others: %v", found)
	}
}

// TestCutOff ends one cast of a section early: it is a warning when its neighbours reach the bottom, a note when
// the log says why, and nothing when the line is not to the bottom, the cast has another role, or the water is
// shallow.
func TestCutOff(t *testing.T) {
	line := func(last ...float64) (casts []*section.Cast) {
		for i, p := range last {
			casts = append(casts, bins(fmt.Sprint(i+1), 1000, every(10, p, 10)...))
		}
		return casts
	}
	shallow := func(last ...float64) (casts []*section.Cast) {
		for i, p := range last {
			casts = append(casts, bins(fmt.Sprint(i+1), 21, every(1, p, 1)...))
		}
		return casts
	}
	for _, c := range []struct {
		name   string
		casts  []*section.Cast
		remark string
		want   string
	}{
		{"all to the bottom", line(990, 980, 990, 1000), "", ""},
		{"the lower half of one", line(990, 980, 500, 990, 1000), "", "3 warning 500"},
		{"the lower half of the first", line(500, 980, 990), "", "1 warning 500"},
		{"the lower half of the last of two", line(990, 500), "", "2 warning 500"},
		{"two of six", line(990, 990, 500, 400, 990, 990), "", "3 warning 500; 4 warning 400"},
		{"the log says why", line(990, 980, 500, 990), "winch stopped", "3 note 500"},
		{"none to the bottom", line(600, 500, 600, 600), "", ""},
		{"a few bins less", line(990, 980, 850, 990), "", ""},
		{"in shallow water", shallow(16, 18, 8, 17), "", "3 warning 8"},
		{"in shallow water, all there", shallow(16, 18, 12, 17), "", ""},
	} {
		var got []string
		for _, f := range cutOff(t, c.casts, c.remark) {
			got = append(got, fmt.Sprintf("%s %v %g", strings.TrimSuffix(f.File, ".csv"), f.Severity, f.First))
			if f.Check != "bottom" || (f.Advice() == "") != (c.remark != "") {
				t.Errorf("%s: %+v", c.name, f)
			}
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: %s, want %s", c.name, s, c.want)
		}
	}
	other := line(990, 980, 500, 990)
	other[2].Role = section.Aborted
	unknown := line(990, 980, 500, 990)
	unknown[2].BottomM = math.NaN()
	for _, casts := range [][]*section.Cast{other, unknown} {
		if f := cutOff(t, casts, ""); len(f) > 0 {
			t.Error(f)
		}
	}
}

// TestTimesAndSpeeds gives casts times that run backwards, that no ship can keep, and that lie in the future of a
// clock.
func TestTimesAndSpeeds(t *testing.T) {
	const e = "318M20130321"
	now := time.Date(2013, 3, 25, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name  string
		casts []*section.Cast
		want  string
	}{
		{"time backwards", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-22 10:00", 10, 50),
			cast("c.csv", e, "10", "1", "2013-03-24 10:00", 10, 50), cast("b.csv", e, "2", "1", "2013-03-21 10:00",
				10, 50),
			cast("d.csv", e, "2", "2", "2013-03-25 10:00", 10, 50), cast("t.csv", e, "T1", "1", "2013-03-20 10:00",
				10, 50),
			cast("o.csv", e, "11", "1", "2013-03-23", 10, 50)},
			"b.csv time time goes backwards: station 1 cast 1 (a.csv) at 2013-03-22 10:00, station 2 cast 1 " +
				"(b.csv) at 2013-03-21 10:00\n" +
				"o.csv time time goes backwards: station 10 cast 1 (c.csv) at 2013-03-24 10:00, station 11 cast " +
				"1 (o.csv) at 2013-03-23\n"},
		// One degree of latitude is 60 nautical miles, 111.3 km on the sphere used, in two hours.
		{"speed", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-22 10:00", 0, 50), cast("b.csv", e, "2", "1",
			"2013-03-22 12:00", 0, 51),
			cast("c.csv", e, "3", "1", "2013-03-22 12:00", 0, 51)},
			"b.csv speed 30 knots over ground: 111.3 km in 2h0m from station 1 cast 1 (a.csv) to station 2 cast " +
				"1 (b.csv)\n"},
		{"slow enough", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-22 10:00", 0, 50), cast("b.csv", e, "2",
			"1", "2013-03-22 13:05", 0, 51)}, ""},
		{"the same minute", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-22 10:00", 0, 50), cast("b.csv", e,
			"2", "1", "2013-03-22 10:00", 0, 51)},
			"b.csv speed 3606 knots over ground: 111.3 km in less than a minute from station 1 cast 1 (a.csv) to " +
				"station 2 cast 1 (b.csv)\n"},
		{"two ships", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-22 10:00", 0, 50),
			cast("b.csv", "33RO20131223", "2", "1", "2013-03-22 12:00", 0, -50)}, ""},
		{"within a day of now", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-26 11:00", 0, 0)}, ""},
		{"in the future", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-26 13:00", 0, 0)},
			"a.csv time the cast is dated 2013-03-26 13:00, the clock says 2013-03-25 12:00\n"},
	} {
		got := ""
		for _, f := range newChecks(t, nil).Cruise(&Cruise{Casts: c.casts, Now: now}).Findings {
			got += f.File + " " + f.Check + " " + f.Message + "\n"
		}
		if got != c.want {
			t.Errorf("%s:\n%s", c.name, got)
		}
	}
}
