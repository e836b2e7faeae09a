// Package export turns values into files: exchange CSV, tables, provenance, and folders that appear whole or not at all. NetCDF, figures
// and reports have packages of their own below it.
//
//	err := export.WriteStations(w, rows)
//	f, err := export.Begin(dir, "saltmarten-2026-05", nil)   // a folder that is not there until Commit
package export
