//go:build cgo

package ncprofile

import (
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// The examples of CF profile collections are read to the numbers that their CDL has: a common axis, of which a cast
// leaves out the levels that it has not; an axis for each cast; one cast after the other.
func TestProfilesOfExamples(t *testing.T) {
	nan := math.NaN()
	for name, want := range map[string]struct {
		pres     [2][]float64
		variable string
		values   [2][]float64
		flags    [2]string
		depth    [2]float64
	}{
		"profiles_orthogonal": {[2][]float64{{2, 4, 6, 8}, {2, 4, 6}}, "temp",
			[2][]float64{{21.5012, 21.4987, 21.4721, 21.3302}, {21.8101, 21.8055, 21.79}},
			[2]string{"2226", "227"}, [2]float64{5432, 5310}},
		"profiles_incomplete": {[2][]float64{{2.1, 4, 6.2, 8.1}, {3, 5.2}}, "psal",
			[2][]float64{{36.6012, 36.6015, 36.602, 36.61}, {36.5501, 36.5502}}, [2]string{},
			[2]float64{nan, nan}},
		"profiles_ragged": {[2][]float64{{2, 4, 6, 8}, {2, 4, 6}}, "temp",
			[2][]float64{{21.5012, 21.4987, 21.4721, 21.3302}, {21.8101, 21.8055, 21.79}},
			[2]string{"2226", "227"}, [2]float64{nan, nan}},
	} {
		out := filepath.Join(t.TempDir(), name+".nc")
		if b, err := exec.Command("ncgen", "-k", "nc4", "-o", out, "../../cmd/internal/cf/testdata/examples/"+name+
			".cdl").CombinedOutput(); err != nil {
			t.Fatalf("ncgen (package netcdf-bin): %v\n%s", err, b)
		}
		casts, found, err := ReadProfiles(out, Options{Name: name + ".nc"})
		if err != nil || len(casts) != 2 {
			t.Errorf("%s: %d casts, %v %v", name, len(casts), found, err)
			continue
		}
		for i := range casts {
			c := &casts[i]
			col := c.Column(want.variable)
			flags := ""
			if col != nil {
				for _, f := range col.Flags {
					flags += string('0' + rune(f))
				}
			}
			if len(c.Expocode) != 12 || c.Station != []string{"1", "2"}[i] || c.At[0] != -45 ||
				c.At[1] != 30+0.5*float64(i) || c.Time.Year() != 2024 ||
				!slices.Equal(c.PressureDbar, want.pres[i]) || col == nil ||
				!slices.Equal(col.Values, want.values[i]) || flags != want.flags[i] ||
				math.IsNaN(c.BottomM) != math.IsNaN(want.depth[i]) || c.BottomM > 0 && c.BottomM != want.depth[i] {
				t.Errorf("%s: cast %d: %+v", name, i, c)
			}
		}
	}
}

// What is no profile file is refused with the reason.
func TestProfilesRefused(t *testing.T) {
	for name, want := range map[string]string{"map_grid": "no position", "section_pairs": "is temperature, salinity"} {
		out := filepath.Join(t.TempDir(), name+".nc")
		if b, err := exec.Command("ncgen", "-k", "nc4", "-o", out, "../../cmd/internal/cf/testdata/examples/"+name+
			".cdl").CombinedOutput(); err != nil {
			t.Fatalf("ncgen (package netcdf-bin): %v\n%s", err, b)
		}
		if casts, _, err := ReadProfiles(out, Options{Name: name}); err == nil || casts != nil ||
			!strings.Contains(err.Error(), want) {
			t.Errorf("%s: %d casts, %v, want %s", name, len(casts), err, want)
		}
	}
}

const writeStyles = `
import sys, numpy as np, xarray as xr
out = sys.argv[1]
time = np.array(['2026-08-14T06:30', '2026-08-14T09:00', '2026-08-14T11:30'], 'datetime64[ns]')
lat, lon = np.array([54.5, 54.55, 54.6]), np.array([-10.25, -10.375, 349.5])
depth = [84., 104., 124.]
P = [np.arange(2., 2*n+1, 2.) for n in (5, 7, 9)]
T = [16 - 0.01*p for p in P]
S = [34 + 0.02*p for p in P]
S[1][2] = np.nan
def block(v, n=9):
    a = np.full((3, n), np.nan)
    for i, x in enumerate(v): a[i, :len(x)] = x
    return a
A = {'lat': {'standard_name': 'latitude', 'units': 'degrees_north'}, 'lon': {'standard_name': 'longitude', 'units': 'degrees_east'}}
# one: a common axis, standard names, stations as text
xr.Dataset({'sea_temperature': (('cast_index', 'pressure'), block(T), {'standard_name': 'sea_water_temperature', 'units': 'degC'}),
  'salinity': (('cast_index', 'pressure'), block(S), {'standard_name': 'sea_water_practical_salinity', 'units': '1'}),
  'latitude': ('cast_index', lat, A['lat']), 'longitude': ('cast_index', lon, A['lon']), 'time': ('cast_index', time, {'standard_name': 'time'}),
  'station': ('cast_index', ['21', '22', '23']), 'bottom': ('cast_index', depth, {'standard_name': 'sea_floor_depth_below_sea_surface', 'units': 'm'})},
  {'pressure': ('pressure', P[2], {'standard_name': 'sea_water_pressure', 'units': 'dbar'})}, {'featureType': 'profile'}).to_netcdf(out + '/one.nc')
# two: an axis for each cast, no standard names, units alone, numbers as stations, packed values, kelvin
d = xr.Dataset({'PRES': (('N', 'Z'), block(P), {'units': 'decibar'}), 'TEMP': (('N', 'Z'), block(T) + 273.15, {'units': 'K', 'standard_name': 'sea_water_temperature'}),
  'PSAL': (('N', 'Z'), block(S), {'units': 'psu'}), 'LAT': ('N', lat, {'units': 'degrees_north'}), 'LON': ('N', lon, {'units': 'degrees_east'}),
  'JULD': ('N', time), 'STATION': ('N', np.array([21, 22, 23])), 'BOTTOM_DEPTH': ('N', depth)})
d.to_netcdf(out + '/two.nc', encoding={'PSAL': {'dtype': 'int32', 'scale_factor': 0.0001, 'add_offset': 30., '_FillValue': -2147483647}, 'JULD': {'units': 'days since 1950-01-01'}})
# three: one file a cast, scalars for position and time, depth in place of a name for the dimension, station in a global attribute
for i in range(3):
  xr.Dataset({'temp': ('pres', T[i], {'standard_name': 'sea_water_temperature', 'units': 'degC'}), 'psal': ('pres', S[i], {'units': '1'}),
    'lat': ((), lat[i], A['lat']), 'lon': ((), lon[i], A['lon']), 'time': ((), time[i])}, {'pres': ('pres', P[i], {'units': 'dbar', 'axis': 'Z'})},
    {'station': str(21 + i), 'cast': '1'}).to_netcdf(out + '/three%d.nc' % i)
# five: as three, levels from the bottom to the surface
  xr.open_dataset(out + '/three%d.nc' % i).isel(pres=slice(None, None, -1)).to_netcdf(out + '/five%d.nc' % i)
# four: contiguous ragged
xr.Dataset({'pres': ('obs', np.concatenate(P), {'standard_name': 'sea_water_pressure', 'units': 'dbar'}), 'temp': ('obs', np.concatenate(T), {'standard_name': 'sea_water_temperature', 'units': 'degC'}),
  'psal': ('obs', np.concatenate(S), {'standard_name': 'sea_water_practical_salinity', 'units': '1e-3'}), 'rowSize': ('profile', [5, 7, 9], {'sample_dimension': 'obs'}),
  'lat': ('profile', lat, A['lat']), 'lon': ('profile', lon, A['lon']), 'time': ('profile', time), 'id': ('profile', ['21', '22', '23'], {'cf_role': 'profile_id'})}).to_netcdf(out + '/four.nc')
`

// Files that xarray wrote in five styles are read back to the casts that they came from.
func TestProfilesOfXarray(t *testing.T) {
	dir := t.TempDir()
	if b, err := exec.Command("/usr/bin/python3", "-W", "ignore", "-c", writeStyles, dir).CombinedOutput(); err != nil {
		t.Fatalf("python3 (needs Debian's python3-xarray and python3-netcdf4): %v\n%s", err, b)
	}
	o := func(name string) Options { return Options{Name: name, Legs: []ingest.Leg{{Expocode: "ZZSD20260812"}}} }
	for _, style := range []struct {
		files  []string
		within float64
	}{{[]string{"one.nc"}, 1e-9}, {[]string{"two.nc"}, 0.6e-4}, {[]string{"three0.nc", "three1.nc", "three2.nc"}, 1e-9},
		{[]string{"four.nc"}, 1e-9}, {[]string{"five0.nc", "five1.nc", "five2.nc"}, 1e-9}} {
		var casts []section.Cast
		for _, f := range style.files {
			c, found, err := ReadProfiles(filepath.Join(dir, f), o(f))
			if err != nil {
				t.Errorf("%s: %v %v", f, found, err)
			}
			if reversed := slices.ContainsFunc(found, func(f metadata.Finding) bool {
				return f.Check == "netcdf.order" && f.Severity == metadata.Note
			}); reversed != strings.HasPrefix(f, "five") {
				t.Errorf("%s: %v", f, found)
			}
			casts = append(casts, c...)
		}
		if len(casts) != 3 {
			t.Errorf("%s: %d casts", style.files[0], len(casts))
			continue
		}
		for i, n := range []int{5, 7, 9} {
			c := &casts[i]
			wantLon := []float64{-10.25, -10.375, -10.5}[i]
			if c.Station != []string{"21", "22", "23"}[i] || c.Number != "1" || math.Abs(c.At[0]-wantLon) > 1e-9 ||
				math.Abs(c.At[1]-54.5-0.05*float64(i)) > 1e-9 ||
				c.Time.Format("2006-01-02 15:04:05") != []string{"2026-08-14 06:30:00", "2026-08-14 09:00:00",
					"2026-08-14 11:30:00"}[i] || len(c.PressureDbar) != n {
				t.Errorf("%s: cast %d: %+v", style.files[0], i, c)
				continue
			}
			if len(style.files) == 1 && style.files[0] != "four.nc" && c.BottomM != []float64{84, 104, 124}[i] {
				t.Errorf("%s: cast %d: water depth %v", style.files[0], i, c.BottomM)
			}
			for k, p := range c.PressureDbar {
				s := 34 + 0.02*p
				if i == 1 && k == 2 {
					s = math.NaN()
				}
				temp, psal := c.Column("temp"), c.Column("psal")
				if temp == nil || psal == nil {
					t.Errorf("%s: cast %d has not temp and psal: %+v", style.files[0], i, c.Columns)
					break
				}
				if p != 2*float64(k+1) || math.Abs(temp.Values[k]-16+0.01*p) > style.within ||
					math.IsNaN(psal.Values[k]) != math.IsNaN(s) || math.Abs(psal.Values[k]-s) > style.within {
					t.Errorf("%s: cast %d level %d: %v %v %v", style.files[0], i, k, p, temp.Values[k], psal.Values[k])
				}
			}
		}
	}
}

// A small file that declares variables of many gigabytes is refused at once.
func TestProfilesOfTooManyValues(t *testing.T) {
	for n, want := range map[int]string{20_000: "declares variables of 3.2e+09 bytes", 20: "no latitude"} {
		path := filepath.Join(t.TempDir(), "x.nc")
		s := &nc.Schema{Dims: []nc.Dim{{Name: "profile", Len: n}, {Name: "pres", Len: n}}, Vars: []nc.Var{{Name: "temp",
			Type: nc.Double, Dims: []int{0, 1}, Chunks: []int{10, 10}, Deflate: 1}}}
		w, err := nc.Create(path, s)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if casts, _, err := ReadProfiles(path, Options{Name: "x.nc"}); err == nil || casts != nil ||
			!strings.Contains(err.Error(), want) {
			t.Errorf("%d: %d casts, %v, want %s", n, len(casts), err, want)
		}
	}
}
