// Package gridding makes fields on a grid from casts: sections on distance and pressure, fields on longitude, latitude
// and pressure, each with an honest error, the reason why a point is empty, and how well it predicts a station it has
// not seen. It also traces level lines and filled bands of such fields. It reads no file and computes no velocity:
// those are by pair of casts, not from a grid.
//
//	g, findings, err := gridding.Map(sec, gridding.Options{Workers: 2}) // by optimal interpolation
//	ct := g.Fields[0] // ctemp; ctemp_err, ctemp_relerr, ctemp_mask, ctemp_flag follow
//	fmt.Println(g.Skill[0].RMS, ct.Units) // of left-out stations
//	h, findings, err := gridding.MapField("spring", casts, gridding.AnyArea(), gridding.Options{})
//	lines := contour.Lines(g.Axes[1].Values, g.Axes[0].Values, ct.Data, []float64{4, 8, 12})
//
// Grid values are what the method says, not measurements: see Options for the methods, and the Comment of each field
// for how it was made.
package gridding
