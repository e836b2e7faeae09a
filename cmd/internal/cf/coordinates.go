package cf

import (
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// refers returns the variables that an attribute names, and reports names that are not in the file.
func (v *variable) refers(rule int, attr string) []*variable {
	var out []*variable
	for _, n := range v.list(attr) {
		if k := v.c.find(n); k != nil {
			out = append(out, k)
		} else {
			v.fault(rule, "%s names %s, which is not in the file", attr, n)
		}
	}
	return out
}

// ancillary checks rule 21.
func (v *variable) ancillary() {
	for _, k := range v.refers(21, "ancillary_variables") {
		for _, d := range k.axes {
			if !slices.Contains(v.space(), d) {
				v.fault(21, "ancillary variable %s has dimension %s, which its parent does not have", k.Name,
					v.c.dim(d))
			}
		}
	}
}

// asCoordinate checks rules 25 to 45.
func (v *variable) asCoordinate() {
	c := v.c
	v.axisOf()
	v.place()
	v.timeOf()
	if v.coordinate {
		v.coordinateVariable()
	} else if v.named {
		if len(v.Dims) > 1 && slices.Contains(c.DimNames(v.i), v.Name) {
			v.fault(36, "has several dimensions and the name of one of them")
		}
		if len(v.axes) == 0 && c.Dim(v.Name) >= 0 {
			v.fault(37, "is a scalar coordinate with the name of a dimension")
		}
	}
	for _, k := range v.refers(34, "coordinates") {
		for _, d := range k.axes {
			if !slices.Contains(v.space(), d) &&
				!(d == c.inst && c.sample >= 0 && slices.Contains(v.Dims, c.sample)) {
				v.fault(35, "coordinate %s has dimension %s, which the data do not have", k.Name, c.dim(d))
			}
		}
	}
	if most := map[nc.Type]int{nc.Char: 2, nc.String: 1}[v.Type]; v.named && most > 0 {
		n, k := len(v.Dims), own // CF 1.9 and later have text along several dimensions
		if n > most+1 || n == 0 && v.Type == nc.Char {
			k = must
		}
		if n > most || k == must {
			v.say(k, 40, "a label variable has %d dimensions", n)
		}
	}
	if v.isData() && !c.profile && (c.ours || !v.beside) {
		v.gridded()
	}
	v.mapping()
	if v.has("bounds") {
		v.bounds()
	}
}

// axisOf checks rules 25 to 27.
func (v *variable) axisOf() {
	if v.has("axis") {
		text, u := v.axis(), v.Text("units")
		switch {
		case !slices.Contains([]string{"X", "Y", "Z", "T"}, text):
			v.fault(25, "axis is %q", text)
		case (text == "T") != v.time, text == "X" && v.lat, text == "Y" && v.lon, text == "Z" && (v.lat || v.lon):
			v.fault(25, "axis %s on units %q", text, u)
		case text != "Z" && v.has("positive"):
			v.fault(25, "axis %s beside positive", text)
		}
		if !v.c.profile && !v.coordinate && len(v.axes) > 0 {
			v.fault(27, "an auxiliary coordinate of a grid has axis")
		}
	}
	if !v.isData() {
		return
	}
	seen := map[string]string{}
	for _, k := range v.coordinates() {
		if other, ok := seen[k.axis()]; ok && k.axis() != "" {
			v.fault(26, "coordinates %s and %s both have axis %s", other, k.Name, k.axis())
		}
		seen[k.axis()] = k.Name
	}
}

// place checks rules 28 and 29.
func (v *variable) place() {
	u, name := v.Text("units"), v.standardName()
	if name == "latitude" && (!metadata.IsLatitude("", u) || v.c.ours && u != "degrees_north") ||
		name == "longitude" && (!metadata.IsLongitude("", u) || v.c.ours && u != "degrees_east") {
		v.fault(28, "units of %s are %q", name, u)
	}
	if !v.has("positive") {
		v.noPositive()
		return
	}
	switch p := strings.ToLower(v.Text("positive")); { // the case does not matter (CF 4.3)
	case p != "up" && p != "down":
		v.fault(29, "positive is %q", p)
	case p == "up" && slices.Contains([]string{"depth", "sea_water_pressure",
		"sea_water_pressure_due_to_sea_water"}, name),
		p == "down" && slices.Contains([]string{"height", "altitude"}, name):
		v.say(should, 29, "positive %s on %s", p, name)
	}
}

// coordinateVariable checks rule 33.
func (v *variable) coordinateVariable() {
	if v.has("compress") { // a list of indices, which is no axis
		return
	}
	if !v.number {
		if v.Type == nc.Char {
			v.fault(33, "a coordinate variable is text")
		}
		return
	}
	if v.Fill != nil || v.has("missing_value") {
		v.fault(33, "a coordinate variable has _FillValue or missing_value")
	}
	x, _ := v.values()
	for k, y := range x {
		if math.IsNaN(y) {
			v.fault(33, "value %d is missing", k)
			return
		}
		if k > 0 && (y == x[k-1] || k > 1 && (y > x[k-1]) != (x[1] > x[0])) {
			v.fault(33, "is not strictly monotonic: %g after %g at %d", y, x[k-1], k)
			return
		}
	}
	if len(x) > 1 && x[1] < x[0] {
		v.say(own, 33, "does not increase")
	}
}

// gridded checks rules 32 and 38 of data on a grid.
func (v *variable) gridded() {
	around := v.coordinates()
	lat, lon, other := false, false, false
	for _, k := range around {
		lat, lon = lat || k.lat, lon || k.lon
		other = other || (k.axis() == "X" || k.axis() == "Y") && !k.lat && !k.lon
	}
	if other && !(lat && lon) {
		v.fault(38,
			"has horizontal coordinates that are not latitude and longitude, and does not name those in coordinates")
	}
	for _, d := range v.space() {
		if v.c.of(d) != nil {
			continue
		}
		alone, lat, lon, along := true, false, false, false
		for _, k := range around {
			alone = alone && !slices.Contains(k.axes, d)
			if slices.Equal(k.axes, []int{d}) {
				lat, lon, along = lat || k.lat, lon || k.lon, along || k.lat || k.lon || k.time || k.vertical
			}
		}
		// Along a dimension with latitude and longitude lies a track or a list of places, which has no axis.
		if along && !(lat && lon) || alone && v.c.ours {
			v.fault(32, "dimension %s has no coordinate variable", v.c.dim(d))
		}
	}
}

// The legal grid_mapping_name (CF Appendix F), attributes of a grid mapping that are numbers, and those of which all or
// none are given.
var (
	mappings = []string{"albers_conical_equal_area", "azimuthal_equidistant", "geostationary",
		"lambert_azimuthal_equal_area", "lambert_conformal_conic", "lambert_cylindrical_equal_area",
		"latitude_longitude", "mercator", "oblique_mercator", "orthographic", "polar_stereographic",
		"rotated_latitude_longitude", "sinusoidal", "stereographic", "transverse_mercator", "vertical_perspective"}
	mappingNumbers = []string{"semi_major_axis", "semi_minor_axis", "inverse_flattening", "earth_radius",
		"longitude_of_prime_meridian", "latitude_of_projection_origin", "longitude_of_central_meridian",
		"false_easting", "false_northing"}
	mappingTogether = []string{"reference_ellipsoid_name", "prime_meridian_name", "horizontal_datum_name",
		"geographic_crs_name"}
)

// mapping checks rule 39.
func (v *variable) mapping() {
	if g := v.list("grid_mapping"); len(g) > 0 {
		if name, _, _ := strings.Cut(g[0], ":"); v.c.find(name) == nil {
			v.fault(39, "grid_mapping names %s, which is not in the file", name)
		}
	}
	if !v.has("grid_mapping_name") {
		return
	}
	if name := v.Text("grid_mapping_name"); !slices.Contains(mappings, name) {
		v.fault(39, "grid_mapping_name %q is not known", name)
	}
	if len(v.Dims) > 0 {
		v.say(should, 39, "a grid mapping is not a scalar")
	}
	for _, n := range mappingNumbers {
		if v.has(n) && v.Floats(n) == nil {
			v.fault(39, "%s is not a number", n)
		}
	}
	if slices.ContainsFunc(mappingTogether, v.has) &&
		slices.ContainsFunc(mappingTogether, func(n string) bool { return !v.has(n) }) {
		v.fault(39, "has some of %s, not all", strings.Join(mappingTogether, ", "))
	}
}
