package metadata

import "slices"

// Names and units by which CF says of what a coordinate is (CF 1.11 sections 4.1 to 4.3).
var (
	latitudeUnits  = []string{"degrees_north", "degree_north", "degree_N", "degrees_N", "degreeN", "degreesN"}
	longitudeUnits = []string{"degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE", "degreesE"}
	// verticalNames are those that profiles use; CF has no complete list.
	verticalNames = []string{"sea_water_pressure", "sea_water_pressure_due_to_sea_water", "depth", "height", "altitude",
		"air_pressure", "depth_below_geoid", "height_above_geoid", "height_above_geopotential_datum",
		"height_above_mean_sea_level", "height_above_reference_ellipsoid", "depth_below_sea_floor",
		"height_above_sea_floor"}
)

// IsLatitude reports whether a coordinate of these units or of this standard name is a latitude.
func IsLatitude(standardName, units string) bool {
	return standardName == "latitude" || slices.Contains(latitudeUnits, units)
}

// IsLongitude reports whether a coordinate of these units or of this standard name is a longitude.
func IsLongitude(standardName, units string) bool {
	return standardName == "longitude" || slices.Contains(longitudeUnits, units)
}

// IsVertical reports whether a coordinate of this standard name is vertical.
func IsVertical(standardName string) bool { return slices.Contains(verticalNames, standardName) }
