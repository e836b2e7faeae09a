package pipeline

import (
	"strconv"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// nameCarried gives columns that are carried through one name in every file of the archive: those that differ in their
// name in the file, in unit, or in being text get names of their own, in the order in which the casts stand. A reader
// of single casts cannot see the others.
func nameCarried(casts []*section.Cast) {
	type kind struct {
		column, unit string
		text         bool
	}
	names := map[kind]string{}
	taken := map[string]bool{}
	for _, k := range casts {
		for i := range k.Columns {
			c := &k.Columns[i]
			if _, listed := metadata.ByName(c.Name); listed {
				continue
			}
			key := kind{c.Exchange, c.ExchangeUnit, c.Text != nil}
			name := names[key]
			if name == "" {
				name = c.Name
				for n := 2; taken[name] || netcdf.Reserved(name); n++ {
					name = c.Name + "_" + strconv.Itoa(n)
				}
				names[key], taken[name] = name, true
			}
			c.Name = name
		}
	}
}
