package section

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// A Section is casts in drawing order; DistanceKm runs along the track from Casts[0]. A closed line ends with the cast
// that it begins with.
type Section struct {
	Name       string
	Casts      []*Cast
	DistanceKm []float64
	Method     Method  // how distances were computed
	Places     []Place // one for each of Casts: what else was taken there
	StillOpen  bool    // a closed line of which stations are still to come, so that it does not come back yet
}

// A Pair is two neighbouring stations of a section. Midpoint and AzimuthDeg (true bearing from A to B, at the midpoint)
// are geodesic.
type Pair struct {
	A, B       int // indices into Section.Casts
	DistanceKm float64
	Midpoint   orb.Point
	AzimuthDeg float64
	TooClose   bool // nearer than TooCloseKm: no velocity
}

// A Place is one station position of a section: the casts that competed for it (closer together than TooCloseKm), and
// how one was made of them.
type Place struct {
	Rule   Repeats // PrimaryOnly when there was one cast
	Chosen *Cast   // the cast in the section; for mean a new cast
	Others []*Cast
	Mean   *Mean // with rule mean: numbers and spread by column and level
}

// BuildOptions are the settings of Build.
type BuildOptions struct {
	Name                string
	Stations            StationList // in the order of the line
	Repeats             Repeats     // which of several casts at one place
	Distance            Method
	NotCalibratedUsable bool // values flagged 1 (not calibrated) count
	Underway            bool // stations of the list that no cast has are still to come: they are left out
}

// Repeats is a rule that chooses among several casts at one place. All but the zero value let casts of role repeat
// compete.
type Repeats string

// Rules for repeats, as the cruise file names them.
const (
	PrimaryOnly   Repeats = "" // the deepest of the primary casts
	Deepest       Repeats = "deepest"
	First         Repeats = "first"
	Last          Repeats = "last"
	NearestInTime Repeats = "nearest_in_time"
	MeanOf        Repeats = "mean"
)

// Build makes a section of the casts that opt.Stations names, in that order. Casts of role primary (or unstated) enter;
// casts of role repeat too when opt.Repeats is set; a cast that the list chooses by number (7/2) enters whatever its
// role, unless that is other. Of casts that follow each other nearer than 2 km one is kept or their mean made
// (science.md section 8, "Repeats"): the others are in Places and in the findings. A list that ends with its first
// station makes a closed line, whose first cast comes again at its end. The error says which stations were not found,
// or that fewer than one cast is left.
func Build(casts []*Cast, opt BuildOptions) (*Section, []metadata.Finding, error) {
	name, list := opt.Name, opt.Stations
	if opt.Underway {
		list = list.taken(casts)
	}
	picked, err := Select(casts, list)
	if err != nil {
		return nil, nil, err
	}
	if mixed := MixedLegs(casts, list); len(mixed) > 0 { // of "all": as a line it would go to and fro between the legs
		return nil, nil, mixed[0]
	}
	var findings []metadata.Finding
	var entered []*Cast
	for _, c := range picked {
		switch {
		case c.Role == Other:
			findings = append(findings, metadata.Finding{Severity: metadata.Note, Check: "section.role", Cast: c.ID(),
				Message: fmt.Sprintf("cast %s of station %s has the role other and is left out of section %s", c.Number,
					c.Station, name), Remedy: "to use it, give it another role"})
		case list.chooses(c), c.Role == Primary, c.Role == Unstated, c.Role == Repeat && opt.Repeats != "":
			entered = append(entered, c)
		default:
			findings = append(findings, metadata.Finding{Severity: metadata.Note, Check: "section.role", Cast: c.ID(),
				Message: fmt.Sprintf("cast %s of station %s has the role %s and is left out of section %s", c.Number,
					c.Station, c.Role, name),
				Remedy: fmt.Sprintf("to use it, name the cast in the stations of the section: %s",
					metadata.CastText(c.Station, c.Number))})
		}
	}
	if len(entered) == 0 {
		return nil, findings, fmt.Errorf("section %s: none of the %d casts of stations %s has role primary", name,
			len(picked), list.String())
	}
	s := &Section{Name: name, Method: opt.Distance}
	groups, closed := closing(entered, opt.Distance)
	if closed && opt.Underway && len(opt.Stations.NotTaken(casts)) > 0 {
		closed, s.StillOpen = false, true
	}
	if closed && len(groups) < fewestOfClosed {
		return nil, findings, fmt.Errorf("the line returns to station %s after %d stations: %w", groups[0][0].Station,
			len(groups), ErrNothingEnclosed)
	}
	for i, g := range groups {
		place := choose(groups, i, closed, opt)
		if len(g) > 1 {
			findings = append(findings, placeFinding(name, &place))
		}
		s.Places = append(s.Places, place)
		s.Casts = append(s.Casts, place.Chosen)
	}
	if closed {
		s.Places, s.Casts = append(s.Places, s.Places[0]), append(s.Casts, s.Casts[0])
	}
	s.DistanceKm = TrackKm(s.points(), opt.Distance)
	if f := s.nearlyClosed(); f != nil {
		findings = append(findings, *f)
	}
	for _, p := range s.Pairs() {
		if p.TooClose {
			findings = append(findings, metadata.Finding{Severity: metadata.Warning, Check: "section.too_close",
				Cast: s.Casts[p.B].ID(),
				Message: fmt.Sprintf("stations %s and %s of section %s are %.2f km apart: no velocity between them",
					s.Casts[p.A].Station, s.Casts[p.B].Station, name, p.DistanceKm),
				Remedy: "leave one of them out of the section's stations"})
		}
	}
	return s, findings, nil
}

// chooses says that the list names this very cast by its number.
func (l *StationList) chooses(c *Cast) bool {
	return slices.ContainsFunc(l.Items, func(r StationRange) bool {
		return r.Cast != "" &&
			r.contains(c.Expocode, c.Station, c.Number)
	})
}

func (s *Section) points() []orb.Point {
	points := make([]orb.Point, len(s.Casts))
	for i, c := range s.Casts {
		points[i] = c.At
	}
	return points
}

// Pairs returns the pairs of neighbours in order; len(Casts)-1 of them.
func (s *Section) Pairs() []Pair {
	var pairs []Pair
	for i := 0; i+1 < len(s.Casts); i++ {
		a, b := s.Casts[i].At, s.Casts[i+1].At
		p := Pair{A: i, B: i + 1, DistanceKm: s.Method.DistanceM(a, b) / 1000}
		p.Midpoint, p.AzimuthDeg = Midpoint(a, b)
		p.TooClose = !(p.DistanceKm >= TooCloseKm)
		pairs = append(pairs, p)
	}
	return pairs
}

// places groups casts that follow each other nearer than TooCloseKm to any cast of the group.
func places(casts []*Cast, m Method) [][]*Cast {
	var groups [][]*Cast
	for _, c := range casts {
		if n := len(groups); n > 0 &&
			slices.ContainsFunc(groups[n-1], func(o *Cast) bool { return m.DistanceM(o.At, c.At) < TooCloseKm*1000 }) {
			if !slices.Contains(groups[n-1], c) {
				groups[n-1] = append(groups[n-1], c)
			}
			continue
		}
		groups = append(groups, []*Cast{c})
	}
	return groups
}

// choose makes the place of group i. In a closed line the last group is next to the first.
func choose(groups [][]*Cast, i int, closed bool, opt BuildOptions) Place {
	g := groups[i]
	if len(g) == 1 {
		return Place{Chosen: g[0]}
	}
	p := Place{Rule: opt.Repeats}
	if p.Rule == "" {
		p.Rule = Deepest
	}
	if p.Rule == MeanOf {
		p.Chosen, p.Mean = MeanCast(g, opt.NotCalibratedUsable)
		p.Others = slices.Clone(g)
		return p
	}
	p.Chosen = g[0]
	for _, c := range g[1:] {
		if better(c, p.Chosen, groups, i, closed, p.Rule, opt.NotCalibratedUsable) {
			p.Chosen = c
		}
	}
	for _, c := range g {
		if c != p.Chosen {
			p.Others = append(p.Others, c)
		}
	}
	return p
}

// better reports whether cast c beats the best so far under the rule. Ties go to the earlier cast, then to the one
// listed first.
func better(c, best *Cast, groups [][]*Cast, i int, closed bool, rule Repeats, withOne bool) bool {
	earlier := !c.Time.IsZero() && (best.Time.IsZero() || c.Time.Before(best.Time))
	switch rule {
	case First:
		return earlier
	case Last:
		return !c.Time.IsZero() && c.Time.After(best.Time)
	case NearestInTime:
		a, b := awayFromNeighbours(c, groups, i, closed), awayFromNeighbours(best, groups, i, closed)
		return a < b || a == b && earlier
	}
	a, b := c.deepestUsable(withOne), best.deepestUsable(withOne)
	return a > b || a == b && earlier
}

// awayFromNeighbours is the sum of the times to the nearest cast of the place before and of the place after; the
// longest time there is when the cast has no time.
func awayFromNeighbours(c *Cast, groups [][]*Cast, i int, closed bool) time.Duration {
	if c.Time.IsZero() {
		return math.MaxInt64
	}
	var sum time.Duration
	for _, j := range []int{i - 1, i + 1} {
		if closed {
			j = (j + len(groups)) % len(groups)
		}
		if j < 0 || j >= len(groups) {
			continue
		}
		least := time.Duration(-1)
		for _, o := range groups[j] {
			if o.Time.IsZero() {
				continue
			}
			if d := c.Time.Sub(o.Time).Abs(); least < 0 || d < least {
				least = d
			}
		}
		sum += max(0, min(least, math.MaxInt64/4))
	}
	return sum
}

// deepestUsable is the greatest pressure at which temperature and salinity are usable (whichever of the columns the
// cast has values of), in dbar; -Inf when there is none.
func (c *Cast) deepestUsable(withOne bool) float64 {
	var names []string
	for _, pair := range [][2]string{{"ctemp", "temp"}, {"asal", "psal"}} {
		for _, n := range pair {
			if col := c.Column(n); col != nil &&
				slices.ContainsFunc(col.Values, func(v float64) bool { return v == v }) {
				names = append(names, n)
				break
			}
		}
	}
	levels := c.UsableLevels(nil, withOne, names...)
	if len(levels) == 0 {
		return math.Inf(-1)
	}
	return c.PressureDbar[levels[len(levels)-1]]
}

func placeFinding(name string, p *Place) metadata.Finding {
	others := make([]string, len(p.Others))
	for i, c := range p.Others {
		others[i] = metadata.CastText(c.Station, c.Number)
	}
	what := fmt.Sprintf("section %s takes cast %s (%s) and leaves %s, less than %d km away", name,
		metadata.CastText(p.Chosen.Station, p.Chosen.Number),
		strings.ReplaceAll(string(p.Rule), "_", " "), strings.Join(others, ", "), TooCloseKm)
	if p.Rule == MeanOf {
		what = fmt.Sprintf("section %s takes the mean of casts %s, less than %d km apart", name,
			strings.Join(others, ", "), TooCloseKm)
	}
	return metadata.Finding{Severity: metadata.Note, Check: "section.repeats", Cast: p.Chosen.ID(), Message: what,
		Remedy: "repeats: deepest, first, last, nearest_in_time or mean chooses otherwise"}
}
