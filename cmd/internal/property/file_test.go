package property

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// writeCruiseFile writes the tables and the cruise file.
func (c *cruise) writeCruiseFile() {
	c.castKeys()
	var b strings.Builder
	b.WriteString("cruise:\n  id: p" + fmt.Sprint(c.seed) + "\n")
	c.identity(&b)
	c.systems(&b)
	b.WriteString("casts:\n" + strings.Join(c.lines, "\n") + "\n")
	c.sections(&b)
	c.fields(&b)
	c.timeSeries(&b)
	b.WriteString(c.figures())
	if c.chance(0.2) {
		b.WriteString("inputs: omit\n")
	}
	if c.chance(0.4) {
		b.WriteString("derived: [" +
			strings.Join(some(c, 1+c.IntN(4), []string{"sigma1", "sigma2", "sigma3", "sigma4", "dens", "specvol_anom",
				"oxysat", "aou", "n2", "depth"}), ", ") + "]\n")
	}
	c.files["cruise.yaml"] = []byte(b.String())
}

func (c *cruise) identity(b *strings.Builder) {
	if c.chance(0.5) {
		b.WriteString("  ships: [{name: RV Saltmarten" + pick(c, "", ", code: ZZSM") + "}]\n")
	}
	if c.chance(0.7) {
		b.WriteString("  legs:\n")
		for _, leg := range c.legs {
			fmt.Fprintf(b, "    - {expocode: %s%s}\n", leg, pick(c, "", ", start: 2026-05-01, end: 2026-06-01",
				", from: Skerrywick, chief_scientist: {name: Ragna Holm, email: ragna@example.org}"))
		}
	}
	for _, line := range some(c, c.IntN(5), []string{
		"people: [{name: Owen Lark, role: CTD processing}, {name: \"Finch, Ada\"}]",
		"institutions: [{name: Skerry Institute, ror: \"https://ror.org/012345654\"}]",
		"projects: [Strait Watch]", "region: northern strait", "title: 'Casts: a \"test\" & <more>'",
		"summary: Größe 5 µm", "keywords: [CTD, strait]", "naming_authority: org.example",
		"references: [\"https://doi.org/10.5555/12345678\"]", "funding: [Skerry Council grant 12]"}) {
		b.WriteString("  " + line + "\n")
	}
	b.WriteString(pick(c, "", "", "release: {status: underway}\n",
		"release: {status: preliminary, version: '1.0', date: 2026-07-01, licence: CC0-1.0}\n",
		"release: {status: preliminary, embargo: 2027-01-01, contact: data@example.org, publisher: {name: Skerry "+
			"Data Centre, url: \"https://example.org\"}}\n"))
}

func (c *cruise) systems(b *strings.Builder) {
	if c.chance(0.4) {
		return
	}
	b.WriteString("systems:\n")
	labels := []string{"main", "second"}[:1+c.IntN(2)]
	for i, label := range labels {
		fmt.Fprintf(b, "  - label: %s\n", label)
		if i > 0 {
			fmt.Fprintf(b, "    stations: %s\n", c.list(c.casts[len(c.casts)-1:]))
		}
		for _, line := range some(c, c.IntN(6), []string{"bin: {width: 2, label: centre}",
			"sensors: [{variables: [temp, psal], serial: P-001, calibrated: 2026-01-20}, {variables: [oxy], " +
				"model: invented}]",
			"salinity: {stage: adjusted to bottles, by: Owen Lark, date: 2026-05-16, residual: 0.0012}",
			"oxygen: laboratory", "deck: {offset: 0.3, applied: yes}", "upstream: [despiked]",
			"accuracy: {salinity: 0.003, temperature: 0.002, pressure: 2, common_fraction: 0.5}"}) {
			b.WriteString("    " + line + "\n")
		}
	}
}

// castKeys adds the keys under casts, and the tables that they name.
func (c *cruise) castKeys() {
	c.renames()
	if c.chance(0.35) {
		c.stationTable()
	}
	if c.chance(0.3) {
		c.edits()
	}
	if c.chance(0.35) {
		c.bottles()
	}
	if c.chance(0.12) {
		c.depthGrid()
	}
	for _, x := range []struct {
		p    float64
		line string
	}{{0.4, "time: " + pick(c, "start", "bottom", "end")}, {0.3, "depth: echo sounder"}, {0.1, "uncalibrated: usable"},
		{0.1, "max_gap: " + pick(c, "none", "30", "500")},
		{0.25, "lenient: yes"}, {0.08, "direction: up"}, {0.06, "clock: [{stations: all, zone: \"+02:00\"}]"},
		{0.05, "clock: [{stations: all, offset: \"-00:03:10\", of: files}]"}} {
		if c.chance(x.p) && !(strings.HasPrefix(x.line, "clock") &&
			slices.ContainsFunc(c.lines, func(s string) bool { return strings.HasPrefix(s, "  clock") })) {
			c.lines = append(c.lines, "  "+x.line)
		}
	}
	if c.place.lake && c.chance(0.8) {
		c.lines = append(c.lines, "  water: lake")
	}
	if c.place.ice && c.chance(0.8) {
		c.lines = append(c.lines, "  ice: shelf", "  ice_base: "+pick(c, "120", "2.5", "300"))
	}
	aliases := []string{"{column: CTDTMP2, means: temp2}", "{column: CTDSAL2, means: psal2}",
		"{column: CTDOXY2, means: oxy2}", "{column: CTDCOND, means: cond}", "{column: CTDTURB, unit: NTU, means: turb}",
		"{column: ALTIM, means: hab}"}
	if c.chance(0.6) {
		used := some(c, 1+c.IntN(6), aliases)
		if c.chance(0.95) { // one that explains no column is an error
			used = slices.DeleteFunc(used, func(a string) bool {
				column, _, _ := strings.Cut(strings.TrimPrefix(a, "{column: "), ",")
				return !strings.Contains(c.heads, ","+column+",")
			})
		}
		if len(used) > 0 {
			c.lines = append(c.lines, "  aliases: ["+strings.Join(used, ", ")+"]")
		}
		if slices.Contains(used, aliases[1]) && c.chance(0.5) {
			c.lines = append(c.lines, "  report: [{psal: psal2}]")
		}
	}
	if c.chance(0.25) {
		var roles []string
		n := 1 + c.IntN(3)
		if c.chance(0.8) { // else sections may be left without a cast
			n = min(n, (len(c.casts)-1)/2)
		}
		for _, k := range some(c, n, c.casts[len(c.casts)/3:]) {
			roles = append(roles, fmt.Sprintf("{%s: %s}", pick(c, "yoyo", "yoyo", "repeat", "test", "aborted",
				"calibration", "primary"), c.one(k)))
		}
		if len(roles) > 0 {
			c.lines = append(c.lines, "  role: ["+strings.Join(roles, ", ")+"]")
		}
	}
	if c.chance(0.08) {
		c.lines = append(c.lines, "  up: "+c.one(pick(c, c.casts...)))
	}
}

// renames adds the keys that leave casts out or call them otherwise. Tables and sections use the names that casts have
// then.
func (c *cruise) renames() {
	if c.chance(0.08) && len(c.casts) > 2 {
		k := pick(c, c.casts...)
		k.out = true
		what := "cast: " + c.one(k)
		if c.chance(0.4) {
			what = "file: " + strconv.Quote(k.file)
		}
		c.lines = append(c.lines, "  leave_out: [{"+what+", reason: winch stopped}]")
	}
	if c.chance(0.08) {
		k := pick(c, c.casts...)
		from := "from: " + c.one(k)
		if c.chance(0.4) {
			from = "file: " + strconv.Quote(k.file)
		}
		if !k.out {
			k.station, k.number = "77", "1"
			c.lines = append(c.lines, "  renumber: [{"+from+", to: 77/1, why: typing error}]")
		}
	}
}

func (c *cruise) sections(b *strings.Builder) {
	if c.chance(0.12) {
		return
	}
	b.WriteString("sections:\n")
	for i := range 1 + c.IntN(2) {
		name := fmt.Sprintf("s%d", i+1)
		line := slices.Clone(c.casts)
		if i > 0 {
			line = line[:1+c.IntN(len(line))]
		}
		if c.chance(0.2) {
			slices.Reverse(line)
		}
		list := c.list(line)
		if c.chance(0.1) {
			list = "all"
		}
		closed := list != "all" && len(line) > 2 && c.chance(0.2)
		if closed {
			list = strings.TrimSuffix(list, "'") + ", " + strings.TrimPrefix(c.list(line[:1]), "'")
		}
		keys := []string{"name: " + name, "stations: " + list}
		add := func(p float64, format string, a ...any) {
			if c.chance(p) {
				keys = append(keys, fmt.Sprintf(format, a...))
			}
		}
		low := c.deepest() * c.between(0.05, 1.1)
		ref := pick(c, "deepest", fmt.Sprintf("%.0f", low), "0", fmt.Sprintf("{sigma0: %.2f}", c.between(24, 28)),
			fmt.Sprintf("{sigma2: %.2f}", c.between(33, 37.1)), "")
		if ref == "" {
			ref = c.reference(name, line)
		}
		add(0.7, "reference: %s", ref)
		add(0.4, "triangle: %s", pick(c, "none", "constant_velocity", "constant_shear", "linear_to_zero"))
		positive := c.positive(line)
		if closed && c.chance(0.9) {
			positive = pick(c, "in", "out", "left", "right")
		}
		add(0.4, "positive: %s", positive)
		add(0.4, "repeats: %s", pick(c, "deepest", "first", "last", "nearest_in_time", "mean"))
		add(0.3, "interpolation: %s", pick(c, "linear", "pchip", "rotated"))
		add(0.2, "distance: %s", pick(c, "sphere", "sphere_at_level"))
		add(0.2, "bottom: deepest_bin")
		add(0.2, "max_gap: %s", pick(c, "none", "20", "200"))
		add(0.2, "surface_carry: %s", pick(c, "0", "10", "300"))
		add(0.2, "planned: %s", c.list(append(line, &cast{station: "99"})))
		add(0.25, "layers: [0, %.0f, %.0f]", low/2+1, low+2)
		add(0.2, "classes: {%s}", pick(c, "sigma0: [20, 25, 26.5, 27.5, 28]", "sigma2: [30, 36, 36.9, 38]",
			"sigma4: [45, 45.8, 46]"))
		add(0.15, "uncertainty: %s", pick(c, "20", "{members: 10, seed: 7}"))
		add(0.15, "reference_salinity: 34.9")
		add(0.15, "reference_temperature: 0")
		add(0.15, "equatorial_estimate: yes")
		add(0.15, "title: 'A, \"b\" & c'")
		keys = append(keys, "grid: "+c.grid(len(line), false))
		fmt.Fprintf(b, "  - {%s}\n", strings.Join(keys, ", "))
	}
}

// positive returns a word for the positive direction; one time in twenty any word, which may be undefined on the line.
func (c *cruise) positive(line []*cast) string {
	north, east := math.Abs(line[len(line)-1].lat-line[0].lat),
		math.Abs(line[len(line)-1].lon-line[0].lon)*math.Cos(line[0].lat*math.Pi/180)
	words := []string{"left", "right"}
	switch {
	case c.chance(0.05):
		words = append(words, "east", "north")
	case north > 2*east:
		words = append(words, "east")
	case east > 2*north:
		words = append(words, "north")
	}
	return pick(c, words...)
}

func (c *cruise) deepest() float64 {
	deep := 0.0
	for _, k := range c.casts {
		for _, p := range k.pressures {
			deep = max(deep, p)
		}
	}
	return max(deep, 1)
}

// grid writes the settings of a grid; its steps keep it small.
func (c *cruise) grid(n int, field bool) string {
	methods := []string{"optimal", "optimal", "linear", "successive", "triangles", "natural", "choose", "density",
		"none"}
	if field {
		methods = methods[:7]
	}
	keys := []string{"method: " + pick(c, methods...)}
	add := func(p float64, format string, a ...any) {
		if c.chance(p) {
			keys = append(keys, fmt.Sprintf(format, a...))
		}
	}
	if !field {
		first, last := c.casts[0], c.casts[len(c.casts)-1]
		length := 111 * math.Hypot(last.lat-first.lat, (last.lon-first.lon)*math.Cos(first.lat*math.Pi/180))
		add(0.85, "step_km: %.3f", min(max(0.01, length/c.between(5, 15)), 1000))
	}
	add(0.85, "step_dbar: %.1f", max(0.1, c.deepest()/c.between(5, 25)))
	add(0.2, "length_km: %.1f", c.between(1, 200))
	add(0.2, "length_dbar: %.0f", max(1, c.deepest()/4))
	add(0.15, "noise: %.3f", c.between(0.001, 0.5))
	add(0.3, "neighbours: %d", 8+c.IntN(30))
	add(0.2, "max_error: %s", pick(c, "0.2", "0.9", "1"))
	add(0.3, "vertical: %s", pick(c, "linear", "pchip", "akima", "reiniger-ross"))
	add(0.4, "variables: [%s]",
		strings.Join(some(c, 1+c.IntN(4), []string{"ctemp", "asal", "oxy", "temp", "psal", "sigma0", "ptemp",
			"sound_speed", "chl", "temp2", "spice0", "aou", "n2", "xmiss"}), ", "))
	return "{" + strings.Join(keys, ", ") + "}"
}

func (c *cruise) fields(b *strings.Builder) {
	if !c.chance(0.3) {
		return
	}
	b.WriteString("fields:\n")
	keys := []string{"name: survey", "grid: " + c.grid(len(c.casts), true)}
	deep := c.deepest()
	if c.chance(0.9) {
		keys = append(keys, fmt.Sprintf("levels: [%.1f, %.1f, %.1f]", deep*0.1, deep*0.5, deep*0.8+1))
	}
	if c.chance(0.3) {
		keys = append(keys, "stations: all")
	}
	if c.chance(0.3) {
		keys = append(keys, fmt.Sprintf("longitude: [%.2f, %.2f]", c.casts[0].lon-1, c.casts[0].lon+2),
			fmt.Sprintf("latitude: [%.2f, %.2f]", max(-90, c.casts[0].lat-1), min(90, c.casts[0].lat+1)),
			fmt.Sprintf("step: %s", pick(c, "0.5", "[0.5, 0.25]")))
	}
	if c.chance(0.5) {
		keys = append(keys, "surfaces: {"+pick(c, "sigma0: [24, 26.5, 27.4]", "sigma2: [36, 36.8]",
			"sigma4: [45.2]")+"}")
	}
	fmt.Fprintf(b, "  - {%s}\n", strings.Join(keys, ", "))
}

func (c *cruise) timeSeries(b *strings.Builder) {
	if !c.chance(0.35) {
		return
	}
	if c.chance(0.1) {
		b.WriteString("time_series: none\n")
		return
	}
	from := c.IntN(len(c.casts))
	keys := []string{"name: t1", "stations: " + pick(c, "all", c.list(c.casts[from:]))}
	if c.chance(0.2) {
		keys = append(keys, fmt.Sprintf("near: {latitude: %.2f, longitude: %.2f}", c.casts[from].lat,
			c.casts[from].lon))
	}
	if c.chance(0.5) {
		keys = append(keys, "within: "+pick(c, "0.5", "20", "500"))
	}
	if c.chance(0.3) {
		keys = append(keys, "difference: first")
	}
	fmt.Fprintf(b, "time_series:\n  - {%s}\n", strings.Join(keys, ", "))
}

func (c *cruise) figures() string {
	if c.chance(0.35) {
		return "figures: none\n"
	}
	kind := pick(c, "section", "velocity", "temperature_salinity", "oxygen_density", "map", "profiles", "error",
		"skill", "time_series", "differences")
	keys := []string{"only: [" + kind + "]", "formats: [" + pick(c, "svg", "svg", "svg", "pdf", "png") + "]"}
	if c.chance(0.3) {
		keys = append(keys, pick(c, "overlay: sigma0", "overlay: sigma4", "upper: 50", "axis: latitude",
			"density_sections: sigma0",
			"colour: latitude", "widths: [one_column]"))
	}
	return "figures: {" + strings.Join(keys, ", ") + "}\n"
}
