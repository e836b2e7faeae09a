package metadata

import "slices"

// What the tests of this package ask of the table of standard names.

// CountStandardNames counts names and aliases.
func CountStandardNames() (names, aliases int) {
	for _, n := range standardNames() {
		if n.aliasOf != "" {
			aliases++
		} else {
			names++
		}
	}
	return names, aliases
}

// OddAliases returns the aliases that are of no name, or for an alias.
func OddAliases() (bad []string) {
	for name, n := range standardNames() {
		if to, ok := standardNames()[n.aliasOf]; n.aliasOf != "" && (!ok || to.aliasOf != "") {
			bad = append(bad, name)
		}
	}
	slices.Sort(bad)
	return bad
}

// CanonicalUnits returns all units of the table.
func CanonicalUnits() (units []string) {
	for _, n := range standardNames() {
		units = append(units, n.units)
	}
	slices.Sort(units)
	return slices.Compact(units)
}
