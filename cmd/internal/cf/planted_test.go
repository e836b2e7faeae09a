//go:build cgo

package cf

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// A planted violation is an example with some of its text replaced: pairs of old and new. Each must be found under its
// rule's number.
type planted struct {
	rule    int
	base    string // orthogonal, ragged, incomplete, stations, pairs, grid, map, series
	change  []string
	foreign string // what a file that is not ours gets: "error", "warning", "" nothing
	name    string // of the file, when not x.nc
}

var violations = []planted{
	{1, "ragged", nil, "error", "x.cdf"},
	{2, "ragged", []string{`"in-situ temperature, primary sensor"`, `"Te\xcc\x81moin: e and an accent in two signs"`},
		"warning", ""},
	{2, "ragged", []string{`station = "1", "2"`, `station = "\xff\xfe", "2"`}, "warning", ""},
	{3, "ragged",
		[]string{`	double temp(obs) ;`, "	double temp(obs) ;\n		string temp:note = \"a\", \"b\" ;"},
		"warning", ""},
	{4, "ragged", []string{`char station(`, `char station.name(`, "\t\tstation:", "\t\tstation.name:", "\n station =",
		"\n station.name =", `pres station"`, `pres station.name"`}, "warning", ""},
	{4, "ragged", []string{`	int row_size(profile) ;`,
		"	double Temp(obs) ;\n		Temp:long_name = \"x\" ;\n		Temp:units = \"1\" ;\n		Temp:coordinates = \"time lat lon pres\" ;\n	int row_size(profile) ;",
		"row_size = 4, 3 ;", "row_size = 4, 3 ;\n Temp = 1, 1, 1, 1, 1, 1, 1 ;"}, "warning", ""},
	{5, "grid", []string{`double ctemp_relerr(pres, distance) ;`, `double ctemp_relerr(pres, pres) ;`,
		"0.01, 0.06, 0.06, 0.2,\n  0.01, 0.06, 0.06, 0.2,\n  0.01, 0.06, 0.06, _", "0, 0, 0, 0, 0, 0, 0, 0, 0"},
		"error", ""},
	{5, "map", []string{`double psal_err(pres, lat, lon)`, `double psal_err(pres, lon, lat)`}, "warning", ""},
	{6, "grid", []string{`char section_id(len_section)`, `string nv(nv) ;` +
		"\n		nv:long_name = \"x\" ;\n	char section_id(len_section)", `section_id = "EX01"`,
		"section_id = \"EX01\" ;\n nv = \"a\", \"b\""}, "warning", ""},
	{7, "orthogonal", []string{`temp:valid_min = -2.5 ;`,
		"temp:valid_min = -2.5 ;\n		temp:valid_range = -2.5, 40. ;"}, "error", ""},
	{7, "orthogonal", []string{`temp:valid_min = -2.5 ;`, `temp:valid_min = -2 ;`}, "error", ""},
	{8, "orthogonal", []string{`psal:decimals = 4 ;`, "psal:decimals = 4 ;\n		psal:missing_value = -9999 ;"},
		"error", ""},
	{8, "orthogonal", []string{`psal:decimals = 4 ;`, "psal:decimals = 4 ;\n		psal:missing_value = -999. ;"},
		"warning", ""},
	{9, "orthogonal", []string{`temp:valid_min = -2.5 ;`, `temp:valid_min = -10000. ;`}, "warning", ""},
	{10, "grid", []string{`ctemp_relerr:valid_min = 0. ;`,
		"ctemp_relerr:valid_min = 0. ;\n		ctemp_relerr:actual_range = 0.01, 0.3 ;"}, "error", ""},
	{10, "grid", []string{`ctemp_relerr:valid_min = 0. ;`,
		"ctemp_relerr:valid_min = 0. ;\n		ctemp_relerr:actual_range = 0.01f, 0.2f ;"}, "error", ""},
	{11, "ragged", []string{`:Conventions = "CF-1.11 ACDD-1.3" ;`, `:Conventions = "ACDD-1.3" ;`}, "error", ""},
	{11, "ragged", []string{`:Conventions = "CF-1.11 ACDD-1.3" ;`, ``}, "error", ""},
	{11, "ragged", []string{`"CF-1.11 ACDD-1.3"`, `"CF-1.6"`}, "", ""},
	{11, "ragged", []string{`"CF-1.11 ACDD-1.3"`, `"CF-1.99"`}, "warning", ""},
	{11, "ragged", []string{`"CF-1.11 ACDD-1.3"`, `"CF-2.0, ACDD-1.3"`}, "error", ""},
	{11, "ragged", []string{`"CF-1.11 ACDD-1.3"`, `"CF-1.1x"`}, "error", ""},
	{12, "ragged", []string{`:title = "Synthetic two-cast CTD profile collection, ragged"`, `:title = 17`}, "error",
		""},
	{13, "ragged", []string{`		temp:units = "degC" ;`, ``, `temp:units_metadata = "temperature: on_scale" ;`, ``},
		"error", ""},
	{13, "ragged", []string{`temp:units = "degC"`, `temp:units = "degCC"`}, "error", ""},
	{13, "pairs", []string{`transport:units = "m3 s-1"`, `transport:units = "Sv"`}, "error", ""},
	{14, "ragged", []string{`temp:units = "degC"`, `temp:units = "dbar"`,
		`		temp:units_metadata = "temperature: on_scale" ;`, ``}, "error", ""},
	{14, "ragged", []string{`"seconds since 1970-01-01 00:00:00Z"`, `"seconds"`}, "error", ""},
	{15, "ragged", []string{`pres:units = "dbar"`, `pres:units = "10 kPa"`}, "error", ""},
	{15, "orthogonal", []string{`psal:units = "1"`, `psal:units = "ppmv"`}, "error", ""},
	{15, "ragged", []string{`pres:units = "dbar"`, `pres:units = "1e4 Pa"`}, "error", ""},
	{16, "ragged", []string{`"temperature: on_scale"`, `"temperature: yes"`}, "error", ""},
	{16, "ragged",
		[]string{`pres:units = "dbar" ;`,
			"pres:units = \"dbar\" ;\n		pres:units_metadata = \"temperature: on_scale\" ;"}, "error", ""},
	{17, "grid", []string{`"temperature: difference"`, `"temperature: on_scale"`}, "error", ""},
	{18, "ragged", []string{`		temp:units_metadata = "temperature: on_scale" ;`, ``}, "warning", ""},
	{19, "ragged", []string{`		station:long_name = "station identifier" ;`, ``}, "warning", ""},
	{20, "ragged", []string{`"sea_water_temperature"`, `"sea_water_warmth"`}, "error", ""},
	{20, "grid", []string{`conservative_temperature standard_error"`, `conservative_temperature standard_deviation"`},
		"error", ""},
	{21, "ragged", []string{`temp:ancillary_variables = "temp_flag_woce"`,
		`temp:ancillary_variables = "temp_flag_woce nobs"`}, "error", ""},
	{21, "ragged", []string{`temp:ancillary_variables = "temp_flag_woce"`, `temp:ancillary_variables = "row_size"`},
		"error", ""},
	{22, "ragged", []string{`6b, 7b, 9b`, `6b, 7b`}, "error", ""},
	{22, "ragged", []string{`flag_values = 1b, 2b, 3b, 4b, 5b, 6b, 7b, 9b`, `flag_values = 1, 2, 3, 4, 5, 6, 7, 9`},
		"error", ""},
	{22, "ragged", []string{`questionable bad`, `question,able bad`}, "error", ""},
	{23, "ragged", []string{`flag_values = 1b, 2b,`, `flag_values = 2b, 2b,`}, "error", ""},
	{23, "ragged", []string{`temp_flag_woce = 2, 2`, `temp_flag_woce = 8, 2`}, "", ""},
	{24, "ragged", []string{`temp_flag_woce:flag_values = 1b`,
		"temp_flag_woce:flag_masks = 0b, 1b, 2b, 4b, 8b, 16b, 32b, 64b ;\n		temp_flag_woce:flag_values = 1b"},
		"error", ""},
	{25, "ragged", []string{`pres:axis = "Z"`, `pres:axis = "W"`}, "error", ""},
	{25, "ragged", []string{`lat:axis = "Y"`, `lat:axis = "X"`}, "error", ""},
	{26, "stations", []string{`distance:units = "km" ;`, "distance:units = \"km\" ;\n		distance:axis = \"X\" ;"},
		"error", ""},
	{27, "grid", []string{`lat:units = "degrees_north" ;`,
		"lat:units = \"degrees_north\" ;\n		lat:axis = \"Y\" ;"}, "error", ""},
	{28, "ragged", []string{`lat:units = "degrees_north"`, `lat:units = "degree"`}, "error", ""},
	{28, "ragged", []string{`lon:units = "degrees_east"`, `lon:units = "degree_E"`}, "", ""},
	{29, "ragged", []string{`pres:positive = "down"`, `pres:positive = "below"`}, "error", ""},
	{29, "grid", []string{`		pres:positive = "down" ;`, ``}, "", ""},
	{29, "ragged", []string{`pres:positive = "down"`, `pres:positive = "up"`}, "warning", ""},
	{29, "grid", []string{`		pres:positive = "down" ;`, ``, `		pres:axis = "Z" ;`, ``,
		`		pres:standard_name = "sea_water_pressure" ;`, ``,
		`pres:long_name = "pressure, zero at the sea surface"`, `pres:long_name = "depth of the level"`,
		`pres:units = "dbar"`, `pres:units = "m"`}, "error", ""},
	{29, "map", []string{`		pres:positive = "down" ;`, ``, `		pres:standard_name = "sea_water_pressure" ;`,
		``, `pres:units = "dbar"`, `pres:units = "km"`}, "error", ""},
	{29, "ragged", []string{`		pres:positive = "down" ;`, ``, `		pres:axis = "Z" ;`, ``,
		`		pres:standard_name = "sea_water_pressure" ;`, ``, `pres:units = "dbar"`, `pres:units = "m"`,
		`pres:long_name = "`, `pres:long_name = "depth" ; pres:comment = "`}, "error", ""},
	{30, "ragged", []string{`"seconds since 1970-01-01 00:00:00Z"`, `"seconds since 1970"`}, "error", ""},
	{31, "ragged", []string{`time:calendar = "standard"`, `time:calendar = "lunar"`}, "error", ""},
	{31, "ragged", []string{`pres:units = "dbar" ;`, "pres:units = \"dbar\" ;\n		pres:calendar = \"standard\" ;"},
		"error", ""},
	{31, "ragged", []string{`		time:calendar = "standard" ;`, ``}, "warning", ""},
	{32, "map", []string{`double lat(lat)`, `double latitude(lat)`, "\t\tlat:", "\t\tlatitude:", "\n lat =",
		"\n latitude =", `psal:coordinates = "time"`, `psal:coordinates = "time latitude"`}, "error", ""},
	{33, "grid", []string{"\n pres = 10, 20, 30", "\n pres = 10, 30, 20", `		pres:bounds = "pres_bnds" ;`, ``},
		"error", ""},
	{33, "grid", []string{`pres:units = "dbar" ;`, "pres:units = \"dbar\" ;\n		pres:_FillValue = -9999. ;"},
		"error", ""},
	{33, "grid", []string{"\n pres = 10, 20, 30", "\n pres = 10, NaN, 30", `		pres:bounds = "pres_bnds" ;`, ``},
		"error", ""},
	{34, "ragged", []string{`temp:coordinates = "time lat lon pres station"`,
		`temp:coordinates = "time lat lon pres stations"`}, "error", ""},
	{35, "grid", []string{`bottom_depth:coordinates = "lat lon"`, `bottom_depth:coordinates = "lat lon ctemp_err"`},
		"error", ""},
	{36, "incomplete", []string{`level`, `pres`}, "warning", ""},
	{37, "grid",
		[]string{"	double time ;",
			"	double len_section ;\n		len_section:long_name = \"x\" ;\n		len_section:units = \"1\" ;\n	double time ;",
			`ctemp:coordinates = "lat lon time`, `ctemp:coordinates = "lat lon time len_section`,
			" time = 1714651650 ;", " time = 1714651650 ;\n len_section = 1 ;"}, "warning", ""},
	{38, "grid", []string{`ctemp:coordinates = "lat lon time section_id"`, `ctemp:coordinates = "time section_id"`},
		"error", ""},
	{39, "map", []string{`psal:grid_mapping = "crs"`, `psal:grid_mapping = "wgs"`}, "error", ""},
	{39, "map", []string{`"latitude_longitude"`, `"flat_earth"`}, "error", ""},
	{39, "map", []string{`crs:semi_major_axis = 6378137. ;`,
		"crs:semi_major_axis = 6378137. ;\n		crs:horizontal_datum_name = \"WGS_1984\" ;"}, "error", ""},
	{39, "map", []string{`crs:semi_major_axis = 6378137.`, `crs:semi_major_axis = "6378137"`}, "error", ""},
	{40, "grid", []string{`char section_id(len_section)`, `char section_id(pres, distance, len_section)`}, "", ""},
	{40, "grid", []string{`char section_id(len_section)`, `char section_id(pres, distance, nv, len_section)`}, "error",
		""},
	{41, "grid", []string{`pres:bounds = "pres_bnds"`, `pres:bounds = "pres_edges"`}, "error", ""},
	{41, "grid", []string{`double pres_bnds(pres, nv)`, `double pres_bnds(distance, nv)`,
		`pres_bnds = 5, 15, 15, 25, 25, 35`, `pres_bnds = 5, 15, 15, 25, 25, 35, 35, 45`}, "error", ""},
	{42, "grid", []string{"	nv = 2 ;", "	nv = 2 ;\n	four = 4 ;", `double pres_bnds(pres, nv)`,
		`double pres_bnds(pres, four)`, `pres_bnds = 5, 15, 15, 25, 25, 35`,
		`pres_bnds = 5, 15, 15, 25, 25, 35, 1, 1, 1, 1, 1, 1`}, "warning", ""},
	{43, "grid", []string{`pres_bnds = 5, 15, 15, 25, 25, 35`, `pres_bnds = 15, 5, 25, 15, 35, 25`}, "warning", ""},
	{44, "grid", []string{`	double pres_bnds(pres, nv) ;`,
		"	double pres_bnds(pres, nv) ;\n		pres_bnds:units = \"Pa\" ;"}, "error", ""},
	{44, "grid", []string{`	double pres_bnds(pres, nv) ;`,
		"	double pres_bnds(pres, nv) ;\n		pres_bnds:_FillValue = -9999. ;"}, "error", ""},
	{45, "grid", []string{`pres_bnds = 5, 15,`, `pres_bnds = 12, 15,`}, "warning", ""},
	{45, "grid", []string{`pres_bnds = 5, 15, 15,`, `pres_bnds = 5, 15, 15.0000001,`}, "warning", ""},
	{46, "grid", []string{`"pres: distance: point"`, `"pres distance point"`}, "error", ""},
	{47, "grid", []string{`"pres: distance: point"`, `"pres: distant: point"`}, "error", ""},
	{47, "grid", []string{`"pres: distance: point"`, `"pres: distance: point pres: mean"`}, "error", ""},
	{48, "grid", []string{`"pres: distance: point"`, `"pres: distance: average"`}, "error", ""},
	{49, "pairs", []string{`"pair: mean"`, `"pair: pres: mean"`}, "warning", ""},
	{49, "grid", []string{`"pres: distance: point"`, `"pres: point"`}, "warning", ""},
	{50, "grid", []string{`"pres: distance: point"`, `"pres: distance: point (interval: much)"`}, "error", ""},
	{51, "grid", []string{`ctemp:cell_methods`, "ctemp:cell_measures = \"length: pres\" ;\n		ctemp:cell_methods"},
		"error", ""},
	{51, "grid", []string{`ctemp:cell_methods`, "ctemp:cell_measures = \"area: pres\" ;\n		ctemp:cell_methods"},
		"error", ""},
	{52, "orthogonal",
		[]string{`nobs:units = "1" ;`,
			"nobs:units = \"1\" ;\n		nobs:scale_factor = 0.1f ;\n		nobs:add_offset = 0. ;"}, "error", ""},
	{53, "grid", []string{`pres:units = "dbar" ;`, "pres:units = \"dbar\" ;\n		pres:quantization = \"q\" ;"},
		"warning", ""},
	{54, "grid", []string{`:title`, ":external_variables = \"area\" ;\n		:title"}, "", ""},
	{55, "grid", []string{"_ ;\n}", "_ ;\ngroup: inner {\ndimensions:\n	a = 1 ;\n}\n}"}, "warning", ""},
	{56, "grid",
		[]string{`ctemp:cell_methods`, "ctemp:aggregated_data = \"location: x\" ;\n		ctemp:cell_methods"}, "",
		""},
	{57, "map",
		[]string{`	int crs ;`,
			"	int domain ;\n		domain:dimensions = \"pres lat lon\" ;\n		domain:long_name = \"x\" ;\n	int crs ;",
			"\n crs = 0", "\n domain = 0 ;\n crs = 0"}, "", ""},
	{58, "grid", []string{`time:bounds = "time_bnds"`, `time:climatology = "time_bnds"`}, "", ""},
	{59, "grid", []string{`ctemp:cell_methods`, "ctemp:compress = \"pres distance\" ;\n		ctemp:cell_methods"}, "",
		""},
	{60, "ragged", []string{`:featureType = "profile"`, `:featureType = "cast"`}, "error", ""},
	{60, "ragged", []string{`:featureType = "profile"`, `:featureType = "trajectory"`}, "error", ""},
	{60, "orthogonal", []string{`:featureType = "profile"`, `:featureType = "trajectory"`}, "error", ""},
	{60, "incomplete", []string{`:featureType = "profile"`, `:featureType = "timeSeries"`}, "error", ""},
	{60, "ragged", []string{`:featureType = "profile"`, `:featureType = "trajectory"`,
		`		pres:positive = "down" ;`, ``, `		pres:axis = "Z" ;`, ``,
		`		pres:standard_name = "sea_water_pressure" ;`, ``, `pres:units = "dbar"`, `pres:units = "m"`,
		`pres:long_name = "`, `pres:long_name = "depth" ; pres:comment = "`}, "error", ""},
	{61, "ragged", []string{`		:featureType = "profile" ;`, ``}, "error", ""},
	{61, "grid", []string{`		:title`, "		:featureType = \"profile\" ;\n		:title"}, "error", ""},
	{61, "map", []string{`		:title`, "		:featureType = \"profile\" ;\n		:title"}, "error", ""},
	{62, "ragged", []string{`temp:coordinates = "time lat lon pres station"`,
		`temp:coordinates = "time lat lon station"`}, "error", ""},
	{62, "stations", []string{`asal:coordinates = "time lat lon distance`, `asal:coordinates = "lat lon distance`},
		"error", ""},
	{63, "ragged", []string{`		temp:coordinates = "time lat lon pres station" ;`, ``}, "error", ""},
	{64, "ragged", []string{`cf_role = "profile_id"`, `cf_role = "cast_id"`}, "error", ""},
	{64, "ragged", []string{`		profile_id:cf_role = "profile_id" ;`, ``}, "", ""},
	{64, "ragged", []string{`		station:long_name`,
		"		station:cf_role = \"profile_id\" ;\n		station:long_name"}, "error", ""},
	{60, "series", []string{`"timeSeriesProfile"`, `"timeSeries"`}, "error", ""},
	{62, "series", []string{`temp:coordinates = "time lat lon station`, `temp:coordinates = "time station`}, "", ""},
	{64, "series", []string{`		series_id:cf_role = "timeseries_id" ;`, ``}, "", ""},
	{64, "series", []string{`series_id:cf_role = "timeseries_id"`, `series_id:cf_role = "profile_id"`}, "error", ""},
	{65, "series", []string{`temp:coordinates = "time lat lon station series_id`,
		`temp:coordinates = "time lat lon station`}, "", ""},
	{65, "stations",
		[]string{`section_id:long_name`, "section_id:cf_role = \"trajectory_id\" ;\n		section_id:long_name"}, "",
		""},
	{65, "stations", []string{`asal:coordinates = "time lat lon distance station section_id"`,
		`asal:coordinates = "time lat lon distance station"`}, "", ""},
	{66, "ragged", []string{`"99ZZ20240501_00001_00001", "99ZZ20240501_00002_00001"`,
		`"99ZZ20240501_00001_00001", "99ZZ20240501_00001_00001"`}, "error", ""},
	{66, "ragged", []string{`"99ZZ20240501_00001_00001", "99ZZ20240501_00002_00001"`, `"99ZZ20240501_00001_00001", ""`},
		"error", ""},
	{67, "ragged", []string{`row_size = 4, 3`, `row_size = 4, 4`}, "error", ""},
	{67, "ragged", []string{`row_size:sample_dimension = "obs"`, `row_size:sample_dimension = "levels"`}, "error", ""},
	{68, "ragged", []string{`	int row_size(profile) ;`,
		"	int parent(obs) ;\n		parent:long_name = \"x\" ;\n		parent:instance_dimension = \"profile\" ;\n	int row_size(profile) ;",
		"\t\trow_size:sample_dimension = \"obs\" ;", "", "row_size = 4, 3 ;",
		"row_size = 4, 3 ;\n parent = 0, 0, 0, 0, 1, 1, 2 ;"}, "error", ""},
	{68, "ragged", []string{`	int row_size(profile) ;`,
		"	int parent(obs) ;\n		parent:long_name = \"x\" ;\n		parent:instance_dimension = \"casts\" ;\n	int row_size(profile) ;",
		"\t\trow_size:sample_dimension = \"obs\" ;", "", "row_size = 4, 3 ;",
		"row_size = 4, 3 ;\n parent = 0, 0, 0, 0, 1, 1, 1 ;"}, "error", ""},
	{69, "incomplete", []string{`36.5501, 36.5502, _, _`, `36.5501, 36.5502, 36.55, _`}, "error", ""},
	{70, "ragged", []string{`lat = 30, 30.5`, `lat = 30, NaN`}, "warning", ""},
	{70, "ragged", []string{`lat = 30, 30.5`, `lat = 30, -9999`}, "warning", ""},
	{71, "incomplete", []string{`	level = 4 ;`, `	level = UNLIMITED ;`, "2.1, 4, 6.2, 8.1,\n  3, 5.2, _, _",
		"{2.1, 4, 6.2, 8.1}, {3, 5.2, _, _}", "36.6012, 36.6015, 36.602, 36.61,\n  36.5501, 36.5502, _, _",
		"{36.6012, 36.6015, 36.602, 36.61}, {36.5501, 36.5502, _, _}"}, "error", ""},
	{72, "ragged", []string{`double temp(obs)`, `double temp(obs, nv)`,
		`temp = 21.5012, 21.4987, 21.4721, 21.3302, 21.8101, 21.8055, 21.79`,
		`temp = 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1`}, "error", ""},
	{73, "orthogonal", []string{"\n system = 0, 1", "\n system = 0, 2"}, "", ""},
	{73, "orthogonal", []string{`temp:instrument = "system"`, `temp:instrument = "ctd"`}, "", ""},
	{74, "orthogonal", []string{`byte temp_flag_auto(profile, pres)`, `byte temp_flag_auto(pres)`,
		" temp_flag_auto =\n  2, 2, 2, 2,\n  2, 2, 3, 9", " temp_flag_auto =\n  2, 2, 2, 2"}, "", ""},
	{74, "orthogonal", []string{`temp_flag_woce temp_flag_auto temp_flag_iode`, `temp_flag_woce temp_flag_iode`}, "",
		""},
	{75, "ragged", []string{`expocode = "99ZZ20240501", "99ZZ20240501"`, `expocode = "99ZZ20240501", "99ZZ20240502"`},
		"", ""},
	{75, "ragged", []string{`:expocode = "99ZZ20240501" ;`, `:expocode = "99ZZ20240509" ;`}, "", ""},
	{76, "ragged", []string{`double temp(obs)`, `float temp(obs)`, `temp:_FillValue = -9999.`,
		`temp:_FillValue = -9999.f`}, "", ""},
	{76, "ragged", []string{`temp:decimals = 4`, `temp:decimals = 1`}, "", ""},
	{78, "grid",
		[]string{`pres:units = "dbar" ;`, "pres:units = \"dbar\" ;\n		pres:formula_terms = \"s: pres\" ;"},
		"error", ""},
	{78, "map", []string{`pres:standard_name = "sea_water_pressure"`,
		"pres:formula_terms = \"sigma: pres eta: level depth: psal_err\" ;\n		pres:standard_name = \"ocean_sigma_coordinate\"",
		`pres:units = "dbar"`, `pres:units = "1"`}, "error", ""},
	{78, "map", []string{`pres:standard_name = "sea_water_pressure"`,
		"pres:formula_terms = \"sigma: pres etta: psal\" ;\n		pres:standard_name = \"ocean_sigma_coordinate\"",
		`pres:units = "dbar"`, `pres:units = "1"`}, "error", ""},
	{79, "map", []string{`	int crs ;`, "	int nv(nv) ;\n		nv:compress = \"lat longitude\" ;\n	int crs ;",
		"\n crs = 0", "\n nv = 0, 1 ;\n crs = 0"}, "error", ""},
	{79, "map", []string{`	int crs ;`, "	int nv(nv) ;\n		nv:compress = \"lat lon\" ;\n	int crs ;",
		"\n crs = 0", "\n nv = 0, 6 ;\n crs = 0"}, "error", ""},
	{77, "ragged", []string{`release_status = "preliminary"`, `release_status = "ready"`}, "", ""},
	{77, "orthogonal", []string{`		:product_version = "1.1" ;`, ``}, "", ""},
	{77, "orthogonal", []string{"\n cast_role = 1, 1", "\n cast_role = 1, 8"}, "", ""},
}

var bases = map[string]string{"orthogonal": "profiles_orthogonal", "ragged": "profiles_ragged",
	"incomplete": "profiles_incomplete",
	"stations":   "section_stations", "pairs": "section_pairs", "grid": "section_grid", "map": "map_grid",
	"series": "time_series"}

// plant returns the text of a violation.
func (p planted) plant(t *testing.T) string {
	b, err := os.ReadFile("testdata/examples/" + bases[p.base] + ".cdl")
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for k := 0; k < len(p.change); k += 2 {
		if !strings.Contains(text, p.change[k]) {
			t.Fatalf("rule %d: %s has no %q", p.rule, p.base, p.change[k])
		}
		text = strings.ReplaceAll(text, p.change[k], p.change[k+1])
	}
	return text
}

// format is the classic one, which is made faster, where the text allows it.
func (p planted) format(text string) []string {
	for _, w := range []string{"string ", "group:", "UNLIMITED"} {
		if strings.Contains(text, w) {
			return []string{"-k", "nc4"}
		}
	}
	return []string{"-k", "classic"}
}

func TestPlantedViolationsAreFoundUnderTheirNumber(t *testing.T) {
	if len(violations) < 40 {
		t.Fatalf("%d violations, want at least 40", len(violations))
	}
	hit := map[int]bool{}
	var wg sync.WaitGroup
	slots := make(chan struct{}, 2)
	for k, p := range violations {
		hit[p.rule] = true
		wg.Add(1)
		go func() {
			defer wg.Done()
			slots <- struct{}{}
			defer func() { <-slots }()
			t.Run(fmt.Sprintf("%d-%d-%s", k, p.rule, p.base), func(t *testing.T) {
				name := p.name
				if name == "" {
					name = "x.nc"
				}
				text := p.plant(t)
				f, err := nc.OpenFile(compile(t, text, name, p.format(text)...))
				if err != nil {
					t.Fatal(err)
				}
				defer f.Close()
				want := fmt.Sprintf("cf.%d", p.rule)
				found := Check(f, name, true)
				at := slices.IndexFunc(found, func(x metadata.Finding) bool {
					return x.Check == want &&
						x.Severity == metadata.Failure
				})
				if at < 0 {
					t.Errorf("%s is not among the faults:", want)
					for _, x := range found {
						t.Errorf("  %s %s: %s", x.Check, x.Variable, x.Message)
					}
				}
				if len(found) > 12 {
					t.Errorf("%d faults for one violation", len(found))
				}
			})
		}()
	}
	wg.Wait()
	for rule := 1; rule < len(rules); rule++ {
		if !hit[rule] {
			t.Errorf("no violation of rule %d is planted", rule)
		}
	}
}

// Of a file that is not ours, a broken requirement is a fault, a broken recommendation a warning, and our own rules are
// not asked.
func TestFilesOfOthersFollowCFAlone(t *testing.T) {
	for k, p := range violations {
		if k%3 != 0 {
			continue
		}
		text := p.plant(t)
		for _, line := range strings.Split(text, "\n") {
			if strings.Contains(line, "\t\t:release_status") {
				text = strings.ReplaceAll(text, line+"\n", "")
			}
		}
		name := p.name
		if name == "" {
			name = "x.nc"
		}
		f, err := nc.OpenFile(compile(t, text, name, p.format(text)...))
		if err != nil {
			t.Fatal(err)
		}
		if claimsOurs(f.Schema) {
			t.Fatal("the file still claims to be ours")
		}
		got := ""
		for _, x := range Check(f, name, false) {
			if x.Check == fmt.Sprintf("cf.%d", p.rule) && (got == "" || x.Severity == metadata.Failure) {
				got = x.Severity.String()
			}
		}
		if got != p.foreign {
			t.Errorf("violation %d of rule %d: %q, want %q", k, p.rule, got, p.foreign)
		}
		f.Close()
	}
}
