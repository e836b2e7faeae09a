package draft

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
)

// usual are the values that a variable has in the sea, for the choice among units and meanings. Common practice, no
// source.
var usual = map[string][2]float64{"pres": {-5, 11500}, "depth": {-5, 11500}, "temp": {-2.6, 40}, "temp2": {-2.6, 40},
	"psal": {0, 42}, "psal2": {0, 42},
	"cond": {0, 75}, "cond2": {0, 75}, "oxy": {-5, 600}, "oxy2": {-5, 600}, "oxysat": {-5, 250}, "chl": {-2, 100},
	"fluor": {-5, 100}, "xmiss": {-5, 110},
	"beamc": {-1, 60}, "turb": {-5, 1000}, "par": {-10, 10000}, "sigma0": {-2, 60}, "dens": {-5, 1100},
	"ptemp": {-2.6, 40}, "sound_speed": {1350, 1700},
	"nobs": {0, 100000}, "etime": {-1, 1e6}, "hab": {-10, 12000}, "bottom_depth": {0, 12000}, "latitude": {-90, 90},
	"longitude": {-360, 360}}

// decide says what each column means.
func (t *table) decide() {
	t.fillColumns()
	taken := map[string]int{}
	for k := range t.columns {
		c := &t.columns[k]
		if c.name == "" || isFlagName(c.name) && t.small(c) {
			continue
		}
		bare := ingestBare(c.name)
		means, unit := meaningOf(bare)
		if means == "" {
			continue
		}
		if c.unit == "" {
			c.unit = unit
		}
		if second := means + "2"; taken[means] > 0 {
			if _, ok := metadata.ByName(second); !ok || taken[second] > 0 {
				continue
			}
			means = second
		}
		if means == "fluor" && taken["chl"] == 0 && c.unit != "" && ingest.Converts(c.unit, "chl") {
			means = "chl" // fluorescence in the unit of chlorophyll has been made chlorophyll
		}
		if why := t.refuses(c, means); why != "" {
			c.why = why
			continue
		}
		taken[means]++
		c.Means, c.sure, c.why = means, certain, "its name"
		if len(word(bare)) < 2 {
			c.sure, c.why = likely, "its name of one letter"
		}
	}
	t.timeColumns()
	t.fromValues(taken)
	for k := range t.columns {
		t.unitOf(&t.columns[k])
	}
	t.flagColumns()
	t.missingCodes()
}

func ingestBare(name string) string {
	if i := strings.IndexAny(name, "[("); i > 0 {
		return strings.TrimSpace(name[:i])
	}
	return name
}

// timeColumns makes a column of dates of one that is called time and holds them, and the other way round.
func (t *table) timeColumns() {
	hasDate := slices.ContainsFunc(t.columns, func(c column) bool { return c.Means == "date" })
	for k := range t.columns {
		c := &t.columns[k]
		first := t.cells[0][k]
		switch {
		case c.Means == "time" && !hasDate && dateAtStart.MatchString(first):
			c.Means, hasDate = "date", true
		case c.Means == "time" && !clockAtStart.MatchString(first):
			c.Means, c.why = "", ""
			if _, ok := t.number(first); ok && c.unit != "" {
				c.Means, c.why = "etime", "its name and unit"
			}
		case c.Means == "date" && !dateAtStart.MatchString(first):
			c.Means, c.why = "", ""
		}
	}
}

// small reports whether all values of a column are whole numbers or short words, as flags are.
func (t *table) small(c *column) bool {
	k := slices.IndexFunc(t.columns, func(d column) bool { return d.name == c.name && d.Place == c.Place })
	for i := range t.cells {
		if s := t.cells[i][k]; len(s) > 12 || strings.ContainsAny(s, ".,") {
			return false
		}
	}
	return true
}

// refuses says why the values of a column cannot be of a variable; "" when they can.
func (t *table) refuses(c *column, means string) string {
	r, ok := usual[means]
	if !ok {
		return ""
	}
	good, all := 0, 0
	for _, v := range c.values {
		if math.IsNaN(v) || likeCode(v) {
			continue
		}
		all++
		x := v
		switch {
		case (means == "temp" || means == "temp2") && v > 200:
			x -= 273.15
		case (means == "temp" || means == "temp2") && word(c.unit) == "degf":
			x = (v - 32) / 1.8
		}
		if x >= r[0] && x <= r[1] {
			good++
		}
	}
	if all > 0 && 10*good < 9*all {
		return fmt.Sprintf("called so, but most of its values are outside %g to %g", r[0], r[1])
	}
	return ""
}

// likeCode reports whether a number is one of those that stand for a missing value: nines alone, or almost nothing.
func likeCode(v float64) bool {
	a := math.Abs(v)
	if a > 0 && a < 1e-20 || a >= 1e20 {
		return true
	}
	s := strings.TrimRight(strings.Trim(strings.Replace(strconv.FormatFloat(a, 'f', -1, 64), ".", "", 1), "0"), "0")
	return len(s) >= 2 && strings.Trim(s, "9") == "" || v == -9 || v == -1e10
}

// fromValues guesses what columns mean whose names say nothing, where the values leave little doubt: pressure is what
// grows by equal steps, salinity what is near 35, temperature what is below 35, oxygen what is above 50.
func (t *table) fromValues(taken map[string]int) {
	set := func(c *column, means, why string) {
		taken[means]++
		c.Means, c.sure, c.why = means, guessed, why
	}
	free := func(c *column) bool { return c.Means == "" && !(c.name != "" && isFlagName(c.name)) }
	if taken["pres"]+taken["depth"] == 0 {
		best, most := -1, 0
		for k := range t.columns {
			c := &t.columns[k]
			if !free(c) || !monotonic(c.values) {
				continue
			}
			if n := likePressure(c.values); n > most {
				best, most = k, n
			}
		}
		if best >= 0 {
			set(&t.columns[best], "pres", "it grows, or falls, from line to line")
		}
	}
	if t.names != nil { // a name that is not known is copied, unless its letter and its values say the same
		t.fromLetters(taken, set, free)
		return
	}
	for k := range t.columns {
		c := &t.columns[k]
		m, lo, hi := middle(c.values)
		if !free(c) || math.IsNaN(m) || whole(c.values) {
			continue
		}
		switch {
		case taken["temp"] == 0 && m > -2.5 && m < 32 && lo > -3 && hi < 36:
			set(c, "temp", fmt.Sprintf("the first column after pressure with values from %g to %g", lo, hi))
		case taken["psal"] == 0 && taken["cond"] == 0 && m > 1 && m < 42 && hi-lo < 15 && lo > 0:
			set(c, "psal", fmt.Sprintf("values from %g to %g", lo, hi))
		case taken["oxy"] == 0 && (lo > 40 && hi < 600 && hi-lo < 500 || m > 0 && hi > 2 && hi < 12):
			set(c, "oxy", fmt.Sprintf("values from %g to %g", lo, hi))
		}
	}
}

// fromLetters guesses temperature and salinity by the first letter of a name that is not known, where no other column
// is that and its values are like it.
func (t *table) fromLetters(taken map[string]int, set func(c *column, means, why string), free func(c *column) bool) {
	for k := range t.columns {
		c := &t.columns[k]
		m, lo, hi := middle(c.values)
		if !free(c) || math.IsNaN(m) || whole(c.values) {
			continue
		}
		switch letter := word(c.name) + " "; {
		case letter[0] == 't' && taken["temp"] == 0 && lo > -3 && hi < 36:
			set(c, "temp", fmt.Sprintf("its letter, and values from %g to %g", lo, hi))
		case letter[0] == 's' && taken["psal"]+taken["cond"] == 0 && m > 1 && m < 42 && hi-lo < 15 && lo > 0:
			set(c, "psal", fmt.Sprintf("its letter, and values from %g to %g", lo, hi))
		}
	}
}

// likePressure says how like pressure values are that grow or fall: 3 for equal steps, 2 for others, 1 for a count of
// the lines.
func likePressure(v []float64) int {
	if counter(v) {
		return 1
	}
	var steps []float64
	for i := 1; i < len(v); i++ {
		if d := math.Abs(v[i] - v[i-1]); d > 0 {
			steps = append(steps, d)
		}
	}
	slices.Sort(steps)
	same := 0
	for _, d := range steps {
		if math.Abs(d-steps[len(steps)/2]) <= steps[len(steps)/2]/4 {
			same++
		}
	}
	if 10*same > 7*len(v) {
		return 3
	}
	return 2
}

// counter reports whether values count the lines.
func counter(v []float64) bool {
	for i := 1; i < len(v); i++ {
		if v[i] != v[i-1]+1 {
			return false
		}
	}
	return len(v) > 1
}

func monotonic(v []float64) bool {
	up, down := 0, 0
	for i := 1; i < len(v); i++ {
		if v[i] > v[i-1] {
			up++
		} else if v[i] < v[i-1] {
			down++
		}
	}
	return max(up, down) > 9*(len(v)-1)/10
}

// middle returns the median of the values that are no codes, the least and the greatest.
func middle(v []float64) (m, lo, hi float64) {
	var s []float64
	for _, x := range v {
		if !math.IsNaN(x) && !likeCode(x) {
			s = append(s, x)
		}
	}
	if len(s) == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	sort.Float64s(s)
	return s[len(s)/2], s[len(s)/100], s[len(s)-1-len(s)/100]
}

func whole(v []float64) bool {
	return !slices.ContainsFunc(v, func(x float64) bool { return x != math.Trunc(x) && !math.IsNaN(x) })
}

// unitOf decides the unit of a column: what the file says where the reader can use it, else what the values say.
func (t *table) unitOf(c *column) {
	m, _, hi := middle(c.values)
	said := metadata.ExchangeUnit(strings.NewReplacer("°", "deg ", "µ", "u", "μ", "u").Replace(c.unit))
	switch c.Means {
	case "temp", "temp2":
		if strings.Contains(word(c.name), "68") || said == "IPTS-68" {
			c.Unit, c.why = "IPTS-68", c.why+"; on IPTS-68"
		} else if said == "" && m > 200 {
			c.Unit = "K"
		} else if word(c.unit) == "degf" {
			c.Unit = "degF"
		}
	case "cond", "cond2":
		switch {
		case m > 7.6:
			c.Unit = "mS/cm"
		case m > 0 && m < 2 && strings.Contains(word(c.name+c.unit), "ratio"):
			c.Unit = "ratio"
		default:
			c.Unit = "S/m"
		}
	case "oxy", "oxy2":
		switch said {
		case "UMOL/KG", "ML/L", "UMOL/L", "MG/L", "MMOL/M3", "MMOL/M^3", "UMOL L-1", "ML L-1", "UMOL KG-1", "MG L-1":
			c.Unit = strings.ToLower(said)
			if c.Unit == "umol kg-1" {
				c.Unit = "umol/kg"
			}
		default:
			c.Unit = "umol/kg"
			if hi < 15 {
				c.Unit = "?"
			}
			c.sure, c.why = min(c.sure, likely), c.why+"; the file says no unit"
		}
	case "pres":
		switch word(c.unit) {
		case "kpa", "mpa", "bar", "psi":
			c.Unit = c.unit
		}
	case "depth", "bottom_depth", "":
	default:
		if v, ok := metadata.ByName(c.Means); ok && c.unit != "" && said != v.ExchangeUnit &&
			!strings.EqualFold(c.unit, v.Units) {
			if !ingest.Converts(c.unit, c.Means) {
				c.Unit = v.Units
				c.why += fmt.Sprintf("; the file says %s, taken as %s", c.unit, v.Units)
				if v.Units == "1" {
					c.Unit = ""
				}
			}
		}
	}
	if c.Unit == "" && c.unit != "" && c.Means != "" && !ingest.Converts(c.unit, c.Means) {
		if v, ok := metadata.ByName(c.Means); ok && v.Units != "1" {
			c.Unit = v.Units
		}
	}
}

var packedWord = regexp.MustCompile(`^[0-9]{2,}$`)

// flagColumns gives columns their flags: a column that is called as another with a word for flags, one of flags behind
// its column, or one word for all.
func (t *table) flagColumns() {
	var data []int
	for k := range t.columns {
		if c := &t.columns[k]; c.Means != "" && !isFact(c.Means) {
			data = append(data, k)
		}
	}
	for k := range t.columns {
		c := &t.columns[k]
		if c.Means != "" || c.name == "" || !isFlagName(c.name) {
			continue
		}
		words := map[string]int{}
		for i := range t.cells {
			words[t.cells[i][k]]++
		}
		if t.packed(k, words) == len(data) && len(data) > 1 {
			for d, j := range data {
				f := ingest.FlagPlace{Place: c.Place, Digit: d + 1, Scheme: schemeOf(words, d)}
				t.columns[j].Flags = &f
			}
			c.Means, c.why = "flags", "one word holds the flags of all columns in their order"
			continue
		}
		of := -1
		for _, j := range data {
			name := word(ingestBare(t.columns[j].name))
			if base := flagOf(c.name); base != "" && (base == name || strings.HasPrefix(name, base)) &&
				t.columns[j].Flags == nil {
				of = j
				break
			}
		}
		if base := flagOf(c.name); of < 0 && base != "" {
			m, _ := meaningOf(base)
			of = slices.IndexFunc(t.columns, func(d column) bool { return m != "" && d.Means == m && d.Flags == nil })
		}
		if of < 0 && k > 0 && slices.Contains(data, k-1) && t.columns[k-1].Flags == nil {
			of = k - 1
		}
		if of >= 0 {
			t.columns[of].Flags = &ingest.FlagPlace{Place: c.Place, Scheme: schemeOf(words, -1)}
			c.Means, c.why = "flags", "flags of "+t.columns[of].name
		}
	}
}

// packed returns how many digits the words of a column of flags have; 0 when they are none.
func (t *table) packed(k int, words map[string]int) int {
	n := 0
	for w := range words {
		if !packedWord.MatchString(w) || n > 0 && len(w) != n {
			return 0
		}
		n = len(w)
	}
	return n
}

// schemeOf chooses the set of flags: that in which the commonest flag means good. Where 1 is commonest and 2 is rare,
// it is L20, in which 1 is good; 0 beside it says so too.
func schemeOf(words map[string]int, digit int) ingest.Scheme {
	count := map[byte]int{}
	for w, n := range words {
		if digit >= 0 && digit < len(w) {
			count[w[digit]] += n
		} else if len(w) > 0 {
			count[w[0]] += n
		}
	}
	if count['1'] > 2*count['2'] && count['1'] > 0 {
		return ingest.SchemeL20
	}
	return ingest.SchemeWOCE
}

func isFact(means string) bool { return means != "depth" && slices.Contains(ingest.Facts(), means) }

// neverNegative are variables of which a number below 0 that is repeated, or whole, is none.
var neverNegative = []string{"psal", "cond", "oxy", "oxysat", "dens", "sound_speed", "nobs"}

// times returns how often a text is in a column.
func (t *table) times(k int, s string) (n int) {
	for i := range t.cells {
		if t.cells[i][k] == s {
			n++
		}
	}
	return n
}

// missingCodes collects what is written for missing values: words among numbers, and numbers that no value of the
// column can be.
func (t *table) missingCodes() {
	for k := range t.columns {
		c := &t.columns[k]
		if isFact(c.Means) || c.Means == "flags" || c.Means == "" {
			continue
		}
		seen := map[string]bool{}
		m, lo, hi := middle(c.values)
		r, known := usual[c.Means]
		if c.Unit == "?" || c.Unit == "ml/l" {
			r = [2]float64{-0.5, 15}
		}
		for i := range t.cells {
			s := t.cells[i][k]
			if s == "" || seen[s] || strings.EqualFold(s, "nan") {
				continue
			}
			v := c.values[i]
			switch {
			case math.IsNaN(v):
				seen[s] = true
			case v == -999:
			case likeCode(v) && (known && (v < r[0] || v > r[1]) || math.Abs(v) < 1e-20 || v < lo-3*(hi-lo)-1 ||
				v > hi+3*(hi-lo)+1):
				seen[s] = true
			case known && v < r[0] && v < m-10*(hi-lo)-1,
				v <= -0.5 && m > 0 && (v == math.Trunc(v) || t.times(k, s) > 1) &&
					slices.Contains(neverNegative, strings.TrimSuffix(c.Means, "2")):
				seen[s] = true
			}
		}
		for s := range seen {
			c.missing = append(c.missing, s)
		}
		slices.Sort(c.missing)
	}
}
