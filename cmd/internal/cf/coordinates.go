package cf

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
)

// flags checks rules 21 to 24.
func (c *check) flags(i int) {
	v := &c.Vars[i]
	for _, n := range strings.Fields(v.Text("ancillary_variables")) {
		k := c.Var(n)
		if k < 0 {
			c.fault(21, v.Name, "ancillary_variables names %s, which is not in the file", n)
			continue
		}
		for _, d := range c.Vars[k].Axes() {
			if !slices.Contains(c.gatheredFrom(v.Dims), d) {
				c.fault(21, v.Name, "ancillary variable %s has dimension %s, which its parent has not", n,
					c.Dims[d].Name)
			}
		}
	}
	values, masks, meanings := v.Attr("flag_values"), v.Attr("flag_masks"), v.Attr("flag_meanings")
	words := strings.Fields(v.Text("flag_meanings"))
	if values == nil && masks == nil {
		if meanings != nil {
			c.fault(22, v.Name, "flag_meanings without flag_values or flag_masks")
		}
		return
	}
	if len(words) == 0 {
		c.fault(22, v.Name, "flag_meanings is missing")
	}
	for k, w := range words {
		if !wordForm.MatchString(w) {
			c.fault(22, v.Name, "word %q of flag_meanings has other signs than letters, digits and _-.+@", w)
		}
		if slices.Contains(words[:k], w) {
			c.say(22, own, v.Name, "word %q occurs twice in flag_meanings", w)
		}
	}
	if values != nil {
		c.flagValues(i, values, words, masks != nil)
	}
	if masks == nil {
		return
	}
	m := nc.Floats(masks)
	if nc.TypeOfValue(masks) != v.Type || v.Type == nc.Float || v.Type == nc.Double {
		c.fault(24, v.Name, "flag_masks is %s, the variable %s", nc.TypeOfValue(masks), v.Type)
	}
	if len(words) > 0 && len(m) != len(words) {
		c.fault(24, v.Name, "%d flag_masks for %d words", len(m), len(words))
	}
	if slices.Contains(m, 0) {
		c.fault(24, v.Name, "a flag mask is zero")
	}
}

func (c *check) flagValues(i int, attr any, words []string, masked bool) {
	v := &c.Vars[i]
	f := nc.Floats(attr)
	if nc.TypeOfValue(attr) != v.Type {
		c.fault(22, v.Name, "flag_values is %s, the variable %s", nc.TypeOfValue(attr), v.Type)
	}
	if len(words) > 0 && f != nil && len(f) != len(words) {
		c.fault(22, v.Name, "%d flag_values for %d words", len(f), len(words))
	}
	for k, x := range f {
		if !masked && slices.Contains(f[:k], x) {
			c.fault(23, v.Name, "flag value %g occurs twice", x)
		}
	}
	if masked || !v.Type.Numeric() || !c.ours {
		return
	}
	x, ok := c.get(i)
	if !ok {
		return
	}
	strange := map[float64]int{}
	for _, y := range x {
		if !slices.Contains(f, y) && !c.Missing(i, y) {
			strange[y]++
		}
	}
	for _, y := range sortedKeys(strange) {
		c.fault(23, v.Name, "holds %d values %g, which is not among flag_values", strange[y], y)
	}
}

func sortedKeys(m map[float64]int) []float64 {
	out := make([]float64, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

var calendars = []string{"standard", "gregorian", "proleptic_gregorian", "julian", "noleap", "365_day", "all_leap",
	"366_day", "360_day", "utc", "tai", "none"}

// coordinate checks rules 25 to 45 of one variable.
func (c *check) coordinate(i int) {
	v := &c.Vars[i]
	c.axis(i)
	c.place(i)
	c.time(i)
	if c.IsCoordinate(i) {
		c.coordinateVariable(i)
	} else {
		names := c.DimNames(i)
		if len(v.Dims) > 1 && c.named[i] && slices.Contains(names, v.Name) {
			c.fault(36, v.Name, "has several dimensions and the name of one of them")
		}
		if len(c.Vars[i].Axes()) == 0 && c.named[i] && c.Dim(v.Name) >= 0 {
			c.fault(37, v.Name, "is a scalar coordinate with the name of a dimension")
		}
	}
	for _, n := range strings.Fields(v.Text("coordinates")) {
		k := c.Var(n)
		if k < 0 {
			c.fault(34, v.Name, "coordinates names %s, which is not in the file", n)
			continue
		}
		for _, d := range c.Vars[k].Axes() {
			if !slices.Contains(c.gatheredFrom(v.Dims), d) &&
				!(d == c.inst && c.sample >= 0 && slices.Contains(v.Dims, c.sample)) {
				c.fault(35, v.Name, "coordinate %s has dimension %s, which the data have not", n, c.Dims[d].Name)
			}
		}
	}
	if most := map[nc.Type]int{nc.Char: 2, nc.String: 1}[v.Type]; c.named[i] && most > 0 {
		switch n := len(v.Dims); {
		case n > most+1 || n == 0 && v.Type == nc.Char:
			c.fault(40, v.Name, "a label variable has %d dimensions", n)
		case n > most: // CF 1.9 and later have text along several dimensions
			c.say(40, own, v.Name, "a label variable has %d dimensions", n)
		}
	}
	if c.isData(i) && !c.profile && (c.ours || !c.beside[i]) {
		c.gridded(i)
	}
	c.mapping(i)
	if v.Attr("bounds") != nil {
		c.bound(i)
	}
}

func (c *check) axis(i int) {
	v := &c.Vars[i]
	text := v.Text("axis")
	if v.Attr("axis") != nil {
		u := v.Text("units")
		switch {
		case text != "X" && text != "Y" && text != "Z" && text != "T":
			c.fault(25, v.Name, "axis is %q", text)
		case text == "T" && !c.isTime(i), text != "T" && c.isTime(i):
			c.fault(25, v.Name, "axis %s on units %q", text, u)
		case text == "X" && c.isLat(i), text == "Y" && c.isLon(i), text == "Z" && (c.isLat(i) || c.isLon(i)):
			c.fault(25, v.Name, "axis %s on units %q", text, u)
		case text != "Z" && v.Attr("positive") != nil:
			c.fault(25, v.Name, "axis %s beside positive", text)
		}
		if !c.profile && !c.IsCoordinate(i) && len(c.Vars[i].Axes()) > 0 {
			c.fault(27, v.Name, "an auxiliary coordinate of a grid has axis")
		}
	}
	if !c.isData(i) {
		return
	}
	seen := map[string]string{}
	for _, k := range c.coordinatesOf(i) {
		a := c.Vars[k].Text("axis")
		if a == "" {
			continue
		}
		if other, ok := seen[a]; ok {
			c.fault(26, v.Name, "coordinates %s and %s both have axis %s", other, c.Vars[k].Name, a)
		}
		seen[a] = c.Vars[k].Name
	}
}

// place checks rules 28 and 29.
func (c *check) place(i int) {
	v := &c.Vars[i]
	u := v.Text("units")
	switch v.Text("standard_name") {
	case "latitude":
		if !metadata.IsLatitude("", u) || c.ours && u != "degrees_north" {
			c.fault(28, v.Name, "units of latitude are %q", u)
		}
	case "longitude":
		if !metadata.IsLongitude("", u) || c.ours && u != "degrees_east" {
			c.fault(28, v.Name, "units of longitude are %q", u)
		}
	}
	if a := v.Attr("positive"); a != nil {
		switch p := strings.ToLower(v.Text("positive")); { // the case does not matter (CF 4.3)
		case p != "up" && p != "down":
			c.fault(29, v.Name, "positive is %q", p)
		case p == "up" &&
			slices.Contains([]string{"depth", "sea_water_pressure", "sea_water_pressure_due_to_sea_water"},
				v.Text("standard_name")),
			p == "down" && slices.Contains([]string{"height", "altitude"}, v.Text("standard_name")):
			c.say(29, should, v.Name, "positive %s on %s", p, v.Text("standard_name"))
		}
		return
	}
	c.noPositive(i)
}

// time checks rules 30 and 31.
func (c *check) time(i int) {
	v := &c.Vars[i]
	cal := v.Attr("calendar")
	_, isBounds := c.bounds[i]
	if !c.isTime(i) {
		if cal != nil && !isBounds {
			c.fault(31, v.Name, "calendar on a variable that is no time")
		}
		return
	}
	u := v.Text("units")
	if !strings.Contains(u, " since ") {
		if v.Text("standard_name") == "time" && !isBounds {
			c.fault(30, v.Name, "units of time %q have no since", u)
		}
		return
	}
	switch first, _, _ := strings.Cut(u, " "); strings.TrimSuffix(first, "s") {
	case "month", "year", "common_year", "mon", "yr":
		c.say(31, should, v.Name, "units of time in months or years")
	}
	switch {
	case cal == nil:
		if !isBounds {
			c.say(31, should, v.Name, "a time without calendar")
		}
	case !slices.Contains(calendars, strings.ToLower(v.Text("calendar"))):
		if v.Attr("month_lengths") == nil {
			c.fault(31, v.Name, "calendar %q is not known", v.Text("calendar"))
		}
	case v.Text("calendar") == "gregorian":
		c.say(31, should, v.Name, "calendar gregorian is called standard now")
	}
}

// coordinateVariable checks rule 33.
func (c *check) coordinateVariable(i int) {
	v := &c.Vars[i]
	if v.Attr("compress") != nil { // a list of indices, which is no axis
		return
	}
	if !v.Type.Numeric() {
		if v.Type == nc.Char {
			c.fault(33, v.Name, "a coordinate variable is text")
		}
		return
	}
	if v.Fill != nil || v.Attr("missing_value") != nil {
		c.fault(33, v.Name, "a coordinate variable has _FillValue or missing_value")
	}
	x, ok := c.get(i)
	if !ok {
		return
	}
	for k, y := range x {
		if math.IsNaN(y) {
			c.fault(33, v.Name, "value %d is missing", k)
			return
		}
		if k > 0 && (y == x[k-1] || k > 1 && (y > x[k-1]) != (x[1] > x[0])) {
			c.fault(33, v.Name, "is not strictly monotonic: %g after %g at %d", y, x[k-1], k)
			return
		}
	}
	if c.ours && len(x) > 1 && x[1] < x[0] {
		c.say(33, own, v.Name, "does not increase")
	}
}

// gridded checks rules 32 and 38 of data on a grid.
func (c *check) gridded(i int) {
	v := &c.Vars[i]
	around := c.coordinatesOf(i)
	has := func(is func(int) bool) bool { return slices.ContainsFunc(around, is) }
	for _, d := range c.gatheredFrom(v.Dims) {
		if k := c.Var(c.Dims[d].Name); k >= 0 && c.IsCoordinate(k) {
			continue
		}
		along := slices.IndexFunc(around, func(k int) bool {
			return slices.Equal(c.Vars[k].Axes(), []int{d}) && (c.isLat(k) || c.isLon(k) || c.isTime(k) || c.isVertical(k))
		})
		lone := !slices.ContainsFunc(around, func(k int) bool { return slices.Contains(c.Vars[k].Axes(), d) })
		if along >= 0 && !c.twoAlong(around, d) || lone && c.ours {
			c.fault(32, v.Name, "dimension %s has no coordinate variable", c.Dims[d].Name)
		}
	}
	other := slices.ContainsFunc(around, func(k int) bool {
		a := c.Vars[k].Text("axis")
		return (a == "X" || a == "Y") && !c.isLat(k) && !c.isLon(k)
	})
	if other && !(has(c.isLat) && has(c.isLon)) {
		c.fault(38, v.Name,
			"has horizontal coordinates that are not latitude and longitude, and does not name those in coordinates")
	}
}

// twoAlong says whether both a latitude and a longitude lie along one dimension: then it is a track or list of places,
// not an axis.
func (c *check) twoAlong(around []int, d int) bool {
	lat, lon := false, false
	for _, k := range around {
		if slices.Equal(c.Vars[k].Axes(), []int{d}) {
			lat, lon = lat || c.isLat(k), lon || c.isLon(k)
		}
	}
	return lat && lon
}

// mappings are the legal grid_mapping_name (CF Appendix F).
var mappings = []string{"albers_conical_equal_area", "azimuthal_equidistant", "geostationary",
	"lambert_azimuthal_equal_area",
	"lambert_conformal_conic", "lambert_cylindrical_equal_area", "latitude_longitude", "mercator", "oblique_mercator",
	"orthographic",
	"polar_stereographic", "rotated_latitude_longitude", "sinusoidal", "stereographic", "transverse_mercator",
	"vertical_perspective"}

// mapping checks rule 39.
func (c *check) mapping(i int) {
	v := &c.Vars[i]
	if g := v.Text("grid_mapping"); g != "" {
		name, _, _ := strings.Cut(strings.TrimSuffix(strings.Fields(g)[0], ":"), ":")
		if c.Var(name) < 0 {
			c.fault(39, v.Name, "grid_mapping names %s, which is not in the file", name)
		}
	}
	a := v.Attr("grid_mapping_name")
	if a == nil {
		return
	}
	if !slices.Contains(mappings, v.Text("grid_mapping_name")) {
		c.fault(39, v.Name, "grid_mapping_name %q is not known", v.Text("grid_mapping_name"))
	}
	if len(v.Dims) > 0 {
		c.say(39, should, v.Name, "a grid mapping is not a scalar")
	}
	for _, n := range []string{"semi_major_axis", "semi_minor_axis", "inverse_flattening", "earth_radius",
		"longitude_of_prime_meridian",
		"latitude_of_projection_origin", "longitude_of_central_meridian", "false_easting", "false_northing"} {
		if x := v.Attr(n); x != nil && nc.Floats(x) == nil {
			c.fault(39, v.Name, "%s is not a number", n)
		}
	}
	set := 0
	all := []string{"reference_ellipsoid_name", "prime_meridian_name", "horizontal_datum_name", "geographic_crs_name"}
	for _, n := range all {
		if v.Attr(n) != nil {
			set++
		}
	}
	if set > 0 && set < len(all) {
		c.fault(39, v.Name, "has some of %s, not all", strings.Join(all, ", "))
	}
}

// bound checks rules 41 to 45.
func (c *check) bound(i int) {
	v := &c.Vars[i]
	name := v.Text("bounds")
	b := c.Var(name)
	if b < 0 {
		c.fault(41, v.Name, "bounds names %q, which is not in the file", name)
		return
	}
	w := &c.Vars[b]
	if !w.Type.Numeric() || len(w.Dims) != len(v.Dims)+1 || !slices.Equal(w.Dims[:len(v.Dims)], v.Dims) {
		c.fault(41, v.Name, "bounds %s are not numbers with the dimensions of %s and one more", name, v.Name)
		return
	}
	vertices := c.Dims[w.Dims[len(v.Dims)]].Len
	if len(v.Dims) <= 1 && vertices != 2 || len(v.Dims) > 1 && vertices <= 2 {
		c.fault(42, v.Name, "bounds %s have %d vertices", name, vertices)
		return
	}
	if w.Fill != nil || w.Attr("missing_value") != nil {
		c.fault(44, name, "bounds have a _FillValue")
	}
	for _, a := range w.Attrs {
		if a.Name == "missing_value" || a.Name == "formula_terms" && !c.ours {
			// the bounds of a parametric coordinate have terms of their own
			continue
		}
		p := v.Attr(a.Name)
		switch {
		case c.ours:
			c.say(44, own, name, "bounds have the attribute %s", a.Name)
		case p != nil && fmt.Sprint(p) != fmt.Sprint(a.Value):
			c.fault(44, name, "%s differs from that of %s", a.Name, v.Name)
		}
	}
	x, ok := c.get(i)
	y, ok2 := c.get(b)
	if !ok || !ok2 || vertices != 2 || len(v.Dims) > 1 {
		return
	}
	c.boundValues(i, x, y)
}

func (c *check) boundValues(i int, x, y []float64) {
	v := &c.Vars[i]
	sense := 0.0
	if len(x) > 1 && c.IsCoordinate(i) {
		sense = x[1] - x[0]
	}
	outside, backward, edge := false, false, false
	for k := range x {
		a, b := y[2*k], y[2*k+1]
		if c.Missing(i, x[k]) {
			continue
		}
		if !(min(a, b) <= x[k] && x[k] <= max(a, b)) && !outside {
			c.fault(45, v.Name, "value %g lies outside its bounds %g, %g", x[k], a, b)
			outside = true
		}
		if sense*(b-a) < 0 && !backward {
			c.fault(43, v.Name, "bounds %g, %g run against the values", a, b)
			backward = true
		}
		if k == 0 || edge {
			continue
		}
		if gap := math.Abs(y[2*k-1] - a); gap > 0 && gap < 1e-6*math.Abs(b-a) {
			c.fault(45, v.Name, "neighbouring cells share the edge %g but for %g", a, gap)
			edge = true
		}
	}
}

// methods of CF Appendix E.
var methods = []string{"point", "sum", "mean", "median", "mode", "range", "maximum", "minimum", "mid_range",
	"standard_deviation", "variance",
	"root_mean_square", "sum_of_squares", "maximum_absolute_value", "mean_absolute_value", "mean_of_upper_decile",
	"minimum_absolute_value"}

var cellMethod = regexp.MustCompile(
	`^\s*((?:[A-Za-z][A-Za-z0-9_]*:\s+)+)([A-Za-z_]+)((?:\s+(?:where|over|within)\s+[A-Za-z][A-Za-z0-9_]*)*)\s*(\([^()]*\))?\s*`)

// cells checks rules 46 to 53.
func (c *check) cells(i int) {
	v := &c.Vars[i]
	if v.Attr("cell_methods") != nil {
		c.cellMethods(i)
	}
	if v.Attr("cell_measures") != nil {
		c.cellMeasures(i)
	}
	c.packing(i)
	coordinate := c.IsCoordinate(i) || c.named[i]
	if _, b := c.bounds[i]; b || coordinate {
		for _, a := range v.Attrs {
			if a.Name == "quantization" || strings.HasPrefix(a.Name, "quantization_") ||
				strings.HasPrefix(a.Name, "_Quantize") {
				c.fault(53, v.Name, "a coordinate is quantized")
			}
		}
	}
}

func (c *check) cellMethods(i int) {
	v := &c.Vars[i]
	rest := v.Text("cell_methods")
	seen := map[string]bool{}
	if strings.TrimSpace(rest) == "" {
		c.fault(46, v.Name, "cell_methods is empty or no string")
		return
	}
	for rest != "" {
		m := cellMethod.FindStringSubmatch(rest)
		if m == nil {
			c.fault(46, v.Name, "cell_methods does not parse from %q on", rest)
			return
		}
		rest = rest[len(m[0]):]
		for _, n := range strings.Fields(strings.ReplaceAll(m[1], ":", " ")) {
			_, standard := lookUp(n)
			d, k := c.Dim(n), c.Var(n)
			switch {
			case d >= 0 && slices.Contains(c.gatheredFrom(v.Dims), d):
			case k >= 0 && len(c.Vars[k].Axes()) == 0:
			case standard, n == "area":
			default:
				c.fault(47, v.Name,
					"cell_methods names %s, which is no dimension of the variable, scalar coordinate, standard name or area",
					n)
			}
			if seen[n] && d >= 0 && !(k >= 0 && c.Vars[k].Attr("climatology") != nil) {
				// within and over, of climatological time (7.4)
				c.fault(47, v.Name, "cell_methods names %s twice", n)
			}
			seen[n] = true
			if m[2] != "point" && k >= 0 && c.IsCoordinate(k) && c.Vars[k].Attr("bounds") == nil &&
				c.Vars[k].Attr("climatology") == nil {
				c.fault(49, v.Name, "method %s over %s, which has no bounds", m[2], n)
			}
		}
		if !slices.Contains(methods, m[2]) {
			c.fault(48, v.Name, "method %q is not in Appendix E", m[2])
		}
		if _, after, ok := strings.Cut(m[4], "interval:"); ok {
			f := strings.Fields(strings.TrimSuffix(after, ")"))
			good := len(f) >= 2
			if good {
				_, err := strconv.ParseFloat(f[0], 64)
				_, err2 := units.Parse(f[1])
				good = err == nil && err2 == nil
			}
			if !good {
				c.fault(50, v.Name, "interval in %s has no number and unit", m[4])
			}
		}
	}
	if c.profile || c.beside[i] && !c.ours {
		return
	}
	for _, d := range v.Dims {
		n := c.Dims[d].Name
		if k := c.Var(n); k >= 0 && c.IsCoordinate(k) && c.Vars[k].Text("axis") != "" && !seen[n] &&
			!seen[c.Vars[k].Text("standard_name")] {
			c.fault(49, v.Name, "cell_methods says nothing of %s", n)
		}
	}
}

func (c *check) cellMeasures(i int) {
	v := &c.Vars[i]
	f := strings.Fields(v.Text("cell_measures"))
	if len(f) == 0 || len(f)%2 != 0 {
		c.fault(51, v.Name, "cell_measures %q does not parse", v.Text("cell_measures"))
		return
	}
	for k := 0; k < len(f); k += 2 {
		want, ok := map[string]string{"area:": "m2", "volume:": "m3"}[f[k]]
		if !ok {
			c.fault(51, v.Name, "cell measure %q is neither area nor volume", f[k])
			continue
		}
		at := c.Var(f[k+1])
		if at < 0 {
			if !slices.Contains(strings.Fields(c.Text("external_variables")), f[k+1]) {
				c.fault(51, v.Name, "cell_measures names %s, which is not in the file", f[k+1])
			}
			continue
		}
		if u, ok := c.parsed(at); !ok || !sameUnits(u, want) {
			c.fault(51, f[k+1], "a cell measure has units %q, not %s", c.Vars[at].Text("units"), want)
		}
	}
}

func (c *check) packing(i int) {
	v := &c.Vars[i]
	s, o := v.Attr("scale_factor"), v.Attr("add_offset")
	if s == nil && o == nil {
		return
	}
	types := []nc.Type{}
	for _, a := range []any{s, o} {
		if a == nil {
			continue
		}
		t := nc.TypeOfValue(a)
		if t != nc.Float && t != nc.Double && t != v.Type {
			c.fault(52, v.Name, "scale_factor or add_offset is %s", t)
		}
		types = append(types, t)
	}
	if len(types) == 2 && types[0] != types[1] {
		c.fault(52, v.Name, "scale_factor is %s, add_offset %s", types[0], types[1])
	}
	switch {
	case !v.Type.Numeric():
		c.fault(52, v.Name, "%s cannot be packed", v.Type)
	case types[0] == nc.Float && v.Type != nc.Byte && v.Type != nc.UByte && v.Type != nc.Short && v.Type != nc.UShort &&
		v.Type != nc.Float:
		c.fault(52, v.Name, "%s is not packed into %s", types[0], v.Type)
	}
	c.say(52, own, v.Name, "values are packed")
}
