package figure

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section"
)

// Names of stations longer than this are shortened in pictures.
const longName = 8

// stationNames are the names of stations as pictures write them: without leading zeros, and, where they are
// long, without what all have in common.
type stationNames struct {
	before, after string
	cut           bool
}

func namesOfStations(casts []*section.Cast) stationNames {
	var n stationNames
	var names []string
	long := 0
	for _, c := range casts {
		names = append(names, c.Station)
		long = max(long, len([]rune(c.Station)))
	}
	if long <= longName || len(names) == 0 {
		return n
	}
	digit := func(r byte) bool { return r >= '0' && r <= '9' }
	before, after := names[0], names[0]
	for _, s := range names {
		for !strings.HasPrefix(s, before) {
			before = before[:len(before)-1]
		}
		for !strings.HasSuffix(s, after) {
			after = after[1:]
		}
	}
	for before != "" && (digit(before[len(before)-1]) || !utf8.ValidString(before)) { // numbers stay whole
		before = before[:len(before)-1]
	}
	for after != "" && (digit(after[0]) || !utf8.ValidString(after)) {
		after = after[1:]
	}
	for _, s := range names { // of every name something stays
		if len(s) <= len(before)+len(after) {
			before, after = "", ""
		}
	}
	n.before, n.after = before, after
	for _, s := range names {
		n.cut = n.cut || len([]rune(s))-len([]rune(before))-len([]rune(after)) > longName
	}
	return n
}

func (n stationNames) of(c *section.Cast) string {
	s := strings.TrimSuffix(strings.TrimPrefix(c.Station, n.before), n.after)
	if r := []rune(s); n.cut && len(r) > longName {
		return "…" + string(r[len(r)-longName+1:])
	}
	return trimZeros(s)
}

// note says for captions how names are shortened, "" when they are not.
func (n stationNames) note() string {
	var out []string
	if n.before != "" {
		out = append(out, "without "+n.before+" before them")
	}
	if n.after != "" {
		out = append(out, "without "+n.after+" after them")
	}
	if n.cut {
		out = append(out, "long ones by their ends")
	}
	if len(out) == 0 {
		return ""
	}
	return "written " + strings.Join(out, ", ")
}

// trimZeros drops the leading zeros of a station number, which say nothing in a picture.
func trimZeros(name string) string {
	if n, err := strconv.Atoi(name); err == nil && n >= 0 {
		return strconv.Itoa(n)
	}
	return name
}

// marksOf returns the stations of a section by distance.
func marksOf(s *section.Section) []chart.Mark {
	out := make([]chart.Mark, len(s.Casts))
	names := namesOfStations(s.Casts)
	for k, c := range s.Casts {
		out[k] = chart.Mark{X: s.DistanceKm[k], Name: c.Station, Label: names.of(c)}
	}
	return out
}

// trackOf returns positions along a section: of its stations, since ticks of a second axis are read against them.
func trackOf(s *section.Section, g *gridding.Grid) *chart.Track {
	if g != nil && len(g.Track) > 1 && len(g.Axes) == 2 && len(g.Track) == len(g.Axes[1].Values) {
		t := chart.NewTrack(g.Axes[1].Values, g.Track)
		t.Stations = s.DistanceKm
		return t
	}
	return chart.NewTrack(s.DistanceKm, positionsOf(s.Casts))
}
