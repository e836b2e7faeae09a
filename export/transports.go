package export

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/castwright/castwright/section/geostrophy"
)

// scaleOf gives the unit in which a report states a transport, and the factor from SI.
func scaleOf(k geostrophy.Kind) (unit string, factor float64, decimals int) {
	switch k {
	case geostrophy.Volume:
		return "Sv (1e6 m3 s-1)", 1e-6, 4
	case geostrophy.Mass:
		return "1e9 kg s-1", 1e-9, 4
	case geostrophy.Temperature, geostrophy.Heat:
		return "PW (1e15 W)", 1e-15, 6
	case geostrophy.Salt:
		return "1e6 kg s-1", 1e-6, 3
	}
	return "1e9 kg s-1", 1e-9, 6
}

// transportHead holds the columns. stated_error is the root of the sum of squares of the four columns part_...; per_cast_if_common is an alternative to
// part_per_cast; monte_carlo_low_95 and monte_carlo_high_95 bound the middle 95 % of the members.
var transportHead = []string{"section", "what", "station_a", "station_b", "lower", "upper", "bound_unit", "kind", "unit", "transport", "stated_error",
	"part_per_cast", "part_common", "part_position", "part_known_velocity", "per_cast_if_common", "monte_carlo_sd", "monte_carlo_low_95", "monte_carlo_high_95",
	"no_triangle",
	"constant_velocity_triangle", "constant_shear_triangle", "linear_to_zero_triangle", "second_reference", "cumulative", "positive_towards_deg", "reference_dbar",
	"deepest_common_dbar", "distance_km", "surface_carried_m", "unsampled_top_m",
	"unsampled_below_km2", "status", "remark"}

// Words of the columns of text where a line has nothing of its own to say there. An empty cell among stations such as 7 would make a reader of tables
// take the column for numbers.
const (
	wholeSection = "all" // stations of a line that is of the section
	allKinds     = "all" // of a pair without velocity, which has one line
)

// WriteTransports writes a table of transports: for each section a line a pair and kind, a line a layer and density class, and the whole,
// with the statement of what it leaves out. Units are those of a report and stand in each line; SI values are in the NetCDF file.
func WriteTransports(w io.Writer, results []*geostrophy.Result) error {
	c := newTable(w)
	if err := c.Write(transportHead); err != nil {
		return err
	}
	for _, r := range results {
		for _, row := range transportRows(r) {
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

func transportRows(r *geostrophy.Result) [][]string {
	var rows [][]string
	at := func(name string) int {
		for i, h := range transportHead {
			if h == name {
				return i
			}
		}
		panic("export: no column " + name)
	}
	kinds := []geostrophy.Kind{geostrophy.Volume, geostrophy.Mass, geostrophy.Temperature, geostrophy.Salt, geostrophy.Freshwater}
	if r.HeatAllowed && !math.IsNaN(r.Total[geostrophy.Heat].Value) {
		kinds = append(kinds, geostrophy.Heat)
	}
	line := func(what string, k geostrophy.Kind, s *geostrophy.Sum) []string {
		row := make([]string, len(transportHead))
		unit, f, d := scaleOf(k)
		put := func(name string, v float64) {
			if !math.IsNaN(v) {
				row[at(name)] = strconv.FormatFloat(v*f, 'f', d, 64)
			}
		}
		row[0], row[1], row[2], row[3] = r.Section, what, wholeSection, wholeSection
		row[at("bound_unit")], row[at("kind")], row[at("unit")] = OrNone(""), k.String(), unit
		if s != nil {
			put("transport", s.Value)
			put("stated_error", s.Stated)
			put("part_per_cast", s.PerCast)
			put("part_common", s.Common)
			put("per_cast_if_common", s.IfCommon)
			put("part_position", s.Position)
			put("part_known_velocity", s.KnownVelocity)
			put("monte_carlo_sd", s.MonteCarlo)
			put("monte_carlo_low_95", s.Low)
			put("monte_carlo_high_95", s.High)
		}
		return row
	}
	number := func(v float64, d int) string {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', d, 64)
	}
	scaled := func(k geostrophy.Kind, v float64) string {
		_, f, d := scaleOf(k)
		return number(v*f, d)
	}
	triangles := func(row []string, k geostrophy.Kind, base float64, add *[geostrophy.Treatments][geostrophy.Kinds]float64) {
		for t, name := range []string{"no_triangle", "constant_velocity_triangle", "constant_shear_triangle", "linear_to_zero_triangle"} {
			row[at(name)] = scaled(k, base+add[t][k])
		}
	}
	for i := range r.Pairs {
		p := &r.Pairs[i]
		common := func(row []string) []string {
			row[2], row[3] = r.Stations[p.A].Cast.Station, r.Stations[p.B].Cast.Station
			row[at("distance_km")] = number(p.LengthKm, 3)
			row[at("status")] = p.Status.String()
			row[at("positive_towards_deg")] = number(p.PositiveDeg, 1)
			var remarks []string
			for _, n := range append([]string{p.Reason, p.ReferenceFallback}, p.NoteTexts()...) {
				if n != "" {
					remarks = append(remarks, n)
				}
			}
			if p.CumulativePartial {
				remarks = append(remarks, "cumulative is partial: a pair before this one has no number")
			}
			row[at("remark")] = strings.Join(remarks, "; ")
			return row
		}
		if !p.Status.HasVelocity() {
			row := make([]string, len(transportHead))
			row[0], row[1], row[at("bound_unit")], row[at("kind")], row[at("unit")] = r.Section, "pair", OrNone(""), allKinds, OrNone("")
			rows = append(rows, common(row))
			continue
		}
		for _, k := range kinds {
			row := common(line("pair", k, &p.Transport[k]))
			triangles(row, k, p.AboveTriangle[k], &p.Triangle)
			row[at("second_reference")] = scaled(k, p.SecondTransport[k])
			row[at("cumulative")] = scaled(k, p.Cumulative[k].Value)
			row[at("reference_dbar")] = number(p.ReferenceDbar, 1)
			row[at("deepest_common_dbar")] = number(p.DeepestCommonDbar, 1)
			row[at("surface_carried_m")] = number(p.SurfaceCarriedM, 1)
			row[at("unsampled_top_m")] = number(p.TopUnsampledM, 1)
			row[at("unsampled_below_km2")] = number(p.UnsampledAreaM2/1e6, 3)
			rows = append(rows, row)
		}
	}
	positive := "positive " + map[string]string{"left": "to the left of the line", "right": "to the right of the line", "east": "to the east", "north": "to the north"}[r.Positive]
	whole := "complete"
	if !r.Partial.Complete() {
		whole = "partial"
	}
	bands := func(what, unit string, bs []geostrophy.Band, sums []geostrophy.Sums) {
		for i := range bs {
			for _, k := range kinds {
				row := line(what, k, &sums[i][k])
				row[at("lower")], row[at("upper")], row[at("bound_unit")] = number(bs[i].Lower, 3), number(bs[i].Upper, 3), unit
				row[at("remark")] = r.Partial.Statement + "; " + positive
				row[at("status")] = whole
				rows = append(rows, row)
			}
		}
	}
	bands("layer", "dbar", r.Layers, r.LayerTotal)
	bands("density class", fmt.Sprintf("kg m-3, potential density anomaly referred to %g dbar", r.ClassSigmaDbar), r.Classes, r.ClassTotal)
	for _, k := range kinds {
		row := line("section", k, &r.Total[k])
		triangles(row, k, 0, &r.ByTreatment)
		row[at("second_reference")] = scaled(k, r.SecondTotal[k])
		row[at("distance_km")] = number(r.Partial.Km, 3)
		row[at("unsampled_below_km2")] = number(r.Partial.UnsampledAreaM2/1e6, 3)
		row[at("status")] = whole
		row[at("remark")] = r.Partial.Statement + "; " + positive
		if r.SecondLabel != "" {
			row[at("remark")] += "; second reference: " + r.SecondLabel
		}
		switch k {
		case geostrophy.Freshwater:
			row[at("remark")] += fmt.Sprintf("; reference salinity %.4f g/kg", r.ReferenceSalinity)
		case geostrophy.Temperature, geostrophy.Heat:
			row[at("remark")] += "; " + r.HeatWhy
		}
		for i, l := range r.LeftOut {
			row[at("remark")] += map[bool]string{true: "; left out: ", false: ", "}[i == 0] + "station " + l.Cast.Station + ", cast " + l.Cast.Number + " (" + l.Reason + ")"
		}
		rows = append(rows, row)
	}
	return rows
}
