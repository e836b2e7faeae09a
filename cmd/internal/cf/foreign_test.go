//go:build cgo

package cf

import (
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// Dates that CF 4.4 allows in one calendar and not in another; what UDUNITS takes for a date.
func TestReferenceTimes(t *testing.T) {
	for _, c := range []struct {
		units, calendar string
		good            bool
	}{
		{"days since 0001-01-01", "standard", true}, // the epoch of many models
		{"days since 1-1-1 00:00:00", "", true},
		{"days since 0000-01-01", "noleap", true},
		{"days since -4713-01-01", "julian", true},
		{"days since 1582-10-15", "gregorian", true},
		{"days since 1700-02-29", "julian", true},
		{"days since 1500-02-29", "", true}, // Julian then
		{"days since 1700-02-29", "proleptic_gregorian", false},
		{"days since 2000-02-30", "360_day", true},
		{"days since 2000-01-31", "360_day", false},
		{"days since 2000-02-30", "", false},
		{"days since 2001-02-29", "366_day", true},
		{"days since 2000-02-29", "noleap", false},
		{"days since 2000-13-01", "none", false},
		{"months since 2000-01-01", "", true}, // a recommendation against it, no requirement: rule 31
		{"years since 2000-01-01", "noleap", true},
		{"msec since 2000-01-01", "", true},
		{"days since 20000101", "", true},
		{"hours since 2000-01-01 -5:00", "", true},
		{"seconds since 1970-01-01T00:00:00.000Z", "", true},
		{"seconds since", "", true}, // no reference time at all: rule 14 says so
		{"days since 2000", "", false},
		{"days since 2000-01", "", false},
		{"seconds since 12:00", "", false},
	} {
		_, _, problem := referenceTime(c.units, c.calendar)
		if (problem == "") != c.good {
			t.Errorf("%s in the calendar %q: %q", c.units, c.calendar, problem)
		}
	}
}

// Valid files of other people are not accused: a climatology, whose time is twice in cell_methods (CF 7.4), and
// dates of other calendars.
func TestValidFilesOfOthersAreNotAccused(t *testing.T) {
	climatology := `netcdf x {
dimensions: time = 2 ; lat = 2 ; lon = 2 ; nv = 2 ;
variables:
  double time(time) ; time:standard_name = "time" ; time:units = "UNITS" ; time:calendar = "CALENDAR" ; time:climatology = "climatology_bounds" ;
  double climatology_bounds(time, nv) ;
  float lat(lat) ; lat:standard_name = "latitude" ; lat:units = "degrees_north" ;
  float lon(lon) ; lon:standard_name = "longitude" ; lon:units = "degrees_east" ;
  float sst(time, lat, lon) ; sst:standard_name = "sea_surface_temperature" ; sst:units = "degC" ; sst:units_metadata = "temperature: on_scale" ;
    sst:cell_methods = "time: mean within years time: mean over years" ;
  :Conventions = "CF-1.6" ;
data:
  time = 15, 45 ; climatology_bounds = 0, 3650, 31, 3681 ; lat = 1, 2 ; lon = 1, 2 ; sst = 1, 2, 3, 4, 5, 6, 7, 8 ;
}`
	for _, when := range [][2]string{{"days since 1990-1-1", "noleap"}, {"days since 0001-01-01", "standard"},
		{"days since 1999-02-30", "360_day"}, {"months since 1990-01-01", "standard"}} {
		text := strings.NewReplacer("UNITS", when[0], "CALENDAR", when[1]).Replace(climatology)
		f, err := nc.OpenFile(compile(t, text, "x.nc", "-k", "classic"))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range Check(f, "x.nc", false) {
			if x.Severity == metadata.Failure || x.Check == "cf.19" {
				t.Errorf("%v: %s %s: %s", when, x.Check, x.Variable, x.Message)
			}
		}
		f.Close()
	}
}

// notAccused are files of others by the text of CF 1.6 to 1.13, each of a kind: none has a fault, nor a warning of the
// rules named.
var notAccused = []struct {
	what, cdl string
	silent    []string // rules that may not even warn
}{
	{"flags and text without coordinates of their own, named in ancillary_variables; text along two dimensions; units 0.001", `netcdf x {
dimensions: profile = 2 ; z = 2 ; len = 4 ;
variables:
  int cast(profile) ; cast:cf_role = "profile_id" ; cast:long_name = "cast" ;
  double time(profile) ; time:standard_name = "time" ; time:units = "days since 2000-01-01" ; time:calendar = "standard" ;
  double lat(profile) ; lat:standard_name = "latitude" ; lat:units = "degrees_north" ;
  double lon(profile) ; lon:standard_name = "longitude" ; lon:units = "degrees_east" ;
  float z(z) ; z:standard_name = "depth" ; z:units = "m" ; z:positive = "Down" ; z:axis = "Z" ;
  float salinity(profile, z) ; salinity:standard_name = "sea_water_salinity" ; salinity:units = "0.001" ; salinity:coordinates = "time lat lon method" ;
    salinity:ancillary_variables = "salinity_qc salinity_err salinity_letter" ;
  byte salinity_qc(profile, z) ; salinity_qc:long_name = "flag" ; salinity_qc:flag_values = 1b, 4b ; salinity_qc:flag_meanings = "good bad" ;
  float salinity_err(profile, z) ; salinity_err:long_name = "error" ; salinity_err:units = "1e-3" ;
  char salinity_letter(profile, z) ; salinity_letter:long_name = "flag as a letter" ;
  char method(profile, z, len) ; method:long_name = "method of each value" ;
  char remark(profile, z, len) ; remark:long_name = "remark on each value" ;
  :Conventions = "CF-1.10" ; :featureType = "profile" ;
data:
  cast = 1, 2 ; time = 1, 2 ; lat = 1, 2 ; lon = 1, 2 ; z = 1, 2 ; salinity = 35, 35, 35, 35 ; salinity_qc = 1, 1, 1, 4 ; salinity_err = 1, 1, 1, 1 ;
  salinity_letter = "AB", "AB" ; method = "a", "b", "c", "d" ; remark = "a", "b", "c", "d" ;
}`, []string{"cf.11", "cf.13", "cf.15", "cf.29", "cf.35", "cf.40", "cf.62", "cf.63"}},
	{"a flag on a grid that names no coordinates, named in ancillary_variables", `netcdf x {
dimensions: z = 2 ; x = 2 ;
variables:
  float x(x) ; x:units = "km" ; x:axis = "X" ; x:long_name = "distance" ;
  float z(z) ; z:long_name = "pressure" ; z:units = "dbar" ;
  float lat(x) ; lat:standard_name = "latitude" ; lat:units = "degrees_north" ;
  float lon(x) ; lon:standard_name = "longitude" ; lon:units = "degrees_east" ;
  float oxygen(z, x) ; oxygen:long_name = "oxygen" ; oxygen:units = "umol kg-1" ; oxygen:coordinates = "lat lon" ; oxygen:ancillary_variables = "oxygen_flag" ;
    oxygen:cell_methods = "z: x: point" ;
  byte oxygen_flag(z, x) ; oxygen_flag:long_name = "flag" ; oxygen_flag:flag_values = 1b, 4b ; oxygen_flag:flag_meanings = "good bad" ;
  :Conventions = "CF-1.13, ACDD-1.3" ;
data:
  x = 1, 2 ; z = 1, 2 ; lat = 1, 2 ; lon = 1, 2 ; oxygen = 1, 2, 3, 4 ; oxygen_flag = 1, 1, 1, 1 ;
}`, []string{"cf.11", "cf.29", "cf.32", "cf.38", "cf.49"}},
	{"a parametric vertical coordinate and data gathered over land points", `netcdf x {
dimensions: s_rho = 2 ; lat = 2 ; lon = 2 ; point = 3 ; nv = 2 ;
variables:
  float lat(lat) ; lat:standard_name = "latitude" ; lat:units = "degrees_north" ;
  float lon(lon) ; lon:standard_name = "longitude" ; lon:units = "degrees_east" ;
  double s_rho(s_rho) ; s_rho:standard_name = "ocean_s_coordinate_g2" ; s_rho:positive = "up" ; s_rho:bounds = "s_w" ;
    s_rho:formula_terms = "s: s_rho C: Cs_r eta: zeta depth: h depth_c: hc" ;
  double s_w(s_rho, nv) ; s_w:formula_terms = "s: s_w C: Cs_w eta: zeta depth: h depth_c: hc" ;
  double Cs_r(s_rho) ; Cs_r:long_name = "stretching" ; Cs_r:units = "1" ;
  double Cs_w(s_rho, nv) ; Cs_w:long_name = "stretching of the bounds" ; Cs_w:units = "1" ;
  double hc ; hc:long_name = "critical depth" ; hc:units = "m" ;
  float h(lat, lon) ; h:standard_name = "sea_floor_depth_below_geoid" ; h:units = "m" ;
  float zeta(lat, lon) ; zeta:standard_name = "sea_surface_height_above_geoid" ; zeta:units = "m" ;
  int point(point) ; point:compress = "lat lon" ;
  float soil(point) ; soil:long_name = "moisture of the soil" ; soil:units = "kg m-2" ; soil:coordinates = "area_of_point" ; soil:cell_methods = "lat: lon: point" ;
  float area_of_point(lat, lon) ; area_of_point:long_name = "area" ; area_of_point:units = "m2" ;
  :Conventions = "CF-1.9" ;
data:
  lat = 1, 2 ; lon = 1, 2 ; s_rho = -0.7, -0.2 ; s_w = -1, -0.5, -0.5, 0 ; Cs_r = -0.6, -0.1 ; Cs_w = -1, -0.4, -0.4, 0 ; hc = 5 ; h = 10, 10, 10, 10 ;
  zeta = 0, 0, 0, 0 ; point = 3, 0, 1 ; soil = 1, 2, 3 ; area_of_point = 1, 1, 1, 1 ;
}`, []string{"cf.5", "cf.19", "cf.29", "cf.32", "cf.33", "cf.35", "cf.47", "cf.78", "cf.79"}},
	{"a trajectory at varying depth, and a horizontal axis in metres", `netcdf x {
dimensions: obs = 3 ; y = 2 ; x = 2 ;
variables:
  char drifter ; drifter:cf_role = "trajectory_id" ; drifter:long_name = "drifter" ;
  double time(obs) ; time:standard_name = "time" ; time:units = "days since 2000-01-01" ; time:calendar = "standard" ;
  double lat(obs) ; lat:standard_name = "latitude" ; lat:units = "degrees_north" ;
  double lon(obs) ; lon:standard_name = "longitude" ; lon:units = "degrees_east" ;
  double depth(obs) ; depth:standard_name = "depth" ; depth:units = "m" ; depth:positive = "down" ;
  float temp(obs) ; temp:long_name = "temperature" ; temp:units = "degC" ; temp:units_metadata = "temperature: on_scale" ; temp:coordinates = "time lat lon depth" ;
  :Conventions = "CF-1.8" ; :featureType = "trajectory" ;
data:
  drifter = "a" ; time = 1, 2, 3 ; lat = 1, 2, 3 ; lon = 1, 2, 3 ; depth = 1, 2, 1 ; temp = 1, 2, 3 ;
}`, []string{"cf.60", "cf.29"}},
	{"axes in metres that are not vertical", `netcdf x {
dimensions: y = 2 ; x = 2 ;
variables:
  double x(x) ; x:standard_name = "projection_x_coordinate" ; x:units = "m" ;
  double y(y) ; y:long_name = "northing, at sea level" ; y:units = "m" ; y:axis = "Y" ;
  float lat(y, x) ; lat:standard_name = "latitude" ; lat:units = "degrees_north" ;
  float lon(y, x) ; lon:standard_name = "longitude" ; lon:units = "degrees_east" ;
  float ice(y, x) ; ice:standard_name = "sea_ice_thickness" ; ice:units = "m" ; ice:coordinates = "lat lon" ; ice:cell_methods = "x: y: point" ;
  :Conventions = "CF-1.0" ;
data:
  x = 1, 2 ; y = 1, 2 ; lat = 1, 1, 2, 2 ; lon = 1, 2, 1, 2 ; ice = 1, 1, 1, 1 ;
}`, []string{"cf.11", "cf.29"}},
}

func TestKindsOfValidFilesAreNotAccused(t *testing.T) {
	for _, k := range notAccused {
		f, err := nc.OpenFile(compile(t, k.cdl, "x.nc"))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range Check(f, "x.nc", false) {
			if x.Severity == metadata.Failure || slices.Contains(k.silent, x.Check) {
				t.Errorf("%s: %s %s: %s", k.what, x.Check, x.Variable, x.Message)
			}
		}
		f.Close()
	}
}
