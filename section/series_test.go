package section

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
)

// at returns a cast of a station at a time in hours.
func castAt(station, number string, hours, lon float64, role Role) *Cast {
	c := newCast(station, number, lon, 60, 10, 20)
	c.Role, c.Time = role, time.Date(2026, 3, 11, 0, 0, 0, 0, time.UTC).Add(time.Duration(hours*float64(time.Hour)))
	return c
}

func TestBuildSeries(t *testing.T) {
	casts := []*Cast{castAt("7", "3", 2, 179.999, Yoyo), castAt("7", "1", 0, -179.999, Primary),
		castAt("7", "2", 1, 180, Repeat), castAt("7", "4", 1, 180, Yoyo),
		castAt("7", "5", 3, 180, Other),
		castAt("7", "6", 4, 179.8, Yoyo), castAt("8", "1", 5, 20, Yoyo)}
	casts[3].Number = "4"
	untimed := castAt("7", "9", 9, 180, Yoyo)
	untimed.DateOnly = true
	casts = append(casts, untimed)
	s, found, err := BuildSeries(casts, SeriesOptions{Name: "tide", Stations: list(t, "7, 7/1")})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, c := range s.Casts {
		got = append(got, c.Number)
	}
	if want := []string{"1", "2", "3", "6"}; !slices.Equal(got, want) {
		t.Errorf("casts %v, want %v: in the order of time, one at a time, none of another role, none without hour",
			got,
			want)
	}
	var said []string
	for _, f := range found {
		said = append(said, f.Check+" "+f.Cast[len(f.Cast)-1:])
	}
	want := []string{"series.time 4", "series.role 5", "series.time 9", "series.position 6"}
	if !slices.Equal(said, want) {
		t.Errorf("findings %v, want %v", said, want)
	}
	if !strings.Contains(found[3].Message, "8.4 km") { // 0.15 degrees of 55.80 km at 60 N (WGS84)
		t.Errorf("distance: %s", found[3].Message)
	}
	if h := s.Hours(); !slices.Equal(h, []float64{0, 1, 2, 4}) {
		t.Errorf("hours %v", h)
	}
	near := orb.Point{-180, 60}
	s, found, err = BuildSeries(casts, SeriesOptions{Name: "tide", Stations: list(t, "all"), Near: &near, WithinKm: 1})
	if err != nil || len(s.Casts) != 3 || len(found) != 3 {
		t.Errorf("near a position: %v %v %v", s, found, err)
	}
	if s, _, err = BuildSeries(casts, SeriesOptions{Stations: list(t, "7/5, 7/1")}); err != nil || len(s.Casts) != 2 {
		t.Errorf("a cast named by its number enters: %v %v", s, err)
	}
	if _, _, err = BuildSeries(casts, SeriesOptions{Stations: list(t, "8")}); !errors.Is(err, ErrShortSeries) {
		t.Errorf("one cast: %v", err)
	}
	if _, _, err = BuildSeries(casts, SeriesOptions{Stations: list(t, "17")}); err == nil ||
		!strings.Contains(err.Error(), "station 17 not found") {
		t.Errorf("no such station: %v", err)
	}
	if _, _, err = BuildSeries(casts, SeriesOptions{Stations: list(t, "17"), Underway: true}); !errors.Is(err,
		ErrShortSeries) {
		t.Errorf("still to come: %v", err)
	}
}

func TestUsualSeries(t *testing.T) {
	var casts []*Cast
	add := func(expocode, station string, n int, role Role) {
		for i := range n {
			c := castAt(station, string(rune('1'+i)), float64(i), 10, role)
			c.Expocode = expocode
			casts = append(casts, c)
		}
	}
	add("ZZAA20260101", "7", 3, Yoyo)
	add("ZZAA20260101", "8", 2, Yoyo)
	add("ZZAA20260101", "9", 4, Repeat)
	add("ZZAA20260101", "5 b", 3, Yoyo)
	add("ZZAA20260101", "5_b", 3, Yoyo)
	add("ZZBB20260202", "7", 5, Yoyo)
	var got []string
	for _, o := range UsualSeries(casts) {
		s, _, err := BuildSeries(casts, o)
		if err != nil {
			t.Fatal(o.Name, err)
		}
		got = append(got, o.Name+" "+string(rune('0'+len(s.Casts))))
	}
	want := []string{"ZZAA20260101_7 3", "ZZAA20260101_5_b 3", "ZZAA20260101_5_b_2 3", "ZZBB20260202_7 5"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
