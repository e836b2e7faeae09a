package property

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// A column is one column of the cast files with its habits.
type column struct {
	name, unit string
	value      func(k *cast, p float64) float64
	text       []string // not nil: text
	decimals   int
	digits     string // fixed, mixed, exception
	flags      string // "": no flag column
	gaps       string // none, ends, some, all
	flagName   string
	rare       float64 // chance that a cast lacks it
	odd        bool    // some values are written in other ways
}

// listedPairs are parameters of the published list that the generator takes as further columns.
var listedPairs = [][2]string{{"NITRAT", "UMOL/KG"}, {"NITRIT", "UMOL/KG"}, {"SILCAT", "UMOL/KG"},
	{"PHSPHT", "UMOL/KG"}, {"NO2+NO3", "UMOL/KG"}, {"NH4", "UMOL/KG"},
	{"CFC-11", "PMOL/KG"}, {"CFC113", "PMOL/KG"}, {"SF6", "FMOL/KG"}, {"TCARBN", "UMOL/KG"}, {"ALKALI", "UMOL/KG"},
	{"PH_TOT", ""}, {"FCO2", "UATM"}, {"DELC14", "/MILLE"},
	{"C14ERR", "/MILLE"}, {"TRITUM", "TU"}, {"HELIUM", "NMOL/KG"}, {"DELHE3", "PERCNT"}, {"RA-8/6", "DM/.1MG"},
	{"CHLORA", "UG/KG"}, {"TOT_CHL_A", "MG/M^3"}, {"CTDSVLSAL", "G/KG"},
	{"DNSSAL", "G/KG"}, {"REVTMP", "IPTS-68"}, {"REFTMP", "ITS-90"}, {"SALNTY", "PSS-78"}, {"OXYGEN", "UMOL/KG"},
	{"14C-DOC", "/MILLE"}, {"CTDRAW", "DBAR"}, {"FE", "NMOL/L"}}

// unknownPairs are in no list.
var unknownPairs = [][2]string{{"FOO", "BAR"}, {"X-1", ""}, {"CTDTURB", "NTU"}, {"ALTIM", "M"}, {"CTDCDOM", "RFU"},
	{"CTDOXY2", "UMOL/KG"}, {"CTDTMP2", "ITS-90"}, {"CTDSAL2", "PSS-78"},
	{"CTDOXYV", "VOLTS"}, {"SVCM", "M/S"}, {"TIME_1", "S"}, {"lower", "x"}, {"SIGTH", "KG/M^3"}, {"DEPTH", "METERS"},
	{"STATION", ""}, {"CTDCOND", "MS/CM"}, {"LATITUDE", "DEG"},
	{"TIME", ""}, {"CAST", ""}, {"OBS", "1"}, {"PROFILE", ""}, {"ROW_SIZE", ""}, {"EXPOCODE", ""}, {"SYSTEM", ""},
	{"DISTANCE", "KM"}, {"TEMP_FLAG_WOCE", ""}, {"CTEMP", "DEG C"},
	{"ASAL", "G/KG"}, {"SIGMA0", "KG/M^3"}, {"DYNAMIC_HEIGHT", ""}, {"CRS", ""}, {"SECTION_ID", ""}, {"PRES_2", "DBAR"},
	{"1X", ""}, {"CTD-X/Y", "%"}, {"CTEMP_ERR", ""},
	{"CAST_ROLE", ""}, {"DIRECTION", "DEG"}, {"LEVEL", "1"}, {"PROFILE_ID", ""}, {"BOTTOM_DEPTH", "M"},
	{"INSTRUMENT", ""}, {"X_1", ""}, {"COLUMN_LAT", ""}, {"LAT", "DEG"},
	{"LON", ""}, {"PRES", "DBAR"}, {"TEMP", "ITS-90"}, {"OXY", "UMOL/KG"}, {"DENS", "KG/M^3"}, {"NV", ""},
	{"STRLEN", ""}, {"TEMP_FLAG_AUTO", ""}, {"NA N", "a b"}, {"X=Y", "=1"},
	{"OXYSAT", "%"}, {"AOU", "UMOL/KG"}, {"SPICE0", ""}, {"SOUND_SPEED", "M/S"}, {"NOBS", ""}, {"QUALT1", ""},
	{"VERYLONGNAMEOFACOLUMNTHATNOBODYWOULDUSEBUTSOMEBODYDOESANYWAYANDTHENSOME", "U"},
	{"TEMP_FLAG", ""}, {"Q", "1"}, {"_A", ""}, {"VELOCITY", "M/S"}, {"N2", "1/S^2"}, {"CTDTMP_FLAG_I", ""},
	{"PRES_FLAG_WOCE", ""}, {"CTDSAL_ERR", ""}}

func (c *cruise) columns() (cols []*column) {
	warm, shift := c.between(-1, 1), c.between(0.5, 1.5)
	depth := func(p float64) float64 { return math.Exp(-p * shift / (0.15*c.place.deep + 20)) }
	front := func(k *cast) float64 { return warm * (k.lat - c.place.lat + k.lon - c.place.lon) }
	temp := func(k *cast, p float64) float64 {
		t := c.place.abyss + (c.place.surface-c.place.abyss)*depth(p) + front(k)*depth(p)
		return math.Max(t, -1.95) + 0.003*math.Sin(p)
	}
	salt := func(k *cast, p float64) float64 {
		return c.place.saltBottom + (c.place.salt-c.place.saltBottom)*depth(p) + 0.001*math.Cos(p)
	}
	cols = append(cols, &column{name: "CTDPRS", unit: pick(c, "DBAR", "DBAR", "DBAR", "DBARS"), decimals: 1,
		flags: pick(c, "", "", "good")})
	if c.chance(0.95) {
		unit := pick(c, "ITS-90", "ITS-90", "ITS-90", "IPTS-68", "DEG C", "", "ITS90")
		cols = append(cols, &column{name: pick(c, "CTDTMP", "CTDTMP", "CTDTMP", "TEMP"), unit: unit, decimals: 4,
			value: temp})
	}
	switch {
	case c.chance(0.8):
		cols = append(cols, &column{name: "CTDSAL", unit: pick(c, "PSS-78", "PSS-78", "PSU", ""), decimals: 4,
			value: salt})
	case c.chance(0.7):
		cols = append(cols, &column{name: "CTDCOND", unit: pick(c, "MS/CM", "S/M"), decimals: 4,
			value: func(k *cast, p float64) float64 {
				return 0.9*salt(k, p) + 0.8*temp(k, p)
			}})
	}
	if c.chance(0.6) {
		unit := pick(c, "UMOL/KG", "UMOL/KG", "ML/L", "UMOL/L")
		scale := map[bool]float64{true: 1 / 44.66, false: 1}[unit == "ML/L"]
		cols = append(cols, &column{name: "CTDOXY", unit: unit, decimals: pick(c, 1, 1, 2, 3), rare: 0.1,
			value: func(k *cast, p float64) float64 {
				return scale * (180 + 90*depth(p) - 2*math.Sin(p/50))
			}})
	}
	within := func(low, high float64) func(*cast, float64) float64 {
		return func(k *cast, p float64) float64 { return c.between(low, high) }
	}
	for _, o := range some(c, c.IntN(4), []*column{
		{name: "CTDFLUOR", unit: pick(c, "MG/M^3", "0-5VDC", "UG/L"), value: within(0, 3), decimals: 4},
		{name: "CTDXMISS", unit: pick(c, "%TRANS", "0-5VDC"), value: within(60, 99), decimals: 2},
		{name: "PAR", unit: "UMOL/M^2/SEC", value: within(0, 900), decimals: 3},
		{name: "CTDBEAMCP", unit: "/METER", value: within(-0.05, 1), decimals: 4},
		{name: "CTDNOBS", value: func(*cast, float64) float64 { return float64(c.IntN(90)) }},
		{name: "CTDETIME", unit: "SECONDS", value: func(_ *cast, p float64) float64 { return p }, decimals: 1},
		{name: "THETA", unit: pick(c, "ITS-90", "DEG C"), value: temp, decimals: 4}}) {
		o.rare = pick(c, 0, 0, 0.3)
		cols = append(cols, o)
	}
	if c.chance(0.15) {
		cols = append(cols, &column{name: "CTDSAL2", unit: "PSS-78", decimals: 4, rare: pick(c, 0, 0.3),
			value: func(k *cast, p float64) float64 { return salt(k, p) + 0.003 }})
	}
	few := c.IntN(3)
	if c.chance(0.1) {
		few = 8
	}
	for _, pair := range append(some(c, c.IntN(3), listedPairs), some(c, few, unknownPairs)...) {
		cols = append(cols, &column{name: pair[0], unit: pair[1], value: within(-2, 60), decimals: c.IntN(4),
			rare: pick(c, 0, 0.2, 0.6)})
	}
	if c.chance(0.3) {
		cols = append(cols, &column{name: pick(c, "NOTE", "QC_TEXT", "WEATHER"), unit: pick(c, "", "TEXT"),
			rare: pick(c, 0, 0.4),
			text: pick(c, []string{"ok", "bubbles?", ""}, []string{"x", strings.Repeat("long ", 60)},
				[]string{"a;b", "<&>", "'", "#1"}, []string{"-", "--", "@x", "+1"}, []string{"a b", "x"},
				[]string{"\"q\"", "12", "-999"}, []string{"=1+1", "NaN", "1e5", "0x1F"})})
	}
	return c.habits(cols)
}

// habits gives each column its decimals, flags and gaps, and takes out what has the name of another.
func (c *cruise) habits(cols []*column) []*column {
	seen := map[string]bool{}
	kept := cols[:0]
	for _, o := range cols {
		if seen[strings.ToUpper(o.name)] {
			continue
		}
		seen[strings.ToUpper(o.name)] = true
		kept = append(kept, o)
	}
	for i, o := range kept {
		o.digits = pick(c, "fixed", "fixed", "fixed", "mixed", "exception")
		if c.chance(0.08) {
			o.decimals = pick(c, 0, 7, 12, 15, 17)
		}
		o.gaps = pick(c, "none", "none", "none", "ends", "some", "all")
		if o.gaps == "all" && c.chance(0.7) {
			o.gaps = "some"
		}
		if i > 0 && c.chance(0.65) {
			o.flags = pick(c, "good", "good", "ctd", "all", "blank", "zeros", "odd", "missing")
		}
		o.odd = c.chance(0.08)
		if i == 0 {
			o.gaps, o.digits, o.decimals = "none", "fixed", pick(c, 1, 1, 1, 0, 3)
		}
	}
	if c.chance(0.12) { // flags without their column
		o := kept[1+c.IntN(max(len(kept)-1, 1))%len(kept)]
		o.flagName, o.flags = pick(c, "CTDFLUOR", "OXYGEN", "FOO", "CTDXMISS")+"_FLAG_W", "ctd"
	}
	return kept
}

// pressuresOf gives the levels of each cast.
func (c *cruise) pressuresOf() {
	step := pick(c, 1.0, 2, 2, 5, 10, 20, 50, 60, 0.5)
	first := pick(c, 0, 1, step, step/2, 3*step)
	for i, k := range c.casts {
		deep := c.depth * (0.7 + 0.3*math.Abs(math.Sin(float64(i)))) * 0.97
		if c.chance(0.2) {
			deep *= c.between(0.1, 1)
		}
		n := min(100, max(1, int((deep-first)/step)))
		if c.chance(0.05) {
			n = 1 + c.IntN(2)
		}
		own := first
		if c.chance(0.08) {
			own += c.between(0, step)
		}
		for j := range n {
			k.pressures = append(k.pressures, math.Round(10*(own+step*float64(j)))/10)
		}
		switch x := c.Float64(); {
		case x < 0.05 && n > 3: // a repeated pressure
			k.pressures[n/2] = k.pressures[n/2-1]
		case x < 0.08 && n > 3: // one out of order
			k.pressures[n/2], k.pressures[n/2-1] = k.pressures[n/2-1], k.pressures[n/2]
		case x < 0.12: // an upcast
			slices.Reverse(k.pressures)
		case x < 0.16 && n > 6: // a gap
			k.pressures = slices.Delete(k.pressures, n/3, n/2)
		case x < 0.19: // uneven steps
			for j := range k.pressures {
				k.pressures[j] = math.Round(100*(k.pressures[j]+c.between(-0.4, 0.4)*step)) / 100
			}
		case x < 0.21: // one pressure throughout, or two
			for j := range k.pressures {
				k.pressures[j] = 10 + float64(j%2*c.IntN(2))
			}
		case x < 0.23: // down and up again
			for j := range n / 2 {
				k.pressures[n-1-j] = k.pressures[j]
			}
		}
	}
}

func (c *cruise) writeCasts() {
	c.pressuresOf()
	cols := c.columns()
	folder := pick(c, "casts", "casts", "data/ctd", "a b")
	zipped := c.chance(0.2)
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	for i, k := range c.casts {
		text := c.castText(k, c.own(cols))
		name := fmt.Sprintf("%s_%05d_%05d_ct1.csv", strings.ReplaceAll(k.expocode, "_", "Z"), i+1, 1)
		k.file = folder + "/" + name
		if !zipped {
			c.files[k.file] = []byte(text)
			continue
		}
		k.file = folder + "/all_ct1.zip/" + name
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write([]byte(text))
		}
		if err != nil {
			panic(err)
		}
	}
	if zipped {
		if err := z.Close(); err != nil {
			panic(err)
		}
		c.files[folder+"/all_ct1.zip"] = buf.Bytes()
	}
	c.lines = append(c.lines, fmt.Sprintf("  sources: [%q]", folder))
}

// own returns the columns that one cast has.
func (c *cruise) own(cols []*column) (out []*column) {
	for i, o := range cols {
		if i > 0 && (c.chance(o.rare) || c.chance(0.01)) {
			continue
		}
		out = append(out, o)
	}
	if c.chance(0.05) {
		c.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	}
	return out
}

func (c *cruise) castText(k *cast, cols []*column) string {
	var b strings.Builder
	b.WriteString(pick(c, "CTD,20260601ZZTEST\n", "CTD,20260601ZZTEST\n", "CTD\n", "CTD,20260601\n"))
	for range c.IntN(3) {
		b.WriteString(pick(c, "# a comment\n", "# HEADER FOO = BAR\n", "# größer als 1 µm\n", "#\n",
			"# CTDSAL_FLAG_W: 1 = not evaluated at 3, 5\n",
			"# CTDTMP converted from IPTS-68 to ITS-90: t90 = t68 / 1.00024\n",
			"# \x1b[31mred\n", "#\ttab\n", "# M\xe9ter\n", "# HEADER CTDPRS = 5\n", "# EXPOCODE = X\n"))
	}
	b.WriteString(c.head(k))
	var names, units []string
	for _, o := range cols {
		names, units = append(names, o.name), append(units, o.unit)
		if o.flags != "" {
			flag := strings.ToUpper(o.name) + "_FLAG_W"
			if o.flagName != "" {
				flag = o.flagName
			}
			names, units = append(names, flag), append(units, "")
		}
	}
	c.heads += strings.Join(names, ",") + ",\n"
	fmt.Fprintf(&b, "%s\n%s\n", strings.Join(names, ","), strings.Join(units, ","))
	odd := c.IntN(len(k.pressures))
	for row, p := range k.pressures {
		var fields []string
		for _, o := range cols {
			s, missing := c.field(k, o, p, row, odd)
			fields = append(fields, s)
			if o.flags != "" {
				fields = append(fields, c.flag(o, missing))
			}
		}
		line := strings.Join(fields, ",")
		if c.chance(0.004) {
			line = pick(c, "# here", "", ",,,", line+",", strings.ReplaceAll(line, ",", ",\t"))
			if c.chance(0.1) {
				line = pick(c, line+",7", line[:len(line)/2])
			}
		}
		b.WriteString(line + "\n")
	}
	b.WriteString(pick(c, "END_DATA\n", "END_DATA\n", "END_DATA\n", "END_DATA", "", "END_DATA\nprocessed ashore\n"))
	text := b.String()
	if c.chance(0.08) {
		text = strings.ReplaceAll(text, "\n", "\r\n")
	}
	if c.chance(0.03) {
		text = "\ufeff" + text
	}
	return text
}

func (c *cruise) head(k *cast) string {
	lon := k.lon
	if lon > 180 && c.chance(0.5) {
		lon -= 360
	}
	d := pick(c, 4, 4, 4, 2, 5, 6, 8, 13)
	date := k.at.Format("20060102")
	heads := []string{"EXPOCODE = " + k.expocode, "STNNBR = " + k.station, "CASTNO = " + k.number,
		"DATE = " + pick(c, date, date, date, k.at.Format("2006-01-02")), "LATITUDE = " + strconv.FormatFloat(k.lat,
			'f', d, 64), "LONGITUDE = " + strconv.FormatFloat(lon, 'f', d, 64)}
	if c.chance(0.9) {
		heads = append(heads, "TIME = "+pick(c, k.at.Format("1504"), k.at.Format("1504"), k.at.Format("15:04"),
			k.at.Format("15:04:05"), "2400"))
	}
	if c.chance(0.7) {
		deep := k.pressures[0]
		for _, p := range k.pressures {
			deep = max(deep, p)
		}
		heads = append(heads, "DEPTH = "+strconv.FormatFloat(deep+c.between(2, 40), 'f', pick(c, 0, 0, 1, 3), 64))
	} else if c.chance(0.3) {
		heads = append(heads, "DEPTH = "+pick(c, "0", "-999", "-999.0", ""))
	}
	if c.chance(0.3) {
		heads = append(heads, "SECT_ID = "+pick(c, "A01", "P02W", "LINE 7"))
	}
	if c.chance(0.15) {
		heads = append(heads, pick(c, "INSTRUMENT_ID = 0123", "WEATHER = fog, rain", "PI = nobody", "LINE = 3"))
	}
	if c.chance(0.1) {
		c.Shuffle(len(heads), func(i, j int) { heads[i], heads[j] = heads[j], heads[i] })
	}
	return fmt.Sprintf("NUMBER_HEADERS = %d\n%s\n", len(heads)+1, strings.Join(heads, "\n"))
}

// field returns the text of one value, and whether it is missing.
func (c *cruise) field(k *cast, o *column, p float64, row, odd int) (s string, missing bool) {
	if o.text != nil {
		return pick(c, o.text...), false
	}
	if o.value == nil {
		return strconv.FormatFloat(p, 'f', o.decimals, 64), false
	}
	n := len(k.pressures)
	switch {
	case o.gaps == "all", o.gaps == "some" && c.chance(0.15), o.gaps == "ends" && (row < n/10 || row > n-n/8-1):
		return pick(c, "-999", "-999", "-999.0", "-999.0000", ""), true
	}
	d := o.decimals
	switch {
	case o.digits == "mixed":
		d = c.IntN(o.decimals + 2)
	case o.digits == "exception" && row == odd:
		d += pick(c, 1, 3, 9)
	}
	v := o.value(k, p)
	if o.odd && c.chance(0.06) {
		return pick(c, "-9", "-99.9", "NaN", "-0.0", "0", "+3.5", "1.5E+01", "007", ".5", "5.", "12345678901234567",
			"99999", "-9999", "\"4.25\"", "0.000000000000001"), false
	}
	return fmt.Sprintf("%*s", pick(c, 0, 0, 8), strconv.FormatFloat(v, 'f', min(d, 17), 64)), false
}

func (c *cruise) flag(o *column, missing bool) string {
	if missing && c.chance(0.8) {
		return pick(c, "9", "9", "5")
	}
	switch o.flags {
	case "good":
		return "2"
	case "ctd":
		return pick(c, "1", "2", "2", "2", "3", "4", "6", "7")
	case "all":
		return strconv.Itoa(1 + c.IntN(9))
	case "blank":
		return pick(c, "2", "2", "", " ")
	case "zeros":
		return pick(c, "0", "2")
	case "odd":
		return pick(c, "2", "2", "2.0", "-9", "-999", "x")
	}
	return "9"
}
