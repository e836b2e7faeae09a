// Package section holds casts, and puts them in order along a track. A Cast is plain data: columns of values on one
// pressure axis, with what its file says about it. A Section is casts in drawing order with the distance between them;
// Pairs are its neighbours. Stations are text, and lists of them have a small notation (ParseStations).
//
// It is not the place for the physics of sea water (section/seawater), for velocities (section/geostrophy), for reading
// files (ingest) or for judging values (ingest/qc).
//
//	list, err := section.ParseStations("1-12 except 7")
//	s, findings, err := section.Build(casts, section.BuildOptions{Name: "strait", Stations: list})
//	for _, p := range s.Pairs() {
//		fmt.Println(s.Casts[p.A].Station, s.Casts[p.B].Station, p.DistanceKm, p.AzimuthDeg)
//	}
package section
