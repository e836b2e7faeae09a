package gridding

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// A changeField is one quantity of a change, in order of the fields of Grid.
type changeField struct {
	name, long, units string
	value, err        func(x *Level) float64
}

// changeFields are what Grid holds of each level.
var changeFields = []changeField{
	{"ctemp_change", "change of Conservative Temperature at constant pressure", "K",
		func(x *Level) float64 { return x.CT }, func(x *Level) float64 { return x.CTErr }},
	{"ctemp_change_on_density", "change of Conservative Temperature on surfaces of potential density", "K",
		func(x *Level) float64 { return x.CTDensity }, func(x *Level) float64 { return x.CTDensityErr }},
	{"ctemp_heave", "change of Conservative Temperature by heave of surfaces of potential density", "K",
		func(x *Level) float64 { return x.CTHeave }, func(x *Level) float64 { return x.CTHeaveErr }},
	{"asal_change", "change of Absolute Salinity at constant pressure", "g kg-1",
		func(x *Level) float64 { return x.SA }, func(x *Level) float64 { return x.SAErr }},
	{"asal_change_on_density", "change of Absolute Salinity on surfaces of potential density", "g kg-1",
		func(x *Level) float64 { return x.SADensity }, func(x *Level) float64 { return x.SADensityErr }},
	{"asal_heave", "change of Absolute Salinity by heave of surfaces of potential density", "g kg-1",
		func(x *Level) float64 { return x.SAHeave }, func(x *Level) float64 { return x.SAHeaveErr }},
	{"displacement", "displacement of the surface of potential density, positive downward", "dbar",
		func(x *Level) float64 { return x.DisplacementDbar }, nil},
}

// The ends of the names of the quantities of a change, after that of the variable.
var changeEnds = []string{"_change_on_density", "_change", "_heave"}

// ChangeOf returns the variable of which a field of a change has the name, and which of its quantities it is; "" for
// other names.
func ChangeOf(name string) (variable, end string) {
	for _, end := range changeEnds {
		if of, ok := strings.CutSuffix(name, end); ok {
			return of, end
		}
	}
	return "", ""
}

// ChangeNames returns the names of the quantities of a change in its grid, but for the displacement.
func ChangeNames(g *Grid) []string {
	var out []string
	for i := range g.Fields {
		if of, _ := ChangeOf(g.Fields[i].Name); of != "" && g.Fields[i].Kind == Value {
			out = append(out, g.Fields[i].Name)
		}
	}
	return out
}

// heaveNotSmall is the code of a level at which the first-order form of the heave is not within 3 % of it.
const heaveNotSmall = int(NearUnity) + 1

// ChangeCodes returns the codes of a ChangeCode field and their meanings as single words, for flag_meanings.
func ChangeCodes() (codes []int8, words []string) {
	for k, w := range append(changeWords[:], "defined_heave_not_small") {
		codes, words = append(codes, int8(k)), append(words, w)
	}
	return codes, words
}

// Grid returns a change as fields on the stations of the newer section and the pressures that were compared, each with
// its standard error and, as a RelativeError, the square of twice the error over the value: above 1 the value is less
// than twice its error. Stations that were left out have no column.
func (c *Changed) Grid(name string) *Grid {
	g := &Grid{Name: name, Axes: []Axis{{Variable: variable("pres")}, {Variable: variable("distance")}}}
	nx := len(c.Places)
	for _, x := range c.Places[0].Levels {
		g.Axes[0].Values = append(g.Axes[0].Values, x.PressureDbar)
	}
	bottoms, known := make([]float64, nx), false
	for j := range c.Places {
		p := &c.Places[j]
		g.Axes[1].Values, g.Track = append(g.Axes[1].Values, p.AlongKm), append(g.Track, p.Cast.At)
		bottoms[j] = p.Cast.BottomM
		known = known || bottoms[j] > 0
	}
	if known {
		g.BottomM = bottoms
	}
	at := func(value func(x *Level) float64) []float64 {
		out := make([]float64, 0, nx*len(g.Axes[0].Values))
		for i := range g.Axes[0].Values {
			for j := range c.Places {
				out = append(out, value(&c.Places[j].Levels[i]))
			}
		}
		return out
	}
	nan := math.NaN()
	fields := changeFields
	for i := range c.Others {
		fields = append(fields[:len(fields):len(fields)], changeFieldsOf(i, &c.Others[i])...)
	}
	for i, f := range fields {
		v := metadata.Variable{Name: f.name, LongName: f.long, Units: f.units, ExchangeDecimals: -1, ValidMin: nan,
			ValidMax: nan}
		g.Fields = append(g.Fields, Field{Variable: v, Data: at(f.value)})
		if f.err == nil {
			continue
		}
		errs := at(f.err)
		if i >= len(changeFields) && !slices.ContainsFunc(errs, func(e float64) bool { return e == e }) {
			continue // not known
		}
		g.Fields = append(g.Fields, Field{Variable: companion(v, "_err", "standard error of the "+f.long, f.units),
			Data: errs, Of: f.name, Kind: StandardError},
			Field{Variable: companion(v, "_relerr", "square of twice the error over the value", "1"),
				Data: at(func(x *Level) float64 {
					r := 2 * f.err(x) / f.value(x)
					return math.Min(r*r, 1e6)
				}), Of: f.name, Kind: RelativeError})
	}
	g.Fields = append(g.Fields, Field{Variable: companion(g.Fields[3].Variable, "_code", "", "1"),
		Of: changeFields[1].name, Kind: ChangeCode, Data: at(func(x *Level) float64 {
			if x.Reason == Defined && !x.HeaveSmall {
				return float64(heaveNotSmall)
			}
			return float64(x.Reason)
		})})
	c.describe(g)
	return g
}

// describe lists the settings of a comparison, and with what each station was compared.
func (c *Changed) describe(g *Grid) {
	g.Params = []metadata.Param{words("change", "newer less older; on density and by heave after Bindoff and "+
		"McDougall 1994, J. Phys. Oceanogr. 24, 1137"),
		words("surfaces", "sigma0 above 500 dbar, sigma2 down to 2000 dbar, sigma4 below"),
		words("not_defined", fmt.Sprintf("N2 below %g s-2, mixed layer, outcrop, density ratio within %g of 1", leastN2,
			leastRatio))}
	if !math.IsNaN(c.WithinKm) {
		g.Params = append(g.Params, quantity("station_within_km", c.WithinKm))
	}
	for j := range c.Places {
		p := &c.Places[j]
		with := "reference"
		switch {
		case p.With != nil:
			with = "station " + p.With.Station
		case !math.IsNaN(p.DistanceKm):
			with = "grid"
		}
		x := words("compared_with", with)
		x.Of = p.Cast.Station
		g.Results = append(g.Results, x)
		if !math.IsNaN(p.OffTrackKm) {
			off := quantity("off_track_km", p.OffTrackKm)
			off.Of = p.Cast.Station
			g.Results = append(g.Results, off)
		}
	}
	g.Results = append(g.Results, quantity("stations_left_out", float64(len(c.LeftOut))))
	if c.Lacking != nil {
		var names []string
		for i := range c.Lacking {
			names = append(names, c.Lacking[i].Name)
		}
		g.Results = append(g.Results, words("not_in_reference", strings.Join(names, ", ")))
	}
}
