package qc

import (
	"math"
	"strconv"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
)

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func values(t *testing.T, name string) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	for _, row := range checkvalues.Table(t, name) {
		out[row["quantity"]] = number(t, row["value"])
	}
	return out
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s %.12g, want %.12g within %g", what, got, want, tolerance)
	}
}

// Eight casts of four bottles with two gross errors: bottle_regression_checks.csv, computed apart with numpy after
// Huber 1964 and Liang and Zeger 1986.
func TestHuberOfBottles(t *testing.T) {
	var x [][]float64
	var y []float64
	var cast []int
	for _, row := range checkvalues.Table(t, "bottle_regression_data.csv") {
		x = append(x, []float64{1, (number(t, row["pressure"]) - 2500) / 1000})
		y = append(y, number(t, row["difference"]))
		cast = append(cast, int(number(t, row["cast"])))
	}
	f, ok := Huber(x, y, cast, 1e-4)
	if !ok {
		t.Fatal("no fit")
	}
	want := values(t, "bottle_regression_checks.csv")
	near(t, "scale", f.Scale, want["scale"], 1e-12)
	near(t, "offset", f.Coefficients[0], want["offset_at_2500"], 1e-12)
	near(t, "slope", f.Coefficients[1], want["slope_per_1000_dbar"], 1e-12)
	near(t, "error of the offset", f.Errors[0], want["se_offset_clustered"], 1e-12)
	near(t, "error of the slope", f.Errors[1], want["se_slope_clustered"], 1e-12)
	if f, ok = Huber(x[:20], y[:20], cast[:20], 1e-4); !ok || f.Errors != nil || f.Groups != 5 {
		t.Errorf("five casts: %+v", f)
	}
	if _, ok = Huber([][]float64{{1, 2}, {1, 2}, {1, 2}}, []float64{1, 2, 3}, []int{1, 2, 3}, 1e-4); ok {
		t.Error("dependent predictors have a fit")
	}
	same := []float64{0.002, 0.002, 0.002, 0.002}
	if f, ok = Huber([][]float64{{1}, {1}, {1}, {1}}, same, []int{1, 2, 3, 4}, 1e-4); !ok ||
		f.Coefficients[0] != 0.002 {
		t.Errorf("equal values: %+v", f)
	}
}

// residual_split_checks.csv, computed apart with numpy.
func TestSplitOfResiduals(t *testing.T) {
	groups := map[string]int{}
	var by [][]float64
	for _, row := range checkvalues.Table(t, "residual_split_data.csv") {
		i, ok := groups[row["cast"]]
		if !ok {
			i = len(by)
			groups[row["cast"]], by = i, append(by, nil)
		}
		by[i] = append(by[i], number(t, row["residual"]))
	}
	perCast, common, within := Split(by, 0)
	want := values(t, "residual_split_checks.csv")
	near(t, "per cast", perCast, want["sd_cast"], 1e-15)
	near(t, "within", within, want["sd_within"], 1e-15)
	near(t, "common", common, want["se_common"], 1e-15)
	if _, with, _ := Split(by, 0.001); math.Abs(with-math.Hypot(common, 0.001)) > 1e-15 {
		t.Errorf("with an error of the reference %g", with)
	}
	if a, _, _ := Split(by[:1], 0); a == a {
		t.Error("one cast has a split")
	}
}

// deep_step_checks.csv and deep_theta_s.csv: an invented meridional line of 60 stations with a step of 0.004 and
// its clean twin, computed apart with numpy.
func TestStepBetweenSystems(t *testing.T) {
	rows := checkvalues.Table(t, "deep_theta_s.csv")
	for _, c := range checkvalues.Table(t, "deep_step_checks.csv") {
		var x, y []float64
		for _, row := range rows[24:36] {
			x = append(x, number(t, row["station"])-30.5)
			y = append(y, number(t, row["S_at_theta_"+c["case"]]))
		}
		step, e := Step(x, y, 6)
		near(t, c["case"]+" step", step, number(t, c["step"]), 1e-12)
		near(t, c["case"]+" error", e, number(t, c["standard_error"]), 1e-12)
	}
	if s, _ := Step([]float64{1, 2, 3, 4}, []float64{1, 2, 3, 4}, 0); s == s {
		t.Error("a step without values before it")
	}
}

func TestTheilSenAgainstNeighbours(t *testing.T) {
	rows := checkvalues.Table(t, "deep_theta_s.csv")
	for i, row := range rows {
		var x, y []float64
		for j := max(0, i-5); j <= min(len(rows)-1, i+5); j++ {
			if j != i {
				x = append(x, float64(j-i))
				y = append(y, number(t, rows[j]["S_at_theta_planted"]))
			}
		}
		at, _ := TheilSen(x, y)
		near(t, "station "+row["station"], number(t, row["S_at_theta_planted"])-at, number(t,
			row["local_residual_planted"]), 1e-12)
	}
}

// spike_checks.csv: the bin left out of its own median, against a median with it in.
func TestResidualLeavesTheBinOut(t *testing.T) {
	sp := []float64{34.900, 34.905, 34.911, 34.916, 34.968, 34.926, 34.931, 34.937, 34.942}
	r := residuals(nil, sp, []int{0, 1, 2, 3, 4, 5, 6, 7, 8})
	for i, row := range checkvalues.Table(t, "spike_checks.csv") {
		near(t, "residual of "+row["SP"], r[3+i], number(t, row["residual_median6"]), 1e-14)
	}
}
