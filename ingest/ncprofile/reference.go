package ncprofile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// A ReferenceField is what a section can be compared with: Absolute Salinity (g/kg) and Conservative Temperature (degC)
// on longitude, latitude and pressure, or on distance and pressure along the track of an earlier section. Values of
// level k are at k*columns, of a climatology longitude fastest; NaN is no value. Errors are nil where there are none.
type ReferenceField struct {
	Lon, Lat     []float64   // of a climatology, increasing
	Around       bool        // its longitudes go once round the globe
	Track        []orb.Point // of an earlier section; nil: a climatology
	DistanceKm   []float64
	PressureDbar []float64 // of a section by level; of a climatology of level k at latitude j at k*len(Lat)+j
	SA, CT       []float64
	SAErr, CTErr []float64
	Others       []ReferenceVariable
	Quantities   string // standard names of what was converted
	Month        int    // 0: it has no months
}

// A ReferenceVariable is a further variable of a reference, in the unit that was asked for.
type ReferenceVariable struct {
	Name        string
	Values, Err []float64 // Err: standard errors; nil: there are none
}

// Standard names of what a reference may have, and how it becomes Absolute Salinity or Conservative Temperature.
var (
	referenceSalts = []string{"sea_water_absolute_salinity", "sea_water_practical_salinity"}
	referenceHeats = []string{"sea_water_conservative_temperature", "sea_water_potential_temperature",
		"sea_water_temperature"}
)

// ReadReference reads the grid of a section that castwright mapped, or the part of a climatology around the box from
// west to east (degrees; east may exceed 180) and from south to north. A climatology has one-dimensional longitude,
// latitude and pressure or depth, and salinity and temperature with a standard_name that says which they are; twelve
// times are the months, of which one is asked for. Of others it reads those that the file has on the same dimensions:
// with their standard_name or, in a gridded section, their name. path is absolute and cleaned.
func ReadReference(path string, west, east, south, north float64, month int, others []metadata.Variable) (
	*ReferenceField, error) {
	f, err := nc.OpenFile(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := &reference{f: f, s: f.Schema, month: month, box: [4]float64{west, east, south, north}, others: others}
	if err := r.quantities(); err != nil {
		return nil, err
	}
	if f.Var("distance") >= 0 && len(f.Vars[r.heat].Dims) == 2 {
		return r.section()
	}
	return r.climatology()
}

// A reference is a file while it is read.
type reference struct {
	f          *nc.File
	s          *nc.Schema
	month      int
	box        [4]float64
	salt, heat int // variables
	saltName   string
	heatName   string
	others     []metadata.Variable
}

// other returns the variable of the file that holds a further one; -1: none.
func (r *reference) other(q *metadata.Variable, byName bool) int {
	on := func(v *nc.Var) bool {
		return v.Type.Numeric() && slices.Equal(v.Dims, r.s.Vars[r.heat].Dims) && isIn(v, q.Units)
	}
	if byName {
		return slices.IndexFunc(r.s.Vars, func(v nc.Var) bool { return v.Name == q.Name && on(&v) })
	}
	return slices.IndexFunc(r.s.Vars, func(v nc.Var) bool {
		return q.StandardName != "" && v.Text("standard_name") == q.StandardName && on(&v)
	})
}

// quantities finds salinity and temperature.
func (r *reference) quantities() error {
	find := func(names []string) (int, string) {
		for _, name := range names {
			for i := range r.s.Vars {
				if v := &r.s.Vars[i]; v.Type.Numeric() && len(v.Dims) > 1 && v.Text("standard_name") == name {
					return i, name
				}
			}
		}
		return -1, ""
	}
	r.salt, r.saltName = find(referenceSalts)
	r.heat, r.heatName = find(referenceHeats)
	if r.salt < 0 || r.heat < 0 {
		return fmt.Errorf("it needs a salinity (standard_name %s) and a temperature (%s) on a grid",
			strings.Join(referenceSalts, " or "), strings.Join(referenceHeats, ", "))
	}
	if !slices.Equal(r.s.Vars[r.salt].Dims, r.s.Vars[r.heat].Dims) {
		return fmt.Errorf("%s and %s have different dimensions", r.s.Vars[r.salt].Name, r.s.Vars[r.heat].Name)
	}
	return nil
}

// errorOf returns the variable of the standard error of another; -1: none.
func (r *reference) errorOf(v int) int {
	return slices.IndexFunc(r.s.Vars, func(e nc.Var) bool {
		return e.Text("standard_name") == r.s.Vars[v].Text("standard_name")+" standard_error" &&
			slices.Equal(e.Dims, r.s.Vars[v].Dims)
	})
}

// section reads a section that was mapped.
func (r *reference) section() (*ReferenceField, error) {
	if r.month != 0 {
		return nil, fmt.Errorf("the key month is given, but the file is a gridded section, which has no months")
	}
	x := &ReferenceField{DistanceKm: r.f.NumbersOf("distance"), PressureDbar: r.f.NumbersOf("pres"),
		Quantities: r.heatName + ", " + r.saltName}
	lat, lon := r.f.NumbersOf("lat"), r.f.NumbersOf("lon")
	n := len(x.DistanceKm)
	if len(x.PressureDbar) == 0 || n < 2 || len(lat) != n || len(lon) != n || r.saltName != referenceSalts[0] ||
		r.heatName != referenceHeats[0] {
		return nil, fmt.Errorf("the file has a distance but is not a gridded section of an archive (NAME_grid.nc) " +
			"on pressure, with Conservative Temperature and Absolute Salinity")
	}
	for i := range lat {
		x.Track = append(x.Track, orb.Point{lon[i], lat[i]})
	}
	numbers := func(v int) []float64 {
		if v < 0 {
			return nil
		}
		return r.f.NumbersOf(r.s.Vars[v].Name)
	}
	x.SA, x.CT, x.SAErr, x.CTErr = numbers(r.salt), numbers(r.heat), numbers(r.errorOf(r.salt)),
		numbers(r.errorOf(r.heat))
	if len(x.SA) != n*len(x.PressureDbar) || len(x.CT) != len(x.SA) {
		return nil, fmt.Errorf("%s is not on pressure and distance", r.s.Vars[r.heat].Name)
	}
	for i := range r.others {
		q := &r.others[i]
		if v := r.other(q, true); v >= 0 && r.s.Vars[v].Text("units") == q.Units {
			e := slices.IndexFunc(r.s.Vars, func(e nc.Var) bool {
				return e.Name == q.Name+"_err" && e.Type.Numeric() && slices.Equal(e.Dims, r.s.Vars[v].Dims)
			})
			x.Others = append(x.Others, ReferenceVariable{q.Name, numbers(v), numbers(e)})
		}
	}
	return x, nil
}

// mostReference bounds what is read of a climatology.
const mostReference = 20_000_000

// A block is the part of a variable that is read: for each of its dimensions where it starts and how much of it.
type block struct {
	start, count []int
	level, lat   int // place of each dimension in the variable; longitude is the third
	lon          int
}

// climatology reads what lies around the casts.
func (r *reference) climatology() (*ReferenceField, error) {
	axisVar := func(is func(v *nc.Var) bool) int {
		return slices.IndexFunc(r.s.Vars, func(v nc.Var) bool {
			return len(v.Dims) == 1 && v.Type.Numeric() && slices.Contains(r.s.Vars[r.heat].Dims, v.Dims[0]) && is(&v)
		})
	}
	lonVar := axisVar(func(v *nc.Var) bool { return metadata.IsLongitude(v.Text("standard_name"), v.Text("units")) })
	latVar := axisVar(func(v *nc.Var) bool { return metadata.IsLatitude(v.Text("standard_name"), v.Text("units")) })
	downVar := axisVar(func(v *nc.Var) bool {
		return isIn(v, "dbar") || isIn(v, "m")
	})
	if lonVar < 0 || latVar < 0 || downVar < 0 {
		return nil, fmt.Errorf("%s does not lie on longitude, latitude and pressure or depth with a coordinate each",
			r.s.Vars[r.heat].Name)
	}
	lons, err := axis(r.f.Reader, lonVar)
	if err != nil {
		return nil, err
	}
	lats, err := axis(r.f.Reader, latVar)
	if err != nil {
		return nil, err
	}
	step := math.Abs(lons[1] - lons[0])
	x := &ReferenceField{Around: math.Abs(math.Abs(lons[len(lons)-1]-lons[0])+step-360) < step/2,
		Quantities: r.heatName + ", " + r.saltName}
	b, err := r.block(lonVar, latVar, downVar, lons, lats, x)
	if err != nil {
		return nil, err
	}
	return x, r.fill(x, b, downVar)
}

// isIn reports whether a variable has a unit of the kind of another.
func isIn(v *nc.Var, unit string) bool {
	_, err := units.Convert(v.Text("units"), unit)
	return err == nil
}

// block chooses the part around the casts and the month.
func (r *reference) block(lonVar, latVar, downVar int, lons, lats []float64, x *ReferenceField) (*block, error) {
	b := &block{level: -1, lat: -1, lon: -1}
	y0, y1 := window(lats, func(v float64) bool { return v >= r.box[2] && v <= r.box[3] }, r.box[2], r.box[3], 0)
	x0, x1 := 0, len(lons) // all longitudes: the box may lie across the first
	if y1 <= y0 {
		return nil, fmt.Errorf("its latitudes, %g to %g, do not include those of the casts", lats[0], lats[len(lats)-1])
	}
	for d, dim := range r.s.Vars[r.heat].Dims {
		n := r.s.Dims[dim].Len
		from, count := 0, n
		switch dim {
		case r.s.Vars[lonVar].Dims[0]:
			b.lon, from, count = d, x0, x1-x0
		case r.s.Vars[latVar].Dims[0]:
			b.lat, from, count = d, y0, y1-y0
		case r.s.Vars[downVar].Dims[0]:
			b.level = d
		default:
			if n != 1 && n != 12 {
				return nil, fmt.Errorf("%s has %d values along %s; it needs one, or twelve months",
					r.s.Vars[r.heat].Name, n, r.s.Dims[dim].Name)
			}
			if n == 12 && r.month == 0 {
				return nil, fmt.Errorf("it has twelve months along %s: choose one with the key month",
					r.s.Dims[dim].Name)
			}
			count = 1
			if n == 12 {
				from, x.Month = r.month-1, r.month
			}
		}
		b.start, b.count = append(b.start, from), append(b.count, count)
	}
	if r.month != 0 && x.Month == 0 {
		return nil, fmt.Errorf("the key month is given, but the file does not have twelve months")
	}
	x.Lon, x.Lat = slices.Clone(lons[x0:x1]), slices.Clone(lats[y0:y1])
	if len(x.Lon)*len(x.Lat)*b.count[b.level] > mostReference {
		return nil, fmt.Errorf("%d by %d by %d values around the casts are too many to read", len(x.Lon), len(x.Lat),
			b.count[b.level])
	}
	return b, nil
}

// fill reads the values and converts them.
func (r *reference) fill(x *ReferenceField, b *block, downVar int) error {
	down, err := r.vertical(downVar)
	if err != nil {
		return err
	}
	nx, ny := len(x.Lon), len(x.Lat)
	read := func(v int, unit string) ([]float64, error) {
		if v < 0 {
			return nil, nil
		}
		return r.values(v, b, nx, ny, unit)
	}
	saltUnit := "g kg-1"
	if r.saltName != referenceSalts[0] {
		saltUnit = ""
	}
	var salt, heat []float64
	for _, q := range []struct {
		dst  *[]float64
		v    int
		unit string
	}{{&salt, r.salt, saltUnit}, {&heat, r.heat, "degC"}, {&x.SAErr, r.errorOf(r.salt), ""},
		{&x.CTErr, r.errorOf(r.heat), ""}} {
		if *q.dst, err = read(q.v, q.unit); err != nil {
			return err
		}
	}
	for i := range r.others {
		q := &r.others[i]
		v := r.other(q, false)
		if v < 0 {
			continue
		}
		o := ReferenceVariable{Name: q.Name}
		if o.Values, err = read(v, q.Units); err == nil {
			o.Err, err = read(r.errorOf(v), "")
		}
		if err != nil {
			return err
		}
		c, err := units.Convert(r.s.Vars[v].Text("units"), q.Units)
		if err != nil {
			return err
		}
		for k := range o.Err { // in the unit of the variable
			o.Err[k] *= c.Of(1) - c.Of(0)
		}
		x.Others = append(x.Others, o)
	}
	x.SA, x.CT = make([]float64, len(salt)), make([]float64, len(heat))
	for k := range down {
		for j, lat := range x.Lat {
			p := down[k](lat)
			x.PressureDbar = append(x.PressureDbar, p)
			for i, lon := range x.Lon {
				n := (k*ny+j)*nx + i
				x.SA[n], x.CT[n] = r.converted(salt[n], heat[n], p, orb.Point{lon, lat})
			}
		}
	}
	x.turn()
	return nil
}

// converted returns Absolute Salinity and Conservative Temperature of a node.
func (r *reference) converted(salt, heat, p float64, at orb.Point) (sa, ct float64) {
	sa, ct = salt, heat
	if math.IsNaN(salt) || math.IsNaN(heat) {
		return math.NaN(), math.NaN()
	}
	if r.saltName == "sea_water_practical_salinity" {
		pl := seawater.PlaceOf(math.Remainder(at[0], 360), at[1])
		sa = pl.AbsoluteSalinity(salt, p)
	}
	switch r.heatName {
	case "sea_water_temperature":
		ct = seawater.ConservativeTemperature(sa, heat, p)
	case "sea_water_potential_temperature":
		ct = seawater.ConservativeTemperature(sa, heat, 0)
	}
	return sa, ct
}

// vertical returns the levels as functions of latitude that give pressure in dbar, downward.
func (r *reference) vertical(v int) ([]func(lat float64) float64, error) {
	raw := r.f.NumbersOf(r.s.Vars[v].Name)
	if len(raw) < 2 {
		return nil, fmt.Errorf("%s has %d levels", r.s.Vars[v].Name, len(raw))
	}
	unit := r.s.Vars[v].Text("units")
	c, err := units.Convert(unit, "dbar")
	depth := err != nil
	if depth {
		if c, err = units.Convert(unit, "m"); err != nil {
			return nil, err
		}
	}
	sign := 1.0
	if r.s.Vars[v].Text("positive") == "up" {
		sign = -1
	}
	out := make([]func(float64) float64, len(raw))
	for k := range raw {
		z := sign * c.Of(raw[k])
		if !(math.Abs(z) < 12000) || k > 0 && z <= sign*c.Of(raw[k-1]) {
			return nil, fmt.Errorf("%s does not run downward", r.s.Vars[v].Name)
		}
		out[k] = func(lat float64) float64 {
			if depth {
				return seawater.Pressure(-z, lat)
			}
			return z
		}
	}
	return out, nil
}

// values reads a block with longitude fastest and levels slowest; a missing value is NaN.
func (r *reference) values(v int, b *block, nx, ny int, unit string) ([]float64, error) {
	raw := make([]float64, nx*ny*b.count[b.level])
	if err := r.f.Reader.ReadFloat64(v, b.start, b.count, raw); err != nil {
		return nil, err
	}
	q := &r.s.Vars[v]
	c := func(x float64) float64 { return x }
	if unit != "" {
		conversion, err := units.Convert(q.Text("units"), unit)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", q.Name, err)
		}
		c = conversion.Of
	}
	scale, offset := q.Number("scale_factor", 1), q.Number("add_offset", 0)
	missing := slices.Concat(q.Floats("_FillValue"), q.Floats("missing_value"))
	stride := make([]int, len(b.count))
	for d, n := len(b.count)-1, 1; d >= 0; d-- {
		stride[d], n = n, n*b.count[d]
	}
	out := make([]float64, 0, len(raw))
	for k := range b.count[b.level] {
		for j := range ny {
			for i := range nx {
				x := raw[k*stride[b.level]+j*stride[b.lat]+i*stride[b.lon]]
				if slices.Contains(missing, x) || math.IsInf(x, 0) || math.Abs(x) > 1e30 {
					x = math.NaN()
				}
				out = append(out, c(float64(x*scale)+offset))
			}
		}
	}
	return out, nil
}

// turn makes longitudes and latitudes increase.
func (x *ReferenceField) turn() {
	nx, ny := len(x.Lon), len(x.Lat)
	all := [][]float64{x.SA, x.CT, x.SAErr, x.CTErr}
	for _, o := range x.Others {
		all = append(all, o.Values, o.Err)
	}
	if x.Lon[0] > x.Lon[nx-1] {
		slices.Reverse(x.Lon)
		for _, v := range all {
			for row := 0; row+nx <= len(v); row += nx {
				slices.Reverse(v[row : row+nx])
			}
		}
	}
	if x.Lat[0] < x.Lat[ny-1] {
		return
	}
	slices.Reverse(x.Lat)
	for k := 0; k+ny <= len(x.PressureDbar); k += ny {
		slices.Reverse(x.PressureDbar[k : k+ny])
	}
	for _, v := range all {
		for level := 0; level+nx*ny <= len(v); level += nx * ny {
			part := v[level : level+nx*ny]
			slices.Reverse(part)
			for row := 0; row+nx <= len(part); row += nx {
				slices.Reverse(part[row : row+nx])
			}
		}
	}
}
