// Package verify proves a finished archive, or judges one strange file, and reports every fault, not the first.
//
// An archive: the bag is complete and unchanged; every NetCDF file obeys the numbered CF rules (cf.go), every exchange file those of the
// exchange format (exchange.go); tables, bundles, provenance and NetCDF say the same; and derived values come out again when they are
// computed from what the archive holds.
//
//	report, err := verify.Archive(ctx, verify.Plan{Path: "demo/saltmarten-2026-05", All: true})
//	for _, f := range report.Findings { ... }        // f.Check is the rule: cf.21, exchange.1.8, bag.changed, recompute.velocity
//	report, err = verify.File(ctx, verify.Plan{Path: "strange.nc"})
//
// A NetCDF file is hostile until a manifest vouches for it: its hash is compared before it is opened, and what nothing vouches for is read
// in a child process with limits on time and memory (child.go), so that a crash in C becomes a fault that names the file.
package verify
