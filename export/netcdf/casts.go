package netcdf

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// WriteCasts writes all casts of a cruise at path (ID_ctd.nc): a CF profile collection, orthogonal when the casts share one pressure
// lattice, with pressure by cast and level when one of them repeats a pressure, else contiguous ragged (Layout says which, and why). Each column becomes a variable, unlisted and text columns too, with its flags in force, the
// proposals of the checks, and the table of sensors. Casts keep the order given. An error of a cast names it by its ID.
func WriteCasts(ctx context.Context, path string, x *Common, casts []*section.Cast) error {
	if err := x.checkCasts(casts); err != nil {
		return err
	}
	b := newProfiles(x, casts, true)
	b.instances()
	b.bottom()
	if err := b.sensors(); err != nil {
		return err
	}
	b.vertical()
	b.columns()
	b.globals("CTD casts", "ctd_profiles", fmt.Sprintf("%s at their own levels, measured and derived, with quality flags", count(len(casts), "CTD cast")), nil)
	return b.p.write(ctx, path, x.Workers)
}

// profiles is a file of casts in the making, all of a cruise or those of a section.
type profiles struct {
	x      *Common
	p      plan
	casts  []*section.Cast
	l      *layout
	pres   group // pressure, which is a coordinate, for its flags
	groups []group

	profile     int    // dimensions
	level       int    // pres or obs
	coordinates string // of data at levels
	perCast     string // of data with one value a cast
	method      string // cell_methods of bin means; "" when the bins are not known
	table       bool   // there is a table of sensors
	counts      bool   // there is a number of scans of each bin
	names       map[string]bool
}

// A group is the columns of all casts that make one variable.
type group struct {
	name    string
	v       metadata.Variable
	columns []*section.Column // one for each cast; nil where it has none
	text    bool
	derived bool
	counts  bool     // the number of scans of each bin, all whole numbers
	force   *flagSet // flags in force that occur; nil when no value was evaluated
	auto    *flagSet // proposals that occur; nil when there are none or they are not wanted
}

// fixedNames are names of dimensions and of variables that files of casts have whatever was measured.
var fixedNames = []string{"profile_id", "expocode", "station", "cast", "cast_direction", "cast_role", "cast_section", "system", "system_label",
	"system_note", "sensor_system", "sensor_variable", "sensor_model", "sensor_serial", "sensor_calibrated", "sensor_stage", "time",
	"time_meaning", "time_precision", "lat", "lon", "bottom_depth", "pres", "pres_flag_woce", "pres_flag_auto", "pres_bnds",
	"row_size", "distance", "section_id", "profile", "obs", "level", "nv", "n_system", "n_sensor"}

// Reserved reports whether a column that is copied unchanged cannot have the name in every file of casts, since some may give it to another variable.
func Reserved(name string) bool {
	name = strings.ToLower(name)
	for _, suffix := range []string{"_flag_woce", "_flag_auto", "_derived"} {
		if base, ok := strings.CutSuffix(name, suffix); ok {
			if _, listed := metadata.ByName(base); listed {
				return true
			}
		}
	}
	for k := range 5 {
		if name == referenceName(1000*float64(k)) {
			return true
		}
	}
	return slices.Contains(fixedNames, name)
}

func newProfiles(x *Common, casts []*section.Cast, proposals bool) *profiles {
	b := &profiles{x: x, casts: casts, l: newLayout(casts), names: map[string]bool{}}
	b.profile = b.p.dim("profile", len(casts))
	switch {
	case b.l.ragged:
		b.level = b.p.dim("obs", b.l.obs)
	case b.l.aligned:
		b.level = b.p.dim("level", len(b.l.pressures))
	default:
		b.level = b.p.dim("pres", len(b.l.pressures))
	}
	b.coordinates, b.perCast = "time lat lon", "time lat lon"
	if b.l.ragged || b.l.aligned {
		b.coordinates += " pres"
	}
	for _, n := range fixedNames {
		b.names[n] = true
	}
	for k := range 5 {
		b.names[referenceName(1000*float64(k))] = true
	}
	b.groups = b.group()
	b.pres = group{name: "pres", v: metadata.Variable{LongName: "pressure"}, columns: make([]*section.Column, len(casts))}
	for i, c := range casts {
		b.pres.columns[i] = c.Column("pres")
	}
	b.pres.examine(b.l, proposals)
	for i := range b.groups {
		b.groups[i].examine(b.l, proposals)
		b.counts = b.counts || b.groups[i].counts
	}
	return b
}

// examine finds out which flags occur.
func (g *group) examine(l *layout, proposals bool) {
	if g.text || l.obs == 0 {
		return
	}
	g.counts = g.name == "nobs" && g.whole()
	if set, evaluated := occurring(l, g.columns, inForce); evaluated {
		g.force = &set
	}
	if proposals && slices.ContainsFunc(g.columns, func(c *section.Column) bool { return c != nil && c.Proposed != nil }) {
		set, _ := occurring(l, g.columns, proposed)
		g.auto = &set
	}
}

// flagNames gives the names of the group's flag variables.
func (g *group) flagNames() []string {
	var out []string
	if g.force != nil {
		out = append(out, g.name+"_flag_woce")
	}
	if g.auto != nil {
		out = append(out, g.name+"_flag_auto")
	}
	return out
}

// label adds names of label variables to the coordinates of all data.
func (b *profiles) label(names string) {
	b.coordinates += " " + names
	b.perCast += " " + names
}

// instances adds what is known of each cast.
func (b *profiles) instances() {
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
	b.p.text("station", dims, "len_station", words(func(c *section.Cast) string { return c.Station }), longName("station identifier"))
	// A cast number is text, as a station is: "1b" occurs, and readers of many archives meet one type.
	b.p.text("cast", dims, "len_cast", words(func(c *section.Cast) string { return c.Number }), longName("cast number at the station"))
	b.label("station cast")
	b.codes("cast_direction", "direction of the frame while the bins were filled", "unknown down up", func(c *section.Cast) int { return int(c.Direction) })
	b.codes("cast_role", "role of the cast at its station", "unstated primary repeat yoyo test aborted calibration",
		func(c *section.Cast) int { return int(c.Role) })
	if sections := words(func(c *section.Cast) string { return c.SectionID }); slices.ContainsFunc(sections, func(s string) bool { return s != "" }) {
		b.p.text("cast_section", dims, "len_cast_section", sections, longName("section designation in the header of the cast's file"))
	}
	b.times()

	lat, lon := make([]float64, len(b.casts)), make([]float64, len(b.casts))
	latDecimals, lonDecimals := section.Commonest{}, section.Commonest{}
	for i, c := range b.casts {
		lat[i], lon[i] = c.At.Lat(), c.At.Lon()
		lonDecimals.Add(c.AtDecimals[0], 1)
		latDecimals.Add(c.AtDecimals[1], 1)
	}
	v := latVar(dims, "latitude of the cast", true)
	v.Attrs = withDecimals(v.Attrs, latDecimals.Decimals())
	b.p.values(v, lat)
	v = lonVar(dims, "longitude of the cast", true)
	v.Attrs = withDecimals(v.Attrs, lonDecimals.Decimals())
	b.p.values(v, lon)
}

func longName(s string) nc.Attr { return nc.Attr{Name: "long_name", Value: s} }

func withDecimals(a []nc.Attr, decimals int) []nc.Attr {
	if decimals < 0 {
		return a
	}
	return append(a, nc.Attr{Name: "decimals", Value: int32(decimals)})
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
	v := timeVar([]int{b.profile}, long, true)
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
		b.codes("time_meaning", "what the time of the cast is the time of", "unstated start bottom end", func(c *section.Cast) int { return int(c.TimeIs) })
	}
	if dateOnly {
		b.codes("time_precision", "whether the hour of the cast is known; where it is not, time is 00:00 of the day", "date_and_time date_only",
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
	variable.Comment = b.x.Cruise.Casts.DepthFound
	a := quantity(&variable)
	vocabularyCodes(&a, &variable, false)
	a = withDecimals(a, decimals.Decimals())
	a.text("coordinates", b.perCast)
	a.text("coverage_content_type", "auxiliaryInformation")
	b.p.values(nc.Var{Name: "bottom_depth", Type: nc.Double, Dims: []int{b.profile}, Fill: fillValue, Attrs: a}, depth)
}

// vertical adds the pressure of the levels and, where the bins are declared, their edges.
func (b *profiles) vertical() {
	variable := metadata.MustVariable("pres")
	decimals := section.Commonest{}
	for _, c := range b.casts {
		if col := c.Column("pres"); col != nil {
			decimals.AddColumn(col)
			if col.Comment != "" {
				variable.Comment, variable.References = col.Comment, col.References
			}
		}
	}
	widths, labels, known := b.bins()
	switch {
	case known && !slices.ContainsFunc(labels, func(s string) bool { return s != labels[0] }):
		if labels[0] == "centre" {
			variable.LongName = "pressure bin centre, zero at the sea surface"
		} else {
			variable.LongName = "pressure at the " + labels[0] + " of the bin, zero at the sea surface"
		}
	default:
		variable.LongName = "sea pressure, zero at the sea surface"
	}
	uniform := known && !slices.ContainsFunc(widths, func(w float64) bool { return w != widths[0] }) &&
		!slices.ContainsFunc(labels, func(s string) bool { return s != labels[0] })
	if uniform && b.l.aligned {
		variable.Comment = joinNonEmpty("; ", variable.Comment, fmt.Sprintf("bins %g dbar wide, labelled at the %s", widths[0], labels[0]))
	}
	a := quantity(&variable)
	vocabularyCodes(&a, &variable, false)
	a.text("positive", "down")
	a.text("axis", "Z")
	a = withDecimals(a, decimals.Decimals())
	withBounds := known && (b.l.ragged || uniform && !b.l.aligned) // pressures of two dimensions have no bounds of two vertices (CF 1.12, 7.1)
	if withBounds {
		a.text("bounds", "pres_bnds")
	}
	a.text("coverage_content_type", "coordinate")
	if b.l.ragged {
		rows := make([]int32, len(b.l.rows))
		for i, n := range b.l.rows {
			rows[i] = int32(n)
		}
		var r attrs
		r.text("long_name", "number of levels in this cast")
		r.text("sample_dimension", "obs")
		if b.l.skipped > 0 {
			r.text("comment", fmt.Sprintf("%s without a pressure left out", count(b.l.skipped, "level")))
		}
		b.p.values(nc.Var{Name: "row_size", Type: nc.Int, Dims: []int{b.profile}, Attrs: r}, rows)
		a.text("ancillary_variables", strings.Join(b.pres.flagNames(), " "))
		b.p.chunks(nc.Var{Name: "pres", Type: nc.Double, Dims: []int{b.level}, Attrs: a}, func(c *nc.Chunk) {
			dst := nc.Values[float64](c)
			b.l.each(c, func(cast, level, n, at int) { copy(dst[at:at+n], b.casts[cast].PressureDbar[level:]) })
		})
	} else if b.l.aligned {
		if uniform {
			b.method = "sea_water_pressure: mean (bin average)"
		}
		a.text("ancillary_variables", strings.Join(b.pres.flagNames(), " "))
		b.p.chunks(nc.Var{Name: "pres", Type: nc.Double, Dims: b.dims(), Fill: fillValue, Attrs: a}, func(c *nc.Chunk) {
			dst := nc.Values[float64](c)
			b.l.each(c, func(cast, level, n, at int) { copy(dst[at:at+n], b.casts[cast].PressureDbar[level:]) })
		})
	} else {
		b.p.values(nc.Var{Name: "pres", Type: nc.Double, Dims: []int{b.level}, Attrs: a}, b.l.pressures)
	}
	if !withBounds {
		return
	}
	if b.l.ragged {
		b.method = "sea_water_pressure: mean (bin average)"
	} else {
		b.method = "pres: mean (bin average)"
	}
	b.p.chunks(nc.Var{Name: "pres_bnds", Type: nc.Double, Dims: []int{b.level, b.p.dim("nv", 2)}}, func(c *nc.Chunk) {
		dst := nc.Values[float64](c)
		put := func(pressures []float64, cast, from, n, at int) {
			for k := range n {
				dst[2*(at+k)], dst[2*(at+k)+1] = edges(pressures, from+k, widths[cast], labels[cast])
			}
		}
		if !b.l.ragged {
			put(b.l.pressures, 0, c.Start[0], c.Count[0], 0)
			return
		}
		b.l.each(c, func(cast, level, n, at int) { put(b.casts[cast].PressureDbar, cast, level, n, at) })
	})
}

// bins gives width and label of the bins of each cast as its system declares them; false when one is not declared.
func (b *profiles) bins() (widths []float64, labels []string, known bool) {
	for _, c := range b.casts {
		i := b.x.system(c.System)
		if i < 0 {
			return nil, nil, false
		}
		bin := b.x.Cruise.Systems[i].Bin
		if !(bin.WidthDbar > 0) || bin.Label == "" {
			return nil, nil, false
		}
		widths, labels = append(widths, bin.WidthDbar), append(labels, bin.Label)
	}
	return widths, labels, true
}

// group sorts the columns of all casts, except pressure, into variables in the order in which they are met. Columns of one name that
// differ in units, in being text, or in being derived are variables of their own: salinity may have been measured in one cast and derived
// from conductivity in another, and what is said of measured values (decimals, exchange name, sensor) would be wrong of the others.
func (b *profiles) group() []group {
	var groups []group
	for i, c := range b.casts {
		for k := range c.Columns {
			col := &c.Columns[k]
			if col.Name == "pres" {
				continue
			}
			at := slices.IndexFunc(groups, func(g group) bool {
				return g.v.Name == col.Name && g.v.Units == col.Units && g.text == (col.Text != nil) && g.derived == col.Derived && g.columns[i] == nil
			})
			if at < 0 {
				groups = append(groups, group{v: col.Variable, columns: make([]*section.Column, len(b.casts)), text: col.Text != nil, derived: col.Derived})
				at = len(groups) - 1
			}
			groups[at].columns[i] = col
		}
	}
	for _, listed := range []bool{true, false} { // columns that are carried through take no name of a variable or of its flags
		for i := range groups {
			name := groups[i].v.Name
			if _, ok := metadata.ByName(name); ok != listed {
				continue
			}
			if groups[i].derived && slices.ContainsFunc(groups, func(g group) bool { return g.v.Name == name && !g.derived }) {
				name += "_derived"
			}
			groups[i].name = b.free(name)
		}
	}
	return groups
}

// free gives a name by CF's rules (section 2.3: letters, digits, underscore, a letter first; different from all others in any case)
// that is as near to name as possible, and takes it together with those of its flags.
func (b *profiles) free(name string) string {
	safe := []byte(name)
	for i, ch := range safe {
		if !(ch >= 'a' && ch <= 'z' || ch >= 'A' && ch <= 'Z' || ch >= '0' && ch <= '9' || ch == '_') {
			safe[i] = '_'
		}
	}
	s := string(safe)
	if s == "" || !(s[0] >= 'a' && s[0] <= 'z' || s[0] >= 'A' && s[0] <= 'Z') {
		s = "column_" + s
	}
	if strings.HasPrefix(strings.ToLower(s), "len_") { // the lengths of texts are called so
		s = "column_" + s
	}
	suffixes := []string{"", "_flag_woce", "_flag_auto"}
	taken := func(suffix string) bool { return b.names[strings.ToLower(s+suffix)] }
	for base, n := s, 2; slices.ContainsFunc(suffixes, taken); n++ {
		s = base + "_" + strconv.Itoa(n)
	}
	for _, suffix := range suffixes {
		b.names[strings.ToLower(s+suffix)] = true
	}
	return s
}

// has says whether a variable of that name is in the file.
func (b *profiles) has(name string) bool {
	return name == "pres" || slices.ContainsFunc(b.groups, func(g group) bool { return g.name == name })
}

// columns adds a variable for each group, and those of its flags.
func (b *profiles) columns() {
	b.flags(&b.pres)
	for i := range b.groups {
		g := &b.groups[i]
		if g.text {
			b.textColumn(g)
			continue
		}
		b.column(g)
	}
	for _, g := range b.groups {
		if dbar, ok := sigmaReference(g.v.Name); ok && g.v.StandardName == "sea_water_sigma_theta" {
			referencePressure(&b.p, dbar)
		}
	}
}

// dims gives the dimensions of data at levels.
func (b *profiles) dims() []int {
	if b.l.ragged {
		return []int{b.level}
	}
	return []int{b.profile, b.level}
}

// whole says whether all values are whole numbers that an int holds.
func (g *group) whole() bool {
	for _, col := range g.columns {
		if col == nil {
			continue
		}
		for _, x := range col.Values {
			if x == x && x != float64(int32(x)) {
				return false
			}
		}
	}
	return true
}

// comment gives what is said of the columns, and of how many where it is not said of all: one cast may have been converted, another not.
func (g *group) comment() string {
	var all []string
	said, n := map[string]int{}, 0 // looked up only
	for _, col := range g.columns {
		if col == nil {
			continue
		}
		n++
		if col.Comment != "" {
			if said[col.Comment] == 0 {
				all = append(all, col.Comment)
			}
			said[col.Comment]++
		}
	}
	for i, c := range all {
		if said[c] < n {
			all[i] = fmt.Sprintf("%s (%d of %d casts)", c, said[c], n)
		}
	}
	return strings.Join(all, "; ")
}

func (b *profiles) column(g *group) {
	derived, decimals := g.derived, section.Commonest{}
	for _, col := range g.columns {
		if col != nil {
			decimals.AddColumn(col)
		}
	}
	v := g.v
	v.Comment = g.comment()
	if derived && v.Comment == "" && v.References == "" {
		v.Comment = "derived; the processing record says how"
	}
	if v.Units == "" && v.ExchangeUnit != "" {
		v.Comment = joinNonEmpty("; ", v.Comment, "unit as in the source: "+v.ExchangeUnit)
	}
	a := quantity(&v)
	if v.Name != g.name {
		a.text("source_name", v.Name)
	}
	vocabularyCodes(&a, &v, derived)
	if !derived {
		a = withDecimals(a, decimals.Decimals())
	}
	coordinates := b.coordinates
	if dbar, ok := sigmaReference(v.Name); ok && v.StandardName == "sea_water_sigma_theta" {
		coordinates += " " + referenceName(dbar)
	}
	a.text("coordinates", coordinates)
	if b.method != "" && !derived && !g.counts && v.Name != "etime" {
		a.text("cell_methods", b.method)
	}
	flags := g.flagNames()
	if !derived && !g.counts && b.counts {
		flags = append(flags, "nobs")
	}
	a.text("ancillary_variables", strings.Join(flags, " "))
	if b.table && !derived {
		a.text("instrument", "system")
	}
	if s := b.x.Cruise.Release.PerVariable[v.Name]; s != "" {
		a.text("release_status", s)
	}
	if g.counts {
		a.text("coverage_content_type", "auxiliaryInformation")
		b.p.chunks(nc.Var{Name: g.name, Type: nc.Int, Dims: b.dims(), Fill: missingCount, Attrs: a}, fillCounts(b.l, g.columns))
	} else {
		a.text("coverage_content_type", "physicalMeasurement")
		b.p.chunks(nc.Var{Name: g.name, Type: nc.Double, Dims: b.dims(), Fill: g.missing(), Attrs: a}, fillDoubles(b.l, g.columns))
	}
	b.flags(g)
}

// missing returns what stands for a missing value: fillValue, or the default of NetCDF where a column that is copied unchanged holds that number.
func (g *group) missing() float64 {
	const defaultOfNetCDF = 9.969209968386869e+36
	for _, c := range g.columns {
		if c != nil && slices.Contains(c.Values, fillValue) {
			return defaultOfNetCDF
		}
	}
	return fillValue
}

func fillDoubles(l *layout, columns []*section.Column) func(*nc.Chunk) {
	return func(c *nc.Chunk) {
		dst := nc.Values[float64](c)
		l.each(c, func(cast, level, n, at int) {
			if col := columns[cast]; col != nil {
				copyKnown(dst[at:], col.Values[level:level+n])
			}
		})
	}
}

// missingCount stands for a count that the source does not give; 0 is an empty bin.
const missingCount = int32(-999)

// fillCounts writes counts, missingCount where there is none.
func fillCounts(l *layout, columns []*section.Column) func(*nc.Chunk) {
	return func(c *nc.Chunk) {
		dst := nc.Values[int32](c)
		l.each(c, func(cast, level, n, at int) {
			for k := range n {
				dst[at+k] = missingCount
				if col := columns[cast]; col != nil && !math.IsNaN(col.Values[level+k]) {
					dst[at+k] = int32(col.Values[level+k])
				}
			}
		})
	}
}

// flags adds the flags in force of a group, unless nobody evaluated any value of it, and the proposals of the checks, if there are.
func (b *profiles) flags(g *group) {
	if g.force != nil {
		a := b.flagAttrs("WOCE CTD quality flag of " + g.name)
		g.force.attrs(&a, false)
		b.p.chunks(nc.Var{Name: g.name + "_flag_woce", Type: nc.Byte, Dims: b.dims(), Attrs: a}, fillFlags(b.l, g.columns, inForce))
	}
	if g.auto != nil {
		a := b.flagAttrs("WOCE CTD quality flag of " + g.name + ", as proposed by the automatic checks")
		g.auto.attrs(&a, true)
		if g.force != nil {
			a.text("comment", "proposals only; the flag in force is "+g.name+"_flag_woce")
		} else {
			a.text("comment", "proposals only; no flag is in force")
		}
		b.p.chunks(nc.Var{Name: g.name + "_flag_auto", Type: nc.Byte, Dims: b.dims(), Attrs: a}, fillFlags(b.l, g.columns, proposed))
	}
}

func (b *profiles) flagAttrs(long string) attrs {
	var a attrs
	a.text("standard_name", "quality_flag")
	a.text("long_name", long)
	a.text("coordinates", b.coordinates)
	a.text("coverage_content_type", "qualityInformation")
	return a
}

// textColumn adds a column that is kept as text.
func (b *profiles) textColumn(g *group) {
	width := 1
	clean := make([][]string, len(g.columns))
	for i, col := range g.columns {
		if col == nil {
			continue
		}
		clean[i] = make([]string, len(col.Text))
		for k, s := range col.Text {
			clean[i][k] = tidy(s)
			width = max(width, len(clean[i][k]))
		}
	}
	a := quantity(&g.v)
	if g.v.Name != g.name {
		a.text("source_name", g.v.Name)
	}
	vocabularyCodes(&a, &g.v, false)
	a.text("coordinates", b.coordinates)
	a.text("_Encoding", "utf-8")
	length := "len_" + g.name
	for b.p.schema.Dim(length) >= 0 { // of a text of ours, such as system_note
		length += "_text"
	}
	dims := append(b.dims(), b.p.dim(length, width))
	b.p.chunks(nc.Var{Name: g.name, Type: nc.Char, Dims: dims, Attrs: a}, func(c *nc.Chunk) {
		dst := nc.Values[byte](c)
		// The chunk is of whole strings, so the last dimension only scales what the layout says of the others.
		b.l.each(c, func(cast, level, n, at int) {
			if clean[cast] == nil {
				return
			}
			for k := range n {
				copy(dst[(at+k)*width:(at+k+1)*width], clean[cast][level+k])
			}
		})
	})
}

// sigmaReference gives the reference pressure in dbar of the potential density anomalies, sigma0 to sigma4.
func sigmaReference(name string) (dbar float64, ok bool) {
	if len(name) == 6 && strings.HasPrefix(name, "sigma") && name[5] >= '0' && name[5] <= '4' {
		return float64(name[5]-'0') * 1000, true
	}
	return 0, false
}

func referenceName(dbar float64) string { return "ref_pres_" + strconv.FormatFloat(dbar, 'f', -1, 64) }

// referencePressure adds the scalar coordinate that tells the potential density anomalies apart (their standard name is one). It has
// no axis: its units are those of pressure, but the data do not lie along it.
func referencePressure(p *plan, dbar float64) {
	if p.schema.Var(referenceName(dbar)) >= 0 {
		return
	}
	v := metadata.MustVariable("ref_pres")
	v.LongName = fmt.Sprintf("reference pressure of the potential density anomaly: %g dbar", dbar)
	a := quantity(&v)
	a.text("coverage_content_type", "referenceInformation")
	p.values(nc.Var{Name: referenceName(dbar), Type: nc.Double, Attrs: a}, []float64{dbar})
}

// globals closes the description of the file.
func (b *profiles) globals(what, suffix, summary string, extra []nc.Attr) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range b.casts {
		for _, p := range c.PressureDbar {
			if !math.IsNaN(p) {
				lo, hi = min(lo, p), max(hi, p)
			}
		}
	}
	bin := ""
	if widths, _, known := b.bins(); known && !slices.ContainsFunc(widths, func(w float64) bool { return w != widths[0] }) {
		bin = fmt.Sprintf("%g-dbar bin averages", widths[0])
	}
	b.x.globals(&b.p, &file{
		what: what, idSuffix: suffix, feature: "profile", dataType: "Profile", summary: summary, casts: b.casts,
		source:   joinNonEmpty("; ", "CTD casts lowered from a ship", bin),
		level:    joinNonEmpty(", ", bin, b.x.calibration(), b.x.status()),
		vertical: [2]float64{lo, hi}, verticalUnit: "dbar", extra: extra,
	})
}

// count gives "1 cast", "12 casts".
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}
