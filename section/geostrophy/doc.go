// Package geostrophy turns the casts of a section into dynamic height, geostrophic shear, velocity and transport by
// pairs of neighbouring stations, each with its uncertainty. It finds no reference level by itself, smooths nothing,
// and returns no number where it has none: a pair that is withheld has a status and a reason instead.
//
//	opts := geostrophy.DefaultOptions()
//	opts.Reference = geostrophy.Reference{Kind: geostrophy.AtPressure, PressureDbar: 2000}
//	result, err := geostrophy.Compute(sec, opts)  // sec *section.Section, casts in drawing order
//	result.Pairs[0].Velocity                      // m/s on result.Pairs[0].PressureDbar
//	result.Total[geostrophy.Volume].Value         // m3/s, with what it leaves out in result.Partial
//
// Velocity is positive to the left of the direction of travel from the first station to the second, in both
// hemispheres, unless Options.Positive says otherwise; every pair carries the true bearing towards which its numbers
// are positive.
//
// Sources are named beside each function: the TEOS-10 manual (IOC, SCOR and IAPSO 2010), Barker and McDougall 2020,
// Roquet et al. 2015. Choices of our own are marked "ours".
package geostrophy
