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
)

// bounds checks rules 41 to 45.
func (v *variable) bounds() {
	name, n := v.Text("bounds"), len(v.Dims)
	b := v.c.find(name)
	if b == nil {
		v.fault(41, "bounds names %q, which is not in the file", name)
		return
	}
	if !b.number || len(b.Dims) != n+1 || !slices.Equal(b.Dims[:n], v.Dims) {
		v.fault(41, "bounds %s are not numbers with the dimensions of %s and one more", name, v.Name)
		return
	}
	vertices := v.c.Dims[b.Dims[n]].Len
	if (n <= 1) != (vertices == 2) || vertices < 2 {
		v.fault(42, "bounds %s have %d vertices", name, vertices)
		return
	}
	if b.Fill != nil || b.has("missing_value") {
		b.fault(44, "bounds have a _FillValue")
	}
	for _, a := range b.Attrs {
		switch {
		case a.Name == "missing_value":
		case v.c.ours:
			b.say(own, 44, "bounds have the attribute %s", a.Name)
		// the bounds of a parametric coordinate have terms of their own
		case a.Name != "formula_terms" && v.has(a.Name) && fmt.Sprint(v.Attr(a.Name)) != fmt.Sprint(a.Value):
			b.fault(44, "%s differs from that of %s", a.Name, v.Name)
		}
	}
	if n <= 1 {
		v.boundValues(b)
	}
}

// boundValues checks rules 43 and 45 where each value has two bounds.
func (v *variable) boundValues(b *variable) {
	x, ok := v.values()
	y, ok2 := b.values()
	if !ok || !ok2 {
		return
	}
	sense := 0.0
	if len(x) > 1 && v.coordinate {
		sense = x[1] - x[0]
	}
	outside, backward, edge := false, false, false // each is reported once
	for k := range x {
		low, high := y[2*k], y[2*k+1]
		if v.missing(x[k]) {
			continue
		}
		if !outside && !(min(low, high) <= x[k] && x[k] <= max(low, high)) {
			v.fault(45, "value %g lies outside its bounds %g, %g", x[k], low, high)
			outside = true
		}
		if !backward && sense*(high-low) < 0 {
			v.fault(43, "bounds %g, %g run against the values", low, high)
			backward = true
		}
		if k == 0 || edge {
			continue
		}
		if gap := math.Abs(y[2*k-1] - low); gap > 0 && gap < 1e-6*math.Abs(high-low) {
			v.fault(45, "neighbouring cells share the edge %g but for %g", low, gap)
			edge = true
		}
	}
}

// methods of CF Appendix E.
var methods = []string{"point", "sum", "mean", "median", "mode", "range", "maximum", "minimum", "mid_range",
	"standard_deviation", "variance", "root_mean_square", "sum_of_squares", "maximum_absolute_value",
	"mean_absolute_value", "mean_of_upper_decile", "minimum_absolute_value"}

// cellMethod is one entry of cell_methods: names, method, conditions and a comment or interval in brackets.
var cellMethod = regexp.MustCompile(`^\s*((?:[A-Za-z][A-Za-z0-9_]*:\s+)+)([A-Za-z_]+)` +
	`((?:\s+(?:where|over|within)\s+[A-Za-z][A-Za-z0-9_]*)*)\s*(\([^()]*\))?\s*`)

// cells checks rules 46 to 53.
func (v *variable) cells() {
	if v.has("cell_methods") {
		v.cellMethods()
	}
	if v.has("cell_measures") {
		v.cellMeasures()
	}
	if v.packed {
		v.packing()
	}
	if v.boundsOf != nil || v.coordinate || v.named {
		for _, a := range v.Attrs {
			if a.Name == "quantization" || strings.HasPrefix(a.Name, "quantization_") ||
				strings.HasPrefix(a.Name, "_Quantize") {
				v.fault(53, "a coordinate is quantized")
			}
		}
	}
}

func (v *variable) cellMethods() {
	rest := v.Text("cell_methods")
	if strings.TrimSpace(rest) == "" {
		v.fault(46, "cell_methods is empty or no string")
		return
	}
	seen := map[string]bool{}
	for rest != "" {
		m := cellMethod.FindStringSubmatch(rest)
		if m == nil {
			v.fault(46, "cell_methods does not parse from %q on", rest)
			return
		}
		rest = rest[len(m[0]):]
		for _, n := range strings.Fields(strings.ReplaceAll(m[1], ":", " ")) {
			v.cellName(n, m[2], seen[n])
			seen[n] = true
		}
		if !slices.Contains(methods, m[2]) {
			v.fault(48, "method %q is not in Appendix E", m[2])
		}
		if _, after, ok := strings.Cut(m[4], "interval:"); ok {
			f := append(strings.Fields(strings.TrimSuffix(after, ")")), "", "")
			_, err := strconv.ParseFloat(f[0], 64)
			if _, unit := parse(f[1]); err != nil || !unit {
				v.fault(50, "interval in %s has no number and unit", m[4])
			}
		}
	}
	if v.c.profile || v.beside && !v.c.ours {
		return
	}
	for _, d := range v.Dims {
		if k := v.c.of(d); k != nil && k.axis() != "" && !seen[k.Name] && !seen[k.standardName()] {
			v.fault(49, "cell_methods says nothing of %s", k.Name)
		}
	}
}

// cellName checks rules 47 and 49 of one name in cell_methods, which may be there again.
func (v *variable) cellName(n, method string, again bool) {
	_, _, standard := metadata.StandardName(n)
	d, k := v.c.Dim(n), v.c.find(n)
	climatology := k != nil && k.has("climatology")
	if !slices.Contains(v.space(), d) && !(k != nil && len(k.axes) == 0) && !standard && n != "area" {
		v.fault(47,
			"cell_methods names %s, which is no dimension of the variable, scalar coordinate, standard name or area", n)
	}
	if again && d >= 0 && !climatology { // within and over, of climatological time (7.4)
		v.fault(47, "cell_methods names %s twice", n)
	}
	if method != "point" && k != nil && k.coordinate && !k.has("bounds") && !climatology {
		v.fault(49, "method %s over %s, which has no bounds", method, n)
	}
}

// cellMeasures checks rule 51.
func (v *variable) cellMeasures() {
	f := v.list("cell_measures")
	if len(f) == 0 || len(f)%2 != 0 {
		v.fault(51, "cell_measures %q does not parse", v.Text("cell_measures"))
		return
	}
	for k := 0; k < len(f); k += 2 {
		want := map[string]string{"area:": "m2", "volume:": "m3"}[f[k]]
		switch at := v.c.find(f[k+1]); {
		case want == "":
			v.fault(51, "cell measure %q is neither area nor volume", f[k])
		case at == nil:
			if !slices.Contains(strings.Fields(v.c.Text("external_variables")), f[k+1]) {
				v.fault(51, "cell_measures names %s, which is not in the file", f[k+1])
			}
		case !at.measures(want):
			at.fault(51, "a cell measure has units %q, not %s", at.Text("units"), want)
		}
	}
}

// packing checks rule 52.
func (v *variable) packing() {
	var types []nc.Type
	for _, a := range []string{"scale_factor", "add_offset"} {
		if t := v.typeOf(a); v.has(a) {
			types = append(types, t)
			if t != nc.Float && t != nc.Double && t != v.Type {
				v.fault(52, "%s is %s", a, t)
			}
		}
	}
	if t := slices.Compact(types); len(t) > 1 {
		v.fault(52, "scale_factor is %s, add_offset %s", t[0], t[1])
	}
	switch {
	case !v.number:
		v.fault(52, "%s cannot be packed", v.Type)
	case types[0] == nc.Float && v.Type.Size() > 2 && v.Type != nc.Float:
		v.fault(52, "%s is not packed into %s", types[0], v.Type)
	}
	v.say(own, 52, "values are packed")
}
