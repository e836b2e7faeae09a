package netcdf

import (
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// label adds names of label variables to the coordinates of all data.
func (b *profiles) label(names string) {
	b.coordinates += " " + names
	b.perCast += " " + names
}

// instances adds the identity, role, time and position of each cast.
func (b *profiles) instances() {
	b.identities()
	b.positions("lat", "lon", "Y", "X")
}

// identities adds the identity, role and time of each cast.
func (b *profiles) identities() {
	dims := []int{b.profile}
	words := func(get func(*section.Cast) string) []string {
		out := make([]string, len(b.casts))
		for i, c := range b.casts {
			out[i] = get(c)
		}
		return out
	}
	b.p.text("profile_id", dims, "len_id", words(b.x.id), nc.Attr{Name: "cf_role", Value: "profile_id"},
		longName("unique cast identifier: expocode, station, cast"))
	b.p.text("expocode", dims, "len_expocode", words(func(c *section.Cast) string { return c.Expocode }),
		longName("expocode of the cruise or leg of the cast"))
	b.p.text("station", dims, "len_station", words(func(c *section.Cast) string { return c.Station }),
		longName("station identifier"))
	// A cast number is text, as a station is: "1b" occurs, and readers of many archives meet one type.
	b.p.text("cast", dims, "len_cast", words(func(c *section.Cast) string { return c.Number }),
		longName("cast number at the station"))
	b.label("station cast")
	b.codes("cast_direction", "direction of the frame while the bins were filled", "unknown down up",
		func(c *section.Cast) int { return int(c.Direction) })
	b.codes("cast_role", "role of the cast at its station",
		"unstated primary repeat yoyo test aborted calibration other",
		func(c *section.Cast) int { return int(c.Role) })
	if sections := words(func(c *section.Cast) string { return c.SectionID }); slices.ContainsFunc(sections,
		func(s string) bool { return s != "" }) {
		b.p.text("cast_section", dims, "len_cast_section", sections,
			longName("section designation in the header of the cast's file"))
	}
	b.times()
}

// positions adds the position of each cast under two names. The axes are "" where other coordinates have them.
func (b *profiles) positions(latName, lonName, latAxis, lonAxis string) {
	lat, lon := make([]float64, len(b.casts)), make([]float64, len(b.casts))
	latDecimals, lonDecimals := section.Commonest{}, section.Commonest{}
	for i, c := range b.casts {
		lat[i], lon[i] = c.At.Lat(), c.At.Lon()
		lonDecimals.Add(c.AtDecimals[0], 1)
		latDecimals.Add(c.AtDecimals[1], 1)
	}
	v := coordinate("lat", latAxis, "latitude of the cast", b.profile)
	v.Name, v.Attrs = latName, withDecimals(v.Attrs, latDecimals.Decimals())
	b.p.values(v, lat)
	v = coordinate("lon", lonAxis, "longitude of the cast", b.profile)
	v.Name, v.Attrs = lonName, withDecimals(v.Attrs, lonDecimals.Decimals())
	b.p.values(v, lon)
}

// codes adds a byte for each cast; meanings are the words of 0, 1, 2 ...
func (b *profiles) codes(name, long, meanings string, get func(*section.Cast) int) {
	values := make([]int8, len(b.casts))
	for i, c := range b.casts {
		values[i] = int8(get(c))
	}
	set := make([]int8, len(strings.Fields(meanings)))
	for i := range set {
		set[i] = int8(i)
	}
	b.p.values(nc.Var{Name: name, Type: nc.Byte, Dims: []int{b.profile}, Attrs: []nc.Attr{longName(long),
		{Name: "flag_values", Value: set}, {Name: "flag_meanings", Value: meanings}}}, values)
}

// times adds the time of each cast and, where casts differ in that, what it is the time of and how precise it is.
func (b *profiles) times() {
	t := make([]float64, len(b.casts))
	mixed, dateOnly := false, false
	meaning := b.casts[0].TimeIs
	for i, c := range b.casts {
		t[i] = seconds(c.Time)
		mixed = mixed || c.TimeIs != meaning
		dateOnly = dateOnly || c.DateOnly
	}
	long := "time of the cast"
	if !mixed {
		switch meaning {
		case section.AtStart:
			long = "time at the start of the cast"
		case section.AtBottom:
			long = "time at the bottom of the cast"
		case section.AtEnd:
			long = "time at the end of the cast"
		}
	}
	v := coordinate("time", "T", long, b.profile)
	a := attrs(v.Attrs)
	var ancillary []string
	if mixed {
		ancillary = append(ancillary, "time_meaning")
	}
	if dateOnly {
		ancillary = append(ancillary, "time_precision")
	}
	a.text("ancillary_variables", strings.Join(ancillary, " "))
	v.Attrs = a
	b.p.values(v, t)
	if mixed {
		b.codes("time_meaning", "what the time of the cast is the time of", "unstated start bottom end",
			func(c *section.Cast) int { return int(c.TimeIs) })
	}
	if dateOnly {
		b.codes("time_precision", "whether the hour of the cast is known; where it is not, time is 00:00 of the day",
			"date_and_time date_only",
			func(c *section.Cast) int {
				if c.DateOnly {
					return 1
				}
				return 0
			})
	}
}

// bottom adds the water depth at each cast unless no cast has one.
func (b *profiles) bottom() {
	depth := make([]float64, len(b.casts))
	decimals := section.Commonest{}
	for i, c := range b.casts {
		depth[i] = c.BottomM
		if !math.IsNaN(c.BottomM) {
			decimals.Add(c.BottomDecimals, 1)
		}
	}
	if len(decimals) == 0 {
		return
	}
	variable := metadata.MustVariable("bottom_depth")
	variable.LongName = "water depth at the cast"
	variable.Comment = b.x.Cruise.DepthFound
	a := quantity(&variable)
	vocabularyCodes(&a, &variable, false)
	a = withDecimals(a, decimals.Decimals())
	a.text(
		"coordinates", b.perCast,
		"coverage_content_type", "auxiliaryInformation",
	)
	b.p.values(doubleOrMissing("bottom_depth", a, b.profile), depth)
}
