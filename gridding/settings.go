package gridding

// A Setting says what one parameter or result of a grid means. Its value is a number, a list of numbers or words.
type Setting struct{ Name, What string }

// Settings returns the names in Params and Results of a grid, with their meaning and unit, in their order. A name whose
// value differs between variables occurs once for each of them.
func Settings() []Setting {
	return []Setting{
		{"method",
			"how values were mapped: one of the methods, or choose for the one that predicted left-out stations best"},
		{"step_km", "distance between grid columns of a section, km"},
		{"step_dbar", "distance between grid levels of a section, dbar"},
		{"length_km",
			"horizontal length Lx of the mapping: km, or a multiple of the local station spacing with the least and greatest km that it comes to"},
		{"length_dbar", "vertical length Lp of the mapping, dbar, by depth"},
		{"covariance",
			"covariance of the signal over its variance, dx and dp being the distances in km and dbar (sums of dp/Lp where Lp changes)"},
		{"covariance_by",
			"where the shape of the covariance, the lengths and the noise are from: given in the cruise file, by the rule for spacing and depth, or estimated from the section; with the keys of the cruise file that give them again"},
		{"noise", "noise variance over signal variance"},
		{"neighbours", "most data used for one grid point"},
		{"cut_lengths", "data farther away than this many lengths are not used"},
		{"max_error", "grid points whose error variance over signal variance is greater are masked"},
		{"weights", "weights of successive correction"},
		{"local_mean_profile", "profile that anomalies are taken from, and how it is made"},
		{"background", "what is fitted at each data level and taken off before the mapping"},
		{"data", "what is mapped, where it is not values at data levels"},
		{"data_levels", "pressures at which the values of the casts are mapped, dbar"},
		{"vertical", "interpolation in pressure between the bins of a cast"},
		{"max_gap_dbar", "widest step between bins that is interpolated across, dbar, or the rule for it"},
		{"bottom",
			"where the water depth is from: depth (as stated for the casts), bathymetry (a grid of water depth) or deepest bin (of each cast)"},
		{"distance", "what distances are measured along"},
		{"surfaces", "how surfaces of equal potential density were found, and values on them"},
		{"stations", "number of stations with values that were mapped"},
		{"chosen", "method that was chosen"},
		{"held_to_data",
			"number of mapped values that lay outside the range of the data nearby and were moved to its end"},
		{"extended",
			"number of values below the deepest data, taken at their pressure where the data of the section end"},
		{"inversions",
			"number of vertical pairs of grid points between which density falls with pressure (N2 < -1e-7 s-2)"},
	}
}

// ChangeSettings returns the names in Params and Results of the grid of a change, with their meaning and unit.
func ChangeSettings() []Setting {
	return []Setting{
		{"change", "what a change is, and where its parts are from"},
		{"surfaces", "surfaces of potential density on which values are compared, by pressure"},
		{"not_defined", "where there is no change on density"},
		{"station_within_km", "stations nearer than this are compared with each other, others with the grid, km"},
		{"reference", "what a section is compared with"},
		{"reference_errors", "which errors of the reference are in the standard errors"},
		{"month", "month of the reference"},
		{"compared_with", "what a station was compared with"},
		{"off_track_km", "how far a station lies from the older track, km"},
		{"stations_left_out", "number of stations for which the reference has nothing"},
		{"not_in_reference", "mapped variables that the reference does not have"},
	}
}
