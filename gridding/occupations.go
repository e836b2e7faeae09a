package gridding

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// ErrNoCommonPlace is the error for two occupations of which no station can be compared.
var ErrNoCommonPlace = errors.New("the two occupations have no place in common")

// An Occupation is a section with what is needed to compare it with another of the same line.
type Occupation struct {
	Section *section.Section
	Grid    *Grid // of the section, with asal and ctemp; used where the older section has no station; nil: none
	// accuracy of each cast; common to the cruise or not, since one cast of each is compared
	Accuracy      func(*section.Cast) (saGKg, ctK float64)
	NotCalibrated bool // values flagged 1 are usable
}

// Place is where the newer station was compared.
type Place struct {
	Cast        *section.Cast // of the newer section
	With        *section.Cast // station of the older section; nil where its grid was used
	DistanceKm  float64       // along the older section
	OffTrackKm  float64       // from the newer station to the track of the older section
	SeparatedKm float64       // from the station of the older section; NaN where the grid was used
	Levels      []Level
}

// A Changed is the change from one occupation of a line to another.
type Changed struct {
	Places   []Place // in the order of the newer section
	LeftOut  []*section.Cast
	WithinKm float64 // stations nearer than this are compared with each other
}

// FarOffTrackKm is the distance from the older track from which a caution is due.
const FarOffTrackKm = 20

// Occupations compares the newer occupation of a line with the older one at the stations of the newer: with the station
// of the older section that is within 5 km, or a quarter of its median spacing, else with its grid at the foot of the
// station on the track, inside the mask. Stations beyond the ends of the older section are left out.
func Occupations(old, now Occupation, pDbar []float64) (*Changed, error) {
	if len(old.Section.Casts) < 2 {
		return nil, fmt.Errorf("%w: the older section has %d casts", ErrNoCommonPlace, len(old.Section.Casts))
	}
	out := &Changed{WithinKm: math.Max(5, medianStep(old.Section.DistanceKm)/4)}
	for _, k := range now.Section.Casts {
		next, ok := profileOf(k, &now)
		if !ok {
			out.LeftOut = append(out.LeftOut, k)
			continue
		}
		x := Place{Cast: k, SeparatedKm: math.NaN()}
		x.DistanceKm, x.OffTrackKm = footOn(old.Section, k.At)
		var before *Profile
		if near, km := nearest(old.Section, k.At); km <= out.WithinKm {
			if before, ok = profileOf(near, &old); ok {
				x.With, x.SeparatedKm = near, km
			}
		}
		if x.With == nil {
			n := len(old.Section.DistanceKm)
			atEnd := x.DistanceKm <= old.Section.DistanceKm[0] || x.DistanceKm >= old.Section.DistanceKm[n-1]
			beyond := atEnd && x.OffTrackKm > out.WithinKm
			if before, ok = profileFromGrid(&old, x.DistanceKm); !ok || beyond {
				out.LeftOut = append(out.LeftOut, k)
				continue
			}
		}
		x.Levels = Compare(before, next, pDbar, nil)
		out.Places = append(out.Places, x)
	}
	if len(out.Places) == 0 {
		return nil, ErrNoCommonPlace
	}
	return out, nil
}

func medianStep(km []float64) float64 {
	steps := make([]float64, 0, len(km))
	for i := 1; i < len(km); i++ {
		steps = append(steps, km[i]-km[i-1])
	}
	slices.Sort(steps)
	n := len(steps)
	if n == 0 {
		return 0
	}
	return (steps[(n-1)/2] + steps[n/2]) / 2
}

func nearest(s *section.Section, at orb.Point) (cast *section.Cast, km float64) {
	km = math.Inf(1)
	for _, k := range s.Casts {
		if m, _, _ := section.Geodesic(at, k.At); m/1000 < km {
			cast, km = k, m/1000
		}
	}
	return cast, km
}

// footOn returns the distance along a section of the point of its track that is nearest to a place, and how far away
// that is.
func footOn(s *section.Section, at orb.Point) (alongKm, offKm float64) {
	offKm = math.Inf(1)
	for i := 1; i < len(s.Casts); i++ {
		a, b := s.Casts[i-1].At, s.Casts[i].At
		away := func(share float64) float64 {
			m, _, _ := section.Geodesic(at, alongTrack(a, b, share))
			return m / 1000
		}
		lo, hi := 0.0, 1.0
		for range 60 { // the distance to a leg has one minimum
			x, y := lo+(hi-lo)/3, hi-(hi-lo)/3
			if away(x) <= away(y) {
				hi = y
			} else {
				lo = x
			}
		}
		share := (lo + hi) / 2
		for _, end := range []float64{0, 1} {
			if away(end) <= away(share) {
				share = end
			}
		}
		if km := away(share); km < offKm {
			offKm, alongKm = km, s.DistanceKm[i-1]+share*(s.DistanceKm[i]-s.DistanceKm[i-1])
		}
	}
	return alongKm, offKm
}

// profileOf returns the usable levels of a cast.
func profileOf(k *section.Cast, o *Occupation) (*Profile, bool) {
	sa, ct := k.Column("asal"), k.Column("ctemp")
	if sa == nil || ct == nil {
		return nil, false
	}
	x := &Profile{}
	x.SAErr, x.CTErr = o.Accuracy(k)
	for _, i := range k.UsableLevels(nil, o.NotCalibrated, "asal", "ctemp") {
		x.PressureDbar = append(x.PressureDbar, k.PressureDbar[i])
		x.SA, x.CT = append(x.SA, sa.Values[i]), append(x.CT, ct.Values[i])
	}
	return x, len(x.PressureDbar) > 1
}

// profileFromGrid returns the gridded older section at a distance, straight between the two columns around it. Its
// errors are the greatest error of the map over the levels with the accuracy of a cast.
func profileFromGrid(o *Occupation, km float64) (*Profile, bool) {
	g := o.Grid
	if g == nil || len(g.Axes) != 2 {
		return nil, false
	}
	sa, ct := g.field("asal"), g.field("ctemp")
	axis, levels := g.Axes[1].Values, g.Axes[0].Values
	n := len(axis)
	if sa == nil || ct == nil || n < 2 || km < axis[0] || km > axis[n-1] {
		return nil, false
	}
	b, _ := slices.BinarySearch(axis, km)
	b = min(max(b, 1), n-1)
	share := (km - axis[b-1]) / (axis[b] - axis[b-1])
	at := func(f *Field, k int) float64 {
		if f == nil {
			return 0
		}
		return f.Data[k*n+b-1] + share*(f.Data[k*n+b]-f.Data[k*n+b-1])
	}
	x := &Profile{}
	saErr, ctErr := 0.0, 0.0
	for k, p := range levels {
		if s, t := at(sa, k), at(ct, k); !math.IsNaN(s) && !math.IsNaN(t) {
			x.PressureDbar, x.SA, x.CT = append(x.PressureDbar, p), append(x.SA, s), append(x.CT, t)
			if e := at(g.field("asal_err"), k); e > saErr {
				saErr = e
			}
			if e := at(g.field("ctemp_err"), k); e > ctErr {
				ctErr = e
			}
		}
	}
	x.SAErr, x.CTErr = o.Accuracy(o.Section.Casts[0])
	x.SAErr, x.CTErr = math.Hypot(x.SAErr, saErr), math.Hypot(x.CTErr, ctErr)
	return x, len(x.PressureDbar) > 1
}
