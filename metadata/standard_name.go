package metadata

import (
	"bytes"
	"compress/gzip"
	_ "embed" // the table of CF standard names
	"io"
	"strings"
	"sync"
)

//go:embed data/cf_standard_names.csv.gz
var standardNameFile []byte

// standardName is a row of the table: canonical units, and for an alias the name to write instead.
type standardName struct{ units, aliasOf string }

// standardNames unpacks the table when it is first asked for: name, canonical units, alias of; no field has a comma or
// quotes.
var standardNames = sync.OnceValue(func() map[string]standardName {
	z, err := gzip.NewReader(bytes.NewReader(standardNameFile))
	var text []byte
	if err == nil {
		text, err = io.ReadAll(z)
	}
	if err != nil {
		panic("metadata: standard names: " + err.Error())
	}
	lines := strings.Split(strings.TrimSuffix(string(text), "\n"), "\n")
	table := make(map[string]standardName, len(lines))
	for _, line := range lines[1:] {
		name, rest, _ := strings.Cut(line, ",")
		units, aliasOf, _ := strings.Cut(rest, ",")
		table[name] = standardName{units, aliasOf}
	}
	return table
})

// StandardName looks a name up in the CF standard name table v83. canonicalUnits is as the table writes it ("" for a
// name without units); alias says that the name is kept for old files only: StandardNameAlias returns the one to write.
func StandardName(name string) (canonicalUnits string, alias, ok bool) {
	n, ok := standardNames()[name]
	return n.units, n.aliasOf != "", ok
}

// StandardNameAlias returns the standard name to write instead of an alias; "" when name is no alias.
func StandardNameAlias(name string) string { return standardNames()[name].aliasOf }
