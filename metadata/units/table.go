package units

import (
	_ "embed" // the tables
	"encoding/csv"
	"strconv"
	"strings"
)

// A definition is one unit with all its spellings, a row of tables/units.csv. The definitions are those of UDUNITS
// 2.2.28 (its published database), whose units follow the SI brochure (9th edition, 2019) and NIST Special Publication
// 811 (2008); the test asks the program for each.
type definition struct {
	names    []string // full names: any mixture of upper and lower case is the same
	symbols  []string // symbols: case matters
	prefixed bool     // prefixes may come before it
	dim      dimension
	mantissa float64
	exponent int
	offset   float64
}

// A prefix is a row of tables/prefixes.csv: those of the SI (9th brochure, table 7) that UDUNITS 2.2.28 has.
type prefix struct {
	name     string
	symbols  []string
	exponent int
}

// A refusal is a row of tables/refused.csv: a spelling that means something else than its writer meant, or nothing. The
// table has a mark for those that UDUNITS accepts. Sources: CF conventions, section 3.1; UDUNITS 2.2.28 database.
type refusal struct{ reason, remedy string }

//go:embed tables/units.csv
var unitRows string

//go:embed tables/prefixes.csv
var prefixRows string

//go:embed tables/refused.csv
var refusedRows string

var (
	baseUnits   = [...]string{"m", "kg", "s", "K", "mol", "A"}
	duration    = dimension{2: 1}
	definitions = readDefinitions()
	prefixes    = readPrefixes()
	refusals    = readRefusals()
)

// rows returns the fields of an embedded table without its first line. A fault in a table is a fault of the build,
// which stops every test.
func rows(table string) [][]string {
	all, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		panic("units: " + err.Error())
	}
	return all[1:]
}

// tableNumber returns a number of an embedded table.
func tableNumber(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic("units: " + err.Error())
	}
	return x
}

func readDefinitions() (out []definition) {
	for _, r := range rows(unitRows) {
		d := definition{names: strings.Fields(r[0]), symbols: strings.Fields(r[1]), prefixed: r[2] == "yes",
			mantissa: tableNumber(r[4]), exponent: int(tableNumber(r[5])), offset: tableNumber(r[6])}
		for _, word := range strings.Fields(r[3]) { // such as "m2" or "s-1"
			for i, base := range baseUnits {
				switch power, ok := strings.CutPrefix(word, base); {
				case word == base:
					d.dim[i] = 1
				case ok && strings.IndexAny(power, "-123456789") == 0:
					d.dim[i] = int8(tableNumber(power))
				}
			}
		}
		out = append(out, d)
	}
	return out
}

func readPrefixes() (out []prefix) {
	for _, r := range rows(prefixRows) {
		out = append(out, prefix{r[0], strings.Fields(r[1]), int(tableNumber(r[2]))})
	}
	return out
}

func readRefusals() map[string]refusal {
	out := map[string]refusal{}
	for _, r := range rows(refusedRows) {
		out[r[0]] = refusal{r[2], r[3]}
	}
	return out
}
