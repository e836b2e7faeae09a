package export

import (
	"io"
	"math"
	"strconv"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A PairRow is the difference of two sensors in one cast, second minus first.
type PairRow struct {
	ID          string
	Cast        *section.Cast
	Variable    metadata.Variable
	Deep, Upper PairPart
	Shallow     bool    // the cast does not reach deep water; Deep is its deepest third
	Limit       float64 // of the median of Deep
}

// A PairPart is a difference over a range of pressure; Levels is 0 when it cannot be said.
type PairPart struct {
	FirstDbar, LastDbar   float64
	Levels                int
	Median, Spread, Error float64
}

var pairHead = []string{"cast_id", "station", "cast", "system", "variable", "units", "deep_first_dbar",
	"deep_last_dbar", "deep_levels", "deep_median",
	"deep_spread", "deep_standard_error", "limit", "outside_limit", "shallow", "upper_first_dbar",
	"upper_last_dbar", "upper_levels", "upper_median",
	"upper_spread", "upper_standard_error"}

// WritePairs writes the differences of sensor pairs as CSV, in the order given.
func WritePairs(w io.Writer, rows []PairRow) error {
	c := newTable(w)
	if err := c.Write(pairHead); err != nil {
		return err
	}
	for i := range rows {
		r := &rows[i]
		rec := append([]string{r.ID, r.Cast.Station, r.Cast.Number, r.Cast.System, r.Variable.Name,
			r.Variable.Units}, r.Deep.cells()...)
		rec = append(rec, significant(r.Limit), yesNo(r.Deep.Levels > 0 && math.Abs(r.Deep.Median) > r.Limit),
			yesNo(r.Shallow))
		if err := c.Write(append(rec, r.Upper.cells()...)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func (p *PairPart) cells() []string {
	if p.Levels == 0 {
		return []string{"", "", "0", "", "", ""}
	}
	return []string{fixed(p.FirstDbar, -1), fixed(p.LastDbar, -1), strconv.Itoa(p.Levels), significant(p.Median),
		significant(p.Spread), significant(p.Error)}
}

// A ComparisonRow is a bottle sample beside the CTD: at the closure of the bottle, and at the matching level of the
// downcast.
type ComparisonRow struct {
	ID             string
	Cast           *section.Cast
	Sample, Bottle string
	Variable       metadata.Variable
	Dbar           float64
	Value          float64 // of the bottle
	Samples        int     // values that it is the mean of
	Closure        float64 // NaN: not usable
	MatchedBy      string  // density, pressure or none
	DownDbar, Down float64 // NaN: none
	Second         float64 // second sensor at the same level; NaN: none
	Steep, Fitted  bool
}

var comparisonHead = []string{"cast_id", "station", "cast", "system", "sample", "bottle", "variable", "units",
	"pressure_dbar", "bottle_value", "samples",
	"closure_value", "bottle_minus_closure", "matched_by", "downcast_dbar", "downcast_value",
	"bottle_minus_downcast", "second_sensor_value",
	"bottle_minus_second_sensor", "steep", "in_fit"}

// WriteComparison writes the comparison of bottles and casts as CSV, in the order given.
func WriteComparison(w io.Writer, rows []ComparisonRow) error {
	c := newTable(w)
	if err := c.Write(comparisonHead); err != nil {
		return err
	}
	for i := range rows {
		r := &rows[i]
		err := c.Write([]string{r.ID, r.Cast.Station, r.Cast.Number, r.Cast.System, r.Sample, r.Bottle,
			r.Variable.Name, r.Variable.Units,
			fixed(r.Dbar, -1), significant(r.Value), strconv.Itoa(r.Samples), significant(r.Closure),
			significant(r.Value - r.Closure), r.MatchedBy,
			significant(r.DownDbar), significant(r.Down), significant(r.Value - r.Down), significant(r.Second),
			significant(r.Value - r.Second),
			yesNo(r.Steep), yesNo(r.Fitted)})
		if err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// A FitRow is one coefficient of a robust fit of differences.
type FitRow struct {
	Of, Variable, System string
	Term, Per            string
	Value, Error, Target float64 // Error is NaN with too few casts
	Values, Casts        int
	MeanDbar             float64
	Median, MedianError  float64
	PerCast, Common      float64
}

var fitHead = []string{"of", "variable", "system", "term", "per", "value", "standard_error", "target", "values",
	"casts", "mean_pressure_dbar", "median",
	"median_standard_error", "per_cast", "common"}

// WriteFits writes fits as CSV, in the order given: numbers for the processing upstream.
func WriteFits(w io.Writer, rows []FitRow) error {
	c := newTable(w)
	if err := c.Write(fitHead); err != nil {
		return err
	}
	for i := range rows {
		r := &rows[i]
		if err := c.Write([]string{r.Of, r.Variable, r.System, r.Term, r.Per, significant(r.Value),
			significant(r.Error), significant(r.Target),
			strconv.Itoa(r.Values), strconv.Itoa(r.Casts), fixed(r.MeanDbar, 1), significant(r.Median),
			significant(r.MedianError), significant(r.PerCast),
			significant(r.Common)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// significant writes a number with seven significant digits, fewer where they are zeros; NaN is empty. What is zero
// but for rounding is zero.
func significant(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	if math.Abs(v) < 1e-12 {
		return "0"
	}
	s := strconv.FormatFloat(v, 'g', 7, 64)
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return s
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
