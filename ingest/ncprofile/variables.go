package ncprofile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// A dataColumn is a variable with a value at each level, and what it is.
type dataColumn struct {
	metadata.Variable
	index    int
	values   []float64
	flags    []float64 // nil: none
	meaning  map[float64]metadata.Flag
	flagsAt  int
	decimals int
	from     section.Conversion
}

// columns returns the variables with a value at each level. Those that castwright computes are named in a finding and
// not read.
func (p *profiles) columns() (out []dataColumn, err error) {
	taken := map[string]bool{"pres": true}
	var left []string
	for pass := range 2 { // what has a standard name comes first
		for i := range p.Vars {
			v := &p.Vars[i]
			if (v.Text("standard_name") == "") != (pass == 1) || i == p.axis || !v.Type.Numeric() || isFlags(v) ||
				p.isBounds(v.Name) ||
				!slices.Contains(v.Axes(), p.level) || p.at(i, 0, 0) < 0 || slices.Contains([]int{p.lat, p.lon, p.time},
				i) || v.Text("instance_dimension") != "" {
				continue
			}
			m := p.variable(v)
			for taken[m.Name] {
				second, ok := metadata.ByName(m.Name + "2")
				if ok && !taken[second.Name] {
					m = second
					continue
				}
				m = carried(v, m.Name+"_2")
			}
			if derivedName(m.Name) {
				left = append(left, v.Name)
				continue
			}
			taken[m.Name] = true
			c := dataColumn{Variable: m, index: i, decimals: int(v.Number("decimals", -1)), flagsAt: -1}
			if c.values, err = p.numbers(i); err != nil {
				return nil, err
			}
			p.convert(&c, v)
			p.flagsOf(&c, v)
			out = append(out, c)
		}
	}
	if len(left) > 0 {
		p.found = append(p.found, metadata.Finding{Position: metadata.Position{File: p.o.Name}, Severity: metadata.Note,
			Check: "netcdf.derived", Count: len(left),
			Message: "variables that are computed from others are not read: " + strings.Join(left, ", ")})
	}
	return out, nil
}

// variable returns what a variable of a file is: one of the table by standard name and units, else by its name; else
// one of its own.
func (p *profiles) variable(v *nc.Var) metadata.Variable {
	standard := v.Text("standard_name")
	if m, ok := metadata.ByName(v.Name); ok && (standard == "" || standard == m.StandardName) && fitsUnit(v, &m) {
		return m
	}
	if standard == "sea_water_salinity" {
		standard = "sea_water_practical_salinity"
	}
	if alias := metadata.StandardNameAlias(standard); alias != "" {
		standard = alias
	}
	for _, m := range metadata.Variables() {
		if standard != "" && m.StandardName == standard && fitsUnit(v, &m) && !strings.HasSuffix(m.Name, "_bottle") {
			return m
		}
	}
	if standard == "" {
		for _, m := range metadata.Variables() {
			if m.Exchange != "" && m.Exchange == metadata.ExchangeName(v.Name, false) && fitsUnit(v, &m) {
				return m
			}
		}
	}
	return carried(v, v.Name)
}

// fitsUnit reports whether the units of a variable of a file can become those of ours.
func fitsUnit(v *nc.Var, m *metadata.Variable) bool {
	unit := v.Text("units")
	if unit == "" || m.Scale == "PSS-78" && slices.Contains([]string{"1", "1e-3", "0.001", "psu", "PSU", "PSS-78"},
		unit) {
		return true
	}
	_, err := units.Convert(unit, m.Units)
	return err == nil
}

// carried is a variable that is copied as it is.
func carried(v *nc.Var, name string) metadata.Variable {
	safe := []byte(strings.ToLower(name))
	for i, c := range safe {
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9') {
			safe[i] = '_'
		}
	}
	if safe[0] < 'a' {
		safe = append([]byte("column_"), safe...)
	}
	if _, ours := metadata.ByName(string(safe)); ours {
		safe = append([]byte("column_"), safe...)
	}
	long := v.Text("long_name")
	if long == "" {
		long = v.Name + " as read"
	}
	return metadata.Variable{Name: string(safe), LongName: long, Exchange: strings.ToUpper(string(safe)),
		ExchangeUnit: strings.ToUpper(v.Text("units")),
		ValidMin:     math.NaN(), ValidMax: math.NaN(), ExchangeDecimals: -1}
}

// convert brings values to the units and the scale of their variable.
func (p *profiles) convert(c *dataColumn, v *nc.Var) {
	ingest.ExchangeColumn(&c.Variable)
	if scale := v.Text("reference_scale"); c.Scale == "ITS-90" && scale == "IPTS-68" {
		for i, x := range c.values {
			c.values[i] = seawater.IPTS68ToITS90(x)
		}
		c.decimals = -1
		c.from = section.Conversion{From: "IPTS-68", To: "ITS-90", Formula: "t90 = t68 / 1.00024"}
	}
	unit := v.Text("units")
	if c.Scale == "PSS-78" || unit == "" || c.Units == "" {
		return
	}
	to, err := units.Convert(unit, c.Units)
	if err != nil || to.Identity() {
		return
	}
	to.Apply(c.values, c.values)
	c.decimals = -1
	c.from = section.Conversion{From: unit, To: c.Units}
}

// flagWords are words of flag_meanings and the WOCE CTD flags that they mean.
var flagWords = []struct {
	word string
	flag metadata.Flag
}{{"not_calibrated", metadata.NotCalibrated}, {"not_evaluated", metadata.NotEvaluated},
	{"no_quality_control", metadata.NotEvaluated}, {"unknown", metadata.NotEvaluated},
	{"not_reported", metadata.NotReported}, {"not_sampled", metadata.NotSampled}, {"missing", metadata.NotSampled},
	{"probably_bad", metadata.Questionable},
	{"probably_good", metadata.Acceptable}, {"questionable", metadata.Questionable}, {"suspect", metadata.Questionable},
	{"doubtful", metadata.Questionable},
	{"interpolated", metadata.Interpolated}, {"despiked", metadata.Despiked}, {"changed", metadata.Despiked},
	{"acceptable", metadata.Acceptable}, {"good", metadata.Acceptable},
	{"pass", metadata.Acceptable}, {"bad", metadata.Bad}, {"fail", metadata.Bad}}

// flagsOf finds the flags of a variable among its ancillary variables, and what their values mean.
func (p *profiles) flagsOf(c *dataColumn, v *nc.Var) {
	for _, name := range strings.Fields(v.Text("ancillary_variables")) {
		i := p.Var(name)
		if i < 0 || !slices.Equal(p.Vars[i].Axes(), v.Axes()) || !isFlags(&p.Vars[i]) {
			continue
		}
		values, words := p.Vars[i].Floats("flag_values"), strings.Fields(p.Vars[i].Text("flag_meanings"))
		if len(values) == 0 || len(values) != len(words) {
			continue
		}
		x, err := p.Values(i)
		if err != nil {
			continue
		}
		c.flags, c.flagsAt, c.meaning = x, i, map[float64]metadata.Flag{}
		for k, w := range words {
			for _, f := range flagWords {
				if strings.Contains(strings.ToLower(w), f.word) {
					c.meaning[values[k]] = f.flag
					break
				}
			}
		}
		return
	}
}

// dropEmpty leaves out the levels of a cast at which no variable has a value, where an axis is common to several casts.
func (p *profiles) dropEmpty(columns []dataColumn) {
	if len(p.rows) < 2 || len(columns) == 0 {
		return
	}
	for i, rows := range p.rows {
		p.rows[i] = slices.DeleteFunc(slices.Clone(rows), func(k int) bool {
			return !slices.ContainsFunc(columns, func(c dataColumn) bool {
				return c.Name != "nobs" && (!math.IsNaN(c.values[p.at(c.index, i, k)]) || c.saysWhy(p, i, k))
			})
		})
	}
}

// saysWhy reports whether a flag says of a missing value more than that it is missing.
func (c *dataColumn) saysWhy(p *profiles, i, k int) bool {
	if c.flags == nil {
		return false
	}
	f := c.meaning[c.flags[p.at(c.flagsAt, i, k)]]
	return f != metadata.NotEvaluated && f != metadata.NotSampled
}

// column gives a cast the values and flags of a variable; a cast that has none of them does not get it.
func (p *profiles) column(c *section.Cast, i int, d dataColumn) {
	col := section.Column{Variable: d.Variable, Decimals: d.decimals, Converted: d.from,
		Values: make([]float64, len(p.rows[i]))}
	if d.from.From != "" {
		col.Comment = fmt.Sprintf("converted from %s to %s", d.from.From, d.from.To)
	}
	some := false
	for n, k := range p.rows[i] {
		col.Values[n] = d.values[p.at(d.index, i, k)]
		some = some || !math.IsNaN(col.Values[n])
	}
	judged := false
	if d.flags != nil {
		col.Flags = make([]metadata.Flag, len(p.rows[i]))
		for n, k := range p.rows[i] {
			f := d.meaning[d.flags[p.at(d.flagsAt, i, k)]]
			if f == metadata.NotEvaluated && math.IsNaN(col.Values[n]) {
				f = metadata.NotSampled
			}
			judged = judged || f != metadata.NotEvaluated && f != metadata.NotSampled
			col.Flags[n] = f
		}
		if !judged {
			col.Flags = nil
		}
	}
	if some || judged {
		c.Columns = append(c.Columns, col)
	}
}

// series finds the casts of a time series of profiles at one position (CF 1.11, H.5): they lie along the dimension of
// time. A cast has its own position where the file gives those too, beside the nominal one. axis is the dimensions of
// the vertical coordinate.
func (p *profiles) series(axis []int) {
	along := p.Vars[p.time].Axes()
	if len(along) != 1 || slices.Equal(along, axis) {
		return
	}
	p.profile = along[0]
	for i := range p.Vars {
		if v := &p.Vars[i]; v.Type.Numeric() && slices.Equal(v.Axes(), along) {
			switch v.Text("standard_name") {
			case latitudes.standard[0]:
				p.lat = i
			case longitudes.standard[0]:
				p.lon = i
			}
		}
	}
}

// upward reports whether the levels of a cast are all in the order from the bottom to the surface.
func (p *profiles) upward(cast int, levels []float64) bool {
	rows := p.rows[cast]
	sign := 1.0
	if p.isDepth && p.Vars[p.axis].Text("positive") == "up" {
		sign = -1
	}
	for k := 1; k < len(rows); k++ {
		if !(sign*levels[p.at(p.axis, cast, rows[k])] < sign*levels[p.at(p.axis, cast, rows[k-1])]) {
			return false
		}
	}
	return len(rows) > 1
}

// reversed says that the levels of casts were put in order of pressure.
func (p *profiles) reversed(casts int) {
	p.found = append(p.found, metadata.Finding{Position: metadata.Position{File: p.o.Name}, Severity: metadata.Note,
		Check: "netcdf.order", Count: casts,
		Message: "the levels run from the bottom to the surface; put in order of pressure",
		Remedy:  "if these are upcasts, name them under casts: up"})
}
