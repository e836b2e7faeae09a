//go:build cgo

package verify

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

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

// Valid files of other people are not accused: a climatology, whose time stands twice in cell_methods (CF 7.4), and dates of other calendars.
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
	for _, when := range [][2]string{{"days since 1990-1-1", "noleap"}, {"days since 0001-01-01", "standard"}, {"days since 1999-02-30", "360_day"}, {"months since 1990-01-01", "standard"}} {
		text := strings.NewReplacer("UNITS", when[0], "CALENDAR", when[1]).Replace(climatology)
		f, err := openNC(compile(t, text, "x.nc", "-k", "classic"))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range checkCF(f, "x.nc", false) {
			if x.Severity == metadata.Failure || x.Check == "cf.19" {
				t.Errorf("%v: %s %s: %s", when, x.Check, x.Variable, x.Message)
			}
		}
		f.close()
	}
}

// A file that the manifests vouch for and that is no NetCDF is a fault of the archive, not the end of verify.
func TestUnreadableNetCDFWithChecksums(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a")
	if err := copyOf(demoArchive(t), dir); err != nil {
		t.Fatal(err)
	}
	const rel = "data/sections/strait_section.nc"
	if err := rewrite(filepath.Join(dir, rel), []byte("hello")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "data/fields.nc"), []byte("hello"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := repair(dir); err != nil {
		t.Fatal(err)
	}
	r, err := Archive(t.Context(), Plan{Path: dir})
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, f := range r.Findings {
		if f.Check == "netcdf.read" {
			found[f.File] = true
		}
	}
	if !found[rel] || !found["data/fields.nc"] {
		t.Errorf("faults of reading: %v", found)
	}
}
