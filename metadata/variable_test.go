package metadata_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
)

// parameters reads testdata/parameters.csv: names from the CF standard name table v83, the exchange parameter list (Aug
// 2020) and the NVS; gross limits are ours.
func parameters(t *testing.T) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/parameters.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, v := range r {
			m[rows[0][i]] = v
		}
		if !strings.HasPrefix(m["var"], "<") { // patterns of companion variables
			out = append(out, m)
		}
	}
	return out
}

// The table says what the parameter list says.
func TestVariablesAgainstParameters(t *testing.T) {
	limit := func(s string) float64 {
		if s == "" {
			return math.NaN()
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
	// Header fields of the exchange format are not columns: the table keeps them out.
	header := map[string]bool{"DEPTH": true, "LATITUDE": true, "LONGITUDE": true, "DATE": true}
	rows := parameters(t)
	for _, r := range rows {
		v, ok := metadata.ByName(r["var"])
		if !ok {
			t.Errorf("no variable %s", r["var"])
			continue
		}
		name, unit := r["whp_name"], r["whp_unit"]
		if header[name] {
			name, unit = "", ""
		}
		for _, c := range [][3]string{
			{"standard name", v.StandardName, r["standard_name"]}, {"units", v.Units, r["units"]},
			{"exchange name", v.Exchange, name},
			{"exchange unit", v.ExchangeUnit, unit}, {"P01", v.P01, r["p01"]}, {"P06", v.P06, r["p06"]},
		} {
			if c[1] != c[2] {
				t.Errorf("%s: %s is %q, the list has %q", v.Name, c[0], c[1], c[2])
			}
		}
		if v.P01Label != "" && v.P01Label != r["p01_label"] {
			t.Errorf("%s: label %q, the list has %q", v.Name, v.P01Label, r["p01_label"])
		}
		if !same(v.ValidMin, limit(r["valid_min"])) || !same(v.ValidMax, limit(r["valid_max"])) {
			t.Errorf("%s: limits %v %v, the list has %s %s", v.Name, v.ValidMin, v.ValidMax, r["valid_min"],
				r["valid_max"])
		}
		if d := limit(r["exchange_decimals"]); !(float64(v.ExchangeDecimals) == d || v.ExchangeDecimals == -1 &&
			math.IsNaN(d)) {
			t.Errorf("%s: %d decimals, the list has %q", v.Name, v.ExchangeDecimals, r["exchange_decimals"])
		}
	}
	if len(rows) < 45 {
		t.Errorf("%d rows", len(rows))
	}
}

// Every standard name is one of table v83 and no alias, and its units convert to the canonical ones (CF 3.1, 3.3).
func TestVariablesAgainstStandardNames(t *testing.T) {
	for _, v := range metadata.Variables() {
		if _, err := units.Parse(v.Units); err != nil {
			t.Errorf("%s: %v", v.Name, err)
		}
		if v.LongName == "" || v.Name == "" {
			t.Errorf("%+v has no name", v)
		}
		if v.StandardName == "" {
			continue
		}
		canonical, alias, ok := metadata.StandardName(v.StandardName)
		if !ok || alias {
			t.Errorf("%s: %s is not in the table, or an alias", v.Name, v.StandardName)
			continue
		}
		if v.Name == "time" {
			canonical = "seconds since 1970-01-01" // the table writes s; the coordinate needs a reference time (CF 4.4)
		}
		if _, err := units.Convert(v.Units, canonical); err != nil {
			t.Errorf("%s: %q against the canonical %q: %v", v.Name, v.Units, canonical, err)
		}
	}
}

func TestVariableNames(t *testing.T) {
	seen := map[string]bool{}
	pairs := map[string]bool{}
	for _, v := range metadata.Variables() {
		if seen[v.Name] {
			t.Errorf("%s twice", v.Name)
		}
		seen[v.Name] = true
		if v.Exchange == "" {
			continue
		}
		pair := v.Exchange + " " + v.ExchangeUnit
		if pairs[pair] {
			t.Errorf("%s names two quantities", pair)
		}
		pairs[pair] = true
		if got, ok := metadata.ByExchange(v.Exchange, v.ExchangeUnit); !ok || got.Name != v.Name {
			t.Errorf("%s: found %s", pair, got.Name)
		}
	}
	if _, ok := metadata.ByName("salinity"); ok {
		t.Error("found a variable that is not there")
	}
	for _, c := range [][2]string{{"CTDOXY", "MOL"}, {"", ""}, {"CTDXXX", "DBAR"}} {
		if v, ok := metadata.ByExchange(c[0], c[1]); ok {
			t.Errorf("%v is %s", c, v.Name)
		}
	}
	metadata.Variables()[0].Name = "changed"
	if metadata.Variables()[0].Name != "pres" {
		t.Error("the table can be changed from outside")
	}
	if metadata.MustVariable("temp").Scale != "ITS-90" {
		t.Error("temp has no scale")
	}
	defer func() {
		if recover() == nil {
			t.Error("MustVariable of an unknown name")
		}
	}()
	metadata.MustVariable("salinity")
}

// Numbers of names and aliases: cf.md section 1 (table v83 of 17 Oct 2023).
func TestStandardNames(t *testing.T) {
	for _, c := range []struct {
		name, units string
		alias, ok   bool
	}{
		{"sea_water_temperature", "K", false, true},
		{"sea_water_practical_salinity", "1", false, true},
		{"air_pressure_at_sea_level", "Pa", true, true},
		{"quality_flag", "1", false, true},
		{"sea_water_temprature", "", false, false},
		{"", "", false, false},
		{"name", "", false, false},
	} {
		units, alias, ok := metadata.StandardName(c.name)
		if units != c.units || alias != c.alias || ok != c.ok {
			t.Errorf("%q: %q %v %v", c.name, units, alias, ok)
		}
	}
	if got := metadata.StandardNameAlias("air_pressure_at_sea_level"); got != "air_pressure_at_mean_sea_level" {
		t.Errorf("alias of %q", got)
	}
	if got := metadata.StandardNameAlias("sea_water_temperature"); got != "" {
		t.Errorf("alias of %q", got)
	}
	names, aliases := metadata.CountStandardNames()
	if names != 4666 || aliases != 564 {
		t.Errorf("%d names, %d aliases", names, aliases)
	}
	if bad := metadata.OddAliases(); len(bad) > 0 {
		t.Errorf("aliases of what is no name: %v", bad)
	}
	// Canonical units are units that we understand, save those of no use at sea: becquerel, steradian, decibel, year.
	for _, u := range metadata.CanonicalUnits() {
		known := !strings.Contains(u, "Bq") && !strings.Contains(u, "sr") && !strings.HasPrefix(u, "dB") &&
			!strings.Contains(u, "year") && u != ""
		if _, err := units.Parse(u); err != nil && known {
			t.Error(err)
		}
	}
}
