package chart

import (
	"testing"

	"github.com/castwright/castwright/export/figure/page"
)

// Longitude along a meridian would be an axis without numbers.
func TestSecondAxisHasNumbers(t *testing.T) {
	for _, c := range []struct {
		lon, lat    [2]float64
		asked, want string
	}{
		{[2]float64{4, 4}, [2]float64{60, 61}, "longitude", "latitude"}, {[2]float64{4, 6}, [2]float64{0, 0},
			"latitude", "longitude"},
		{[2]float64{4, 4.2}, [2]float64{60, 61}, "longitude", "longitude"}, {[2]float64{4, 6}, [2]float64{60, 60.5},
			"", "longitude"},
	} {
		fr := Frame{L: 20, R: 220, T: 0, B: 50, X0: 0, X1: 100}
		s := page.New(240, 100)
		got := fr.secondAxis(s, &Track{Km: []float64{0, 100}, Lon: c.lon[:], Lat: c.lat[:]}, c.asked, 60, SmallType)
		if got != c.want || len(s.Words) < 2 {
			t.Errorf("%v: %s with %v", c, got, s.Words)
		}
	}
}

func TestWords(t *testing.T) {
	for in, want := range map[string]string{"umol kg-1": "µmol kg⁻¹", "degC": "°C", "1": "", "m3 s-1": "m³ s⁻¹",
		"kg m-3": "kg m⁻³", "percent": "%", "S m-1": "S m⁻¹", "m2 s-2": "m² s⁻²"} {
		if got := PlainSpaces(UnitText(in)); got != want {
			t.Errorf("%q is set as %q, not %q", in, got, want)
		}
	}
	for in, want := range map[float64]string{-180: "180°", 180: "180°", 190: "170.0°W", -12.5: "12.5°W", 0: "0°",
		540: "180°", 12: "12.0°E"} {
		if got := LonText(in, 1); got != want {
			t.Errorf("longitude %v is %q, not %q", in, got, want)
		}
	}
}

// Where neither coordinate runs one way along the track, as near a pole, the axis has positions of stations;
// where one turns, the other is taken, even where it was not asked for.
func TestSecondAxisOfATrackThatTurns(t *testing.T) {
	fr := &Frame{L: 20, R: 420, T: 0, B: 50, X0: 0, X1: 100}
	turning := &Track{Km: []float64{0, 25, 50, 75, 100}, Lat: []float64{88, 89, 89.6, 89, 88},
		Lon: []float64{0, 20, 90, 60, 20}}
	s := page.New(460, 100)
	if got := fr.secondAxis(s, turning, "", 60, MainType); got != "latitude and longitude of stations" ||
		!s.Has("88.0°N 0°") ||
		!s.Has("89.6°N 90°E") || len(s.Words) < 3 {
		t.Errorf("%s: %v", got, s.Words)
	}
	turning.Lon = []float64{0, 20, 90, 150, 200}
	if got := fr.secondAxis(page.New(460, 100), turning, "latitude", 60, MainType); got != "longitude" {
		t.Errorf("latitude turns, but the axis has %s", got)
	}
	steady := &Track{Km: turning.Km, Lat: []float64{60, 60.5, 60.49, 61, 62}, Lon: []float64{4, 4, 4, 4, 4}}
	if got := fr.secondAxis(page.New(460, 100), steady, "", 60, MainType); got != "latitude" {
		t.Errorf("a small turn gives %s", got)
	}
}
