//go:build cgo

package netcdf

import (
	"context"
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// People and organisations in the attributes of ACDD 1.3: names with commas stay whole, lists that belong together have
// one length, and what is not known is left out.
func TestPeopleAndOrganisations(t *testing.T) {
	type person = metadata.Person
	for _, k := range []struct {
		what   string
		cruise metadata.Cruise
		want   map[string]string // "": not there
	}{
		{"one chief scientist with a comma in the name, who has no institution",
			metadata.Cruise{Legs: []metadata.Leg{{ChiefScientist: person{Name: "Lark, Owen", Email: "o@example.org"}}},
				Institutions: []metadata.Institution{{Name: "Skerry Institute", ROR: "https://ror.org/012345654"}}},
			map[string]string{"creator_name": "Lark, Owen", "creator_email": "o@example.org", "creator_url": "",
				"creator_type": "person", "creator_institution": "Skerry Institute",
				"institution": "Skerry Institute", "institution_ror": "https://ror.org/012345654",
				"contributor_name": "", "contributor_role": ""}},
		{"two chief scientists, one with an address, and people with commas in names and roles",
			metadata.Cruise{Legs: []metadata.Leg{{ChiefScientist: person{Name: "Ragna Holm", Email: "a@b.org"}},
				{ChiefScientist: person{Name: "Bo"}}, {ChiefScientist: person{Name: "Ragna Holm"}}},
				People: []person{{Name: "Lark, Owen", Role: "CTD processing"}, {Name: "Ada Finch"}}},
			map[string]string{"creator_name": "Ragna Holm", "creator_email": "a@b.org",
				"contributor_name": "Bo; Lark, Owen; Ada Finch",
				"contributor_role": "chief scientist; CTD processing; contributor", "institution": "",
				"institution_ror": ""}},
		{"no comma anywhere",
			metadata.Cruise{People: []person{{Name: "Owen Lark", Role: "watch"}, {Name: "Ada Finch", Role: "watch"}}},
			map[string]string{"contributor_name": "Owen Lark, Ada Finch", "contributor_role": "watch, watch",
				"creator_name": "", "creator_type": ""}},
		{"commas and semicolons", metadata.Cruise{People: []person{{Name: "Lark, Owen", Role: "bottles; salts"},
			{Name: "Ada", Role: "watch"}}},
			map[string]string{"contributor_name": "Lark, Owen | Ada", "contributor_role": "bottles; salts | watch"}},
		{"several institutions, one without an identifier, none of them named after a person",
			metadata.Cruise{Institutions: []metadata.Institution{{Name: "Institute of Skerries, Marine Division"},
				{Name: "Brine Institute", ROR: "https://ror.org/012345654"}}},
			map[string]string{"creator_name": "Institute of Skerries, Marine Division", "creator_type": "institution",
				"creator_url":     "",
				"institution":     "Institute of Skerries, Marine Division; Brine Institute",
				"institution_ror": "https://ror.org/012345654 (Brine Institute)"}},
		{"publisher, authority, ships, instruments",
			metadata.Cruise{ID: "a", Authority: "org.example",
				Release: metadata.Release{Publisher: metadata.Publisher{Name: "Skerry Data Centre",
					Email: "d@example.org", URL: "https://example.org", Institution: "Skerry Institute"}},
				Ships:    []metadata.Ship{{Name: "RV Brine", Code: "ZZBR"}, {Name: "RV Fulmar"}},
				Projects: []string{"Strait Watch", "Slope, deep"}, Keywords: []string{"CTD", "strait"},
				Systems: []metadata.System{
					{Package: "frame of 24 bottles", Sensors: []metadata.Sensor{{Model: "thermometer 3"},
						{Model: "cell 4"}}},
					{Package: "frame of 24 bottles", Sensors: []metadata.Sensor{{Model: "cell 4"}, {}}}}},
			map[string]string{"naming_authority": "org.example", "publisher_name": "Skerry Data Centre",
				"publisher_email": "d@example.org", "publisher_url": "https://example.org",
				"publisher_institution": "Skerry Institute", "platform": "RV Brine, RV Fulmar", "platform_code": "ZZBR",
				"platform_vocabulary": "platform_code: ICES Platform Codes, NVS C17",
				"instrument":          "frame of 24 bottles, thermometer 3, cell 4",
				"project":             "Strait Watch; Slope, deep", "keywords": "CTD, strait", "id": "a_x"}},
		{"nothing known", metadata.Cruise{ID: "a"}, map[string]string{"naming_authority": "", "publisher_name": "",
			"platform": "", "instrument": "CTD", "release_status": "preliminary"}},
	} {
		var p plan
		x := Common{Cruise: &k.cruise}
		x.globals(&p, &file{idSuffix: "x", casts: []*section.Cast{makeCast("ZZFU20240501", "1", "1", 0, 2, 2, 5)}})
		for name, want := range k.want {
			if got := p.schema.Text(name); got != want {
				t.Errorf("%s: %s is %q, want %q", k.what, name, got, want)
			}
		}
		for _, a := range p.schema.Attrs {
			if s, ok := a.Value.(string); ok && (strings.TrimSpace(s) != s || strings.HasSuffix(s, ",") ||
				strings.HasSuffix(s, ";") || strings.Contains(s, ", ,")) {
				t.Errorf("%s: %s is %q, a list with a gap", k.what, a.Name, s)
			}
		}
	}
}

// Well-known text of the area, in the order of EPSG:4326: latitude first.
func TestBounds(t *testing.T) {
	for _, k := range []struct {
		track []orb.Point
		wkt   string
		west  float64
		east  float64
	}{
		{[]orb.Point{{-30, 60}}, "POINT (60 -30)", -30, -30},
		{[]orb.Point{{-30, 60}, {-30, 61.5}}, "LINESTRING (60 -30, 61.5 -30)", -30, -30},
		{[]orb.Point{{-30, 60}, {-28, 60}}, "LINESTRING (60 -30, 60 -28)", -30, -28},
		{[]orb.Point{{-30, 60}, {-20, 50}, {-25, 55}}, "POLYGON ((50 -30, 50 -20, 60 -20, 60 -30, 50 -30))", -30, -20},
		{[]orb.Point{{179, -1}, {-178, 2}},
			"MULTIPOLYGON (((-1 179, -1 180, 2 180, 2 179, -1 179)), ((-1 -180, -1 -178, 2 -178, 2 -180, -1 -180)))",
			179, -178},
		{[]orb.Point{{179, 1}, {182, 1}}, "MULTILINESTRING ((1 179, 1 180), (1 -180, 1 -178))", 179, -178},
		{[]orb.Point{{179, 1}, {-180, 3}}, "POLYGON ((1 179, 1 180, 3 180, 3 179, 1 179))", 179, 180},
		{[]orb.Point{{180, 1}, {-178, 3}}, "POLYGON ((1 -180, 1 -178, 3 -178, 3 -180, 1 -180))", -180, -178},
	} {
		b := trackArea(k.track)
		if got := b.wkt(); got != k.wkt || b.west != k.west || b.east != k.east {
			t.Errorf("%v: %s, %g to %g; want %s, %g to %g", k.track, got, b.west, b.east, k.wkt, k.west, k.east)
		}
	}
	for _, k := range [][4]float64{{170, 190, 170, -170}, {0, 359, 0, -1}, {-180, 180, -180, 180}, {0, 360, -180, 180},
		{181, 185, -179, -175}, {175, 180, 175, 180}} {
		if b := axesArea([]float64{-1, 2}, []float64{k[0], k[1]}); b.west != k[2] || b.east != k[3] || b.south != -1 ||
			b.north != 2 {
			t.Errorf("longitudes %g to %g: %+v", k[0], k[1], *b)
		}
	}
}

// A map states the extent of its grid, which is another than that of its casts; a section grid that of its track.
func TestExtentOfGridsIsTheirs(t *testing.T) {
	casts := fiveCasts() // 45 W to 43 W at 30.1234 N
	g := sectionGrid(8, 30)
	path := filepath.Join(t.TempDir(), "s.nc")
	if err := WriteGrid(context.Background(), path, common(), g, GridSource{Casts: casts, Section: "A13"}); err != nil {
		t.Fatal(err)
	}
	n := len(g.Track) - 1
	for name, want := range map[string]float64{"geospatial_lat_min": 30, "geospatial_lat_max": g.Track[n][1],
		"geospatial_lon_min": 178, "geospatial_lon_max": g.Track[n][0]} {
		if got := readBack(t, path).s.Attr(name); !reflect.DeepEqual(got, []float64{want}) {
			t.Errorf("section: %s is %v, want %g", name, got, want)
		}
	}
	m := mapGrid()
	path = filepath.Join(t.TempDir(), "m.nc")
	if err := WriteGrid(context.Background(), path, common(), m, GridSource{Casts: casts}); err != nil {
		t.Fatal(err)
	}
	r := readBack(t, path)
	lat, lon := m.Axes[1].Values, m.Axes[2].Values
	for name, want := range map[string]float64{"geospatial_lat_min": lat[0], "geospatial_lat_max": lat[len(lat)-1],
		"geospatial_lon_min": lon[0], "geospatial_lon_max": lon[len(lon)-1] - 360} {
		if got := r.s.Attr(name); !reflect.DeepEqual(got, []float64{want}) {
			t.Errorf("map: %s is %v, want %g", name, got, want)
		}
	}
	if got, want := r.s.Text("geospatial_bounds"), fmt.Sprintf("MULTIPOLYGON (((%g %g, ", lat[0],
		lon[0]); !strings.HasPrefix(got, want) || r.s.Text("geospatial_bounds_crs") != "EPSG:4326" {
		t.Errorf("bounds %q, want them to begin with %q", got, want)
	}
}

// Depth as data may be taken for a vertical coordinate by its standard name, so it says which way it counts (CF 4.3).
// cast is text in every file, whether its numbers are plain or not.
func TestDepthAndCast(t *testing.T) {
	casts := fiveCasts()
	for _, c := range casts {
		depth := make([]float64, c.Levels())
		copy(depth, c.PressureDbar)
		c.Columns = append(c.Columns, section.Column{Variable: metadata.MustVariable("depth"), Decimals: -1,
			Values: depth, Derived: true})
	}
	r := conform(t, writeCasts(t, common(), casts))
	if v := r.v(t, "depth"); v.Text("positive") != "down" || v.Text("standard_name") != "depth" {
		t.Errorf("depth: %v", v.Attrs)
	}
	if got := r.words["cast"]; len(got) != 5 || got[2] != "2" || got[0] != "1" {
		t.Errorf("cast: %q", got)
	}
}
