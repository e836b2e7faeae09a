package netcdf

import "math"

// budget adds the attributes of a closed line: what its totals are a budget of.
func (b *pairs) budget(a *attrs) {
	d := b.r.Budget
	if d == nil {
		return
	}
	status := "complete"
	switch {
	case d.Reason != "":
		status = "none: " + d.Reason
	case !b.r.Partial.Complete():
		status = "partial"
	}
	a.text(
		"budget_status", status,
		"budget_positive_towards", string(d.Towards),
		"budget_left_out", d.LeftOut(),
		"budget_comment", "of a closed line; the attributes total of transports are the net, which the pairs carry "+
			"through it; total_beta_term is the part that the change of the Coriolis parameter makes, "+
			"total_at_one_coriolis_parameter the rest",
	)
	one := "mixed"
	if d.OneReference {
		one = "one for all pairs"
	}
	if d.Reason == "" {
		a.text("budget_reference", one)
	}
	for _, x := range []struct {
		name  string
		value float64
	}{{"budget_length_km", d.LengthKm}, {"budget_enclosed_km2", d.Enclosed.AreaKm2},
		{"budget_pair_area_m2", d.PairAreaM2}, {"budget_closing_velocity_m_s", d.ClosingVelocity},
		{"budget_duration_days", d.Days}} {
		if !math.IsNaN(x.value) {
			a.add(x.name, x.value)
		}
	}
}
