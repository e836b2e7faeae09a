package ncprofile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/paulmach/orb"
)

// A Collection is the casts of a CF profile file, in the order of the file, as far as the file describes them.
type Collection struct {
	Casts []*section.Cast
	IDs   []string        // the profile_id of each cast
	Exact bool            // which levels each cast has is certain
	Both  map[string]bool // variables that some casts have measured and others derived
}

// Cast returns the cast of an identity; nil when there is none.
func (out *Collection) Cast(id string) *section.Cast {
	if i := slices.Index(out.IDs, id); i >= 0 {
		return out.Casts[i]
	}
	return nil
}

// SectionOf returns the section whose file the casts were read from: with their distances, and with the first cast
// again at the end of a closed line, as the attribute closing_distance says.
func SectionOf(f *nc.File, name string, c *Collection) *section.Section {
	s := &section.Section{Name: name, Casts: c.Casts, DistanceKm: f.NumbersOf("distance")}
	if end := nc.Floats(f.Attr("closing_distance")); len(end) == 1 && len(c.Casts) > 0 {
		s.Casts = append(slices.Clone(c.Casts), c.Casts[0])
		s.DistanceKm = append(slices.Clone(s.DistanceKm), end[0])
	}
	return s
}

// ReadCasts returns the casts of a profile file with the names of variables that castwright writes. Levels lie on a
// common pressure axis, by cast and level, or in a contiguous ragged array (CF 1.11 section 9.3); a time series of
// castwright is such a file too.
func ReadCasts(f *nc.File) (*Collection, error) {
	out := &Collection{IDs: f.WordsOf("profile_id"), Both: map[string]bool{}}
	out.instances(f)
	at, err := out.levels(f)
	if err != nil || at == nil {
		return out, err
	}
	if err := out.pressure(f, at); err != nil {
		return nil, err
	}
	for k := range f.Vars {
		v := &f.Vars[k]
		if v.Name == "pres" || !at.holds(v) || v.Attr("flag_values") != nil {
			continue
		}
		if err := out.column(f, at, k); err != nil {
			return nil, err
		}
		f.Forget(k)
	}
	return out, nil
}

// instances makes the casts, each with what the file has once for a cast.
func (out *Collection) instances(f *nc.File) {
	word := func(name string) func(int) string {
		x := f.WordsOf(name)
		return func(i int) string {
			if i < len(x) {
				return x[i]
			}
			return ""
		}
	}
	number := func(name string, none float64) func(int) float64 {
		x := f.NumbersOf(name)
		return func(i int) float64 {
			if i < len(x) && !math.IsNaN(x[i]) {
				return x[i]
			}
			return none
		}
	}
	code, station, name, group := word("expocode"), word("station"), word("cast"), word("cast_section")
	label := word("system_label")
	count, instant, depth := number("cast", math.NaN()), number("time", math.NaN()), number("bottom_depth", math.NaN())
	lat, lon, precision := number("lat", math.NaN()), number("lon", math.NaN()), number("time_precision", 0)
	if f.Var("cast_lat") >= 0 { // a time series, whose lat and lon are its nominal position
		lat, lon = number("cast_lat", math.NaN()), number("cast_lon", math.NaN())
	}
	role, direction, system := number("cast_role", 0), number("cast_direction", 0), number("system", -1)
	for i := range out.IDs {
		c := &section.Cast{Expocode: code(i), Station: station(i), Number: name(i), SectionID: group(i),
			Role: section.Role(role(i)), Direction: section.Direction(direction(i)), At: orb.Point{lon(i), lat(i)},
			BottomM: depth(i), DateOnly: precision(i) == 1, AtDecimals: [2]int{-1, -1},
			BottomDecimals: -1}
		if n := count(i); n == math.Trunc(n) {
			c.Number = strconv.FormatFloat(n, 'f', -1, 64)
		}
		if t := instant(i); !math.IsNaN(t) {
			c.Time = time.UnixMilli(int64(math.Round(t * 1000))).UTC()
		}
		if k := system(i); k >= 0 && label(int(k)) != "unknown" {
			c.System = label(int(k))
		}
		out.Casts = append(out.Casts, c)
	}
}

// levels says where the levels of each cast lie in the arrays of a file.
type levels struct {
	dims   []int   // of a variable with a value at each level
	width  int     // length of the last of them
	places [][]int // of the levels of each cast, in such a variable
}

// holds reports whether a variable has a number at each level of the casts.
func (at *levels) holds(v *nc.Var) bool { return slices.Equal(v.Dims, at.dims) && v.Type.Numeric() }

// levels returns where the levels of the casts lie; nil when the file has none.
func (out *Collection) levels(f *nc.File) (*levels, error) {
	n, profile, level := len(out.Casts), f.Dim("profile"), f.Dim("pres")
	at := &levels{places: make([][]int, n)}
	rows := f.NumbersOf("row_size")
	if profile < 0 { // a time series
		profile = f.Dim("time")
	}
	switch {
	case rows != nil:
		level = f.Dim("obs")
	case level < 0:
		level = f.Dim("level")
	}
	if level < 0 || profile < 0 {
		return nil, nil
	}
	if f.Dims[profile].Len != n {
		return nil, fmt.Errorf("profile_id has %d values, dimension %s %d", n, f.Dims[profile].Name,
			f.Dims[profile].Len)
	}
	at.dims, at.width = []int{profile, level}, f.Dims[level].Len
	if rows != nil {
		at.dims, out.Exact = []int{level}, true
		from := 0
		for i := range at.places {
			for k := 0.0; i < len(rows) && k < rows[i] && from < at.width; k++ {
				at.places[i] = append(at.places[i], from)
				from++
			}
		}
		return at, nil
	}
	present, err := out.present(f, at)
	for k, has := range present {
		if has {
			at.places[k/at.width] = append(at.places[k/at.width], k)
		}
	}
	return at, err
}

// present reports at which levels each cast was read: where it has a pressure of its own, else those of the common axis
// at which it has a value or a flag other than "not sampled".
func (out *Collection) present(f *nc.File, at *levels) ([]bool, error) {
	there := make([]bool, len(out.Casts)*at.width)
	own := f.Var("pres") >= 0 && at.holds(&f.Vars[f.Var("pres")])
	out.Exact = own
	for i := range f.Vars {
		v := &f.Vars[i]
		flag := v.Attr("flag_values") != nil
		if !at.holds(v) || own != (v.Name == "pres") || !own && !flag && v.Fill == nil ||
			strings.HasSuffix(v.Name, "_flag_auto") {
			continue
		}
		out.Exact = out.Exact || v.Name == "pres_flag_woce"
		x, err := f.Values(i)
		if err != nil {
			return nil, err
		}
		for k, y := range x {
			there[k] = there[k] || flag && y != float64(metadata.NotSampled) || !flag && !f.Missing(i, y)
		}
	}
	return there, nil
}

// pressure gives the casts the column of pressure.
func (out *Collection) pressure(f *nc.File, at *levels) error {
	k := f.Var("pres")
	if k < 0 || !at.holds(&f.Vars[k]) && !slices.Equal(f.Vars[k].Dims, at.dims[len(at.dims)-1:]) {
		return fmt.Errorf("no pressure at the levels of the casts")
	}
	x, err := f.Values(k)
	if err != nil {
		return err
	}
	flags, err := at.flags(f, "pres")
	for i, c := range out.Casts {
		c.PressureDbar = make([]float64, len(at.places[i]))
		for j, p := range at.places[i] {
			c.PressureDbar[j] = x[p%len(x)]
		}
		c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Decimals: -1, Values: c.PressureDbar,
			Flags: flags(i)}}
	}
	return err
}

// flags returns a function that returns the flags in force of a variable in each cast, nil for a variable without. A
// number that is no flag, a fault of the file, counts as not evaluated.
func (at *levels) flags(f *nc.File, name string) (func(cast int) []metadata.Flag, error) {
	var x []float64
	var err error
	if k := f.Var(name + "_flag_woce"); k >= 0 && at.holds(&f.Vars[k]) && f.Vars[k].Attr("flag_values") != nil {
		x, err = f.Values(k)
	}
	return func(cast int) (out []metadata.Flag) {
		if x == nil {
			return nil
		}
		for _, p := range at.places[cast] {
			flag := metadata.NotEvaluated
			if y := x[p]; y >= 0 && y <= float64(metadata.NotSampled) {
				flag = metadata.Flag(y)
			}
			out = append(out, flag)
		}
		return out
	}, err
}

// column gives the casts the values and flags of a variable.
func (out *Collection) column(f *nc.File, at *levels, k int) error {
	v := &f.Vars[k]
	x, err := f.Numbers(k)
	if err != nil {
		return err
	}
	flags, err := at.flags(f, v.Name)
	if err != nil {
		return err
	}
	col := section.Column{Variable: metadata.Variable{Name: v.Name, Units: v.Text("units"),
		StandardName: v.Text("standard_name"), Exchange: v.Text("exchange_name"),
		ExchangeUnit: v.Text("exchange_unit")}, Decimals: int(v.Number("decimals", -1))}
	if s := v.Text("source_name"); v.Name == s+"_derived" { // derived in some casts, measured in others
		col.Name = s
	}
	col.Derived = col.Decimals < 0 && col.Exchange == "" && // a measured one without a value has no decimals either
		(derived.Of(col.Name) != nil || col.Name == "dynamic_height")
	for i, c := range out.Casts {
		mine := col
		mine.Values, mine.Flags = section.Take(nil, x, at.places[i]), flags(i)
		twin := c.Column(col.Name)
		switch {
		case twin == nil:
			c.Columns = append(c.Columns, mine)
			continue
		case mine.HasValue(): // measured in this cast, derived in others, or the other way round
			*twin = mine
		}
		out.Both[col.Name] = true
	}
	return nil
}
