package gridding

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

func readTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../testdata/checkvalues/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for k, v := range row {
			m[all[0][k]] = v
		}
		out = append(out, m)
	}
	return out
}

func parse(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// points makes a cloud of one variable with one site for each datum.
func points(x, p, v []float64) *cloud {
	o := &Options{}
	if err := o.fill(); err != nil {
		panic(err)
	}
	s := &survey{opt: o, vars: []metadata.Variable{{Name: "v"}}}
	for k := range x {
		s.sites = append(s.sites, site{cast: &section.Cast{}, xKm: x[k], group: k,
			profiles: []profile{{p: p[k : k+1], v: v[k : k+1]}}})
	}
	if err := s.places(); err != nil {
		panic(err)
	}
	levels := slices.Clone(p)
	slices.Sort(levels)
	levels = slices.Compact(levels)
	down := oneLength(120)
	t := table{vars: []int{0}, levels: levels, down: &down}
	for k := range x {
		row := make([]float64, len(levels))
		for i := range row {
			row[i] = math.NaN()
			if levels[i] == p[k] {
				row[i] = v[k]
			}
		}
		t.values = append(t.values, [][]float64{row})
	}
	return s.clouds(t, nil)[0]
}

// Science notes, section 13: small cases of optimal interpolation and successive correction to 1e-9 (source:
// gridding_checks.csv, computed with numpy).
func TestGriddingChecks(t *testing.T) {
	var x, p, anomaly []float64
	back := func(p float64) float64 { return 16 - 0.02*p }
	rows := readTable(t, "gridding_checks.csv")
	for _, r := range rows {
		if r["kind"] == "input" {
			x, p = append(x, parse(t, r["x_km"])), append(p, parse(t, r["p_dbar"]))
			anomaly = append(anomaly, parse(t, r["value"])-back(p[len(p)-1]))
		}
	}
	c := points(x, p, anomaly)
	worst, seen := 0.0, 0
	for _, r := range rows {
		if r["kind"] == "input" {
			continue
		}
		at, q := parse(t, r["x_km"]), parse(t, r["p_dbar"])
		col := &column{xKm: at, lengthKm: 40}
		for k := range c.s.sites {
			col.h = append(col.h, math.Abs(at-c.s.sites[k].xKm))
		}
		est, rel := newEstimates(1, 1), make([]float64, 1)
		var w work
		switch {
		case strings.HasPrefix(r["kind"], "oi_"):
			set := oiSettings{noise: 0.05, neighbours: 60, cut: 100,
				knownMean: r["kind"] == "oi_known_mean"}
			newOptimal(c, set, nil, nil).predict(&w, col, []float64{q}, est, rel)
			worst = math.Max(worst, math.Abs(rel[0]-parse(t, r["second_value"])))
		default:
			n := int(parse(t, strings.TrimSuffix(strings.TrimPrefix(r["kind"], "barnes_"), "_pass")))
			newSuccessiveWith(c, &verticalScale{length: []float64{120}}, 40*40, n, nil, nil).predict(&w, col,
				[]float64{q}, est, rel)
		}
		worst = math.Max(worst, math.Abs(est[0][0]+back(q)-parse(t, r["value"])))
		seen++
	}
	if seen != 26 || worst > 1e-9 {
		t.Errorf("%d rows, largest difference %g", seen, worst)
	}
	t.Logf("largest difference %.2g", worst)
}
