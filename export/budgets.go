package export

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/castwright/castwright/section/geostrophy"
)

var budgetHead = []string{"section", "kind", "unit", "positive_towards", "net", "stated_error", "beta_term",
	"net_at_one_coriolis_parameter", "sum_of_absolute_transports", "second_reference", "relative_to", "change_per_unit",
	"change_unit", "reference_shallowest_dbar", "reference_deepest_dbar", "length_km", "enclosed_km2", "pair_area_km2",
	"closing_velocity_ms", "duration_days", "status", "left_out", "remark"}

type flow = geostrophy.Result

// BudgetNumbers are the columns of the table of budgets with a net transport or a part of it, in the unit of the kind,
// each with how it is found.
var BudgetNumbers = map[string]func(r *flow, k geostrophy.Kind) float64{
	"net":                           func(r *flow, k geostrophy.Kind) float64 { return r.Total[k].Value },
	"stated_error":                  func(r *flow, k geostrophy.Kind) float64 { return r.Total[k].Stated },
	"beta_term":                     func(r *flow, k geostrophy.Kind) float64 { return r.Budget.Beta[k] },
	"net_at_one_coriolis_parameter": func(r *flow, k geostrophy.Kind) float64 { return r.Budget.OneCoriolis[k] },
	"sum_of_absolute_transports":    func(r *flow, k geostrophy.Kind) float64 { return r.Budget.Absolute[k] },
	"second_reference":              func(r *flow, k geostrophy.Kind) float64 { return r.SecondTotal[k] },
}

// BudgetKinds are the kinds of transport that a budget has a line of.
var BudgetKinds = []geostrophy.Kind{geostrophy.Volume, geostrophy.Mass, geostrophy.Salt, geostrophy.Freshwater,
	geostrophy.Heat}

// WriteBudgets writes the table of the budgets of closed lines: a line for each kind of transport, or one with the
// reason where there is no budget. Sections that are not closed have no line.
func WriteBudgets(w io.Writer, results []*geostrophy.Result) error {
	c := newTable(w)
	if err := c.Write(budgetHead); err != nil {
		return err
	}
	for _, r := range results {
		if r.Budget == nil {
			continue
		}
		for _, row := range budgetRows(r) {
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

func budgetRows(r *geostrophy.Result) (rows [][]string) {
	b := r.Budget
	line := func(kind, unit, status, remark string) map[string]string {
		return map[string]string{"section": r.Section, "kind": kind, "unit": unit,
			"positive_towards": string(b.Towards), "length_km": fixed(b.LengthKm, 3),
			"enclosed_km2": fixed(b.Enclosed.AreaKm2, 1), "duration_days": fixed(b.Days, 2), "status": status,
			"left_out": b.LeftOut(), "remark": remark, "change_unit": OrNone(""), "relative_to": OrNone("")}
	}
	put := func(cells map[string]string) {
		row := make([]string, len(budgetHead))
		for i, name := range budgetHead {
			row[i] = cells[name]
		}
		rows = append(rows, row)
	}
	if b.Reason != "" {
		put(line(allKinds, OrNone(""), "none", "no budget: "+b.Reason))
		return rows
	}
	status := "complete"
	remarks := []string{r.Partial.Statement}
	if !r.Partial.Complete() {
		status = "partial"
	}
	if !b.OneReference {
		remarks = append(remarks, "mixed reference: not the same level for all pairs")
	}
	if inside := b.Inside(); inside != "" {
		remarks = append(remarks, inside)
	}
	remarks = append(remarks, "second reference: "+r.SecondLabel)
	for _, k := range BudgetKinds {
		unit, factor, decimals := TransportUnit(k)
		x := line(k.String(), unit, status, strings.Join(remarks, "; "))
		for name, get := range BudgetNumbers {
			x[name] = fixed(get(r, k)*factor, decimals)
		}
		switch k {
		case geostrophy.Volume:
			x["closing_velocity_ms"] = strconv.FormatFloat(b.ClosingVelocity, 'g', 4, 64)
		case geostrophy.Freshwater:
			x["relative_to"] = fmt.Sprintf("%.4f g/kg", r.ReferenceSalinity)
			x["change_unit"] = unit + " per g/kg"
		case geostrophy.Heat:
			x["relative_to"] = fmt.Sprintf("%.4f degC", r.ReferenceTemperature)
			x["change_unit"] = unit + " per K"
		}
		x["change_per_unit"] = fixed(b.PerReference[k]*factor, decimals)
		x["pair_area_km2"] = fixed(b.PairAreaM2/1e6, 3)
		x["reference_shallowest_dbar"] = fixed(b.ShallowestDbar, 1)
		x["reference_deepest_dbar"] = fixed(b.DeepestDbar, 1)
		put(x)
	}
	return rows
}
