package netcdf

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

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

// examine finds out which flags occur.
func (g *group) examine(l *layout, proposals bool) {
	if g.text || l.obs == 0 {
		return
	}
	g.counts = g.name == "nobs" && g.whole()
	if set, evaluated := occurring(l, g.columns, inForce); evaluated {
		g.force = &set
	}
	if proposals && slices.ContainsFunc(g.columns, func(c *section.Column) bool {
		return c != nil &&
			c.Proposed != nil
	}) {
		set, _ := occurring(l, g.columns, proposed)
		g.auto = &set
	}
}

// flagNames returns the names of the group's flag variables.
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

// group sorts the columns of all casts, except pressure, into variables in the order in which they are met. Columns of
// one name that differ in units, in being text, or in being derived are variables of their own: salinity may have been
// measured in one cast and derived from conductivity in another, and attributes of measured values (decimals, exchange
// name, sensor) would be wrong of the others.
func (b *profiles) group() []group {
	var groups []group
	for i, c := range b.casts {
		for k := range c.Columns {
			col := &c.Columns[k]
			if col.Name == "pres" {
				continue
			}
			at := slices.IndexFunc(groups, func(g group) bool {
				return g.v.Name == col.Name && g.v.Units == col.Units && g.text == (col.Text != nil) &&
					g.derived == col.Derived && g.columns[i] == nil
			})
			if at < 0 {
				groups = append(groups, group{v: col.Variable, columns: make([]*section.Column, len(b.casts)),
					text: col.Text != nil, derived: col.Derived})
				at = len(groups) - 1
			}
			groups[at].columns[i] = col
		}
	}
	for _, listed := range []bool{true, false} { // columns copied unchanged take no name of a variable or of its flags
		for i := range groups {
			name := groups[i].v.Name
			if _, ok := metadata.ByName(name); ok != listed {
				continue
			}
			if groups[i].derived &&
				slices.ContainsFunc(groups, func(g group) bool { return g.v.Name == name && !g.derived }) {
				name += "_derived"
			}
			groups[i].name = b.free(name)
		}
	}
	return groups
}

// free returns a name by CF's rules (section 2.3: letters, digits, underscore, a letter first; different from all
// others in any case) that is as near to name as possible, and takes it together with those of its flags.
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

// has reports whether a variable of that name is in the file.
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

// whole reports whether all values are whole numbers that an int holds.
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

// comment returns the comments of the columns, with the number of casts of those that not all have: one cast may have
// been converted, another not.
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
	bits := 0
	if derived {
		bits = bitsOf(v.Name)
		v.Comment = joinNonEmpty("; ", v.Comment, roundingText(bits))
	}
	a := quantity(&v)
	a.bits(bits)
	if v.Name != g.name {
		a.text("source_name", v.Name)
	}
	if !g.counts {
		a.text("source", b.x.source(v.Name, derived))
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
		a.text("release_status", string(s))
	}
	if g.counts {
		a.text("coverage_content_type", "auxiliaryInformation")
		b.p.chunks(nc.Var{Name: g.name, Type: nc.Int, Dims: b.dims(), Fill: missingCount, Attrs: a},
			fillCounts(b.l, g.columns))
	} else {
		a.text("coverage_content_type", "physicalMeasurement")
		v := double(g.name, a, b.dims()...)
		v.Fill = g.missing()
		b.p.chunks(v, fillDoubles(b.l, g.columns))
	}
	b.flags(g)
}

// missing returns the number of a missing value: fillValue, or the default of NetCDF where a column that is copied
// unchanged holds that number.
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

// flags adds the flags in force of a group, unless no value of it was evaluated, and the proposals of the checks,
// if there are.
func (b *profiles) flags(g *group) {
	if g.force != nil {
		a := b.flagAttrs("WOCE CTD quality flag of " + g.name)
		g.force.attrs(&a, false)
		b.p.chunks(nc.Var{Name: g.name + "_flag_woce", Type: nc.Byte, Dims: b.dims(), Attrs: a},
			fillFlags(b.l, g.columns, inForce))
	}
	if g.auto != nil {
		a := b.flagAttrs("WOCE CTD quality flag of " + g.name + ", as proposed by the automatic checks")
		g.auto.attrs(&a, true)
		if g.force != nil {
			a.text("comment", "proposals only; the flag in force is "+g.name+"_flag_woce")
		} else {
			a.text("comment", "proposals only; no flag is in force")
		}
		b.p.chunks(nc.Var{Name: g.name + "_flag_auto", Type: nc.Byte, Dims: b.dims(), Attrs: a},
			fillFlags(b.l, g.columns, proposed))
	}
}

func (b *profiles) flagAttrs(long string) attrs {
	var a attrs
	a.text(
		"standard_name", "quality_flag",
		"long_name", long,
		"coordinates", b.coordinates,
		"coverage_content_type", "qualityInformation",
	)
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
	a.text(
		"coordinates", b.coordinates,
		"_Encoding", "utf-8",
	)
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
