// Package export turns values into files: exchange CSV, tables and provenance. NetCDF, figures, reports, bags, and
// folders that appear whole or not at all have packages of their own below it.
//
//	err := export.WriteStations(w, rows)
package export
