package geostrophy

// A Setting says what one parameter of a result means. Its value is a number, a list of numbers or words.
type Setting struct{ Name, What string }

// Settings returns the names in Params of a result, with their meaning, in their order.
func Settings() []Setting {
	return []Setting{
		{"interpolation", "interpolation in pressure between bins"},
		{"reference", "kind of reference level: deepest, pressure, density, levels or velocities"},
		{"reference_level", "reference level in words"},
		{"second_reference", "the other reference level, whose transports show what the choice is worth"},
		{"dynamic_height_reference_dbar", "pressure that dynamic height is relative to, dbar"},
		{"distance", "how distances between stations are computed: geodesic, sphere or sphere_at_level"},
		{"distance_formula", "the formula for it"},
		{"coriolis", "latitude and rotation rate of the Coriolis parameter"},
		{"positive", "side of the section towards which velocity is positive"},
		{"triangle", "what flows in the bottom triangle"},
		{"bottom", "where the water depth is from: depth (as stated for the casts) or deepest_bin (of each cast)"},
		{"max_gap", "widest step between bins that is interpolated across, or the rule for it"},
		{"surface_carry_dbar", "greatest pressure of a first level whose velocity is carried up to the surface, dbar"},
		{"ice_base_m", "depth of the underside of an ice shelf, m"},
		{"layers_dbar", "bounds of the layers, dbar"},
		{"classes_sigma_dbar", "pressure to which the potential density of the classes is referred, dbar"},
		{"classes_kg_m3", "bounds of the classes of potential density anomaly, kg m-3"},
		{"reference_salinity_g_kg", "salinity that freshwater transport is relative to, g kg-1"},
		{"reference_temperature_degC", "temperature that heat transport is relative to, degC"},
		{"withheld_within_deg", "pairs this near to the equator have no velocity, degrees"},
		{"questionable_within_deg", "pairs this near to the equator are called questionable, degrees"},
		{"least_separation_km", "stations nearer to each other than this have no velocity, km"},
		{"equatorial_estimate",
			"whether the velocity at the equator was estimated from the curvature of dynamic height"},
		{"not_calibrated_usable", "whether values of flag 1 (not calibrated) count as usable"},
		{"position_error_km", "standard error of a position, km"},
		{"monte_carlo_members", "number of members of the Monte-Carlo estimate of errors; 0: none"},
		{"monte_carlo_seed", "seed of its random numbers"},
		{"bin_noise", "standard deviation of its noise in each bin, of salinity and temperature"},
		{"accuracy", "accuracies of each set of sensors, from which errors are computed"},
	}
}
