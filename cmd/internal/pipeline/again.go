package pipeline

import (
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// What verify needs to compute parts of an archive again with the settings of its cruise file.

// SectionOptions are the settings with which a section is built.
func SectionOptions(c *cruisefile.Cruise, s *cruisefile.Section) section.BuildOptions {
	return section.BuildOptions{Name: s.Name, Stations: s.Stations, Repeats: s.Repeats,
		Sphere: s.Distance != "" && s.Distance != "geodesic", NotCalibratedUsable: c.Casts.Uncalibrated}
}

// GeostrophyOptions are the settings of dynamic height and velocity of a section. known is its table of levels or velocities.
func GeostrophyOptions(c *cruisefile.Cruise, s *cruisefile.Section, known []geostrophy.Known) (geostrophy.Options, error) {
	return geostrophyOptions(c, s, known)
}

// GriddingOptions are the settings of the grid of a section; n works at once.
func GriddingOptions(c *cruisefile.Cruise, s *cruisefile.Section, n int) gridding.Options {
	return griddingOptions(c, &s.Grid, s.MaxGapDbar, s.Bottom == "deepest_bin", workers(n))
}
