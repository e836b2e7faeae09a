package section

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// Closed reports whether the section ends with the cast that it begins with, so that it encloses an area.
func (s *Section) Closed() bool {
	n := len(s.Casts)
	return n > fewestOfClosed && s.Casts[n-1] == s.Casts[0]
}

// fewestOfClosed is how many places a closed line has at least, the last not counted, which is the first.
const fewestOfClosed = 3

// Once returns the section with each cast once: without the last of a closed line.
func (s *Section) Once() *Section {
	if !s.Closed() {
		return s
	}
	n := len(s.Casts) - 1
	out := *s
	out.Casts, out.DistanceKm, out.Places = s.Casts[:n:n], s.DistanceKm[:n:n], s.Places[:min(n, len(s.Places))]
	return &out
}

// closing takes the casts with which the line comes back to its first place off the groups and reports whether it does:
// the last cast is of the first place, or of its station and nearer than TooCloseKm. Casts of the last place that lie
// so near to the first compete with those of the first.
func closing(entered []*Cast, m Method) (groups [][]*Cast, closed bool) {
	groups = places(entered, m)
	if len(groups) < 2 {
		return groups, false
	}
	first, last := groups[0], entered[len(entered)-1]
	near := func(c *Cast) bool {
		return slices.ContainsFunc(first, func(o *Cast) bool {
			return o == c || m.DistanceM(o.At, c.At) < TooCloseKm*1000
		})
	}
	if !slices.ContainsFunc(first, func(o *Cast) bool {
		return o.Station == last.Station && o.Expocode == last.Expocode
	}) || !near(last) {
		return groups, false
	}
	end := len(groups) - 1
	for _, c := range groups[end] {
		if !slices.Contains(first, c) {
			groups[0] = append(groups[0], c)
		}
	}
	return groups[:end], true
}

// ErrNothingEnclosed is the error of a line that comes back to its first station after fewer than three places.
var ErrNothingEnclosed = errors.New("a closed line needs at least 3 places")

// An Enclosure is what a closed line encloses: the smaller of the two parts of the Earth that it divides.
type Enclosure struct {
	AreaKm2 float64
	Left    bool   // it lies to the left of the line, in the order of its stations
	Pole    string // north or south where the pole lies in it, else ""
	Crosses [2]int // places from which two legs that cross each other begin; both 0 where none do
}

// authalicKm is the radius of the sphere with the area of the WGS84 ellipsoid (Moritz 2000, Geodetic Reference System
// 1980).
const authalicKm = 6371.0072

// Enclosed returns what the line from point to point, which ends where it begins, encloses: legs are great circles,
// longitudes go on without a jump. The area is the sum over the legs of the spherical excess of the quadrangle between
// leg and equator (Karney 2013, section 6; from memory).
func Enclosed(points []orb.Point) Enclosure {
	lons := make([]float64, len(points))
	for i, p := range points {
		lons[i] = p[0]
	}
	lons = Unwrap(nil, lons)
	const rad = math.Pi / 180
	below := 0.0 // between line and equator, positive where the line goes east in the north
	for i := 1; i < len(points); i++ {
		a, b := math.Tan(points[i-1][1]*rad/2), math.Tan(points[i][1]*rad/2)
		below += 2 * math.Atan(math.Tan((lons[i]-lons[i-1])*rad/2)*(a+b)/(1+a*b))
	}
	turns := math.Round((lons[len(lons)-1] - lons[0]) / 360)
	left := math.Mod(2*math.Pi*turns-below, 4*math.Pi)
	if left < 0 {
		left += 4 * math.Pi
	}
	e := Enclosure{Left: left <= 2*math.Pi, Crosses: crossing(points, lons)}
	e.AreaKm2 = math.Min(left, 4*math.Pi-left) * authalicKm * authalicKm
	if turns != 0 { // eastwards round the Earth the north pole is on the left
		e.Pole = "south"
		if turns > 0 == e.Left {
			e.Pole = "north"
		}
	}
	return e
}

// Enclosed returns what a closed section encloses.
func (s *Section) Enclosed() Enclosure { return Enclosed(s.points()) }

// crossing returns the first two legs that cross each other, in longitude and latitude; {0, 0} where none do.
func crossing(points []orb.Point, lons []float64) [2]int {
	n := len(points) - 1
	side := func(a, b, c [2]float64) float64 {
		return float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))
	}
	at := func(i int) [2]float64 { return [2]float64{lons[i], points[i][1]} }
	for j := 2; j < n; j++ {
		for i := 0; i < j-1; i++ {
			if i == 0 && j == n-1 { // they share the first place
				continue
			}
			a, b, c, d := at(i), at(i+1), at(j), at(j+1)
			shift := 360 * math.Round((a[0]-c[0])/360)
			c[0], d[0] = c[0]+shift, d[0]+shift
			if side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0 {
				return [2]int{i, j}
			}
		}
	}
	return [2]int{}
}

// nearlyClosed returns the finding of a line that ends near its first station without naming it again; nil for others.
func (s *Section) nearlyClosed() *metadata.Finding {
	n := len(s.Casts)
	if s.Closed() || n <= fewestOfClosed {
		return nil
	}
	a, b := s.Casts[0], s.Casts[n-1]
	if d := s.Method.DistanceM(a.At, b.At); d < TooCloseKm*1000 {
		return &metadata.Finding{Severity: metadata.Note, Check: "section.closed", Cast: b.ID(),
			Message: fmt.Sprintf("section %s ends at station %s, %.2f km from its first station %s: it is treated as "+
				"an open line", s.Name, b.Station, d/1000, a.Station),
			Remedy: fmt.Sprintf("for a closed line with a budget write the first station again at the end: "+
				"stations: …, %s", metadata.CastText(a.Station, ""))}
	}
	return nil
}

// Share returns which part of the area that a closed section encloses is of a kind, 0 to 1: of points on about 50 lines
// of latitude and longitude, by their areas. It is NaN where no such point lies inside.
func (s *Section) Share(is func(orb.Point) bool) float64 {
	const steps = 50
	points := s.points()
	lons := make([]float64, len(points))
	for i, p := range points {
		lons[i] = p[0]
	}
	lons = Unwrap(nil, lons)
	west, east := slices.Min(lons), slices.Max(lons)
	south, north := points[0][1], points[0][1]
	for _, p := range points {
		south, north = min(south, p[1]), max(north, p[1])
	}
	pole := s.Enclosed().Pole
	switch pole {
	case "north":
		north = 90
	case "south":
		south = -90
	}
	inside := func(at orb.Point) bool { // by the legs that lie south of it
		odd := pole == "south"
		for i := 1; i < len(points); i++ {
			a, b := lons[i-1], lons[i]
			for turn := -360.0; turn <= 360; turn += 360 {
				lon := at[0] + turn
				if (a <= lon) == (b <= lon) {
					continue
				}
				if points[i-1][1]+float64((lon-a)/(b-a)*(points[i][1]-points[i-1][1])) < at[1] {
					odd = !odd
				}
			}
		}
		return odd
	}
	var all, some float64
	for i := range steps {
		lat := south + float64((north-south)*(float64(i)+0.5)/steps)
		weight := math.Cos(lat * math.Pi / 180)
		for k := range steps {
			at := orb.Point{west + float64((east-west)*(float64(k)+0.5)/steps), lat}
			if !inside(at) {
				continue
			}
			all += weight
			if is(orb.Point{Wrap180(at[0]), lat}) {
				some += weight
			}
		}
	}
	return some / all
}
