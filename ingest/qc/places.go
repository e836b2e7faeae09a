package qc

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb/geo"
)

// placeRules returns the checks of positions, times and water depths.
func placeRules() []Rule {
	return []Rule{
		{ID: "position", Does: "the position is on land",
			Source: "a depth grid at all nodes around, or a coastline by more than its resolution; " + ours},
		{ID: "stations.gap",
			Does:   "numbers of stations are missing between those of a leg, and no cast of them is left out",
			Source: ours,
			Thresholds: []Threshold{
				{"stations", 5, "", "number of stations of the leg at least"},
				{"share", 0.2, "", "part of the numbers that are missing at most"},
			}},
		{ID: "speed", Does: "no ship could have gone from the cast before to this one", Source: commonPractice,
			Thresholds: []Threshold{
				{"knots", 20, "kn", "speed over ground"},
			}},
		{ID: "time", Does: "time goes backwards along stations, or lies in the future", Source: commonPractice},
		{ID: "time.zone", Does: "the log and the files differ by the same half hours", Source: ours,
			Thresholds: []Threshold{
				{"share", 0.8, "", "part of the casts that have the difference"},
				{"casts", 5, "", "number of such casts at least"},
				{"minutes", 3, "min", "how near to whole half hours the difference is"},
			}},
		{ID: "bottom", Does: "the cast goes below the sea floor, or ends far above it where its neighbours reach it",
			Source: commonPractice, Thresholds: []Threshold{
				{"below", 10, "m", "a level so far below the sea floor is a note, a deeper one a warning"},
				{"above", 200, "m", "how much farther above the sea floor than the neighbouring casts"},
				{"share", 0.75, "", "part of the water depth that the cast reaches at least"},
			}},
		{ID: "depth", Does: "the water depth differs from that of the altimeter, a depth grid or another cast of " +
			"the station",
			Source: ours, Thresholds: []Threshold{
				{"cast", 15, "m", "difference from the altimeter"},
				{"cast_share", 0.01, "", "or this part of the water depth, where it is more"},
				{"grid", 50, "m", "difference from the depth grid"},
				{"grid_share", 0.05, "", "or this part of the water depth, where it is more"},
				{"station", 20, "m", "difference from another cast of the station"},
				{"station_share", 0.01, "", "or this part of the water depth, where it is more"},
				{"station_km", 1, "km", "distance of that cast at most"},
			}},
	}
}

// duration finds casts that took longer than any cast does.
func duration() Rule {
	return Rule{ID: "duration", Does: "the cast took longer than any cast does", Source: commonPractice,
		Thresholds: []Threshold{
			{"hours", 12, "h", "time that the cast took"},
		},
		cast: func(p *profile) {
			v, l := p.values("etime"), p.usable("etime")
			if len(l) == 0 {
				return
			}
			if took := (v[l[len(l)-1]] - v[l[0]]) / 3600; took > p.limit("hours") {
				f := p.about("etime", "the cast took %.1f hours", took)
				f.First, f.Last, f.Count = p.cast.PressureDbar[l[0]], p.cast.PressureDbar[l[len(l)-1]], len(l)
				f.Remedy = "compare with the log: two casts may be in one file"
				p.found = append(p.found, f)
			}
		}}
}

// places runs the checks of positions, times and depths.
func (s *survey) places() {
	for _, c := range s.Casts {
		if s.OnLand != nil && s.OnLand(c.At) {
			s.find(about(c, "position", "", fmt.Sprintf("latitude %.4f, longitude %.4f is on land", c.At[1], c.At[0]),
				"compare the position with the log"))
		}
		if !s.Now.IsZero() && !c.Time.IsZero() && c.Time.After(s.Now.Add(24*time.Hour)) {
			s.find(about(c, "time", "", fmt.Sprintf("the cast is dated %s, the clock says %s", stamp(c),
				s.Now.UTC().Format("2006-01-02 15:04")), "correct the date in the file, or the clock"))
		}
	}
	s.stationGaps()
	s.backwards()
	s.speeds()
	s.timeZone()
	s.bottoms()
	s.depths()
}

func stamp(c *section.Cast) string {
	if c.DateOnly {
		return c.Time.Format("2006-01-02")
	}
	return c.Time.Format("2006-01-02 15:04")
}

func digits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

// backwards finds stations in natural order whose first casts run backwards in time. Stations with letters have no
// order.
func (s *survey) backwards() {
	earliest := map[[2]string]*section.Cast{}
	for _, c := range s.Casts {
		k := [2]string{c.Expocode, c.Station}
		if e := earliest[k]; !c.Time.IsZero() && digits(c.Station) && (e == nil || c.Time.Before(e.Time)) {
			earliest[k] = c
		}
	}
	list := slices.DeleteFunc(slices.Clone(s.Casts), func(c *section.Cast) bool {
		return earliest[[2]string{c.Expocode, c.Station}] != c
	})
	sort.SliceStable(list, func(i, j int) bool { return section.CompareCasts(list[i], list[j]) < 0 })
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		ta, tb := a.Time, b.Time
		if a.DateOnly || b.DateOnly {
			ta, tb = ta.Truncate(24*time.Hour), tb.Truncate(24*time.Hour)
		}
		if a.Expocode == b.Expocode && tb.Before(ta) {
			s.find(about(b, "time", "", fmt.Sprintf("time goes backwards: %s at %s, %s at %s", name(a), stamp(a),
				name(b), stamp(b)),
				"compare date, time and station of both with the log"))
		}
	}
}

// speeds finds casts of one ship, in order of time, that no ship could have taken. A great circle on a sphere is exact
// enough here.
func (s *survey) speeds() {
	ship := func(c *section.Cast) string { return c.Expocode[:min(4, len(c.Expocode))] }
	list := slices.DeleteFunc(slices.Clone(s.Casts), func(c *section.Cast) bool {
		return c.Time.IsZero() ||
			c.DateOnly
	})
	slices.SortStableFunc(list, func(a, b *section.Cast) int {
		if d := strings.Compare(ship(a), ship(b)); d != 0 {
			return d
		}
		if d := a.Time.Compare(b.Time); d != 0 {
			return d
		}
		return section.CompareCasts(a, b)
	})
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		if ship(a) != ship(b) {
			continue
		}
		km := geo.DistanceHaversine(a.At, b.At) / 1000
		knots := km / 1.852 / max(b.Time.Sub(a.Time), time.Minute).Hours() // times are written to the minute
		if knots <= s.limit("speed", "knots") {
			continue
		}
		in := "less than a minute"
		if dt := b.Time.Sub(a.Time).Round(time.Minute); dt > 0 {
			in = strings.TrimSuffix(dt.String(), "0s")
		}
		s.find(about(b, "speed", "", fmt.Sprintf("%.0f knots over ground: %.1f km in %s from %s to %s", knots, km,
			in, name(a), name(b)),
			"compare position, date and time of both with the log"))
	}
}

// timeZone finds one offset of whole half hours between the log and the files.
func (s *survey) timeZone() {
	if len(s.Clocks) == 0 {
		return
	}
	const half = 30 * time.Minute
	near := time.Duration(s.limit("time.zone", "minutes") * float64(time.Minute))
	counts := map[time.Duration]int{}
	for _, k := range s.Clocks {
		d := k.Log.Sub(k.File)
		if whole := d.Round(half); whole != 0 && (d-whole).Abs() <= near {
			counts[whole]++
		}
	}
	for d, n := range counts {
		if float64(n) < s.limit("time.zone", "casts") || float64(n) < s.limit("time.zone",
			"share")*float64(len(s.Clocks)) {
			continue
		}
		f := metadata.Finding{Severity: metadata.Warning, Check: "time.zone", Count: n,
			Message: fmt.Sprintf("times of the log are %+.1f hours from those of the files in %d of %d casts; no "+
				"time was moved",
				d.Hours(), n, len(s.Clocks)),
			Remedy: "state the time zone of the log or of the files under casts: clock"}
		s.find(f)
	}
}

// deepest returns pressure and depth of the deepest level; NaN without one.
func deepest(c *section.Cast) (pDbar, depthM float64) {
	p := math.NaN()
	for _, v := range c.PressureDbar {
		if !(v <= p) && v == v {
			p = v
		}
	}
	return p, -seawater.Height(p, c.At[1])
}

// bottoms compares the deepest level of each cast with its water depth and with how near its neighbours come to the
// sea floor.
func (s *survey) bottoms() {
	type place struct {
		c                     *section.Cast
		pDbar, depthM, aboveM float64
	}
	reaches := func(p place) bool {
		return p.aboveM <= 10 || p.aboveM <= s.limit("bottom", "above") && p.depthM >= 0.85*p.c.BottomM
	}
	var line []place
	for _, c := range s.Casts {
		p, z := deepest(c)
		last := 0.5 * math.Pow(10, -float64(max(c.BottomDecimals, 0)))
		if z > c.BottomM+last {
			f := about(c, "bottom", "bottom_depth",
				fmt.Sprintf("the water depth of %.*f m is less than the depth of the deepest level, %g dbar (%.1f m)",
					max(c.BottomDecimals, 0), c.BottomM, p, z),
				"compare the water depth and the deepest levels with the log")
			if atLevels(&f, c, p, p); z <= c.BottomM+s.limit("bottom", "below") {
				f.Severity = metadata.Note
			}
			s.find(f)
		}
		if z == z && c.BottomM == c.BottomM && primary(c) {
			line = append(line, place{c, p, z, c.BottomM - z})
		}
	}
	for i, here := range line {
		var above []float64
		reach := 0
		for _, k := range []int{i - 2, i - 1, i + 1, i + 2} {
			if k < 0 || k >= len(line) || line[k].c.Expocode != here.c.Expocode {
				continue
			}
			if above = append(above, line[k].aboveM); reaches(line[k]) {
				reach++
			}
		}
		far := here.aboveM > s.limit("bottom", "above")+median(above) || here.depthM < s.limit("bottom",
			"share")*here.c.BottomM
		if here.aboveM <= 10 || !far || 2*reach <= len(above) {
			continue
		}
		f := about(here.c, "bottom", "pres",
			fmt.Sprintf("the cast ends at %g dbar (%.0f m) in water of %.*f m, and its neighbours "+
				"reach the bottom", here.pDbar, here.depthM, max(here.c.BottomDecimals, 0), here.c.BottomM),
			"compare the file with the one it was copied from; when the cast was ended there, say so in the "+
				"remark of the station table")
		atLevels(&f, here.c, here.pDbar, here.pDbar)
		if s.Remark != nil && s.Remark(here.c) != "" {
			f.Severity, f.Remedy = metadata.Note, ""
			f.Message += "; the log says: " + s.Remark(here.c)
		}
		s.find(f)
	}
}

// depths compares water depths with the altimeter, a depth grid and other casts of the station.
func (s *survey) depths() {
	limit := func(what string, depthM float64) float64 {
		return max(s.limit("depth", what), s.limit("depth", what+"_share")*depthM)
	}
	const remedy = "compare the water depth with the log and the echo sounder"
	first := map[[2]string]*section.Cast{}
	for _, c := range s.Casts {
		if math.IsNaN(c.BottomM) {
			continue
		}
		if l := c.UsableLevels(nil, s.settings(c).NotCalibrated, "hab"); len(l) > 0 {
			k := l[len(l)-1]
			p := c.PressureDbar[k]
			floor := c.Column("hab").Values[k] - seawater.Height(p, c.At[1])
			if d := floor - c.BottomM; math.Abs(d) > limit("cast", c.BottomM) {
				f := about(c, "depth", "bottom_depth",
					fmt.Sprintf("the water depth is %.0f m, the altimeter at %g dbar puts the sea floor at %.0f m",
						c.BottomM, p, floor), remedy)
				f.First, f.Last, f.Line = p, p, lineOf(c, k)
				s.find(f)
			}
		}
		if s.DepthM != nil {
			if grid := s.DepthM(c.At); math.Abs(grid-c.BottomM) > limit("grid", c.BottomM) {
				s.find(about(c, "depth", "bottom_depth",
					fmt.Sprintf("the water depth is %.0f m, the depth grid has %.0f m", c.BottomM, grid), remedy))
			}
		}
		k := [2]string{c.Expocode, c.Station}
		a := first[k]
		if a == nil {
			first[k] = c
			continue
		}
		if km := geo.DistanceHaversine(a.At, c.At) / 1000; km <= s.limit("depth", "station_km") &&
			math.Abs(a.BottomM-c.BottomM) > limit("station", c.BottomM) {
			s.find(about(c, "depth", "bottom_depth",
				fmt.Sprintf("the water depth is %.0f m, at cast %s of the station %.0f m, %.1f km away",
					c.BottomM, a.Number, a.BottomM, km), remedy))
		}
	}
}

// stationGaps finds numbers that are missing among the stations of a leg, where few are: a file may be missing.
func (s *survey) stationGaps() {
	numbers := map[string]map[int]bool{} // by expocode
	var legs []string
	for _, c := range append(slices.Clone(s.Casts), s.LeftOut...) {
		n, err := strconv.Atoi(c.Station)
		if err != nil || n < 0 || !digits(c.Station) {
			continue
		}
		if numbers[c.Expocode] == nil {
			numbers[c.Expocode] = map[int]bool{}
			legs = append(legs, c.Expocode)
		}
		numbers[c.Expocode][n] = true
	}
	for _, leg := range legs {
		have := slices.Sorted(maps.Keys(numbers[leg]))
		first, last := have[0], have[len(have)-1]
		gaps := last - first + 1 - len(have)
		if gaps == 0 || float64(len(have)) < s.limit("stations.gap", "stations") ||
			float64(gaps) > s.limit("stations.gap", "share")*float64(last-first+1) {
			continue
		}
		var missing []string
		for n := first; n <= last; n++ {
			if !numbers[leg][n] {
				missing = append(missing, strconv.Itoa(n))
				s.result.Gaps = append(s.result.Gaps, Gap{leg, strconv.Itoa(n)})
			}
		}
		s.find(metadata.Finding{Severity: metadata.Note, Check: "stations.gap", Count: gaps, Message: fmt.Sprintf(
			"%s: stations %d to %d have casts, but for %s", leg, first, last, strings.Join(missing, ", ")),
			Remedy: "compare with the log; when these stations have no cast nothing is to be done"})
	}
}
