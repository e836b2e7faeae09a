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
func (c *check) noPositive(i int) {
	v := &c.Vars[i]
	if _, isBounds := c.bounds[i]; isBounds || !(c.IsCoordinate(i) || c.named[i]) || !v.Type.Numeric() {
		return
	}
	u, ok := c.parsed(i)
	length := ok && sameUnits(u, "m")
	switch {
	case c.isVertical(i):
		if c.ours || ok && !sameUnits(u, "dbar") && !sameUnits(u, "1") {
			c.fault(29, v.Name, "a vertical coordinate has no positive")
		}
	case c.verticalByName(i):
		c.fault(29, v.Name, "a coordinate in %s that is vertical by its name has no positive", v.Text("units"))
	case length && c.IsCoordinate(i) && v.Text("standard_name") == "" && v.Text("axis") == "" &&
		verticalWords.MatchString(strings.ReplaceAll(v.Name, "_", " ")+" ; "+v.Text("long_name")):
		c.fault(29, v.Name, "an axis in %s that is vertical by its name has no positive", v.Text("units"))
	}
}

// verticalNameAlone are names, and long_names, that say by themselves that a coordinate is vertical.
var verticalNameAlone = regexp.MustCompile(
	`(?i)^(?:depth|height|altitude|z|lev|level|dep|depth_?m|water depth|depth below (?:the )?(?:sea )?surface|measurement depth)$`)

// verticalByName reports whether a coordinate in metres without standard name, axis or positive is called as only a
// vertical one is.
func (c *check) verticalByName(i int) bool {
	v := &c.Vars[i]
	u, ok := c.parsed(i)
	return ok && v.Type.Numeric() && sameUnits(u, "m") && v.Text("standard_name") == "" && v.Text("axis") == "" &&
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
// looked at. The bounds of a parametric coordinate have formula_terms of their own, and their parent has the standard
// name.
func (c *check) formulaTerms(i int) {
	v := &c.Vars[i]
	if v.Attr("formula_terms") == nil {
		return
	}
	parent, isBounds := c.bounds[i]
	if !isBounds {
		parent = i
	}
	name := c.Vars[parent].Text("standard_name")
	terms, parametric := formulas[name]
	if !parametric {
		c.fault(78, v.Name,
			"has formula_terms, and its standard_name %q is no parametric vertical coordinate of Appendix D", name)
	}
	words := strings.Fields(strings.ReplaceAll(v.Text("formula_terms"), ":", ": "))
	if len(words) == 0 || len(words)%2 != 0 {
		c.fault(78, v.Name, "formula_terms %q is not pairs of a term and a variable", v.Text("formula_terms"))
		return
	}
	for k := 0; k < len(words); k += 2 {
		term, colon := strings.CutSuffix(words[k], ":")
		switch {
		case !colon:
			c.fault(78, v.Name, "formula_terms %q is not pairs of a term and a variable", v.Text("formula_terms"))
			return
		case parametric && !slices.Contains(terms, term):
			c.fault(78, v.Name, "formula_terms has the term %s, which the formula of %s has not", term, name)
		}
		if c.Var(words[k+1]) < 0 {
			c.fault(78, v.Name, "formula_terms names %s, which is not in the file", words[k+1])
		}
	}
}
