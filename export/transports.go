package export

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/section/geostrophy"
)

// TransportUnit returns the unit in which the table states a kind of transport, the factor from SI and the decimals.
func TransportUnit(k geostrophy.Kind) (unit string, factor float64, decimals int) {
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

// transportHead holds the columns. stated_error is the root of the sum of squares of the four columns part_...;
// per_cast_if_common is an alternative to part_per_cast; monte_carlo_low_95 and monte_carlo_high_95 bound the middle 95
// % of the members.
var transportHead = []string{"section", "what", "station_a", "station_b", "lower", "upper", "bound_unit", "kind",
	"unit", "transport", "stated_error",
	"part_per_cast", "part_common", "part_position", "part_known_velocity", "per_cast_if_common", "monte_carlo_sd",
	"monte_carlo_low_95", "monte_carlo_high_95",
	"no_triangle",
	"constant_velocity_triangle", "constant_shear_triangle", "linear_to_zero_triangle", "second_reference",
	"cumulative", "positive_towards_deg", "reference_dbar",
	"deepest_common_dbar", "distance_km", "surface_carried_m", "unsampled_top_m",
	"unsampled_below_km2", "status", "remark"}

// Words of the columns of text where a line has nothing of its own to say there. An empty cell among stations such as 7
// would make a reader of tables take the column for numbers.
const (
	wholeSection = "all" // stations of a line that is of the section
	allKinds     = "all" // of a pair without velocity, which has one line
)

// WriteTransports writes a table of transports: for each section a line a pair and kind, a line a layer and density
// class, and the whole, with the statement of what it leaves out. Units are those of a report and stand in each line;
// SI values are in the NetCDF file.
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

// transportLines makes the lines of one result.
type transportLines struct {
	r     *geostrophy.Result
	kinds []geostrophy.Kind
	rows  [][]string
	whole string // status of totals
}

func transportRows(r *geostrophy.Result) [][]string {
	t := &transportLines{r: r, whole: "complete",
		kinds: []geostrophy.Kind{geostrophy.Volume, geostrophy.Mass, geostrophy.Temperature, geostrophy.Salt,
			geostrophy.Freshwater}}
	if r.HeatAllowed && !math.IsNaN(r.Total[geostrophy.Heat].Value) {
		t.kinds = append(t.kinds, geostrophy.Heat)
	}
	if !r.Partial.Complete() {
		t.whole = "partial"
	}
	for i := range r.Pairs {
		t.pair(&r.Pairs[i])
	}
	t.bands("layer", "dbar", r.Layers, r.LayerTotal)
	t.bands("density class", fmt.Sprintf("kg m-3, potential density anomaly referred to %g dbar", r.ClassSigmaDbar),
		r.Classes, r.ClassTotal)
	for _, k := range t.kinds {
		t.total(k)
	}
	return t.rows
}

// columnOf returns the place of a column of the table.
func columnOf(name string) int {
	if i := slices.Index(transportHead, name); i >= 0 {
		return i
	}
	panic("export: no column " + name)
}

// A transportRow is a line of the table.
type transportRow []string

func (row transportRow) put(name, text string) { row[columnOf(name)] = text }

// number puts a number with decimals; nothing for one that is not known.
func (row transportRow) number(name string, v float64, decimals int) {
	if !math.IsNaN(v) && !math.IsInf(v, 0) {
		row.put(name, strconv.FormatFloat(v, 'f', decimals, 64))
	}
}

// scaled puts a number in the unit in which transports of a kind are stated.
func (row transportRow) scaled(name string, k geostrophy.Kind, v float64) {
	_, f, d := TransportUnit(k)
	row.number(name, v*f, d)
}

// line begins a line of a transport of a kind with its errors.
func (t *transportLines) line(what string, k geostrophy.Kind, s *geostrophy.Sum) transportRow {
	row := make(transportRow, len(transportHead))
	unit, _, _ := TransportUnit(k)
	for name, text := range map[string]string{"section": t.r.Section, "what": what, "station_a": wholeSection,
		"station_b":  wholeSection,
		"bound_unit": OrNone(""), "kind": k.String(), "unit": unit} {
		row.put(name, text)
	}
	for name, v := range map[string]float64{"transport": s.Value, "stated_error": s.Stated, "part_per_cast": s.PerCast,
		"part_common":        s.Common,
		"per_cast_if_common": s.IfCommon, "part_position": s.Position, "part_known_velocity": s.KnownVelocity,
		"monte_carlo_sd":     s.MonteCarlo,
		"monte_carlo_low_95": s.Low, "monte_carlo_high_95": s.High} {
		row.scaled(name, k, v)
	}
	return row
}

// triangles puts a transport with each treatment of bottom triangles.
func (row transportRow) triangles(k geostrophy.Kind, base float64,
	add *[geostrophy.Treatments][geostrophy.Kinds]float64) {
	for t, name := range []string{"no_triangle", "constant_velocity_triangle", "constant_shear_triangle",
		"linear_to_zero_triangle"} {
		row.scaled(name, k, base+add[t][k])
	}
}

// pair adds the lines of a pair: one for each kind, or one when it has no velocity.
func (t *transportLines) pair(p *geostrophy.Pair) {
	common := func(row transportRow) {
		row.put("station_a", t.r.Stations[p.A].Cast.Station)
		row.put("station_b", t.r.Stations[p.B].Cast.Station)
		row.number("distance_km", p.LengthKm, 3)
		row.put("status", p.Status.String())
		row.number("positive_towards_deg", p.PositiveDeg, 1)
		var remarks []string
		for _, n := range append([]string{p.Reason, p.ReferenceFallback}, p.NoteTexts()...) {
			if n != "" {
				remarks = append(remarks, n)
			}
		}
		if p.CumulativePartial {
			remarks = append(remarks, "cumulative is partial: a pair before this one has no number")
		}
		row.put("remark", strings.Join(remarks, "; "))
		t.rows = append(t.rows, row)
	}
	if !p.Status.HasVelocity() {
		row := make(transportRow, len(transportHead))
		for name, text := range map[string]string{"section": t.r.Section, "what": "pair", "bound_unit": OrNone(""),
			"kind": allKinds, "unit": OrNone("")} {
			row.put(name, text)
		}
		common(row)
		return
	}
	for _, k := range t.kinds {
		row := t.line("pair", k, &p.Transport[k])
		row.triangles(k, p.AboveTriangle[k], &p.Triangle)
		row.scaled("second_reference", k, p.SecondTransport[k])
		row.scaled("cumulative", k, p.Cumulative[k].Value)
		row.number("reference_dbar", p.ReferenceDbar, 1)
		row.number("deepest_common_dbar", p.DeepestCommonDbar, 1)
		row.number("surface_carried_m", p.SurfaceCarriedM, 1)
		row.number("unsampled_top_m", p.TopUnsampledM, 1)
		row.number("unsampled_below_km2", p.UnsampledAreaM2/1e6, 3)
		common(row)
	}
}

// statement says what the totals leave out and which way is positive.
func (t *transportLines) statement() string {
	return t.r.Partial.Statement + "; positive " +
		map[geostrophy.Direction]string{geostrophy.Left: "to the left of the line",
			geostrophy.Right: "to the right of the line", geostrophy.East: "to the east",
			geostrophy.North: "to the north", geostrophy.In: "into the closed line",
			geostrophy.Out: "out of the closed line"}[t.r.Positive]
}

func (t *transportLines) bands(what, unit string, bands []geostrophy.Band, sums []geostrophy.Sums) {
	for i := range bands {
		for _, k := range t.kinds {
			row := t.line(what, k, &sums[i][k])
			row.number("lower", bands[i].Lower, 3)
			row.number("upper", bands[i].Upper, 3)
			row.put("bound_unit", unit)
			row.put("remark", t.statement())
			row.put("status", t.whole)
			t.rows = append(t.rows, row)
		}
	}
}

// total adds the line of the whole section.
func (t *transportLines) total(k geostrophy.Kind) {
	r := t.r
	row := t.line("section", k, &r.Total[k])
	row.triangles(k, 0, &r.ByTreatment)
	row.scaled("second_reference", k, r.SecondTotal[k])
	row.number("distance_km", r.Partial.Km, 3)
	row.number("unsampled_below_km2", r.Partial.UnsampledAreaM2/1e6, 3)
	row.put("status", t.whole)
	remark := t.statement()
	if r.SecondLabel != "" {
		remark += "; second reference: " + r.SecondLabel
	}
	switch k {
	case geostrophy.Freshwater:
		remark += fmt.Sprintf("; reference salinity %.4f g/kg", r.ReferenceSalinity)
	case geostrophy.Temperature, geostrophy.Heat:
		remark += "; " + r.HeatWhy
	}
	for i, l := range r.LeftOut {
		remark += map[bool]string{true: "; left out: ", false: ", "}[i == 0] + "station " + l.Cast.Station + ", cast " +
			l.Cast.Number + " (" + l.Reason + ")"
	}
	row.put("remark", remark)
	t.rows = append(t.rows, row)
}
