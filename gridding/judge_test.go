package gridding

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// withOxygen adds oxygen to the casts of a section: one has none, and others lack some levels, so that it is mapped
// apart from temperature and salinity.
func withOxygen(casts []*section.Cast) {
	for k, c := range casts {
		oxy := section.Column{Variable: variable("oxy"), Decimals: -1}
		for i, p := range c.PressureDbar {
			v := 200 + 40*math.Sin(p/300+c.At[0]) + 5*c.At[1]
			if k == 3 || (i+k)%97 == 0 {
				v = math.NaN()
			}
			oxy.Values = append(oxy.Values, v)
		}
		c.Columns = append(c.Columns, oxy)
	}
}

// needMap are the checks whose findings come from mapped values.
var needMap = []string{"grid.inversion", "grid.noise"}

// compareJudged compares the findings of Judge with those of the map that need none.
func compareJudged(t *testing.T, mapped, judged []metadata.Finding, errMapped, errJudged error) {
	t.Helper()
	if fmt.Sprint(errMapped) != fmt.Sprint(errJudged) {
		t.Errorf("error %v, want %v", errJudged, errMapped)
	}
	mapped = slices.DeleteFunc(slices.Clone(mapped), func(f metadata.Finding) bool {
		return slices.Contains(needMap, f.Check)
	})
	if a, b := fmt.Sprint(mapped), fmt.Sprint(judged); a != b {
		t.Errorf("found %s\nwant %s", b, a)
	}
}

// Judge finds what Map finds, but for what it finds in mapped values, whatever the method.
func TestJudgeFindsWhatMapFinds(t *testing.T) {
	sec := newOcean(3, false).sample(3, 10, false)
	withOxygen(sec.Casts)
	for _, m := range Methods() {
		t.Run("section "+string(m), func(t *testing.T) {
			o := Options{Method: m, Variables: []string{"ctemp", "asal", "oxy", "chl"}, StepDbar: 50, Workers: 2}
			_, mapped, err := Map(sec, o)
			judged, errJudged := Judge(sec, o)
			if len(judged) < 4 {
				t.Errorf("%d findings", len(judged))
			}
			compareJudged(t, mapped, judged, err, errJudged)
		})
	}
	casts := scattered(14, orb.Point{179, -30}, 300, 5)
	withOxygen(casts)
	area := AnyArea()
	area.Levels = []float64{10, 100, 300}
	for _, m := range Methods() {
		t.Run("field "+string(m), func(t *testing.T) {
			o := Options{Method: m, Workers: 2}
			_, mapped, err := MapField("x", casts, area, o)
			judged, errJudged := JudgeField("x", casts, area, o)
			if m != Density && len(judged) < 3 {
				t.Errorf("%d findings", len(judged))
			}
			compareJudged(t, mapped, judged, err, errJudged)
		})
	}
}

// Judge fails where Map fails.
func TestJudgeFailsWhereMapFails(t *testing.T) {
	sec := newOcean(3, false).sample(3, 3, false)
	for want, o := range map[error]Options{ErrUnknown: {Method: "other"}, ErrTooLarge: {StepKm: 1e-9},
		ErrTooFewCasts: {Variables: []string{"oxy"}}} {
		if _, err := Judge(sec, o); !errors.Is(err, want) {
			t.Errorf("%v, want %v", err, want)
		}
	}
	area := AnyArea()
	area.Levels = []float64{10, 10}
	if _, err := JudgeField("x", sec.Casts, area, Options{}); !errors.Is(err, ErrUnknown) {
		t.Errorf("%v", err)
	}
}
