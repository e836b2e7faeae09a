// Package derived computes what follows from the measured columns of a cast: columns of TEOS-10 quantities beside them,
// and single numbers of the whole cast (mixed layer, heat content, steric height, first baroclinic mode). It changes no
// measured column, and gives no value where an input is missing or its flag is not usable.
//
//	var w derived.Workspace                                     // one for each goroutine
//	findings, err := derived.Columns(cast, derived.Options{}, &w) // appends asal, ctemp, sigma0, ...
//	mixed := derived.MixedLayerDepth(profile)
//
// Every derived column says in Comment and References how it was made, and carries the worst flag of its inputs.
package derived
