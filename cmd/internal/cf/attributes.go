package cf

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/internal/nc"
	"golang.org/x/text/unicode/norm"
)

var (
	nameForm  = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*$`)
	cfVersion = regexp.MustCompile(`(?:^|[\s,])CF-([0-9A-Za-z.+-]*)`)
)

// whole checks what is asked of the file: rules 1, 2, 4, 11, 12, 54 and 55.
func (c *check) whole() {
	if !strings.HasSuffix(c.name, ".nc") {
		c.fault(1, "the name does not end in .nc")
	}
	file := &variable{Var: &nc.Var{Attrs: c.Attrs}, c: c}
	file.attributesText()
	seen := map[string]string{}
	for _, v := range c.vars {
		lower := strings.ToLower(v.Name)
		if other, ok := seen[lower]; ok {
			v.fault(4, "differs from %s by case only", other)
		}
		seen[lower] = v.Name
	}
	for _, d := range c.Dims {
		file.goodName("dimension", d.Name)
	}
	if c.Attr("external_variables") != nil {
		c.fault(54, "external_variables names variables of other files")
	}
	if n := c.Reader.Groups(); n > 0 {
		c.fault(55, "the variables in groups (%d) were not examined, only those outside", n)
	}
	c.conventions()
	for _, n := range describing {
		if list, ok := c.Attr(n).([]string); nc.Floats(c.Attr(n)) != nil || ok && len(list) != 1 {
			c.fault(12, "%s is not a string", n)
		}
	}
}

// describing are the attributes that describe a file or variable for people (CF 2.6.2).
var describing = []string{"title", "history", "institution", "source", "references", "comment"}

// unused are the attributes of parts of CF that castwright does not use, with the rule.
var unused = []struct {
	rule int
	attr string
}{{56, "aggregated_dimensions"}, {56, "aggregated_data"}, {58, "climatology"}, {59, "compress"},
	{59, "coordinate_interpolation"}, {59, "tie_point_mapping"}}

// attributes checks the name, text and dimensions of a variable: rules 2 to 6, 12, and 56 to 59.
func (v *variable) attributes() {
	c := v.c
	v.attributesText()
	v.goodName("the name", v.Name)
	if v.Type.Size() == 0 && v.Type != nc.String {
		v.say(own, 13, "is of a type that the file itself defines")
	}
	if v.Type == nc.String && len(v.Dims) == 1 && c.dim(v.Dims[0]) == v.Name {
		v.fault(6, "is a string variable with the name of its dimension")
	}
	if v.Type == nc.Char || v.Type == nc.String {
		words, _ := v.words()
		for _, w := range words {
			if !normal(w) {
				v.fault(2, "%q is not UTF-8 in normal form C", w)
				break
			}
		}
	}
	for k, d := range v.Dims {
		if slices.Contains(v.Dims[:k], d) {
			v.fault(5, "has dimension %s twice", c.dim(d))
		}
	}
	v.dimensionOrder()
	for _, u := range unused {
		if v.has(u.attr) {
			v.fault(u.rule, "has %s", u.attr)
		}
	}
	if v.has("dimensions") && len(v.Dims) == 0 {
		v.fault(57, "is a domain variable")
	}
	for _, n := range describing {
		if v.Floats(n) != nil {
			v.fault(12, "%s is not a string", n)
		}
	}
}

func (v *variable) goodName(what, name string) {
	if !nameForm.MatchString(name) && name != "_Encoding" && name != "_Unsigned" {
		v.fault(4, "%s %q has characters other than letters, digits and underscores, or no letter first", what, name)
	}
}

// normal reports whether a text is UTF-8 in normal form C.
func normal(text string) bool { return utf8.ValidString(text) && norm.NFC.IsNormalString(text) }

func (v *variable) attributesText() {
	for _, a := range v.Attrs {
		v.goodName("attribute", a.Name)
		texts, list := a.Value.([]string)
		if text, ok := a.Value.(string); ok {
			texts = []string{text}
		}
		if list && len(texts) != 1 {
			v.fault(3, "%s is a list of %d strings", a.Name, len(texts))
		}
		for _, s := range texts {
			if !normal(s) {
				v.fault(2, "%s is not UTF-8 in normal form C", a.Name)
			}
		}
	}
}

// dimensionOrder checks the second half of rule 5 on data: T, Z, Y, X as far as the dimensions have coordinate
// variables.
func (v *variable) dimensionOrder() {
	if !v.isData() {
		return
	}
	last := 0
	for _, d := range v.Dims {
		k := v.c.of(d)
		if k == nil || !k.number {
			continue
		}
		rank := slices.Index([]bool{k.time, k.vertical, k.lat || k.axis() == "Y", k.lon || k.axis() == "X"}, true)
		if rank < 0 {
			continue
		}
		if rank < last {
			v.say(should, 5, "dimensions %s are not in the order T, Z, Y, X", strings.Join(v.c.DimNames(v.i), ", "))
			return
		}
		last = rank
	}
}

// newestCF is the minor number of the newest version of CF whose rules are here, 1.13 of December 2025.
const newestCF = 13

func (c *check) conventions() {
	text := c.Text("Conventions")
	m := cfVersion.FindStringSubmatch(text)
	version := -1
	if m != nil {
		minor, of1 := strings.CutPrefix(m[1], "1.")
		if n, err := strconv.Atoi(minor); of1 && err == nil && strconv.Itoa(n) == minor {
			version = n
		}
	}
	switch {
	case c.Attr("Conventions") == nil:
		c.fault(11, "there is no Conventions")
	case text == "":
		c.fault(11, "Conventions is not one string")
	case m == nil:
		c.fault(11, "Conventions %q names no version of CF", text)
	case version < 0:
		c.fault(11, "Conventions %q: CF-%s is no version of CF; the rules of CF-1.11 to CF-1.%d were applied", text,
			m[1], newestCF)
	case version > newestCF: // it may have been published after this program
		c.say(should, 11, "Conventions %q: version CF-%s is newer; the rules of CF-1.11 to CF-1.%d were applied", text,
			m[1], newestCF)
	case c.ours && version != 11:
		c.fault(11, "Conventions %q does not name CF-1.11", text)
	}
}

// validRange checks rule 7 and returns the limits.
func (v *variable) validRange() (lo, hi float64) {
	if v.has("valid_range") && (v.has("valid_min") || v.has("valid_max")) {
		v.fault(7, "has valid_range beside valid_min or valid_max")
	}
	for _, name := range []string{"valid_range", "valid_min", "valid_max"} {
		if v.has(name) && !v.packed {
			v.typed(7, name)
		}
	}
	lo, hi = math.Inf(-1), math.Inf(1)
	if x := v.Floats("valid_range"); len(x) == 2 {
		lo, hi = x[0], x[1]
	} else if v.has("valid_range") {
		v.fault(7, "valid_range does not have two values")
	}
	return v.Number("valid_min", lo), v.Number("valid_max", hi)
}

// typed checks that an attribute has the type of its variable.
func (v *variable) typed(rule int, attr string) {
	if t := v.typeOf(attr); t != v.Type {
		v.fault(rule, "%s is %s, the variable %s", attr, t, v.Type)
	}
}

// fill checks rules 8 and 9.
func (v *variable) fill(lo, hi float64) {
	if v.has("missing_value") {
		v.typed(8, "missing_value")
	}
	if v.Fill != nil && v.number {
		v.typed(8, "_FillValue")
	}
	x, y := v.Floats("_FillValue"), v.Floats("missing_value")
	if len(x) > 0 && len(y) > 0 && !slices.Contains(y, x[0]) && !(math.IsNaN(x[0]) && math.IsNaN(y[0])) {
		v.say(should, 8, "missing_value %g is not _FillValue %g", y[0], x[0])
	}
	if len(x) > 0 && (v.has("valid_range") || v.has("valid_min") || v.has("valid_max")) && x[0] >= lo && x[0] <= hi {
		v.fault(9, "_FillValue %g lies within the valid range", x[0])
	}
	if v.c.ours && v.Fill != nil && (v.coordinate || v.boundsOf != nil || v.has("flag_values") ||
		v.has("sample_dimension")) {
		v.say(own, 8, "a coordinate, bounds, flag or count variable has a _FillValue")
	}
}

// actualRange checks rule 10.
func (v *variable) actualRange(lo, hi float64) {
	if !v.has("actual_range") || !v.number {
		return
	}
	r := v.Floats("actual_range")
	if len(r) != 2 {
		v.fault(10, "actual_range does not have two values")
		return
	}
	tolerance, scale, offset := 0.0, v.Number("scale_factor", 1), v.Number("add_offset", 0)
	if v.packed {
		tolerance = math.Abs(scale)
	} else {
		v.typed(10, "actual_range")
	}
	x, ok := v.values()
	if !ok {
		return
	}
	least, most := math.Inf(1), math.Inf(-1)
	for _, y := range x {
		if !v.missing(y) {
			y = float64(y*scale) + offset
			least, most = min(least, y), max(most, y)
		}
	}
	switch {
	case least > most:
		v.fault(10, "actual_range of a variable without values")
	case !(math.Abs(least-r[0]) <= tolerance && math.Abs(most-r[1]) <= tolerance):
		v.fault(10, "actual_range %g to %g, the values are %g to %g", r[0], r[1], least, most)
	case !v.packed && (r[0] < lo || r[1] > hi):
		v.fault(10, "actual_range %g to %g is wider than the valid range", r[0], r[1])
	}
}
