package ingest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// A column that the cruise file explains in another unit is converted when the unit measures the same (10 mS/cm = 1
// S/m; 0 degC = 273.15 K, both SI); else its values are taken as they are and a finding says so.
func TestAliasesWithUnits(t *testing.T) {
	for _, c := range []struct {
		edit    func(string) string
		alias   Alias
		want    float64
		digits  int
		unit    string
		message string
	}{
		{replace("CTDOXY", "CTDCOND", "UMOL/KG", "MS/CM", "220.8", "35.1234"), Alias{Column: "CTDCOND", Means: "cond"},
			3.51234, 5, "S/M", "CTDCOND is in MS/CM; converted to S m-1"},
		{replace("CTDOXY", "CTDCOND", "UMOL/KG", "S/M", "220.8", "3.51234"), Alias{Column: "CTDCOND", Means: "cond"},
			3.51234, 5, "S/M", ""},
		{replace("ITS-90", "K", "19.1840", "292.334"), Alias{Column: "CTDTMP", Means: "temp"}, 19.184, 4, "ITS-90",
			"CTDTMP is in K; converted to degC"},
		{replace("DBAR", "METERS"), Alias{Column: "CTDPRS", Means: "pres"}, 2, 1, "DBAR",
			`unit "METERS" of CTDPRS is not one of pres; the values are taken as DBAR, as the cruise file says`},
		{replace("UMOL/KG", "UMOL/L"), Alias{Column: "CTDOXY", Means: "oxy"}, 220.8, 1, "UMOL/KG",
			`unit "UMOL/L" of CTDOXY is not one of oxy; the values are taken as UMOL/KG, as the cruise file says`},
		{replace("PSS-78", "G/KG"), Alias{Column: "CTDSAL", Means: "psal"}, 34.6935, 4, "PSS-78",
			`unit "G/KG" of CTDSAL is not one of psal; the values are taken as PSS-78, as the cruise file says`},
	} {
		casts, found, err := Parse([]byte(c.edit(example(t))), "x_ct1.csv", Options{Aliases: []Alias{c.alias}})
		if err != nil {
			t.Error(describe(found, err))
			continue
		}
		k := casts[0].Column(c.alias.Means)
		if k == nil || k.Values[0] != c.want || k.MostDecimals() != c.digits || k.ExchangeUnit != c.unit {
			t.Errorf("%s: %+v", c.alias.Means, k)
			continue
		}
		if err := casts[0].Validate(); err != nil {
			t.Error(err)
		}
		said := describe(found, nil)
		if c.message == "" && strings.Contains(said, "onverted") || !strings.Contains(said, c.message) {
			t.Errorf("%s: %s", c.alias.Means, said)
		}
		if strings.Contains(c.message, "converted") && (!strings.HasPrefix(k.Comment, "converted from ") ||
			!strings.Contains(casts[0].Comments[0].Text, " converted from ")) {
			t.Errorf("comments %q, %q", k.Comment, casts[0].Comments[0].Text)
		}
	}
}

// Every unit of the table is one that metadata/units knows, and a listed one is not converted into itself.
func TestConversionsAreOfKnownUnits(t *testing.T) {
	for _, u := range exchangeUnits {
		v := metadata.Variable{Units: u.udunits}
		if c, ok := conversion(u.exchange, &v); metadata.ExchangeUnit(u.exchange) == u.exchange &&
			(!ok || !c.Identity()) {
			t.Errorf("%s as %s: %v", u.exchange, u.udunits, fmt.Sprint(c, ok))
		}
	}
}
