// Package ingest turns bytes into casts. It reads exchange CTD files (single, in folders and globs, in _ct1.zip
// bundles) and exchange bottle files, to the written standard, and tolerates what twenty years of such files hold: each
// deviation is a finding with its place, said once for each kind and file. What cannot be read is an error with line,
// column, what was found, and the line of a cruise file that gets past it.
//
//	casts, findings, err := ingest.Parse(data, "leg1/012_ct1.csv", ingest.Options{})
//
// It does not judge the values (package qc below it does) and writes nothing.
package ingest
