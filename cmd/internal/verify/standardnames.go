package verify

import (
	_ "embed"
	"strings"
	"sync"
)

// The CF standard name table, version 83 (17 October 2023): name, canonical units, and of what it is an alias. See NOTICE.
//
//go:embed data/standard_names.csv
var standardNamesCSV string

// tableVersion is that of the table above.
const tableVersion = 83

type standardName struct{ canonical, aliasOf string }

var standardNames = sync.OnceValue(func() map[string]standardName {
	m := make(map[string]standardName, 6000)
	for _, line := range strings.Split(standardNamesCSV, "\n")[1:] {
		if f := strings.Split(line, ","); len(f) == 3 {
			m[f[0]] = standardName{f[1], f[2]}
		}
	}
	return m
})

// modifiers of standard names (CF Appendix C) and the units they give: "" those of the name, else these.
var modifiers = map[string]string{"detection_minimum": "", "standard_error": "", "number_of_observations": "1", "status_flag": "-"}

// deprecated modifiers are still read, and warned of (CF Appendix C).
var deprecatedModifiers = []string{"number_of_observations", "status_flag"}
