package cf

import (
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
)

// kind says who makes a rule.
type kind uint8

const (
	must   kind = iota // a requirement of CF
	later              // a requirement of CF since 1.12
	should             // a recommendation of CF
	own                // a choice of ours, asked of our own files only
)

// rules are the numbered rules: sections of CF 1.11 to 1.13 and of their conformance documents, and ours. A rule may
// hold parts of another kind than its first; the checks say which.
var rules = [...]struct {
	kind kind
	text string
}{
	1:  {must, "2.1: the file's name ends in .nc"},
	2:  {later, "2.2: text is valid UTF-8 in NFC"},
	3:  {later, "2.2: string attributes are scalar"},
	4:  {should, "2.3: names are letters, digits and underscores, a letter first, and differ by more than case"},
	5:  {must, "2.4: no variable has a dimension twice; dimensions in the order T, Z, Y, X"},
	6:  {later, "2.5: no string variable of one dimension has its name"},
	7:  {must, "2.5.1: valid_range never beside valid_min or valid_max"},
	8:  {must, "2.5.1: _FillValue and missing_value have the variable's type, and are equal"},
	9:  {should, "2.5.1: _FillValue lies outside the valid range"},
	10: {must, "2.5.1: actual_range is the least and greatest value, in the variable's type"},
	11: {must, "2.6.1: Conventions names the version of CF"},
	12: {must, "2.6.2: title, history, institution, source, references, comment are strings"},
	13: {must, "3.1: dimensional variables have units that parse"},
	14: {must, "3.1: units convert to those of the standard name"},
	15: {must, "3.1: no ppv and its kin beside a standard name; no number in front"},
	16: {must, "3.1: units_metadata is a known value and sits on temperature or time"},
	17: {must, "3.1: units_metadata of an error or spread of temperature is a difference"},
	18: {should, "3.1: temperatures have units_metadata"},
	19: {should, "3.2: variables have long_name or standard_name"},
	20: {must, "3.3: standard_name is in the table, with at most one known modifier"},
	21: {must, "3.4: ancillary_variables exist and have no dimension that their parent has not"},
	22: {must, "3.5: flag_values have the variable's type and a word each in flag_meanings"},
	23: {must, "3.5: flag_values are distinct; stored flags are among them"},
	24: {must, "3.5: flag_masks are nonzero integers of the variable's type"},
	25: {must, "4: axis is X, Y, Z or T and agrees with units and positive"},
	26: {must, "4: no data variable has two coordinates of one axis"},
	27: {must, "4: no axis on auxiliary coordinates of a grid"},
	28: {must, "4.1, 4.2: units of latitude and longitude"},
	29: {must, "4.3: positive is up or down and stands on the vertical coordinate"},
	30: {must, "4.4: units of time have since and a complete date"},
	31: {must, "4.4: calendar is known and only on time; no months or years"},
	32: {must, "5: each dimension of a grid has its coordinate variable"},
	33: {must, "5: coordinate variables are numbers, strictly monotonic, nothing missing"},
	34: {must, "5: coordinates names variables of the file"},
	35: {must, "5: an auxiliary coordinate has no dimension that the data have not"},
	36: {should, "5: a coordinate of several dimensions is not named as one of them"},
	37: {should, "5.7: a scalar coordinate is not named as a dimension"},
	38: {must, "5.6: data on other horizontal coordinates have lat and lon in coordinates"},
	39: {must, "5.6: grid_mapping exists and is complete"},
	40: {must, "6.1: label variables are char of one or two dimensions, or string of one at most"},
	41: {must, "7.1: bounds names a numeric variable with the parent's dimensions and one more"},
	42: {later, "7.1: two bounds for a parent of one dimension, more for others"},
	43: {later, "7.1: bounds run in the parent's sense"},
	44: {must, "7.1: bounds have no attributes that differ from the parent's, and no _FillValue"},
	45: {should, "7.1: values lie within their bounds; neighbours share the exact edge"},
	46: {must, "7.3: cell_methods parses"},
	47: {must, "7.3: cell_methods names dimensions, scalar coordinates, standard names or area, each once"},
	48: {must, "7.3: the method is in Appendix E"},
	49: {should, "7.3: methods other than point have bounds"},
	50: {must, "7.3: an interval has a number and a unit"},
	51: {must, "7.2: cell_measures"},
	52: {must, "8.1: scale_factor and add_offset"},
	53: {later, "8.4: coordinates are not quantized"},
	54: {own, "2.6.3: external variables are not used"},
	55: {should, "2.7: groups are not used, and are not examined"},
	56: {own, "2.8: aggregation is not used"},
	57: {own, "5.8: domain variables are not used"},
	58: {own, "7.4: climatology is not used"},
	59: {own, "8.2, 8.3: compression by gathering or subsampling is not used"},
	60: {must, "9.1: featureType is one of the six words"},
	61: {must, "9.4: featureType is there in ragged and incomplete files and not in grids"},
	62: {must, "9.1: data have the coordinates of their feature type"},
	63: {must, "9.5: data have the attribute coordinates"},
	64: {must, "9.5: cf_role is a known word, each once; one in a file of ours"},
	65: {own, "a section or pair file has one section_id, named by its data"},
	66: {must, "9.5: ids are unique and not empty"},
	67: {must, "9.3.3: the count variable adds up"},
	68: {must, "9.3.4: the index variable points at instances"},
	69: {must, "9.6: where the vertical coordinate is missing the data are"},
	70: {should, "9.6: nothing missing in time, lat, lon"},
	71: {must, "9.3: an unlimited dimension leads"},
	72: {must, "9.3: ragged data have the sample dimension alone"},
	73: {own, "the table of sensors holds together"},
	74: {own, "proposals of checks have the shape and set of the flags"},
	75: {own, "expocode is the start of the cast's id and stands in the global expocode"},
	76: {own, "values of the sea are double, and some have no more decimals than most are said to have"},
	77: {own, "release state and codes are of the listed words"},
	78: {must, "4.3.3: formula_terms names terms of the formula and variables of the file"},
	79: {must, "8.2: compress names dimensions of the file, and the list points into them"},
}

// A check is one file under judgement.
type check struct {
	*nc.File
	name  string // as it is reported
	ours  bool   // the file claims to be ours: all rules are faults
	found []metadata.Finding

	profile bool // a discrete sampling geometry, whatever its type
	bounds  map[int]int
	named   map[int]bool  // named by some coordinates attribute
	beside  map[int]bool  // named by some ancillary_variables attribute
	spread  map[int][]int // of a dimension compressed by gathering: the dimensions that it stands for (CF 8.2)
	count   int           // the count variable; -1
	index   int           // the index variable; -1
	ids     int           // the variable with a cf_role; -1
	inst    int           // instance dimension; -1
	sample  int           // sample dimension of a ragged file; -1
}

// checkCF holds a file to every rule. name is the path that is reported; ours forces the rules of our own files, else
// the file's claim decides.
func Check(f *nc.File, name string, ours bool) []metadata.Finding {
	c := &check{File: f, name: name, ours: ours || claimsOurs(f.Schema), bounds: map[int]int{}, named: map[int]bool{},
		beside: map[int]bool{},
		spread: map[int][]int{}, count: -1, index: -1, ids: -1, inst: -1, sample: -1}
	c.survey()
	c.wholeFile()
	for i := range f.Vars {
		c.variable(i)
		c.flags(i)
		c.coordinate(i)
		c.formulaTerms(i)
		c.compressed(i)
		c.cells(i)
		c.Forget(i)
	}
	c.sampling()
	if c.ours {
		c.ourOwn()
	}
	return c.found
}

// claimsOurs says whether a file says that it was made by this program: its history does, or it has the attributes that
// only we write.
func claimsOurs(s *nc.Schema) bool {
	for _, line := range strings.Split(s.Text("history"), "\n") {
		if _, rest, ok := strings.Cut(line, "Z "); ok && strings.HasPrefix(rest, "castwright ") {
			return true
		}
	}
	return s.Text("release_status") != "" && s.Text("expocode") != ""
}

func (c *check) say(rule int, k kind, v string, format string, a ...any) {
	severity := metadata.Failure
	switch {
	case c.ours || k == must:
	case k == own:
		return // not asked of others
	default:
		severity = metadata.Warning
	}
	c.found = append(c.found, metadata.Finding{Position: metadata.Position{File: c.name}, Severity: severity,
		Check:    fmt.Sprintf("cf.%d", rule),
		Variable: v, Message: fmt.Sprintf(format, a...)})
}

// fault says that a rule is broken, with the weight of the rule.
func (c *check) fault(rule int, v string, format string, a ...any) {
	c.say(rule, rules[rule].kind, v, format, a...)
}

// unread says that values could not be read: that is a fault of the file whatever the rule.
func (c *check) unread(v string, err error) {
	c.found = append(c.found, metadata.Finding{Position: metadata.Position{File: c.name}, Severity: metadata.Failure,
		Check: "netcdf.read", Variable: v,
		Message: "values cannot be read: " + err.Error()})
}

// get gives the numbers of a variable, or reports that they cannot be read.
func (c *check) get(i int) ([]float64, bool) {
	x, err := c.Values(i)
	if err != nil {
		c.unread(c.Vars[i].Name, err)
		return nil, false
	}
	return x, true
}

func (c *check) getWords(i int) ([]string, bool) {
	x, err := c.Words(i)
	if err != nil {
		c.unread(c.Vars[i].Name, err)
		return nil, false
	}
	return x, true
}

// survey finds out what each variable is.
func (c *check) survey() {
	s := c
	c.profile = s.Attr("featureType") != nil
	for i := range s.Vars {
		v := &s.Vars[i]
		for _, name := range []string{"bounds", "climatology"} {
			if b := s.Var(v.Text(name)); b >= 0 {
				c.bounds[b] = i
			}
		}
		for _, n := range strings.Fields(v.Text("coordinates")) {
			if k := s.Var(n); k >= 0 {
				c.named[k] = true
			}
		}
		for _, n := range strings.Fields(v.Text("ancillary_variables")) {
			if k := s.Var(n); k >= 0 {
				c.beside[k] = true
			}
		}
		c.gathered(i)
		if v.Attr("sample_dimension") != nil {
			c.count = i
			c.sample = s.Dim(v.Text("sample_dimension"))
			if len(v.Dims) > 0 {
				c.inst = v.Dims[0]
			}
		}
		if v.Attr("instance_dimension") != nil {
			c.index = i
			c.inst = s.Dim(v.Text("instance_dimension"))
			if len(v.Dims) > 0 {
				c.sample = v.Dims[0]
			}
		}
		if v.Attr("cf_role") != nil && c.ids < 0 {
			c.ids = i
		}
	}
	if c.ids >= 0 && c.inst < 0 {
		if d := c.Vars[c.ids].Axes(); len(d) > 0 {
			c.inst = d[0]
		}
	}
	if c.inst < 0 && c.profile {
		for i := range s.Vars {
			if d := s.Vars[i].Dims; c.isTime(i) && len(d) == 1 {
				c.inst = d[0]
			}
		}
	}
}

// isData says whether a variable is data: not a coordinate, bounds, count, index, id, label or part of the table of
// sensors.
func (c *check) isData(i int) bool {
	v := &c.Vars[i]
	if _, b := c.bounds[i]; b || c.IsCoordinate(i) || c.named[i] || i == c.count || i == c.index || i == c.ids ||
		v.Attr("cf_role") != nil ||
		v.Attr("grid_mapping_name") != nil || v.Attr("compress") != nil {
		return false
	}
	return v.Type.Numeric()
}

// atLevels says whether a variable has a value for each level of a profile file.
func (c *check) atLevels(i int) bool {
	if !c.profile || c.inst < 0 {
		return false
	}
	if _, b := c.bounds[i]; b || c.IsCoordinate(i) {
		return false
	}
	d := c.Vars[i].Axes()
	if c.sample >= 0 {
		return slices.Contains(d, c.sample)
	}
	return len(d) > 1 && slices.Contains(d, c.inst)
}

// coordinatesOf gives the variables that are coordinates of a variable: those it names and the coordinate variables of
// its dimensions.
func (c *check) coordinatesOf(i int) []int {
	var out []int
	add := func(k int) {
		if k >= 0 && k != i && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	for _, d := range c.gatheredFrom(c.Vars[i].Dims) {
		if k := c.Var(c.Dims[d].Name); k >= 0 && c.IsCoordinate(k) {
			add(k)
		}
	}
	for _, n := range strings.Fields(c.Vars[i].Text("coordinates")) {
		add(c.Var(n))
	}
	return out
}

func (c *check) isLat(i int) bool {
	v := &c.Vars[i]
	return v.Type.Numeric() && metadata.IsLatitude(v.Text("standard_name"), v.Text("units"))
}

func (c *check) isLon(i int) bool {
	v := &c.Vars[i]
	return v.Type.Numeric() && metadata.IsLongitude(v.Text("standard_name"), v.Text("units"))
}

func (c *check) isTime(i int) bool {
	v := &c.Vars[i]
	return v.Type.Numeric() && (v.Text("standard_name") == "time" || strings.Contains(v.Text("units"), " since "))
}

// isVertical says whether a variable can be the vertical coordinate: by axis, positive or standard name.
func (c *check) isVertical(i int) bool {
	v := &c.Vars[i]
	if !v.Type.Numeric() || v.Text("standard_name") == "reference_pressure" {
		return false
	}
	return v.Text("axis") == "Z" || v.Attr("positive") != nil || v.Attr("formula_terms") != nil ||
		metadata.IsVertical(v.Text("standard_name"))
}

// parsed gives the units of a variable; false when there are none or they do not parse.
func (c *check) parsed(i int) (units.Unit, bool) {
	s := c.Vars[i].Text("units")
	if s == "" {
		return units.Unit{}, false
	}
	u, err := units.Parse(s)
	return u, err == nil
}

func sameUnits(u units.Unit, as string) bool {
	w, err := units.Parse(as)
	return err == nil && u.Compatible(w)
}
