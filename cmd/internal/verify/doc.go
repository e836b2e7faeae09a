// Package verify checks a finished archive, or one file from anywhere, and reports every fault, not only the first.
//
// An archive: the bag is complete and unchanged; every NetCDF file obeys the numbered CF rules (package cf), every
// exchange file those of the exchange format (exchange.go); and everything comes out again when it is made from the
// inputs in the archive (recompute.go, whole.go). Where it has no inputs, tables, bundles and NetCDF files are compared
// with each other, and derived values are computed from the stored ones (again.go).
//
//	report, err := verify.Archive(ctx, verify.Plan{Path: "demo/saltmarten-2026-05", All: true})
//	for _, f := range report.Findings { ... }        // f.Check is the rule: cf.21, exchange.1.8, bag.changed, rebuild
//	report, err = verify.File(ctx, verify.Plan{Path: "other.nc"})
//
// This process opens no NetCDF file. Each is first read whole in a child process with limits on time and memory
// (child.go), those of an archive then in the child that computes again (recompute.go), so that a crash in C becomes a
// fault that names the file.
package verify
