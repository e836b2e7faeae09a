package netcdf

import (
	"context"
	"fmt"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// WriteSection writes the casts of one section, in its order, at path (NAME_section.nc): featureType profile, each cast
// with its distance along the section, every column and the flags in force. profile_id leads to the cast file, where
// sensors and proposals are. The title may be "". A closed line has each cast once, and the length of the whole line in
// the attribute closing_distance.
func WriteSection(ctx context.Context, path string, x *Common, s *section.Section, title string) error {
	closed := s.Closed()
	around := s.DistanceKm
	s = s.Once()
	if err := x.checkCasts(s.Casts); err != nil {
		return fmt.Errorf("section %s: %w", s.Name, err)
	}
	if len(s.DistanceKm) != len(s.Casts) {
		panic(fmt.Sprintf("netcdf: section %s has %d distances for %d casts", s.Name, len(s.DistanceKm), len(s.Casts)))
	}
	b := newProfiles(x, s.Casts, newLayout(s.Casts), "profile", false)
	sectionID(&b.p, s.Name)
	b.coordinates += " distance"
	b.perCast += " distance"
	b.instances()
	b.label("section_id")
	b.bottom()
	a := distance("distance along the section from its first station", s.Method)
	a.text("coverage_content_type", "coordinate")
	b.p.values(double("distance", a, b.profile), s.DistanceKm)
	b.vertical()
	b.columns()
	extra := []nc.Attr{{Name: "section", Value: tidy(s.Name)}}
	if closed {
		extra = append(extra, nc.Attr{Name: "closed_line",
			Value: "after its last cast the section comes back to its first, at closing_distance, in km along it"},
			nc.Attr{Name: "closing_distance", Value: around[len(around)-1]})
	}
	b.globals("section "+named(s.Name, title), "section_"+s.Name,
		fmt.Sprintf("%s of section %s in the order of the section", count(len(s.Casts), "CTD cast"), s.Name),
		extra)
	return b.p.write(ctx, path, x.Workers)
}

// sectionID adds the name of the section as a plain label: a second cf_role would not be allowed.
func sectionID(p *plan, name string) {
	p.text("section_id", nil, "len_section", []string{name}, longName("section identifier"))
}

// distance returns the attributes of a distance along a section. It has no standard name and no axis: X is taken by
// longitude.
func distance(long string, along section.Method) attrs {
	v := metadata.MustVariable("distance")
	v.LongName = long
	v.Comment = "cumulative geodesic length on WGS 84 between consecutive stations"
	if along != section.WGS84 {
		v.Comment = "cumulative great-circle length on a sphere of radius 6371 km between consecutive stations"
	}
	return quantity(&v)
}

// named returns the name of a section with its title.
func named(name, title string) string {
	if title != "" {
		return name + ", " + title
	}
	return name
}
