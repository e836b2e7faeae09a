package section

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// A Series is the casts of one position in the order of time, no two of them at one time.
type Series struct {
	Name  string
	Casts []*Cast
	At    orb.Point // nominal position: the mean of those of the casts
}

// SeriesOptions are the settings of BuildSeries.
type SeriesOptions struct {
	Name     string
	Stations StationList
	Near     *orb.Point // only casts within WithinKm of it; nil: all of the stations
	WithinKm float64    // 0: UsualWithinKm. Without Near, how far from their mean position casts lie without a finding
	Underway bool       // casts of the list that are not there are still to come
}

// Within returns how far, in km, casts may lie from the position of the series.
func (o *SeriesOptions) Within() float64 { return cmp.Or(o.WithinKm, UsualWithinKm) }

// UsualWithinKm is how far from the position of a series its casts lie where nothing else is asked for (ours).
const UsualWithinKm = 5

// seriesRoles are the roles of casts that enter a series unless it says otherwise.
var seriesRoles = []Role{Unstated, Primary, Repeat, Yoyo}

// ErrShortSeries is returned where fewer than two casts are left for a series.
var ErrShortSeries = errors.New("fewer than two casts")

// BuildSeries makes a series of the casts that the options name. Casts of the roles primary, repeat and yoyo enter; one
// of another role enters where Stations chooses it by its number (7/2). A cast without a time of day, or at the
// time of another, is left out with a finding. The error says what was not found, or wraps ErrShortSeries.
func BuildSeries(casts []*Cast, opt SeriesOptions) (*Series, []metadata.Finding, error) {
	within := opt.Within()
	list := opt.Stations
	if opt.Underway {
		list = list.taken(casts)
	}
	picked, err := Select(casts, list)
	if err != nil {
		return nil, nil, err
	}
	if opt.Near != nil {
		picked = slices.DeleteFunc(picked, func(c *Cast) bool {
			return WGS84.DistanceM(*opt.Near, c.At) > within*1000
		})
	}
	s := &Series{Name: opt.Name}
	var found []metadata.Finding
	note := func(c *Cast, severity metadata.Severity, check, why, remedy string) {
		found = append(found, metadata.Finding{Severity: severity, Check: check, Cast: c.ID(), Remedy: remedy,
			Message: fmt.Sprintf("cast %s is left out of the time series %s: %s",
				metadata.CastText(c.Station, c.Number), opt.Name, why)})
	}
	sorted := slices.Clone(picked)
	slices.SortStableFunc(sorted, func(a, b *Cast) int { return cmp.Or(a.Time.Compare(b.Time), CompareCasts(a, b)) })
	for _, c := range slices.Compact(sorted) { // a cast listed twice
		switch last := len(s.Casts) - 1; {
		case !slices.Contains(seriesRoles, c.Role) && !opt.Stations.chooses(c):
			note(c, metadata.Note, "series.role", "its role is "+c.Role.String(),
				"to use it, name the cast in the stations of the series: "+metadata.CastText(c.Station, c.Number))
		case c.Time.IsZero() || c.DateOnly:
			note(c, metadata.Warning, "series.time", "its time of day is not known",
				"give the time in the station table (casts: station_table)")
		case last >= 0 && s.Casts[last].Time.Equal(c.Time):
			o := s.Casts[last]
			note(c, metadata.Warning, "series.time", fmt.Sprintf("cast %s has the same time, %s",
				metadata.CastText(o.Station, o.Number), c.Time.UTC().Format("2006-01-02 15:04:05")),
				"correct the time of one of them, or leave one out of the series")
		default:
			s.Casts = append(s.Casts, c)
		}
	}
	if len(s.Casts) < 2 {
		return nil, found, fmt.Errorf("time series %s: %w", opt.Name, ErrShortSeries)
	}
	s.At = meanPosition(s.Casts)
	if far, km := s.farthest(); km > within && opt.Near == nil {
		found = append(found, metadata.Finding{Severity: metadata.Warning, Check: "series.position", Cast: far.ID(),
			Message: fmt.Sprintf("time series %s: cast %s lies %.1f km from the mean position of its %d casts, more "+
				"than %g km; it was kept, and the series has one position", opt.Name,
				metadata.CastText(far.Station, far.Number), km, len(s.Casts), within),
			Remedy: "remove the cast from the series, or give a larger distance: within"})
	}
	return s, found, nil
}

// farthest returns the cast that lies farthest from the position of the series, and how far.
func (s *Series) farthest() (far *Cast, km float64) {
	for _, c := range s.Casts {
		if d := WGS84.DistanceM(s.At, c.At) / 1000; far == nil || d > km {
			far, km = c, d
		}
	}
	return far, km
}

// FarKm returns how far, in km, the farthest cast lies from the position of the series.
func (s *Series) FarKm() float64 {
	_, km := s.farthest()
	return km
}

// Hours returns the time of each cast in hours after the first.
func (s *Series) Hours() []float64 {
	out := make([]float64, len(s.Casts))
	for i, c := range s.Casts {
		out[i] = c.Time.Sub(s.Casts[0].Time).Hours()
	}
	return out
}

// leastYoyo is how many casts of role yoyo at one station make a series unasked (ours).
const leastYoyo = 3

// UsualSeries returns the series that are made unasked: one of each station of a leg with at least three casts of role
// yoyo, of these casts, named for the station (and the leg, where another has a station of that name).
func UsualSeries(casts []*Cast) []SeriesOptions {
	type place struct{ expocode, station string }
	byPlace := map[place][]*Cast{}
	legs := map[string]int{}
	var order []place
	for _, c := range casts {
		if c.Role != Yoyo {
			continue
		}
		p := place{c.Expocode, c.Station}
		if byPlace[p] == nil {
			order = append(order, p)
			legs[safeName(p.station)]++
		}
		byPlace[p] = append(byPlace[p], c)
	}
	var out []SeriesOptions
	for _, p := range order {
		if len(byPlace[p]) < leastYoyo {
			continue
		}
		o := SeriesOptions{Name: "station_" + safeName(p.station)}
		if legs[safeName(p.station)] > 1 {
			o.Name = safeName(p.expocode + "_" + p.station)
		}
		same := func(q SeriesOptions) bool { return q.Name == o.Name }
		for base, n := o.Name, 2; slices.ContainsFunc(out, same); n++ {
			o.Name = fmt.Sprint(base, "_", n)
		}
		for _, c := range byPlace[p] {
			o.Stations.Items = append(o.Stations.Items, StationRange{Expocode: c.Expocode, From: c.Station,
				Cast: c.Number})
		}
		out = append(out, o)
	}
	return out
}

// safeName returns a name with all that a file name had better not hold as underscores.
func safeName(name string) string {
	b := []byte(name)
	for i, ch := range b {
		if !(ch >= 'a' && ch <= 'z' || ch >= 'A' && ch <= 'Z' || ch >= '0' && ch <= '9' || ch == '-') {
			b[i] = '_'
		}
	}
	return string(b)
}
