package cf

import (
	"regexp"
	"slices"
	"strings"
)

// verticalWords are the words by which the name or long_name of an axis in metres says that it is vertical.
var verticalWords = regexp.MustCompile(
	`(?i)(?:^|[^a-z])(?:depths?|heights?|altitudes?|elevations?|vertical|levels?|lev|z|dep|bins?)(?:$|[^a-z])`)

// noPositive checks rule 29 of a variable without the attribute positive. CF 4.3 asks for it on a vertical coordinate
// with dimensional units other than those of pressure.
func (v *variable) noPositive() {
	if v.boundsOf != nil || !v.coordinate && !v.named || !v.number {
		return
	}
	_, known := parse(v.Text("units"))
	switch {
	case v.vertical:
		if v.c.ours || known && !v.measures("dbar") && !v.measures("1") {
			v.fault(29, "a vertical coordinate has no positive")
		}
	case v.verticalByName():
		v.fault(29, "a coordinate in %s that is vertical by its name has no positive", v.Text("units"))
	case v.coordinate && v.plainLength() &&
		verticalWords.MatchString(strings.ReplaceAll(v.Name, "_", " ")+" ; "+v.Text("long_name")):
		v.fault(29, "an axis in %s that is vertical by its name has no positive", v.Text("units"))
	}
}

// plainLength reports whether a variable in metres has neither standard name nor axis.
func (v *variable) plainLength() bool {
	return v.number && v.measures("m") && v.standardName() == "" && v.axis() == ""
}

// verticalNameAlone are names, and long_names, that say by themselves that a coordinate is vertical.
var verticalNameAlone = regexp.MustCompile(`(?i)^(?:depth|height|altitude|z|lev|level|dep|depth_?m|water depth|` +
	`depth below (?:the )?(?:sea )?surface|measurement depth)$`)

// verticalByName reports whether a coordinate in metres without standard name, axis or positive has a name that only a
// vertical one has.
func (v *variable) verticalByName() bool {
	return v.plainLength() &&
		(verticalNameAlone.MatchString(v.Name) || verticalNameAlone.MatchString(v.Text("long_name")))
}

// formulas are the parametric vertical coordinates of CF Appendix D with the terms of their formulas.
var formulas = map[string][]string{
	"atmosphere_ln_pressure_coordinate":           {"p0", "lev"},
	"atmosphere_sigma_coordinate":                 {"sigma", "ps", "ptop"},
	"atmosphere_hybrid_sigma_pressure_coordinate": {"a", "b", "ps", "p0", "ap"},
	"atmosphere_hybrid_height_coordinate":         {"a", "b", "orog"},
	"atmosphere_sleve_coordinate":                 {"a", "b1", "b2", "ztop", "zsurf1", "zsurf2"},
	"ocean_sigma_coordinate":                      {"sigma", "eta", "depth"},
	"ocean_s_coordinate":                          {"s", "eta", "depth", "a", "b", "depth_c"},
	"ocean_s_coordinate_g1":                       {"s", "C", "eta", "depth", "depth_c"},
	"ocean_s_coordinate_g2":                       {"s", "C", "eta", "depth", "depth_c"},
	"ocean_sigma_z_coordinate":                    {"sigma", "eta", "depth", "depth_c", "nsigma", "zlev"},
	"ocean_double_sigma_coordinate":               {"sigma", "depth", "z1", "z2", "a", "href", "k_c"},
}

// formulaTerms checks rule 78. A term that is not given counts as zero (CF 4.3.3), so only those that are given are
// checked. The bounds of a parametric coordinate have formula_terms of their own, and their parent has the standard
// name.
func (v *variable) formulaTerms() {
	if !v.has("formula_terms") {
		return
	}
	name := v.standardName()
	if v.boundsOf != nil {
		name = v.boundsOf.standardName()
	}
	terms, parametric := formulas[name]
	if !parametric {
		v.fault(78, "has formula_terms, and its standard_name %q is no parametric vertical coordinate of Appendix D",
			name)
	}
	text := v.Text("formula_terms")
	words := strings.Fields(strings.ReplaceAll(text, ":", ": "))
	for k := 0; k == 0 || k < len(words); k += 2 {
		if k+1 >= len(words) || !strings.HasSuffix(words[k], ":") {
			v.fault(78, "formula_terms %q is not pairs of a term and a variable", text)
			return
		}
		if term := strings.TrimSuffix(words[k], ":"); parametric && !slices.Contains(terms, term) {
			v.fault(78, "formula_terms has the term %s, which the formula of %s does not have", term, name)
		}
		if v.c.find(words[k+1]) == nil {
			v.fault(78, "formula_terms names %s, which is not in the file", words[k+1])
		}
	}
}

// gathering checks rule 79 of a list variable.
func (v *variable) gathering() {
	if !v.has("compress") {
		return
	}
	names := v.list("compress")
	size, known := 1.0, true
	for _, n := range names {
		if d := v.c.Dim(n); d >= 0 {
			size *= float64(v.c.Dims[d].Len)
		} else {
			v.fault(79, "compress names %s, which is no dimension of the file", n)
			known = false
		}
	}
	switch {
	case len(names) == 0:
		v.fault(79, "compress is empty or no string")
	case !v.Type.Whole():
		v.fault(79, "a list of gathered points is %s, not whole numbers", v.Type)
	case len(v.Dims) != 1 || !v.coordinate:
		v.fault(79, "a list of gathered points does not have one dimension of its own name")
	case known:
		x, _ := v.values()
		if k := slices.IndexFunc(x, func(y float64) bool { return y < 0 || y >= size }); k >= 0 {
			v.fault(79, "index %g at %d is outside the %g points of %s", x[k], k, size, strings.Join(names, ", "))
		}
	}
}
