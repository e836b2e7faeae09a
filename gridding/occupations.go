package gridding

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
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
	// further variables to compare, where the reference has them too; only read of the newer occupation
	Others []metadata.Variable
	// standard error of a value of a further variable, NaN where it is not known; nil: of none
	OtherAccuracy func(k *section.Cast, variable string, value float64) float64
}

// A Reference is what a section is compared with: an Occupation or a Climatology.
type Reference interface {
	// before returns the profile of the reference at a cast and fills what the place says of it; nil: there is none
	before(k *section.Cast, x *Place, others []metadata.Variable) *Profile
	// has reports whether it has a further variable
	has(variable string) bool
	// check reports what makes every comparison impossible
	check() error
}

// Place is where the newer station was compared.
type Place struct {
	Cast        *section.Cast // of the newer section
	AlongKm     float64       // of it, along the newer section
	With        *section.Cast // station of the older section; nil where its grid or a climatology was used
	DistanceKm  float64       // along the older section; NaN with a climatology
	OffTrackKm  float64       // from the newer station to the track of the older section; NaN with a climatology
	SeparatedKm float64       // from the station of the older section; NaN where there is none
	Levels      []Level
}

// A Changed is the change from one occupation of a line to another.
type Changed struct {
	Places   []Place // in the order of the newer section
	LeftOut  []*section.Cast
	Others   []metadata.Variable // further variables that were compared, in the order of Level.Others
	Lacking  []metadata.Variable // those that the reference does not have
	WithinKm float64             // stations nearer than this are compared with each other; NaN with a climatology
}

// FarOffTrackKm is the distance from the older track from which a caution is due.
const FarOffTrackKm = 20

// Change compares a section with a reference at its stations. With an older occupation of the line these are compared
// with the station of the older section that is within 5 km, or a quarter of its median spacing, else with its grid at
// the foot of the station on the track, inside the mask; stations beyond its ends are left out. With a climatology they
// are compared with what lies at their position.
func Change(ref Reference, now Occupation, pDbar []float64) (*Changed, error) {
	if err := ref.check(); err != nil {
		return nil, err
	}
	out := &Changed{WithinKm: math.NaN()}
	if o, ok := ref.(*Occupation); ok {
		out.WithinKm = o.withinKm()
	}
	for _, v := range now.Others {
		if ref.has(v.Name) {
			out.Others = append(out.Others, v)
		} else {
			out.Lacking = append(out.Lacking, v)
		}
	}
	for i, k := range now.Section.Casts {
		nan := math.NaN()
		x := Place{Cast: k, AlongKm: now.Section.DistanceKm[i], DistanceKm: nan, OffTrackKm: nan, SeparatedKm: nan}
		next, ok := profileOf(k, &now, out.Others)
		var before *Profile
		if ok {
			before = ref.before(k, &x, out.Others)
		}
		if before == nil {
			out.LeftOut = append(out.LeftOut, k)
			continue
		}
		x.Levels = Compare(before, next, pDbar, nil)
		out.Places = append(out.Places, x)
	}
	if len(out.Places) == 0 {
		return nil, ErrNoCommonPlace
	}
	return out, nil
}

func (o *Occupation) check() error {
	if n := len(o.Section.Casts); n < 2 {
		return fmt.Errorf("%w: the older section has %d casts", ErrNoCommonPlace, n)
	}
	return nil
}

// withinKm is how near stations are compared with each other.
func (o *Occupation) withinKm() float64 { return math.Max(5, medianStep(o.Section.DistanceKm)/4) }

func (o *Occupation) has(variable string) bool {
	return o.Grid != nil && o.Grid.field(variable) != nil ||
		slices.ContainsFunc(o.Section.Casts, func(k *section.Cast) bool { return k.Column(variable) != nil })
}

func (o *Occupation) before(k *section.Cast, x *Place, others []metadata.Variable) *Profile {
	x.DistanceKm, x.OffTrackKm = footOn(o.Section, k.At)
	within := o.withinKm()
	if near, km := nearest(o.Section, k.At); km <= within {
		if p, ok := profileOf(near, o, others); ok {
			x.With, x.SeparatedKm = near, km
			return p
		}
	}
	n := len(o.Section.DistanceKm)
	atEnd := x.DistanceKm <= o.Section.DistanceKm[0] || x.DistanceKm >= o.Section.DistanceKm[n-1]
	p, ok := profileFromGrid(o, x.DistanceKm, others)
	if !ok || atEnd && x.OffTrackKm > within {
		return nil
	}
	return p
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
func profileOf(k *section.Cast, o *Occupation, others []metadata.Variable) (*Profile, bool) {
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
	x.Gaps = section.Gaps(x.PressureDbar, nil)
	for i := range others {
		x.Others = append(x.Others, property(k, o, others[i].Name))
	}
	return x, len(x.PressureDbar) > 1
}

// profileFromGrid returns the gridded older section at a distance, straight between the two columns around it, with the
// error of the map at each level besides the accuracy of a cast; of a further variable the error of the map only.
func profileFromGrid(o *Occupation, km float64, others []metadata.Variable) (*Profile, bool) {
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
	saErr, ctErr := g.field("asal_err"), g.field("ctemp_err")
	for k, p := range levels {
		if s, t := at(sa, k), at(ct, k); !math.IsNaN(s) && !math.IsNaN(t) {
			x.PressureDbar, x.SA, x.CT = append(x.PressureDbar, p), append(x.SA, s), append(x.CT, t)
			x.SALevelErr = append(x.SALevelErr, zeroForNaN(at(saErr, k)))
			x.CTLevelErr = append(x.CTLevelErr, zeroForNaN(at(ctErr, k)))
		}
	}
	x.SAErr, x.CTErr = o.Accuracy(o.Section.Casts[0])
	for i := range others {
		y := Property{Name: others[i].Name}
		if f, e := g.field(y.Name), g.field(y.Name+"_err"); f != nil {
			for k, p := range levels {
				if v := at(f, k); !math.IsNaN(v) {
					y.PressureDbar, y.Values = append(y.PressureDbar, p), append(y.Values, v)
					if e != nil {
						y.Err = append(y.Err, at(e, k))
					}
				}
			}
		}
		x.Others = append(x.Others, y)
	}
	return x, len(x.PressureDbar) > 1
}

func zeroForNaN(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
