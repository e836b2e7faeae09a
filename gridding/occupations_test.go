package gridding

import (
	"errors"
	"math"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// castOf makes a cast of a profile.
func castOf(p *Profile, station string, at orb.Point) *section.Cast {
	flags := make([]metadata.Flag, len(p.SA))
	for i := range flags {
		flags[i] = metadata.Acceptable
	}
	column := func(name string, values []float64) section.Column {
		return section.Column{Variable: variable(name), Values: values, Flags: flags}
	}
	return &section.Cast{Station: station, Number: "1", At: at, BottomM: math.NaN(), PressureDbar: p.PressureDbar,
		Columns: []section.Column{column("pres", p.PressureDbar), column("asal", p.SA), column("ctemp", p.CT)}}
}

// Stations near one of the older section are compared with it; one between two of its stations with its grid, if there
// is one; one beyond is left out; two lines that share no place are refused.
func TestOccupations(t *testing.T) {
	before, after := analytic(10)
	accuracy := func(*section.Cast) (float64, float64) { return 0.002, 0.001 }
	old := Occupation{Accuracy: accuracy, Section: &section.Section{Name: "line",
		Casts: []*section.Cast{castOf(before, "1", orb.Point{-20, 45}), castOf(before, "2", orb.Point{-19, 45}),
			castOf(before, "3", orb.Point{-18, 45})}}}
	old.Section.DistanceKm = section.TrackKm([]orb.Point{{-20, 45}, {-19, 45}, {-18, 45}}, section.WGS84)
	now := Occupation{Accuracy: accuracy, Section: &section.Section{Name: "line",
		Casts: []*section.Cast{castOf(after, "11", orb.Point{-19.98, 45.01}),
			castOf(after, "12", orb.Point{-18.5, 45.2}),
			castOf(after, "13", orb.Point{-17, 45})}}}
	now.Section.DistanceKm = section.TrackKm([]orb.Point{{-19.98, 45.01}, {-18.5, 45.2}, {-17, 45}}, section.WGS84)
	levels := []float64{500, 700, 1000}
	got, err := Change(&old, now, levels)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Places) != 1 || got.Places[0].With != old.Section.Casts[0] || len(got.LeftOut) != 2 ||
		got.Places[0].SeparatedKm > 3 || got.Places[0].SeparatedKm < 1 {
		t.Fatalf("%+v", got)
	}
	if x := got.Places[0].Levels[1]; math.Abs(x.CTDensity-0.1*math.Exp(-x.OldDbar/600)) > 1e-4 {
		t.Errorf("%+v", x)
	}
	g, _, err := Map(old.Section, Options{Variables: []string{"ctemp", "asal"}, StepDbar: 20})
	if err != nil {
		t.Fatal(err)
	}
	old.Grid = g
	got, err = Change(&old, now, levels)
	if err != nil || len(got.Places) != 2 || got.Places[1].With != nil || len(got.LeftOut) != 1 {
		t.Fatalf("%v %+v", err, got)
	}
	// 0.2 degrees of latitude north of the track are 22.2 km; the foot is half-way between stations 2 and 3
	p := got.Places[1]
	if math.Abs(p.OffTrackKm-22.1) > 0.5 || math.Abs(p.DistanceKm-118.2) > 1 {
		t.Errorf("foot at %g km, %g km off the track", p.DistanceKm, p.OffTrackKm)
	}
	if x := p.Levels[1]; math.Abs(x.CTDensity-0.1*math.Exp(-x.OldDbar/600)) > 5e-3 ||
		x.CTErr <= math.Hypot(0.001, 0.001) {
		t.Errorf("%+v", x)
	}
	for _, k := range now.Section.Casts {
		k.At[1] = 10
	}
	old.Grid = nil
	if _, err := Change(&old, now, levels); !errors.Is(err, ErrNoCommonPlace) {
		t.Error(err)
	}
}
