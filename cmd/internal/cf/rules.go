// Package cf checks any NetCDF file against the CF conventions, and a file of castwright against its own rules too.
//
//	f, err := nc.OpenFile("/abs/x.nc")
//	for _, x := range cf.Check(f, "x.nc", false) { ... } // x.Check is the rule: cf.21
//
// It opens no file: NetCDF not covered by a verified checksum is opened in a child process (cmd/internal/child).
package cf

import (
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
)

// kind is where a rule comes from.
type kind uint8

const (
	must   kind = iota // a requirement of CF
	later              // a requirement of CF since 1.12
	should             // a recommendation of CF
	own                // of castwright, for its own files only
)

// rules are the numbered rules: sections of CF 1.11 to 1.13 and of their conformance documents, and those of
// castwright. A check of another kind than its rule names it.
var rules = [...]kind{
	1:  must,   // 2.1: the file's name ends in .nc
	2:  later,  // 2.2: text is valid UTF-8 in NFC
	3:  later,  // 2.2: string attributes are scalar
	4:  should, // 2.3: names are letters, digits and underscores, a letter first, and differ by more than case
	5:  must,   // 2.4: no variable has a dimension twice; dimensions in the order T, Z, Y, X
	6:  later,  // 2.5: no string variable of one dimension has its name
	7:  must,   // 2.5.1: valid_range never beside valid_min or valid_max
	8:  must,   // 2.5.1: _FillValue and missing_value have the variable's type, and are equal
	9:  should, // 2.5.1: _FillValue lies outside the valid range
	10: must,   // 2.5.1: actual_range is the least and greatest value, in the variable's type
	11: must,   // 2.6.1: Conventions names the version of CF
	12: must,   // 2.6.2: title, history, institution, source, references, comment are strings
	13: must,   // 3.1: dimensional variables have units that parse
	14: must,   // 3.1: units convert to those of the standard name
	15: must,   // 3.1: no ppv, ppmv and the like beside a standard name; no number in front
	16: must,   // 3.1: units_metadata is a known value and sits on temperature or time
	17: must,   // 3.1: units_metadata of an error or spread of temperature is a difference
	18: should, // 3.1: temperatures have units_metadata
	19: should, // 3.2: variables have long_name or standard_name
	20: must,   // 3.3: standard_name is in the table, with at most one known modifier
	21: must,   // 3.4: ancillary_variables exist and have only dimensions of their parent
	22: must,   // 3.5: flag_values have the variable's type and a word each in flag_meanings
	23: must,   // 3.5: flag_values are distinct; stored flags are among them
	24: must,   // 3.5: flag_masks are nonzero integers of the variable's type
	25: must,   // 4: axis is X, Y, Z or T and agrees with units and positive
	26: must,   // 4: no data variable has two coordinates of one axis
	27: must,   // 4: no axis on auxiliary coordinates of a grid
	28: must,   // 4.1, 4.2: units of latitude and longitude
	29: must,   // 4.3: positive is up or down, on the vertical coordinate
	30: must,   // 4.4: units of time have since and a complete date
	31: must,   // 4.4: calendar is known and only on time; no months or years
	32: must,   // 5: each dimension of a grid has its coordinate variable
	33: must,   // 5: coordinate variables are numbers, strictly monotonic, nothing missing
	34: must,   // 5: coordinates names variables of the file
	35: must,   // 5: an auxiliary coordinate has only dimensions of the data
	36: should, // 5: a coordinate of several dimensions is not named as one of them
	37: should, // 5.7: a scalar coordinate is not named as a dimension
	38: must,   // 5.6: data on other horizontal coordinates have lat and lon in coordinates
	39: must,   // 5.6: grid_mapping exists and is complete
	40: must,   // 6.1: label variables are char of one or two dimensions, or string of one at most
	41: must,   // 7.1: bounds names a numeric variable with the parent's dimensions and one more
	42: later,  // 7.1: two bounds for a parent of one dimension, more for others
	43: later,  // 7.1: bounds run in the parent's sense
	44: must,   // 7.1: bounds have no attributes that differ from the parent's, and no _FillValue
	45: should, // 7.1: values lie within their bounds; neighbours share the exact edge
	46: must,   // 7.3: cell_methods parses
	47: must,   // 7.3: cell_methods names dimensions, scalar coordinates, standard names or area, each once
	48: must,   // 7.3: the method is in Appendix E
	49: should, // 7.3: methods other than point have bounds
	50: must,   // 7.3: an interval has a number and a unit
	51: must,   // 7.2: cell_measures
	52: must,   // 8.1: scale_factor and add_offset
	53: later,  // 8.4: coordinates are not quantized
	54: own,    // 2.6.3: external variables are not used
	55: should, // 2.7: groups are not used, and are not examined
	56: own,    // 2.8: aggregation is not used
	57: own,    // 5.8: domain variables are not used
	58: own,    // 7.4: climatology is not used
	59: own,    // 8.2, 8.3: compression by gathering or subsampling is not used
	60: must,   // 9.1: featureType is one of the six words
	61: must,   // 9.4: featureType is there in ragged and incomplete files and not in grids
	62: must,   // 9.1: data have the coordinates of their feature type
	63: must,   // 9.5: data have the attribute coordinates
	64: must,   // 9.5: cf_role is a known word, each once; one in a file of ours, two in a time series
	65: own,    // a section or pair file has one section_id, a time series one series_id, named by its data
	66: must,   // 9.5: ids are unique and not empty
	67: must,   // 9.3.3: the count variable adds up
	68: must,   // 9.3.4: the index variable points at instances
	69: must,   // 9.6: where the vertical coordinate is missing the data are
	70: should, // 9.6: nothing missing in time, lat, lon
	71: must,   // 9.3: an unlimited dimension leads
	72: must,   // 9.3: ragged data have the sample dimension alone
	73: own,    // the table of sensors is consistent
	74: own,    // proposals of checks have the shape and set of the flags
	75: own,    // expocode is the start of the cast's id and part of the global expocode
	76: own,    // values of the sea are double, and some have no more decimals than most are said to have
	77: own,    // release state and codes are of the listed words
	78: must,   // 4.3.3: formula_terms names terms of the formula and variables of the file
	79: must,   // 8.2: compress names dimensions of the file, and the list points into them
}

// A check is one file and what was found in it.
type check struct {
	*nc.File
	name  string // as it is reported
	ours  bool   // castwright made the file: every rule broken is a fault
	found []metadata.Finding

	vars    []*variable
	profile bool          // a discrete sampling geometry, whatever its type
	spread  map[int][]int // of a dimension compressed by gathering: the dimensions that it replaces (CF 8.2)
	// the count variable, the index variable, that of profile_id or the first with a cf_role; nil: none
	count, index, ids *variable
	inst, sample      int // instance dimension; sample dimension of a ragged file; -1: none
}

// A variable is one variable of a file and how other variables refer to it.
type variable struct {
	*nc.Var
	c                        *check
	i                        int
	axes                     []int     // its dimensions without that of the length of its text
	coordinate               bool      // the coordinate variable of a dimension
	boundsOf                 *variable // the variable whose bounds or climatology it is; nil: none
	named                    bool      // in an attribute coordinates
	beside                   bool      // in an attribute ancillary_variables
	packed                   bool      // it has scale_factor or add_offset
	number                   bool
	lat, lon, time, vertical bool
}

// Check returns each rule that a file breaks. name is the path that is reported; ours asks for the rules of castwright
// too, also when the file does not claim to be made by it.
func Check(f *nc.File, name string, ours bool) []metadata.Finding {
	c := &check{File: f, name: name, ours: ours || claimsOurs(f.Schema), spread: map[int][]int{}, inst: -1, sample: -1}
	c.survey()
	c.whole()
	for _, v := range c.vars {
		v.attributes()
		v.meaning()
		v.flags()
		v.asCoordinate()
		v.formulaTerms()
		v.gathering()
		v.cells()
		if c.ours {
			v.own()
		}
		c.Forget(v.i)
	}
	c.sampling()
	if c.ours {
		c.own()
	}
	return c.found
}

// claimsOurs reports whether a file has the attributes that only castwright writes together.
func claimsOurs(s *nc.Schema) bool { return s.Text("release_status") != "" && s.Text("expocode") != "" }

func (c *check) report(severity metadata.Severity, rule, v, format string, a []any) {
	c.found = append(c.found, metadata.Finding{Position: metadata.Position{File: c.name}, Severity: severity,
		Check: rule, Variable: v, Message: fmt.Sprintf(format, a...)})
}

func (c *check) broken(rule int, k kind, v, format string, a []any) {
	severity := metadata.Failure
	if !c.ours && k != must {
		severity = metadata.Warning
	}
	if c.ours || k != own {
		c.report(severity, fmt.Sprintf("cf.%d", rule), v, format, a)
	}
}

// fault reports that the file breaks a rule.
func (c *check) fault(rule int, format string, a ...any) { c.broken(rule, rules[rule], "", format, a) }

// say reports that the file breaks a part of a rule that is of another kind than the rule.
func (c *check) say(k kind, rule int, format string, a ...any) { c.broken(rule, k, "", format, a) }

// fault reports that the variable breaks a rule.
func (v *variable) fault(rule int, format string, a ...any) {
	v.c.broken(rule, rules[rule], v.Name, format, a)
}

// say reports that the variable breaks a part of a rule that is of another kind than the rule.
func (v *variable) say(k kind, rule int, format string, a ...any) {
	v.c.broken(rule, k, v.Name, format, a)
}

// read reports whether values could be read; that they could not is a fault whatever the rule.
func (v *variable) read(err error) bool {
	if err != nil {
		v.c.report(metadata.Failure, "netcdf.read", v.Name, "values cannot be read: %v", []any{err})
	}
	return err == nil
}

// values returns the numbers of the variable as stored, and whether they could be read.
func (v *variable) values() ([]float64, bool) {
	x, err := v.c.Values(v.i)
	return x, v.read(err)
}

// words returns the text of the variable, and whether it could be read.
func (v *variable) words() ([]string, bool) {
	x, err := v.c.Words(v.i)
	return x, v.read(err)
}

func (v *variable) missing(x float64) bool    { return v.c.Missing(v.i, x) }
func (v *variable) has(attr string) bool      { return v.Attr(attr) != nil }
func (v *variable) list(attr string) []string { return strings.Fields(v.Text(attr)) }
func (v *variable) axis() string              { return v.Text("axis") }
func (v *variable) standardName() string      { return v.Text("standard_name") }

// type of an attribute of the variable.
func (v *variable) typeOf(attr string) nc.Type { return nc.TypeOfValue(v.Attr(attr)) }

// find returns the variable of a name; nil when there is none.
func (c *check) find(name string) *variable {
	if i := c.Var(name); i >= 0 {
		return c.vars[i]
	}
	return nil
}

// dim returns the name of a dimension.
func (c *check) dim(d int) string { return c.Dims[d].Name }

// of returns the coordinate variable of a dimension; nil when it has none.
func (c *check) of(d int) *variable {
	if v := c.find(c.dim(d)); v != nil && v.coordinate {
		return v
	}
	return nil
}

// survey finds how the variables refer to each other.
func (c *check) survey() {
	c.profile = c.Attr("featureType") != nil
	for i := range c.Vars {
		v := &variable{Var: &c.Vars[i], c: c, i: i, axes: c.Vars[i].Axes(), coordinate: c.IsCoordinate(i)}
		v.number, v.packed = v.Type.Numeric(), v.has("scale_factor") || v.has("add_offset")
		if name, u := v.standardName(), v.Text("units"); v.number {
			v.lat, v.lon = metadata.IsLatitude(name, u), metadata.IsLongitude(name, u)
			v.time = name == "time" || strings.Contains(u, " since ")
			v.vertical = name != "reference_pressure" && (v.axis() == "Z" || v.has("positive") ||
				v.has("formula_terms") || metadata.IsVertical(name))
		}
		c.vars = append(c.vars, v)
	}
	first := func(v *variable) int {
		if len(v.axes) == 0 {
			return -1
		}
		return v.axes[0]
	}
	for _, v := range c.vars {
		v.refer()
		if v.has("sample_dimension") {
			c.count, c.sample, c.inst = v, c.Dim(v.Text("sample_dimension")), first(v)
		}
		if v.has("instance_dimension") {
			c.index, c.inst, c.sample = v, c.Dim(v.Text("instance_dimension")), first(v)
		}
		if v.has("cf_role") && (c.ids == nil || v.Text("cf_role") == "profile_id") {
			c.ids = v
		}
	}
	if c.ids != nil && c.inst < 0 {
		c.inst = first(c.ids)
	}
	for _, v := range c.vars {
		if c.inst < 0 && c.profile && v.time && len(v.Dims) == 1 {
			c.inst = v.Dims[0]
		}
	}
}

// refer notes the variables and dimensions that the attributes of a variable name.
func (v *variable) refer() {
	for attr, note := range map[string]func(k *variable){
		"bounds": func(k *variable) { k.boundsOf = v }, "climatology": func(k *variable) { k.boundsOf = v },
		"coordinates":         func(k *variable) { k.named = true },
		"ancillary_variables": func(k *variable) { k.beside = true }} {
		for _, n := range v.list(attr) {
			if k := v.c.find(n); k != nil {
				note(k)
			}
		}
	}
	if len(v.Dims) == 1 {
		for _, n := range v.list("compress") {
			if d := v.c.Dim(n); d >= 0 && d != v.Dims[0] {
				v.c.spread[v.Dims[0]] = append(v.c.spread[v.Dims[0]], d)
			}
		}
	}
}

// isData reports whether a variable is data: not a coordinate, bounds, count, index, id or label.
func (v *variable) isData() bool {
	return v.number && v.boundsOf == nil && !v.coordinate && !v.named && v != v.c.count && v != v.c.index &&
		!v.has("cf_role") && !v.has("grid_mapping_name") && !v.has("compress")
}

// atLevels reports whether a variable has a value for each level of a profile file.
func (v *variable) atLevels() bool {
	c := v.c
	if !c.profile || c.inst < 0 || v.boundsOf != nil || v.coordinate {
		return false
	}
	if c.sample >= 0 {
		return slices.Contains(v.axes, c.sample)
	}
	return len(v.axes) > 1 && slices.Contains(v.axes, c.inst)
}

// space returns the dimensions of a variable, each compressed one followed by those that it replaces: coordinates and
// cell methods of the data are about those.
func (v *variable) space() []int {
	var out []int
	for _, d := range v.Dims {
		out = append(append(out, d), v.c.spread[d]...)
	}
	return out
}

// coordinates returns the variables that are coordinates of a variable: the coordinate variables of its dimensions and
// those it names.
func (v *variable) coordinates() []*variable {
	var out []*variable
	add := func(k *variable) {
		if k != nil && k != v && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	for _, d := range v.space() {
		add(v.c.of(d))
	}
	for _, n := range v.list("coordinates") {
		add(v.c.find(n))
	}
	return out
}

// measures reports whether the units of a variable convert to others.
func (v *variable) measures(others string) bool { return convertible(v.Text("units"), others) }

// parse returns units, and whether the text is any.
func parse(text string) (units.Unit, bool) {
	u, err := units.Parse(text)
	return u, text != "" && err == nil
}

// convertible reports whether a text is units that convert to others.
func convertible(text, others string) bool {
	u, ok := parse(text)
	w, ok2 := parse(others)
	return ok && ok2 && u.Compatible(w)
}
