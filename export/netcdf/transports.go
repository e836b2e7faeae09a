package netcdf

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section/geostrophy"
)

// The types whose values are written.
type (
	pair = geostrophy.Pair
	sum  = geostrophy.Sum
)

// transportName and transportStandard name the transports. Standard names: CF table v83, which has none for salt and
// freshwater.
var (
	transportName = [geostrophy.Kinds]string{"transport", "transport_mass", "transport_temperature", "transport_salt",
		"transport_freshwater", "transport_heat"}
	transportLong = [geostrophy.Kinds]string{"volume transport", "mass transport",
		"temperature transport (density times cp0 times Conservative Temperature)",
		"salt transport", "freshwater transport",
		"heat transport (temperature transport from the reference temperature)"}
	transportStandard = [geostrophy.Kinds]string{"ocean_volume_transport_across_line",
		"sea_water_transport_across_line"}
)

// TransportName returns the name of the variable of a kind of transport.
func TransportName(k geostrophy.Kind) string { return transportName[k] }

// transports adds, for each kind that has numbers, what the pair carries and its errors, the running sum, the parts
// above and in the bottom triangle, the second opinion, layers and classes.
func (b *pairs) transports() {
	b.bands("layer", "pressure", "dbar", b.r.Layers)
	b.bands("class", fmt.Sprintf("potential density anomaly referred to %g dbar", b.r.ClassSigmaDbar), "kg m-3",
		b.r.Classes)
	treatment := b.p.dim("treatment", geostrophy.Treatments)
	var words []string
	for t := range geostrophy.Treatments {
		words = append(words, geostrophy.Treatment(t).String())
	}
	b.p.text("treatment_name", []int{treatment}, "len_treatment", words, longName("what flows in the bottom triangle"))
	for k := range geostrophy.Kind(geostrophy.Kinds) {
		if k == geostrophy.Volume || b.known(k, func(s *sum) float64 { return s.Value }) {
			b.transport(k, treatment)
		}
	}
}

// bands adds the bounds of layers or classes. An open end is missing.
func (b *pairs) bands(name, what, units string, bands []geostrophy.Band) {
	if len(bands) == 0 {
		return
	}
	dim := b.p.dim(name, len(bands))
	for _, end := range []struct {
		suffix string
		get    func(geostrophy.Band) float64
	}{{"lower", func(d geostrophy.Band) float64 { return d.Lower }},
		{"upper", func(d geostrophy.Band) float64 { return d.Upper }}} {
		values := make([]float64, len(bands))
		for i := range bands {
			if values[i] = end.get(bands[i]); math.IsInf(values[i], 0) {
				values[i] = math.NaN()
			}
		}
		var a attrs
		a.text(
			"long_name", end.suffix+" bound of the "+name+" in "+what,
			"units", units,
			"comment", "missing where the "+name+" is open",
		)
		b.p.values(doubleOrMissing(name+"_"+end.suffix, a, dim), values)
	}
}

// sumParts are the errors that a transport is written with: suffix of the variable, name of the attribute that holds
// the error of the total, and whether layers and classes have it.
var sumParts = []struct {
	suffix, total string
	banded        bool
	long          string
	get           func(*sum) float64
}{
	{"_err", "_standard_error", true, "stated standard error, root of the sum of squares of its parts",
		func(s *sum) float64 { return s.Stated }},
	{"_err_per_cast", "_standard_error_per_cast", false, "part of the standard error: errors of single casts",
		func(s *sum) float64 { return s.PerCast }},
	{"_err_common", "_standard_error_common", false,
		"part of the standard error: errors common to the casts of a sensor system, 0 where accuracies are not split",
		func(s *sum) float64 { return s.Common }},
	{"_err_if_common", "_standard_error_if_common", false,
		"alternative to the part of single casts, no part of the standard error: the errors taken as the same on " +
			"all casts of a sensor system",
		func(s *sum) float64 { return s.IfCommon }},
	{"_err_position", "_standard_error_position", false, "part of the standard error: positions of the casts",
		func(s *sum) float64 { return s.Position }},
	{"_err_known_velocity", "_standard_error_known_velocity", false,
		"part of the standard error: known velocities at the reference level",
		func(s *sum) float64 { return s.KnownVelocity }},
	{"_err_members", "_standard_error_members", true, "standard deviation over the members of a Monte-Carlo estimate",
		func(s *sum) float64 { return s.MonteCarlo }},
	{"_low_members", "_low_members", true, "2.5 percent point of the members of a Monte-Carlo estimate",
		func(s *sum) float64 { return s.Low }},
	{"_high_members", "_high_members", true, "97.5 percent point of the members of a Monte-Carlo estimate",
		func(s *sum) float64 { return s.High }},
}

// errorLong names what an error is of: "stated standard error of the geostrophic volume transport, ...".
func errorLong(long, of string) string {
	const standard = "standard error"
	if before, after, ok := strings.Cut(long, standard); ok {
		return before + standard + " of the " + of + after
	}
	return long + " of the " + of
}

// sharedErrors is why the error of a sum of pairs may be smaller than that of one of them.
const sharedErrors = "an error of a cast moves the pairs on its two sides in opposite ways, so that the sum may " +
	"have a smaller error than one pair; see geostrophy_settings"

// A kindWriter writes the transports of one kind.
type kindWriter struct {
	*pairs
	k                 geostrophy.Kind
	name, long        string  // of the variable; "geostrophic volume transport" and so on
	comment, settings nc.Attr // of values and of errors
}

// add adds a variable of the kind.
func (w *kindWriter) add(suffix, standard, what string, dims []int, coordinates string, data []float64,
	more ...nc.Attr) {
	var a attrs
	a.text(
		"standard_name", standard,
		"long_name", what,
		"units", w.k.Units(),
		"coordinates", joinNonEmpty(" ", w.perPair, coordinates),
	)
	a = append(a, more...)
	if strings.Contains(suffix, "_err") || strings.HasSuffix(suffix, "_members") {
		a.text("coverage_content_type", "qualityInformation")
	} else {
		a.text("coverage_content_type", "modelResult")
	}
	w.p.field(doubleOrMissing(w.name+suffix, a, dims...), data)
}

// ofPairs adds a variable with one value for each pair that has numbers.
func (w *kindWriter) ofPairs(suffix, standard, what string, get func(*pair) float64, more ...nc.Attr) {
	w.add(suffix, standard, what, []int{w.pair}, "", w.numbers(withVelocity(get)), more...)
}

func (b *pairs) transport(k geostrophy.Kind, treatment int) {
	w := &kindWriter{pairs: b, k: k, name: transportName[k], long: "geostrophic " + transportLong[k],
		comment: nc.Attr{Name: "comment", Value: b.transportComment(k)}, settings: nc.Attr{Name: "comment",
			Value: derivedHere}}
	w.ofPairs("", transportStandard[k], w.long+" between the two stations, surface to bottom",
		func(p *pair) float64 { return p.Transport[k].Value }, w.totals()...)
	for _, part := range sumParts {
		if b.known(k, part.get) {
			w.ofPairs(part.suffix, "", errorLong(part.long, transportLong[k]), func(p *pair) float64 {
				return part.get(&p.Transport[k])
			}, w.settings)
		}
	}
	w.running()
	w.ofPairs("_above_triangle", "", w.long+" from the surface to the deepest common level",
		func(p *pair) float64 { return p.AboveTriangle[k] }, w.comment)
	w.ofPairs("_second", "", w.long+" with the second reference", func(p *pair) float64 {
		return p.SecondTransport[k]
	},
		nc.Attr{Name: "comment", Value: joinNonEmpty("; ", b.r.SecondLabel, "a second opinion: the difference from "+
			w.name+" shows what the choice of reference is worth")})
	w.triangles(treatment)
	w.banded("layer", b.r.LayerTotal, len(b.r.Layers), func(p *pair) []geostrophy.Sums { return p.Layers })
	w.banded("class", b.r.ClassTotal, len(b.r.Classes), func(p *pair) []geostrophy.Sums { return p.Classes })
}

// totals returns the attributes of the whole section.
func (w *kindWriter) totals() attrs {
	ancillary := ""
	for _, part := range sumParts {
		if w.known(w.k, part.get) {
			ancillary += w.name + part.suffix + " "
		}
	}
	total := attrs{w.comment, {Name: "ancillary_variables", Value: ancillary + "pair_status"}}
	addTotal := func(name string, value float64) {
		if !math.IsNaN(value) {
			total.add("total"+name, value)
		}
	}
	whole := &w.r.Total[w.k]
	addTotal("", whole.Value)
	for _, part := range sumParts {
		addTotal(part.total, part.get(whole))
	}
	total.text("total_statement", w.r.Partial.Statement)
	if w.k == geostrophy.Freshwater && !math.IsNaN(w.r.ReferenceSalinity) {
		total.add("reference_salinity", w.r.ReferenceSalinity)
	}
	if v := w.r.SecondTotal[w.k]; !math.IsNaN(v) {
		addTotal("_second_reference", v)
		total.text("second_reference", w.r.SecondLabel)
	}
	if d := w.r.Budget; d != nil {
		addTotal("_beta_term", d.Beta[w.k])
		addTotal("_at_one_coriolis_parameter", d.OneCoriolis[w.k])
		addTotal("_of_absolute_values", d.Absolute[w.k])
		addTotal("_change_per_unit_of_reference", d.PerReference[w.k])
	}
	for t := range w.r.ByTreatment {
		addTotal("_triangle_"+geostrophy.Treatment(t).String(), w.r.ByTreatment[t][w.k])
	}
	return total
}

// running adds the running sums with their errors.
func (w *kindWriter) running() {
	k, comment := w.k, w.comment
	if slices.ContainsFunc(w.r.Pairs, func(p pair) bool { return p.CumulativePartial }) {
		comment.Value = w.transportComment(k) + "; partial from the first pair without numbers on (pair_status)"
	}
	errors := nc.Attr{Name: "comment", Value: sharedErrors}
	w.ofPairs("_cumulative", "", w.long+", sum of this and all pairs before it that have numbers",
		func(p *pair) float64 { return p.Cumulative[k].Value }, comment)
	w.ofPairs("_cumulative_err", "", "stated standard error of the running sum of the "+transportLong[k],
		func(p *pair) float64 { return p.Cumulative[k].Stated }, errors)
	if w.known(k, func(s *sum) float64 { return s.MonteCarlo }) {
		w.ofPairs("_cumulative_err_members", "", "alternative to the stated standard error of the running sum of the "+
			transportLong[k]+
			": standard deviation over the members of a Monte-Carlo estimate", func(p *pair) float64 {
			return p.Cumulative[k].MonteCarlo
		}, errors)
	}
}

// triangles adds what each treatment lets flow in the bottom triangles.
func (w *kindWriter) triangles(treatment int) {
	values := make([]float64, 0, len(w.r.Pairs)*geostrophy.Treatments)
	for i := range w.r.Pairs {
		for t := range geostrophy.Treatments {
			v := w.r.Pairs[i].Triangle[t][w.k]
			if !w.r.Pairs[i].Status.HasVelocity() {
				v = math.NaN()
			}
			values = append(values, v)
		}
	}
	w.add("_triangle", "", w.long+" in the bottom triangle, by treatment", []int{w.pair, treatment}, "treatment_name",
		values, w.comment)
}

// banded adds transports by layer or class, with their stated error and that of the members.
func (w *kindWriter) banded(name string, totals []geostrophy.Sums, n int,
	get func(*pair) []geostrophy.Sums) {
	if n == 0 {
		return
	}
	dims := []int{w.pair, w.p.schema.Dim(name)}
	values, errs, members := make([]float64, 0, n*len(w.r.Pairs)), make([]float64, 0, n*len(w.r.Pairs)),
		make([]float64, 0, n*len(w.r.Pairs))
	run := false
	for i := range w.r.Pairs {
		sums := get(&w.r.Pairs[i])
		for j := range n {
			v, e, m := math.NaN(), math.NaN(), math.NaN()
			if w.r.Pairs[i].Status.HasVelocity() && j < len(sums) {
				v, e, m = sums[j][w.k].Value, sums[j][w.k].Stated, sums[j][w.k].MonteCarlo
				run = run || !math.IsNaN(m)
			}
			values, errs, members = append(values, v), append(errs, e), append(members, m)
		}
	}
	ancillary := transportName[w.k] + "_" + name + "_err"
	if run {
		ancillary += " " + ancillary + "_members"
	}
	more := attrs{w.comment, {Name: "ancillary_variables", Value: ancillary}}
	addTotal := func(name string, get func(*sum) float64) {
		var x []float64
		for j := range totals {
			x = append(x, get(&totals[j][w.k]))
		}
		if known(x) {
			more.add("total"+name, x)
		}
	}
	addTotal("", func(s *sum) float64 { return s.Value })
	for _, part := range sumParts {
		if part.banded {
			addTotal(part.total, part.get)
		}
	}
	coordinates := name + "_lower " + name + "_upper"
	w.add("_"+name, "", "geostrophic "+transportLong[w.k]+" by "+name, dims, coordinates, values, more...)
	w.add("_"+name+"_err", "", "stated standard error of the "+transportLong[w.k]+" by "+name, dims, coordinates, errs,
		nc.Attr{Name: "comment", Value: derivedHere})
	if run {
		w.add("_"+name+"_err_members", "", "alternative to the stated standard error of the "+transportLong[w.k]+" by "+
			name+
			": standard deviation over the members of a Monte-Carlo estimate", dims, coordinates, members,
			nc.Attr{Name: "comment", Value: derivedHere})
	}
}

// known reports whether there are values and none is NaN or infinite, so that they can be an attribute.
func known(values []float64) bool {
	return len(values) > 0 &&
		!slices.ContainsFunc(values, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
}

// known reports whether some pair has the part of the sum.
func (b *pairs) known(k geostrophy.Kind, get func(*sum) float64) bool {
	return slices.ContainsFunc(b.r.Pairs, func(p pair) bool {
		return p.Status.HasVelocity() && !math.IsNaN(get(&p.Transport[k]))
	})
}

func (b *pairs) transportComment(k geostrophy.Kind) string {
	c := "positive towards positive_direction; the attributes total are of the whole section"
	switch k {
	case geostrophy.Temperature:
		return c + "; " + b.r.HeatWhy
	case geostrophy.Heat:
		return c + "; " + fmt.Sprintf("reference temperature %g degC; ", b.r.ReferenceTemperature) + b.r.HeatWhy
	case geostrophy.Freshwater:
		return c + fmt.Sprintf("; reference salinity %g g/kg", b.r.ReferenceSalinity)
	}
	return c
}
