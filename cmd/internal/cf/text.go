package cf

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata/units"
	"golang.org/x/text/unicode/norm"
)

var (
	nameForm    = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*$`)
	wordForm    = regexp.MustCompile(`^[A-Za-z0-9_.+@-]+$`)
	numberFirst = regexp.MustCompile(`^\s*[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?`)
	cfVersion   = regexp.MustCompile(`(?:^|[\s,])CF-([0-9A-Za-z.+-]*)`)
)

// textOK holds one text to rule 2.
func (c *check) textOK(v, where, text string) {
	if !utf8.ValidString(text) || !norm.NFC.IsNormalString(text) {
		c.fault(2, v, "%s is not UTF-8 in normal form C", where)
	}
}

// wholeFile checks rules 1 to 6, 11, 12 and 54 to 59.
func (c *check) wholeFile() {
	s := c
	if !strings.HasSuffix(c.name, ".nc") {
		c.fault(1, "", "the name does not end in .nc")
	}
	c.attrsText("", s.Attrs)
	seen := map[string]string{}
	for i := range s.Vars {
		v := &s.Vars[i]
		c.attrsText(v.Name, v.Attrs)
		if !nameForm.MatchString(v.Name) {
			c.fault(4, v.Name, "the name %q has other signs than letters, digits and underscores, or no letter first",
				v.Name)
		}
		if other, ok := seen[strings.ToLower(v.Name)]; ok {
			c.fault(4, v.Name, "differs from %s by case only", other)
		}
		seen[strings.ToLower(v.Name)] = v.Name
		if v.Type.Size() == 0 && v.Type != nc.String {
			c.say(13, own, v.Name, "is of a type that the file itself defines")
		}
		if v.Type == nc.String && len(v.Dims) == 1 && s.Dims[v.Dims[0]].Name == v.Name {
			c.fault(6, v.Name, "is a string variable with the name of its dimension")
		}
		if v.Type == nc.Char || v.Type == nc.String {
			if words, ok := c.getWords(i); ok {
				for _, w := range words {
					if !utf8.ValidString(w) || !norm.NFC.IsNormalString(w) {
						c.fault(2, v.Name, "%q is not UTF-8 in normal form C", w)
						break
					}
				}
			}
		}
		for k, d := range v.Dims {
			if slices.Contains(v.Dims[:k], d) {
				c.fault(5, v.Name, "has dimension %s twice", s.Dims[d].Name)
			}
		}
		c.dimensionOrder(i)
		for _, a := range []string{"aggregated_dimensions", "aggregated_data"} {
			if v.Attr(a) != nil {
				c.fault(56, v.Name, "has %s", a)
			}
		}
		if v.Attr("dimensions") != nil && len(v.Dims) == 0 {
			c.fault(57, v.Name, "is a domain variable")
		}
		if v.Attr("climatology") != nil {
			c.fault(58, v.Name, "has climatology")
		}
		for _, a := range []string{"compress", "coordinate_interpolation", "tie_point_mapping"} {
			if v.Attr(a) != nil {
				c.fault(59, v.Name, "has %s", a)
			}
		}
	}
	for _, d := range s.Dims {
		if !nameForm.MatchString(d.Name) {
			c.fault(4, "", "dimension %q has other signs than letters, digits and underscores, or no letter first",
				d.Name)
		}
	}
	if s.Attr("external_variables") != nil {
		c.fault(54, "", "external_variables names variables of other files")
	}
	if n := c.Reader.Groups(); n > 0 {
		c.fault(55, "", "the variables in groups (%d) were not examined, only those outside", n)
	}
	c.conventions()
	for _, n := range []string{"title", "history", "institution", "source", "references", "comment"} {
		if v := s.Attr(n); v != nil {
			if _, ok := v.(string); !ok {
				if list, ok := v.([]string); !ok || len(list) != 1 {
					c.fault(12, "", "%s is not a string", n)
				}
			}
		}
		for i := range s.Vars {
			if v := s.Vars[i].Attr(n); v != nil && nc.Floats(v) != nil {
				c.fault(12, s.Vars[i].Name, "%s is not a string", n)
			}
		}
	}
}

func (c *check) attrsText(v string, attrs []nc.Attr) {
	for _, a := range attrs {
		if !nameForm.MatchString(a.Name) && a.Name != "_Encoding" && a.Name != "_Unsigned" {
			c.fault(4, v, "attribute %q has other signs than letters, digits and underscores, or no letter first",
				a.Name)
		}
		switch t := a.Value.(type) {
		case string:
			c.textOK(v, a.Name, t)
		case []string:
			if len(t) != 1 {
				c.fault(3, v, "%s is a list of %d strings", a.Name, len(t))
			}
			for _, s := range t {
				c.textOK(v, a.Name, s)
			}
		}
	}
}

// dimensionOrder checks the second half of rule 5 on data: T, Z, Y, X as far as the dimensions have coordinate
// variables.
func (c *check) dimensionOrder(i int) {
	if !c.isData(i) {
		return
	}
	rank := -1
	for _, d := range c.Vars[i].Dims {
		k := c.Var(c.Dims[d].Name)
		if k < 0 || !c.IsCoordinate(k) || !c.Vars[k].Type.Numeric() {
			continue
		}
		r := -1
		switch {
		case c.isTime(k):
			r = 0
		case c.isVertical(k):
			r = 1
		case c.isLat(k), c.Vars[k].Text("axis") == "Y":
			r = 2
		case c.isLon(k), c.Vars[k].Text("axis") == "X":
			r = 3
		default:
			continue
		}
		if r < rank {
			c.say(5, should, c.Vars[i].Name, "dimensions %s are not in the order T, Z, Y, X",
				strings.Join(c.DimNames(i), ", "))
			return
		}
		rank = r
	}
}

// newestCF is the minor number of the newest version of CF whose rules are here, 1.13 of December 2025.
const newestCF = 13

func (c *check) conventions() {
	v := c.Attr("Conventions")
	text := c.Text("Conventions")
	m := cfVersion.FindStringSubmatch(text)
	version := -1
	if m != nil {
		if minor, ok := strings.CutPrefix(m[1], "1."); ok && !strings.HasPrefix(minor, "0") || minor == "0" {
			if n, err := strconv.Atoi(minor); err == nil {
				version = n
			}
		}
	}
	switch {
	case v == nil:
		c.fault(11, "", "there is no Conventions")
	case text == "":
		c.fault(11, "", "Conventions is not one string")
	case m == nil:
		c.fault(11, "", "Conventions %q names no version of CF", text)
	case version < 0:
		c.fault(11, "", "Conventions %q: CF-%s is no version of CF; the rules of CF-1.11 to CF-1.%d were applied", text,
			m[1], newestCF)
	case version > newestCF: // it may have been published after this program
		c.say(11, should, "",
			"Conventions %q: version CF-%s is not known; the rules of CF-1.11 to CF-1.%d were applied", text, m[1],
			newestCF)
	case c.ours && version != 11:
		c.fault(11, "", "Conventions %q does not name CF-1.11", text)
	}
}

// temperature says whether units measure temperature.
func temperature(text string) bool {
	u, err := units.Parse(text)
	if err != nil {
		return false
	}
	return sameUnits(u, "K")
}

// hasTemperature says whether a temperature is part of units that measure something else.
func hasTemperature(text string) bool {
	for _, w := range []string{"K", "kelvin", "degC", "celsius", "Celsius", "degree_C", "degrees_C"} {
		for _, part := range strings.FieldsFunc(text,
			func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == '_') }) {
			if part == w {
				return true
			}
		}
	}
	return false
}

// variable checks rules 7 to 10 and 13 to 20 of one variable.
func (c *check) variable(i int) {
	v := &c.Vars[i]
	lo, hi := c.validRange(i)
	c.fill(i, lo, hi)
	c.actualRange(i, lo, hi)
	_, isBounds := c.bounds[i]
	if isBounds {
		return
	}
	if v.Text("long_name") == "" && v.Text("standard_name") == "" && v.Attr("grid_mapping_name") == nil &&
		v.Attr("compress") == nil {
		c.fault(19, v.Name, "has neither long_name nor standard_name")
	}
	name, modifier := c.standardName(i)
	c.unitsOf(i, name, modifier)
}

// standardName checks rule 20 and gives the table's entry.
func (c *check) standardName(i int) (*standardName, string) {
	v := &c.Vars[i]
	a := v.Attr("standard_name")
	if a == nil {
		return nil, ""
	}
	words := strings.Fields(v.Text("standard_name"))
	if len(words) == 0 {
		c.fault(20, v.Name, "standard_name is not a word")
		return nil, ""
	}
	modifier := ""
	if len(words) > 1 {
		modifier = words[1]
	}
	if len(words) > 2 {
		c.fault(20, v.Name, "standard_name %q has more than one modifier", v.Text("standard_name"))
	}
	if _, ok := modifiers[modifier]; modifier != "" && !ok {
		c.fault(20, v.Name, "%q is no modifier of standard names", modifier)
		modifier = ""
	}
	if slices.Contains(deprecatedModifiers, modifier) {
		c.say(20, should, v.Name, "modifier %s is deprecated", modifier)
	}
	n, ok := lookUp(words[0])
	if !ok {
		k := must
		if newer(c.Text("standard_name_vocabulary")) {
			k = should
		}
		c.say(20, k, v.Name, "standard name %q is not in table v%d", words[0], tableVersion)
		return nil, modifier
	}
	if n.aliasOf != "" {
		c.say(20, should, v.Name, "standard name %s is an alias of %s", words[0], n.aliasOf)
		n, _ = lookUp(n.aliasOf)
	}
	return &n, modifier
}

var vocabularyVersion = regexp.MustCompile(`v?(\d+)\s*$`)

// newer says whether a file names a table of standard names that is newer than ours.
func newer(vocabulary string) bool {
	m := vocabularyVersion.FindStringSubmatch(vocabulary)
	if m == nil {
		return false
	}
	n, err := strconv.Atoi(m[1])
	return err == nil && n > tableVersion
}

// factor reports whether units are a number times a unit. A number alone, such as 0.001 or 1e-3, is a unit.
func factor(text string) bool {
	rest := strings.TrimPrefix(text, numberFirst.FindString(text))
	return rest != text && strings.TrimLeft(rest, " \t*.·") != rest && strings.ContainsFunc(rest, unicode.IsLetter)
}

// unitsOf checks rules 13 to 18.
func (c *check) unitsOf(i int, name *standardName, modifier string) {
	v := &c.Vars[i]
	text := v.Text("units")
	if v.Attr("units") != nil && nc.Floats(v.Attr("units")) != nil {
		c.fault(13, v.Name, "units is not a string")
		return
	}
	canonical := ""
	if name != nil {
		canonical = name.canonical
		if m := modifiers[modifier]; modifier != "" && m != "" {
			canonical = strings.Trim(m, "-")
		}
	}
	if !v.Type.Numeric() {
		return
	}
	if text == "" {
		switch {
		case canonical != "" && canonical != "1":
			c.fault(13, v.Name, "has a standard name of units %s and no units", canonical)
		case c.ours && v.Type == nc.Double && canonical == "" && v.Text("comment") == "" &&
			v.Text("exchange_name") == "" && v.Text("source_name") == "":
			c.fault(13, v.Name, "has neither units nor a word about them")
		}
		return
	}
	if factor(text) {
		c.fault(15, v.Name, "units %q have a number in front", text)
	}
	if first, _, _ := strings.Cut(text, " "); name != nil &&
		slices.Contains([]string{"ppv", "ppmv", "ppbv", "pptv", "ppqv"}, first) {
		c.fault(15, v.Name, "units %s may not stand beside a standard name", text)
		return
	}
	plain, reference, problem := referenceTime(text, v.Text("calendar"))
	if problem != "" {
		c.fault(30, v.Name, "units of time %q: %s", text, problem)
		return
	}
	u, err := units.Parse(plain)
	if err != nil {
		if reference {
			c.fault(30, v.Name, "units of time %q: %v", text, err)
		} else {
			c.fault(13, v.Name, "units %q: %v", text, err)
		}
		return
	}
	if name != nil && !strings.Contains(v.Text("cell_methods"), "variance") {
		_, reference := u.Reference()
		switch {
		case v.Text("standard_name") == "time" && !reference:
			c.fault(14, v.Name, "units of time %q count from no date", text)
		case v.Text("standard_name") == "time":
		case canonical != "" && !sameUnits(u, canonical):
			c.fault(14, v.Name, "units %s do not convert to %s, those of %s", text, canonical, v.Text("standard_name"))
		}
	}
	meta := v.Text("units_metadata")
	warm := temperature(text)
	methods := v.Text("cell_methods")
	spread := modifier == "standard_error" || strings.Contains(methods, "standard_deviation") ||
		strings.Contains(methods, "variance") ||
		regexp.MustCompile(`\brange\b`).MatchString(strings.ReplaceAll(methods, "mid_range", ""))
	if a := v.Attr("units_metadata"); a != nil {
		known := []string{"temperature: on_scale", "temperature: difference", "temperature: unknown"}
		leap := []string{"leap_seconds: none", "leap_seconds: utc", "leap_seconds: unknown"}
		_, reference := u.Reference()
		switch {
		case slices.Contains(known, meta):
			if !warm && !hasTemperature(text) {
				c.fault(16, v.Name, "units_metadata on units %s, which are no temperature", text)
			}
		case slices.Contains(leap, meta):
			if !reference {
				c.fault(16, v.Name, "units_metadata of time on units %s", text)
			}
			c.say(16, own, v.Name, "leap_seconds was dropped again in CF 1.13")
		default:
			c.fault(16, v.Name, "units_metadata %q is not a known value", meta)
		}
	}
	switch {
	case warm && spread && v.Attr("units_metadata") != nil && meta != "temperature: difference":
		c.fault(17, v.Name, "is an error or spread and units_metadata says %q", meta)
	case warm && spread && v.Attr("units_metadata") == nil:
		c.say(17, later, v.Name, "is an error or spread of temperature and units_metadata does not say so")
	case warm && v.Attr("units_metadata") == nil:
		c.fault(18, v.Name, "has no units_metadata")
	}
}

// validRange checks rule 7 and the types, and gives the limits.
func (c *check) validRange(i int) (lo, hi float64) {
	v := &c.Vars[i]
	lo, hi = math.Inf(-1), math.Inf(1)
	r, a, b := v.Attr("valid_range"), v.Attr("valid_min"), v.Attr("valid_max")
	if r != nil && (a != nil || b != nil) {
		c.fault(7, v.Name, "has valid_range beside valid_min or valid_max")
	}
	packed := v.Attr("scale_factor") != nil || v.Attr("add_offset") != nil
	for _, x := range []struct {
		name  string
		value any
	}{{"valid_range", r}, {"valid_min", a}, {"valid_max", b}} {
		if x.value != nil && nc.TypeOfValue(x.value) != v.Type && !packed {
			c.fault(7, v.Name, "%s is %s, the variable %s", x.name, nc.TypeOfValue(x.value), v.Type)
		}
	}
	if x := nc.Floats(r); len(x) == 2 {
		lo, hi = x[0], x[1]
	} else if r != nil {
		c.fault(7, v.Name, "valid_range has not two values")
	}
	if x := nc.Floats(a); len(x) == 1 {
		lo = x[0]
	}
	if x := nc.Floats(b); len(x) == 1 {
		hi = x[0]
	}
	return lo, hi
}

func (c *check) fill(i int, lo, hi float64) {
	v := &c.Vars[i]
	m := v.Attr("missing_value")
	if m != nil && nc.TypeOfValue(m) != v.Type && !(v.Type == nc.Char && nc.TypeOfValue(m) == nc.Char) {
		c.fault(8, v.Name, "missing_value is %s, the variable %s", nc.TypeOfValue(m), v.Type)
	}
	if v.Fill != nil && v.Type.Numeric() && nc.TypeOfValue(v.Fill) != v.Type {
		c.fault(8, v.Name, "_FillValue is %s, the variable %s", nc.TypeOfValue(v.Fill), v.Type)
	}
	x, y := nc.Floats(v.Fill), nc.Floats(m)
	if len(x) > 0 && len(y) > 0 && !slices.Contains(y, x[0]) && !(math.IsNaN(x[0]) && math.IsNaN(y[0])) {
		c.say(8, should, v.Name, "missing_value %g is not _FillValue %g", y[0], x[0])
	}
	if len(x) > 0 && (!math.IsInf(lo, 0) || !math.IsInf(hi, 0)) && x[0] >= lo && x[0] <= hi {
		c.fault(9, v.Name, "_FillValue %g lies within the valid range", x[0])
	}
	if _, b := c.bounds[i]; c.ours && v.Fill != nil && (c.IsCoordinate(i) || b || v.Attr("flag_values") != nil ||
		v.Attr("sample_dimension") != nil) {
		c.say(8, own, v.Name, "a coordinate, bounds, flag or count variable has a _FillValue")
	}
}

// actualRange checks rule 10.
func (c *check) actualRange(i int, lo, hi float64) {
	v := &c.Vars[i]
	a := v.Attr("actual_range")
	if a == nil || !v.Type.Numeric() {
		return
	}
	r := nc.Floats(a)
	if len(r) != 2 {
		c.fault(10, v.Name, "actual_range has not two values")
		return
	}
	scale, offset := 1.0, 0.0
	packed := false
	if x := nc.Floats(v.Attr("scale_factor")); len(x) == 1 {
		scale, packed = x[0], true
	}
	if x := nc.Floats(v.Attr("add_offset")); len(x) == 1 {
		offset, packed = x[0], true
	}
	if !packed && nc.TypeOfValue(a) != v.Type {
		c.fault(10, v.Name, "actual_range is %s, the variable %s", nc.TypeOfValue(a), v.Type)
	}
	x, ok := c.get(i)
	if !ok {
		return
	}
	least, most, n := math.Inf(1), math.Inf(-1), 0
	for _, y := range x {
		if c.Missing(i, y) {
			continue
		}
		y = y*scale + offset
		least, most, n = min(least, y), max(most, y), n+1
	}
	switch {
	case n == 0:
		c.fault(10, v.Name, "actual_range of a variable without values")
	case packed && (math.Abs(least-r[0]) > math.Abs(scale) || math.Abs(most-r[1]) > math.Abs(scale)):
		c.fault(10, v.Name, "actual_range %g to %g, the values are %g to %g", r[0], r[1], least, most)
	case !packed && (least != r[0] || most != r[1]):
		c.fault(10, v.Name, "actual_range %g to %g, the values are %g to %g", r[0], r[1], least, most)
	case !packed && (r[0] < lo || r[1] > hi):
		c.fault(10, v.Name, "actual_range %g to %g is wider than the valid range", r[0], r[1])
	}
}
