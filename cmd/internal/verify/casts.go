package verify

import (
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/paulmach/orb"
)

// A castFile is the casts of a profile file of ours as they were before they were written, as far as the file can say.
type castFile struct {
	twins map[string]bool // variables that some casts have measured and others derived
	casts []*section.Cast
	ids   []string
	exact bool // which levels each cast has is certain
	byID  map[string]*section.Cast
}

// readCasts turns a profile file back into casts.
func readCasts(f *ncFile) (*castFile, error) {
	out := &castFile{byID: map[string]*section.Cast{}}
	s := f.s
	out.ids = f.namedWords("profile_id")
	codes, stations := f.namedWords("expocode"), f.namedWords("station")
	numbers := f.namedWords("cast")
	if numbers == nil {
		for _, n := range f.named("cast") {
			numbers = append(numbers, formatNumber(n))
		}
	}
	n := len(out.ids)
	at := func(x []float64, i int, missing float64) float64 {
		if i >= len(x) || x[i] == -9999 {
			return missing
		}
		return x[i]
	}
	word := func(x []string, i int) string {
		if i < len(x) {
			return x[i]
		}
		return ""
	}
	times, lat, lon := f.named("time"), f.named("lat"), f.named("lon")
	depth, role, direction := f.named("bottom_depth"), f.named("cast_role"), f.named("cast_direction")
	systems, labels := f.named("system"), f.namedWords("system_label")
	precision := f.named("time_precision")
	sections := f.namedWords("cast_section")
	for i := range n {
		c := &section.Cast{Expocode: word(codes, i), Station: word(stations, i), Number: word(numbers, i),
			SectionID: word(sections, i),
			Role:      section.Role(at(role, i, 0)), Direction: section.Direction(at(direction, i, 0)),
			At:      orb.Point{at(lon, i, math.NaN()), at(lat, i, math.NaN())},
			BottomM: at(depth, i, math.NaN()), DateOnly: at(precision, i, 0) == 1, AtDecimals: [2]int{-1, -1}}
		if t := at(times, i, math.NaN()); !math.IsNaN(t) {
			c.Time = time.UnixMilli(int64(math.Round(t * 1000))).UTC()
		}
		if k := int(at(systems, i, -1)); k >= 0 && k < len(labels) && labels[k] != "unknown" {
			c.System = labels[k]
		}
		out.casts = append(out.casts, c)
		out.byID[out.ids[i]] = c
	}
	level := s.Dim("pres")
	rows := f.named("row_size")
	switch {
	case rows != nil:
		level = s.Dim("obs")
	case level < 0: // pressure by cast and level
		level = s.Dim("level")
	}
	profile := s.Dim("profile")
	if level < 0 || profile < 0 {
		return out, nil
	}
	width := s.Dims[level].Len
	own := make([][]int, n) // places of each cast's levels in the arrays
	if k := s.Var("pres"); k >= 0 && slices.Equal(s.Vars[k].Dims, []int{profile, level}) {
		pres, err := f.values(k)
		if err != nil {
			return nil, err
		}
		for i := range own {
			for j := range width {
				if !f.missing(k, pres[i*width+j]) {
					own[i] = append(own[i], j)
				}
			}
		}
		out.exact = true
	} else if rows != nil {
		from := 0
		for i := range own {
			for range int(at(rows, i, 0)) {
				if from < width {
					own[i] = append(own[i], from)
				}
				from++
			}
		}
		out.exact = true
	} else {
		var err error
		if own, out.exact, err = ownLevels(f, profile, level, n, width); err != nil {
			return nil, err
		}
	}
	return out, out.fill(f, own, profile, level, width, rows != nil)
}

func formatNumber(x float64) string {
	if x == math.Trunc(x) {
		return trimFloat(x)
	}
	return ""
}

// atLevelDims says whether a variable lies along the levels of the casts.
func atLevelDims(v *nc.Var, profile, level int, ragged bool) bool {
	if ragged {
		return slices.Equal(v.Dims, []int{level})
	}
	return slices.Equal(v.Dims, []int{profile, level})
}

// ownLevels finds which of the common levels each cast has: those with a value or a flag other than "not sampled".
func ownLevels(f *ncFile, profile, level, n, width int) (own [][]int, exact bool, err error) {
	evident := make([]bool, n*width)
	for i := range f.s.Vars {
		v := &f.s.Vars[i]
		if !atLevelDims(v, profile, level, false) || !numeric(v.Type) {
			continue
		}
		flag := v.Attr("flag_values") != nil
		if !flag && v.Fill == nil {
			continue
		}
		exact = exact || v.Name == "pres_flag_woce"
		x, err := f.values(i)
		if err != nil {
			return nil, false, err
		}
		for k, y := range x {
			if flag && y != float64(metadata.NotSampled) && !strings.HasSuffix(v.Name, "_flag_auto") || !flag &&
				!f.missing(i, y) {
				evident[k] = true
			}
		}
	}
	own = make([][]int, n)
	for i := range own {
		for k := range width {
			if evident[i*width+k] {
				own[i] = append(own[i], k)
			}
		}
	}
	return own, exact, nil
}

// fill gives the casts their columns.
func (out *castFile) fill(f *ncFile, own [][]int, profile, level, width int, ragged bool) error {
	s := f.s
	pres := f.named("pres")
	at := s.Var("pres")
	byCast := !ragged && at >= 0 && slices.Equal(s.Vars[at].Dims, []int{profile, level})
	for i, c := range out.casts {
		c.PressureDbar = make([]float64, len(own[i]))
		for k, at := range own[i] {
			if byCast {
				at += i * width
			}
			c.PressureDbar[k] = pres[at]
		}
		col := section.Column{Variable: metadata.MustVariable("pres"), Decimals: -1, Values: c.PressureDbar}
		c.Columns = append(c.Columns, col)
	}
	take := func(x []float64, i int, to []float64) []float64 {
		for _, at := range own[i] {
			if !ragged {
				at += i * width
			}
			to = append(to, x[at])
		}
		return to
	}
	flagsOf := func(name string) ([]float64, error) {
		k := s.Var(name + "_flag_woce")
		if k < 0 || !atLevelDims(&s.Vars[k], profile, level, ragged) || !numeric(s.Vars[k].Type) ||
			s.Vars[k].Attr("flag_values") == nil {
			return nil, nil
		}
		return f.values(k)
	}
	give := func(c *section.Column, x []float64, i int) {
		if x == nil {
			return
		}
		for _, y := range take(x, i, nil) {
			f := metadata.NotEvaluated // what is no flag is a fault of the file (cf.23)
			if y >= 0 && y <= float64(metadata.NotSampled) {
				f = metadata.Flag(y)
			}
			c.Flags = append(c.Flags, f)
		}
	}
	x, err := flagsOf("pres")
	if err != nil {
		return err
	}
	for i, c := range out.casts {
		give(&c.Columns[0], x, i)
	}
	for k := range s.Vars {
		v := &s.Vars[k]
		if v.Name == "pres" || !atLevelDims(v, profile, level, ragged) || !numeric(v.Type) ||
			v.Attr("flag_values") != nil {
			continue
		}
		x, err := f.values(k)
		if err != nil {
			return err
		}
		flags, err := flagsOf(v.Name)
		if err != nil {
			return err
		}
		decimals := -1
		if d := floats(v.Attr("decimals")); len(d) == 1 {
			decimals = int(d[0])
		}
		name := v.Name
		if s := v.Text("source_name"); name == s+"_derived" { // derived in some casts, measured in others
			name = s
		}
		m := metadata.Variable{Name: name, Units: v.Text("units"), StandardName: v.Text("standard_name"),
			Exchange:     v.Text("exchange_name"),
			ExchangeUnit: v.Text("exchange_unit")}
		isDerived := decimals < 0 && m.Exchange == "" && // a measured one without a value has no decimals either
			(derived.Of(name) != nil || name == "dynamic_height")
		for i, c := range out.casts {
			col := section.Column{Variable: m, Decimals: decimals, Derived: isDerived, Values: take(x, i, nil)}
			for j, y := range col.Values {
				if f.missing(k, y) {
					col.Values[j] = math.NaN()
				}
			}
			give(&col, flags, i)
			if twin := c.Column(name); twin == nil {
				c.Columns = append(c.Columns, col)
			} else { // measured in this cast, derived in others, or the other way round
				if out.twins == nil {
					out.twins = map[string]bool{}
				}
				out.twins[name] = true
				if hasValue(&col) {
					*twin = col
				}
			}
		}
		f.forget(k)
	}
	return nil
}

// measured gives the cast without its derived columns and without those that it has no value of.
func measured(c *section.Cast) *section.Cast {
	out := *c
	out.Columns = nil
	for i := range c.Columns {
		k := &c.Columns[i]
		if k.Name != "pres" && (k.Derived || !hasValue(k)) {
			continue
		}
		out.Columns = append(out.Columns, *k)
	}
	return &out
}

func hasValue(k *section.Column) bool {
	return slices.ContainsFunc(k.Values, func(x float64) bool { return x == x })
}
