package qc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A Cruise is the casts of a cruise in the order of its archive, and what else was recorded. Only Casts is needed.
type Cruise struct {
	Casts    []*section.Cast
	LeftOut  []*section.Cast // read and left out: their stations are no gap
	Bottles  []*section.Bottles
	Settings func(*section.Cast) Settings // of a cast; nil: the defaults
	Remark   func(*section.Cast) string   // what the log says of a cast; "" for nothing
	DepthM   func(orb.Point) float64      // water depth of a grid, NaN where it has none
	OnLand   func(orb.Point) bool         // reports whether a position is on land beyond doubt
	Clocks   []Clock                      // times of the log beside those of the files
	Now      time.Time                    // casts dated later are found; zero: none is looked for
}

// A Clock is the time of a cast by its file and by the log.
type Clock struct {
	Cast      *section.Cast
	File, Log time.Time
}

// A Result is what the checks of a cruise found, with the comparisons that they made.
type Result struct {
	Findings   []metadata.Finding
	Pairs      []Pair       // sensors of a pair, one for each cast and quantity
	Matches    []Match      // bottles beside casts
	Fits       []Fitting    // of pairs and bottles, for the processing upstream
	Duplicates []Duplicates // samples of the same bottle
	Agreements []Agreement  // which sensor of a pair agrees with bottles
	Gaps       []Gap        // numbers between those of the stations that have no cast
}

// A Gap is a number between those of the stations of a leg that has no cast.
type Gap struct{ Expocode, Station string }

// A survey is the run of the checks of a cruise.
type survey struct {
	*Checks
	*Cruise
	result  Result
	levels  map[levelKey][]int // of casts that bottles and upcasts are matched with
	deep    map[*section.Cast]deepWater
	scratch []int
	failed  map[levelKey]bool // variables of casts with a finding: left out of later fits
}

// A levelKey names levels of a cast at which one variable or several are usable.
type levelKey struct {
	cast  *section.Cast
	names string
}

// Cruise runs every check that compares casts with each other or with bottles, depths and the log. It sets Proposed
// of columns that are faulty as a whole. The order is that of judgement: sensor pairs, bottles, then deep salinity;
// a cast that fails is left out of what follows.
func (c *Checks) Cruise(k *Cruise) *Result {
	s := &survey{Checks: c, Cruise: k, levels: map[levelKey][]int{}, deep: map[*section.Cast]deepWater{},
		failed: map[levelKey]bool{}}
	s.startsDeep()
	s.binLabels()
	s.places()
	s.channels()
	s.sensorPairs()
	s.bottles()
	s.deepSalinity()
	s.upAndDown()
	metadata.SortFindings(s.result.Findings)
	return &s.result
}

func (s *survey) find(f ...metadata.Finding) { s.result.Findings = append(s.result.Findings, f...) }

func (s *survey) settings(c *section.Cast) Settings {
	if s.Settings == nil {
		return Settings{}
	}
	return s.Settings(c)
}

// usable returns the levels of a cast at which the named variables are usable, and keeps them.
func (s *survey) usable(c *section.Cast, names ...string) []int {
	k := levelKey{c, strings.Join(names, " ")}
	l, ok := s.levels[k]
	if !ok {
		l = c.UsableLevels(nil, s.settings(c).NotCalibrated, names...)
		s.levels[k] = l
	}
	return l
}

// primary reports whether a cast is one of the cruise's line: not a test, an aborted cast or an upcast.
func primary(c *section.Cast) bool {
	return (c.Role == section.Primary || c.Role == section.Unstated) && c.Direction != section.Up
}

// line returns the primary casts, in their order.
func (s *survey) line() []*section.Cast {
	return slices.DeleteFunc(slices.Clone(s.Casts), func(c *section.Cast) bool { return !primary(c) })
}

// name returns how messages name a cast.
func name(c *section.Cast) string {
	return fmt.Sprintf("station %s cast %s (%s)", c.Station, c.Number, c.Source.Name)
}

// days returns the time from one cast to another in days; NaN when one has no time.
func days(from, to *section.Cast) float64 {
	if from.Time.IsZero() || to.Time.IsZero() {
		return math.NaN()
	}
	return to.Time.Sub(from.Time).Hours() / 24
}
