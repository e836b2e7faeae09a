package ncprofile

import (
	"errors"
	"fmt"
	"math"
	"path"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/castwright/castwright/section/seawater"
)

// Options are what a reader of profile files is told beside the file.
type Options struct {
	Name string       // of the file, for messages and the source of casts
	Legs []ingest.Leg // whose expocode casts have that say none
}

// ReadProfiles reads the casts of a CF profile file of any writer: one cast, or a collection on a common axis
// (orthogonal), with an axis for each cast (incomplete), or one after another (contiguous or indexed ragged), CF 1.11
// section 9.3. What a variable is says its standard name, else its units, else its name. Variables that castwright
// derives are not read. path is absolute and cleaned.
func ReadProfiles(path string, o Options) ([]section.Cast, []metadata.Finding, error) {
	f, err := nc.OpenFile(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	if err := plausible(f, path); err != nil {
		return nil, nil, err
	}
	p := &profiles{File: f, o: o, profile: -1, level: -1}
	if err := p.find(); err != nil {
		return nil, nil, err
	}
	casts, err := p.casts()
	return casts, p.found, err
}

// profiles is a profile file that is read.
type profiles struct {
	*nc.File
	o              Options
	lat, lon, time int
	axis           int // pressure, else depth
	isDepth        bool
	profile, level int // dimensions; profile -1: one cast
	rows           [][]int
	found          []metadata.Finding
}

// A role is a coordinate and what it is known by.
type role struct {
	standard, units []string
	names           []string
}

var (
	latitudes = role{[]string{"latitude"}, []string{"degrees_north", "degree_north", "degree_N", "degrees_N",
		"degreeN", "degreesN"}, []string{"lat", "latitude"}}
	longitudes = role{[]string{"longitude"}, []string{"degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE",
		"degreesE"}, []string{"lon", "longitude", "long"}}
	times     = role{[]string{"time"}, nil, []string{"time", "juld", "datetime", "date"}}
	pressures = role{[]string{"sea_water_pressure", "sea_water_pressure_due_to_sea_water"},
		[]string{"dbar", "decibar", "decibars", "db"}, []string{"pres", "pressure", "press", "p"}}
	depths  = role{[]string{"depth"}, nil, []string{"depth", "z", "dep"}}
	bottoms = role{[]string{"sea_floor_depth_below_sea_surface", "sea_floor_depth_below_geoid", "sea_floor_depth"},
		nil,
		[]string{"bottom_depth", "bottomdepth", "water_depth", "sounding", "bathymetry"}}
)

// of returns the variable of a role: by standard name, else by units, else by name; -1 without one.
func (p *profiles) of(r role) int {
	by := []func(v *nc.Var) bool{
		func(v *nc.Var) bool { return slices.Contains(r.standard, v.Text("standard_name")) },
		func(v *nc.Var) bool {
			return v.Text("standard_name") == "" && (slices.Contains(r.units, v.Text("units")) ||
				r.standard[0] == "time" && strings.Contains(v.Text("units"), " since "))
		},
		func(v *nc.Var) bool { return slices.Contains(r.names, strings.ToLower(v.Name)) },
	}
	for _, same := range by {
		for i := range p.Vars {
			if v := &p.Vars[i]; v.Type.Numeric() && v.Text("bounds_of") == "" && same(v) && !isFlags(v) &&
				!p.isBounds(v.Name) {
				return i
			}
		}
	}
	return -1
}

func isFlags(v *nc.Var) bool {
	s := v.Text("standard_name")
	return v.Attr("flag_values") != nil || v.Attr("flag_meanings") != nil || strings.HasSuffix(s, "status_flag") ||
		s == "quality_flag"
}

func (p *profiles) isBounds(name string) bool {
	return slices.ContainsFunc(p.Vars, func(v nc.Var) bool { return v.Text("bounds") == name })
}

// find finds the coordinates, and which levels each cast has.
func (p *profiles) find() error {
	p.lat, p.lon, p.time, p.axis = p.of(latitudes), p.of(longitudes), p.of(times), p.of(pressures)
	if p.axis < 0 {
		p.axis, p.isDepth = p.of(depths), true
	}
	switch {
	case p.lat < 0 || p.lon < 0:
		return errors.New("no latitude or no longitude: no variable has such a standard_name, units or name")
	case p.axis < 0:
		return errors.New("no pressure and no depth: no variable has such a standard_name, units or name")
	}
	if p.time < 0 && p.word(0, stationNames...) == "" && p.role(0, "profile_id", "timeseries_id") == "" {
		return errors.New("neither a time nor a station nor an identifier of profiles: this may be a grid")
	}
	if counts, obs := p.counts(); counts != nil {
		p.level = obs
		p.rows = counts
		if d := p.Vars[p.lat].Axes(); len(d) == 1 {
			p.profile = d[0]
		}
		return p.fits()
	}
	place, axis := p.Vars[p.lat].Axes(), p.Vars[p.axis].Axes()
	switch {
	case len(place) == 1 && !slices.Equal(place, axis):
		p.profile = place[0]
	case len(place) == 0 && p.time >= 0:
		p.series(axis)
	case len(place) > 1:
		return fmt.Errorf("the latitude %s has %d dimensions; casts have one position each", p.Vars[p.lat].Name,
			len(place))
	}
	for _, d := range axis {
		if d != p.profile && (p.level < 0 || p.Dims[d].Len > p.Dims[p.level].Len) {
			p.level = d
		}
	}
	if p.level < 0 {
		return fmt.Errorf("%s has one value: no levels", p.Vars[p.axis].Name)
	}
	n := 1
	if p.profile >= 0 {
		n = p.Dims[p.profile].Len
	}
	all := make([]int, p.Dims[p.level].Len)
	for i := range all {
		all[i] = i
	}
	for range n {
		p.rows = append(p.rows, all)
	}
	return p.fits()
}

// maxProfiles is the most casts of one file.
const maxProfiles = 100_000

func (p *profiles) fits() error {
	if len(p.rows) > maxProfiles {
		return fmt.Errorf("%d casts; the limit is %d", len(p.rows), maxProfiles)
	}
	return nil
}

// counts returns the levels of each cast of a ragged array, and their dimension: from a variable that counts them
// (sample_dimension), or one that names the cast of each level (instance_dimension).
func (p *profiles) counts() (rows [][]int, obs int) {
	for i := range p.Vars {
		v := &p.Vars[i]
		if d := p.Dim(v.Text("sample_dimension")); d >= 0 && v.Text("sample_dimension") != "" {
			x, _ := p.Numbers(i)
			at := 0
			for _, n := range x {
				var row []int
				for k := 0; float64(k) < n && at < p.Dims[d].Len; k++ {
					row = append(row, at)
					at++
				}
				rows = append(rows, row)
			}
			return rows, d
		}
		if d := p.Dim(v.Text("instance_dimension")); d >= 0 && v.Text("instance_dimension") != "" && len(v.Dims) == 1 {
			x, _ := p.Numbers(i)
			rows = make([][]int, p.Dims[d].Len)
			for k, n := range x {
				if n >= 0 && int(n) < len(rows) {
					rows[int(n)] = append(rows[int(n)], k)
				}
			}
			return rows, v.Dims[0]
		}
	}
	return nil, -1
}

// at returns where the value of a variable lies for a cast and a level; -1 when it has none there.
func (p *profiles) at(i, cast, level int) int {
	index := 0
	for _, d := range p.Vars[i].Axes() {
		k := 0
		switch {
		case d == p.level:
			k = level
		case d == p.profile:
			k = cast
		case p.Dims[d].Len > 1:
			return -1
		}
		index = index*p.Dims[d].Len + k
	}
	return index
}

// numbers returns the values of a variable as they are meant, NaN where one is missing.
func (p *profiles) numbers(i int) ([]float64, error) {
	x, err := p.Numbers(i)
	if err != nil {
		return nil, err
	}
	scale, shift := p.Vars[i].Number("scale_factor", 1), p.Vars[i].Number("add_offset", 0)
	if scale != 1 || shift != 0 {
		for k := range x {
			x[k] = x[k]*scale + shift
		}
	}
	return x, nil
}

// one returns the value that a variable has once for a cast; NaN without one.
func (p *profiles) one(i, cast int) float64 {
	if i < 0 {
		return math.NaN()
	}
	x, err := p.numbers(i)
	if err != nil {
		return math.NaN()
	}
	if k := p.at(i, cast, 0); k >= 0 && k < len(x) {
		return x[k]
	}
	return math.NaN()
}

// word returns what the first of several variables, or global attributes, says of a cast in words.
func (p *profiles) word(cast int, names ...string) string {
	for _, name := range names {
		for i := range p.Vars {
			v := &p.Vars[i]
			if !strings.EqualFold(v.Name, name) || slices.Contains(v.Axes(), p.level) {
				continue
			}
			if v.Type.Numeric() {
				if x := p.one(i, cast); !math.IsNaN(x) {
					return strings.TrimSuffix(fmt.Sprintf("%.6f", x), ".000000")
				}
				continue
			}
			words, _ := p.Words(i)
			k := 0
			if slices.Contains(v.Axes(), p.profile) {
				k = cast
			}
			if k < len(words) && strings.TrimSpace(words[k]) != "" {
				return strings.TrimSpace(words[k])
			}
		}
	}
	for _, name := range names {
		for _, a := range p.Attrs {
			if s, ok := a.Value.(string); ok && strings.EqualFold(a.Name, name) && strings.TrimSpace(s) != "" {
				return strings.TrimSpace(s)
			}
		}
	}
	return ""
}

// casts makes the casts.
func (p *profiles) casts() ([]section.Cast, error) {
	out := make([]section.Cast, len(p.rows))
	levels, err := p.numbers(p.axis)
	if err != nil {
		return nil, err
	}
	perUnit, err := p.axisUnit()
	if err != nil {
		return nil, err
	}
	reversed := 0
	for i := range out {
		c := &out[i]
		*c = section.Cast{BottomM: math.NaN(), AtDecimals: [2]int{-1, -1}}
		if err := p.identity(c, i); err != nil {
			return nil, err
		}
		var rows []int
		for _, k := range p.rows[i] {
			if at := p.at(p.axis, i, k); at >= 0 && at < len(levels) && !math.IsNaN(levels[at]) {
				rows = append(rows, k)
			}
		}
		p.rows[i] = rows
		if p.upward(i, levels) {
			slices.Reverse(rows)
			reversed++
		}
	}
	if reversed > 0 {
		p.reversed(reversed)
	}
	columns, err := p.columns()
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(columns, func(c dataColumn) bool { return slices.Contains(measured, c.Name) }) {
		return nil,
			errors.New("no variable with a value at each level is temperature, salinity or conductivity")
	}
	p.dropEmpty(columns)
	var kept []section.Cast
	for i := range out {
		c := &out[i]
		if len(p.rows[i]) == 0 {
			p.found = append(p.found, metadata.Finding{Position: metadata.Position{File: p.o.Name},
				Severity: metadata.Note, Check: "netcdf.no_levels",
				Count: 1, Message: fmt.Sprintf("station %s, cast %s has no levels; not read", c.Station, c.Number)})
			continue
		}
		p.pressure(c, i, levels, perUnit)
		for _, col := range columns {
			p.column(c, i, col)
		}
		if err := c.Validate(); err != nil {
			return nil, err
		}
		kept = append(kept, *c)
	}
	return kept, nil
}

// measured are the variables of which a cast has one at least.
var measured = []string{"temp", "psal", "cond"}

// axisUnit returns how the axis becomes dbar, or metres below the surface.
func (p *profiles) axisUnit() (units.Conversion, error) {
	v := &p.Vars[p.axis]
	want, unit := "dbar", v.Text("units")
	if p.isDepth {
		want = "m"
	}
	if unit == "" || unit == "db" || unit == "decibars" {
		unit = want
	}
	c, err := units.Convert(unit, want)
	if err != nil {
		return c, fmt.Errorf("%s has the units %q, which are not those of %s", v.Name, unit,
			map[bool]string{true: "a depth", false: "a pressure"}[p.isDepth])
	}
	return c, nil
}

// pressure gives a cast its pressure axis, from depth where the file has no pressure.
func (p *profiles) pressure(c *section.Cast, i int, levels []float64, to units.Conversion) {
	v := metadata.MustVariable("pres")
	col := section.Column{Variable: v, Decimals: int(p.Vars[p.axis].Number("decimals", -1)),
		Values: make([]float64, len(p.rows[i]))}
	for n, k := range p.rows[i] {
		x := to.Of(levels[p.at(p.axis, i, k)])
		if p.isDepth {
			if p.Vars[p.axis].Text("positive") == "up" {
				x = -x
			}
			x = seawater.Pressure(-x, c.At[1])
		}
		col.Values[n] = x
	}
	if p.isDepth {
		col.Comment = "computed from depth in metres and latitude (TEOS-10, inverse of height from pressure)"
		col.Converted = section.Conversion{From: "depth in m", To: "dbar",
			Formula: "TEOS-10 pressure from height and latitude"}
	}
	c.Columns = append(c.Columns, col)
	c.PressureDbar = col.Values
}

var stationNames = []string{"station", "station_id", "station_name", "stn", "station_number", "stnnbr", "sta"}

var ownID = regexp.MustCompile(`^([0-9A-Za-z]{4}[12]\d{7})_0*([^_]+)_0*([^_]+)$`)

// identity gives a cast its name, time, position and water depth.
func (p *profiles) identity(c *section.Cast, i int) error {
	c.Expocode = p.word(i, "expocode", "expo_code")
	c.Station = p.word(i, stationNames...)
	c.Number = p.word(i, "cast", "cast_number", "castno", "cast_id", "profile_number")
	if m := ownID.FindStringSubmatch(p.role(i, "profile_id")); m != nil {
		for k, dst := range []*string{&c.Expocode, &c.Station, &c.Number} {
			if *dst == "" {
				*dst = m[k+1]
			}
		}
	}
	if c.Station == "" {
		c.Station = p.role(i, "profile_id", "timeseries_id")
	}
	if c.Station == "" {
		c.Station = p.word(i, "profile", "profile_id", "id")
	}
	if c.Station == "" && len(p.rows) == 1 {
		c.Station = lastDigits.FindString(strings.TrimSuffix(path.Base(p.o.Name), path.Ext(p.o.Name)))
	}
	if c.Station == "" {
		c.Station = fmt.Sprint(i + 1)
	}
	if c.Number == "" {
		c.Number = "1"
	}
	c.Station, c.Number = inName(c.Station), inName(c.Number)
	c.At[0], c.At[1] = section.Wrap180(p.one(p.lon, i)), p.one(p.lat, i)
	if math.IsNaN(c.At[0]) || math.IsNaN(c.At[1]) {
		return fmt.Errorf("station %s has no position", c.Station)
	}
	if t := p.one(p.time, i); !math.IsNaN(t) {
		u, err := units.Parse(p.Vars[p.time].Text("units"))
		if err != nil {
			return fmt.Errorf("%s: %w", p.Vars[p.time].Name, err)
		}
		if at, ok := u.Time(t); ok {
			c.Time = at.Round(time.Second)
		}
	}
	if z := p.one(p.of(bottoms), i); z > 0 && z < 12000 {
		c.BottomM, c.BottomDecimals = z, -1
	}
	if c.Expocode == "" {
		c.Expocode = legOf(p.o.Legs, c.Time)
	}
	if c.Expocode == "" {
		return fmt.Errorf(
			"nothing says the expocode of station %s; declare the legs under cruise: with expocode, start and end",
			c.Station)
	}
	return nil
}

var lastDigits = regexp.MustCompile(`\d+$`)

// inName makes a name that can be part of a file name.
func inName(s string) string {
	return strings.Map(func(r rune) rune {
		if metadata.InFileName(string(r)) {
			return r
		}
		return '_'
	}, s)
}

// role returns the text of the variable with a cf_role for a cast.
func (p *profiles) role(i int, roles ...string) string {
	for k := range p.Vars {
		if slices.Contains(roles, p.Vars[k].Text("cf_role")) {
			return p.word(i, p.Vars[k].Name)
		}
	}
	return ""
}

// legOf returns the expocode of the only leg, or of that which has the day of a time.
func legOf(legs []ingest.Leg, at time.Time) string {
	if len(legs) == 1 {
		return legs[0].Expocode
	}
	for _, l := range legs {
		if !at.IsZero() && !l.Start.IsZero() && !at.Before(l.Start) &&
			(l.End.IsZero() || at.Before(l.End.AddDate(0, 0, 1))) {
			return l.Expocode
		}
	}
	return ""
}

// derivedName reports whether castwright computes a variable itself, so that it is not read. Salinity and oxygen are
// measured more often than they are computed.
func derivedName(name string) bool { return name != "oxy" && name != "psal" && derived.Of(name) != nil }
