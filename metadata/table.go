package metadata

import (
	_ "embed" // the tables
	"encoding/csv"
	"math"
	"slices"
	"strconv"
	"strings"
)

// variableTable lists every quantity that castwright names: our name, CF standard name (table v83), units (UDUNITS),
// exchange name and unit, NVS P01 and P06 codes where they could be verified, gross physical limits (ours; empty: none)
// and the decimals that are customary on write (-1: none). Its order is that of files and listings.
//
//go:embed tables/variables.csv
var variableTable string

// exchangeSpellings lists spellings in exchange files of twenty years, as in the community's format description, a data
// centre's own template, public files and reader notes; a few are our own expectation of what turns up. Each row has a
// kind (parameter names in CTD files, in bottle files; units; header names), the listed spelling and others for it.
//
//go:embed tables/exchange_spellings.csv
var exchangeSpellings string

// exchangeUnits lists the units of each parameter in the published parameter list of the exchange format: the list that
// the format description (CC-BY-4.0, DOI 10.5281/zenodo.10858845) carried until it moved elsewhere in 2020; parameters
// and units that were listed later are not in it. An empty unit is none. Identification and position of a profile or
// bottle are among the parameters.
//
//go:embed tables/exchange_units.csv
var exchangeUnits string

var (
	variables   = readVariables()
	spellings   = readSpellings()
	listedUnits = readListedUnits()
)

// rows returns the fields of an embedded table, comments left out. A fault in a table is a fault of the build, which
// stops every test.
func rows(table string) [][]string {
	r := csv.NewReader(strings.NewReader(table))
	r.Comment, r.FieldsPerRecord = '#', -1
	all, err := r.ReadAll()
	if err != nil {
		panic("metadata: " + err.Error())
	}
	return all
}

func readVariables() (out []Variable) {
	limit := func(s string) float64 {
		if s == "" {
			return math.NaN()
		}
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			panic("metadata: " + err.Error())
		}
		return x
	}
	for _, r := range rows(variableTable)[1:] {
		out = append(out, Variable{Name: r[0], StandardName: r[1], LongName: r[2], Units: r[3], Scale: r[4],
			Exchange: r[5], ExchangeUnit: r[6], P01: r[7], P01Label: r[8], P06: r[9],
			ValidMin: limit(r[10]), ValidMax: limit(r[11]), ExchangeDecimals: int(limit(r[12]))})
	}
	return out
}

// readSpellings returns the listed spelling by kind and spelling seen.
func readSpellings() map[[2]string]string {
	out := map[[2]string]string{}
	for _, r := range rows(exchangeSpellings) {
		for _, seen := range r[2:] {
			out[[2]string{r[0], seen}] = r[1]
		}
	}
	return out
}

func readListedUnits() map[string][]string {
	out := map[string][]string{}
	for _, r := range rows(exchangeUnits) {
		out[r[0]] = r[1:]
	}
	return out
}

// listed returns the listed spelling of a name or unit seen in an exchange file, in upper case; one that is not in the
// table is only set in upper case.
func listed(kind, seen string) string {
	s := strings.ToUpper(seen)
	if t, ok := spellings[[2]string{kind, s}]; ok {
		return t
	}
	return s
}

// ExchangeName returns the listed parameter name of a name seen in an exchange file (bottle: in a bottle file), in
// upper case. SALT and OXY are samples in bottle files and sensors in CTD files. Any other name is returned in upper
// case.
func ExchangeName(seen string, bottle bool) string {
	if bottle {
		return listed("bottle", seen)
	}
	return listed("ctd", seen)
}

// ExchangeUnit returns the listed spelling of a unit seen in an exchange file, in upper case.
func ExchangeUnit(seen string) string { return listed("unit", seen) }

// ExchangeHeader returns the listed spelling of a header name seen in an exchange file, in upper case.
func ExchangeHeader(seen string) string { return listed("header", seen) }

// ListedPair reports whether the published parameter list of the exchange format has the pair of parameter and unit,
// written as there.
func ListedPair(name, unit string) bool { return slices.Contains(listedUnits[name], unit) }
