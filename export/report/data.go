package report

import (
	"encoding/json"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// data is what the script of the page reads. Values are whole numbers: the value times ten to the number of decimals of
// its variable, so that the page prints the digits of the file. A number in quotes says why there is no value: the
// place of the reason among Reasons.
type data struct {
	Cruise    string         `json:"cruise"`
	Variables []variableData `json:"variables"`
	Casts     []castData     `json:"casts"`
	Grids     []gridData     `json:"grids"`
	Fields    []fieldData    `json:"fields"`
	Proposals []proposalData `json:"proposals"`
	Reasons   []string       `json:"reasons"`
	Flags     []string       `json:"flags"`
	Depth     bool           `json:"depth,omitempty"` // vertical axes have depth
	Live      string         `json:"live,omitempty"`
	Map       *mapData       `json:"map,omitempty"`
	variable  map[string]int // place among Variables
	cast      map[*section.Cast]int
	list      []*section.Cast // as Casts
}

type variableData struct {
	Name     string `json:"name"`
	Title    string `json:"title"`
	Unit     string `json:"unit"`
	Decimals int    `json:"decimals"`
}

// castData is one cast at every n-th level.
type castData struct {
	Name     string        `json:"name"` // 12/1
	Expocode string        `json:"expocode"`
	Station  string        `json:"station"`
	Cast     string        `json:"cast"`
	Where    string        `json:"where"`
	When     string        `json:"when"`
	Every    int           `json:"every"`
	P        []json.Number `json:"p"`
	Depth    []json.Number `json:"depth,omitempty"` // m, where vertical axes have depth
	Columns  []castColumn  `json:"columns"`
}

type castColumn struct {
	Variable int       `json:"variable"`
	Values   []numeral `json:"values"`
	Flags    string    `json:"flags"` // a digit for each level
}

// gridData is the nodes that the fields of a grid share.
type gridData struct {
	File   string        `json:"file"`
	Down   string        `json:"down"` // name of the vertical dimension in the file
	Unit   string        `json:"unit"`
	Along  string        `json:"along"` // distance or pair
	Every  [2]int        `json:"every"` // of the vertical axis, of the other
	Y      []json.Number `json:"y"`
	Depth  []json.Number `json:"depth,omitempty"` // m, where vertical axes have depth
	X      []json.Number `json:"x"`               // km along the section
	Where  []string      `json:"where"`
	Pairs  []string      `json:"pairs,omitempty"`
	Near   []int         `json:"near"`
	AwayKm []json.Number `json:"away"`
}

type fieldData struct {
	Figure   string       `json:"figure"`
	Grid     int          `json:"grid"`
	Variable int          `json:"variable"`
	Size     [2]float64   `json:"size"`
	Panels   []page.Panel `json:"panels"`
	Values   []numeral    `json:"values"`
	Errors   []numeral    `json:"errors"`
	Below    []int        `json:"below,omitempty"` // nodes below the deepest data
	// flags of the nearest casts, a digit for each row and "-" where the cast has no value near it
	Flags map[int]string `json:"flags"`
}

type mapData struct {
	Size   [2]float64   `json:"size"`
	Places [][2]float64 `json:"places"`
	Casts  []int        `json:"casts"`
}

// A numeral is a number, a reason in quotes, or nothing, as JSON.
type numeral string

// MarshalJSON implements json.Marshaler.
func (n numeral) MarshalJSON() ([]byte, error) { return []byte(n), nil }

// nothing is no value and no reason.
const nothing numeral = "null"

// whole writes a value with so many decimals without its point.
func whole(v float64, decimals int) numeral {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nothing
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	digits := strings.Replace(strings.TrimPrefix(s, "-"), ".", "", 1)
	digits = strings.TrimLeft(digits, "0")
	if digits == "" {
		return "0"
	}
	if s[0] == '-' {
		return numeral("-" + digits)
	}
	return numeral(digits)
}

// number writes a value with at most so many decimals.
func number(v float64, decimals int) json.Number {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return json.Number(s)
}

// noLevel is the reason of a pair of stations without a velocity at a pressure, after those of grids.
const noLevel = "the pair of stations has no common level here"

// newData begins with the casts.
func newData(m *Material) *data {
	d := &data{Cruise: m.Cruise.ID, Depth: m.Depth, Live: m.Live, Variables: []variableData{}, Grids: []gridData{},
		Fields:    []fieldData{},
		Proposals: []proposalData{}, Casts: []castData{}, variable: map[string]int{}, cast: map[*section.Cast]int{}}
	for _, r := range gridding.MaskReasons() {
		d.Reasons = append(d.Reasons, reasonWords[r])
	}
	d.Reasons = append(d.Reasons, noLevel)
	for f := metadata.NotEvaluated; f <= metadata.NotSampled; f++ {
		d.Flags = append(d.Flags, strings.ReplaceAll(f.String(), "_", " "))
	}
	names := shownNames(m)
	for _, n := range names {
		d.addVariable(n, m)
	}
	for i := range m.Stations {
		if r := &m.Stations[i]; r.LeftOut == "" && r.Cast != nil {
			d.addCast(r.Cast, names)
		}
	}
	return d
}

// reasonWords say in a sentence why a grid has no value.
var reasonWords = map[string]string{"not_masked": "no value", "below_bottom": "below the sea floor",
	"above_first_bin": "above the first values of the casts", "outside_casts": "beyond the casts",
	"in_gap": "in a gap of a neighbouring cast", "no_data": "no data reach here",
	"error_above_limit": "the mapping error is above its limit"}

// usual are the variables whose profiles the page carries, beside those of the grids.
var usual = []string{"ctemp", "asal", "sigma0", "oxy"}

// shownNames lists the variables of the page in a fixed order.
func shownNames(m *Material) []string {
	var out []string
	add := func(n string) {
		if !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	for i := range m.Sections {
		if g := m.Sections[i].Grid; g != nil {
			for k := range g.Fields {
				if g.Fields[k].Kind == gridding.Value {
					add(g.Fields[k].Name)
				}
			}
		}
	}
	for _, n := range usual {
		if slices.ContainsFunc(m.Stations, func(r export.StationRow) bool {
			return r.Cast != nil && r.Cast.Column(n) != nil
		}) {
			add(n)
		}
	}
	return out
}

// addVariable adds a variable of casts and grids, with decimals that resolve a ten-thousandth of its range.
func (d *data) addVariable(name string, m *Material) {
	v, ok := metadata.ByName(name)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range m.Stations {
		k := m.Stations[i].Cast
		if k == nil || k.Column(name) == nil {
			continue
		}
		col := k.Column(name)
		if !ok {
			v, ok = col.Variable, true
		}
		for j, x := range col.Values {
			if !math.IsNaN(x) && (j >= len(col.Flags) || col.Flags[j].Usable(true)) {
				lo, hi = min(lo, x), max(hi, x)
			}
		}
	}
	if !ok {
		v.Name = name
	}
	d.variableOf(&v, decimalsFor(lo, hi))
}

// decimalsFor returns how many decimals resolve a ten-thousandth of a range, at most 6.
func decimalsFor(lo, hi float64) int {
	if !(hi > lo) {
		return 3
	}
	return int(max(0, min(6, 4-math.Floor(math.Log10(hi-lo)))))
}

// variableOf returns the place of a variable, adding it when it is new.
func (d *data) variableOf(v *metadata.Variable, decimals int) int {
	if i, ok := d.variable[v.Name]; ok {
		return i
	}
	unit := figure.UnitText(v)
	if unit == "1" {
		unit = ""
	}
	d.variable[v.Name] = len(d.Variables)
	d.Variables = append(d.Variables, variableData{v.Name, figure.NameText(v), unit, decimals})
	return len(d.Variables) - 1
}

// mostLevels is how many levels of a cast the page carries at most.
const mostLevels = 110

// addCast adds a cast at every n-th level.
func (d *data) addCast(k *section.Cast, names []string) {
	c := castData{Name: k.Station + "/" + k.Number, Expocode: k.Expocode, Station: k.Station, Cast: k.Number,
		Where: where(k.At[1], k.At[0]), When: export.CastTime(k), Every: every(k.Levels(), mostLevels),
		P: []json.Number{}, Columns: []castColumn{}}
	for i := 0; i < k.Levels(); i += c.Every {
		c.P = append(c.P, number(k.PressureDbar[i], 2))
	}
	c.Depth = d.depths(k.PressureDbar, c.Every, []*section.Cast{k})
	for _, n := range names {
		col := k.Column(n)
		if col == nil || col.Values == nil {
			continue
		}
		x := castColumn{Variable: d.variable[n]}
		some := false
		for i := 0; i < k.Levels(); i += c.Every {
			v := whole(col.Values[i], d.Variables[x.Variable].Decimals)
			some = some || v != nothing
			x.Values = append(x.Values, v)
			x.Flags += string(flagDigit(col, i))
		}
		if some {
			c.Columns = append(c.Columns, x)
		}
	}
	d.cast[k], d.list = len(d.Casts), append(d.list, k)
	d.Casts = append(d.Casts, c)
}

// depths returns every n-th depth of a vertical axis at the mean latitude of its casts; nil where axes have pressure.
func (d *data) depths(dbar []float64, n int, casts []*section.Cast) []json.Number {
	if !d.Depth {
		return nil
	}
	var out []json.Number
	for i, m := range figure.Depths(dbar, casts) {
		if i%n == 0 {
			out = append(out, number(m, 1))
		}
	}
	return out
}

func flagDigit(col *section.Column, i int) byte {
	if i >= len(col.Flags) {
		return '0'
	}
	return '0' + byte(min(col.Flags[i], metadata.NotSampled))
}

// every returns n such that every n-th of so many is at most most.
func every(of, most int) int { return max(1, (of+most-1)/most) }

// where writes a position as the page prints it.
func where(lat, lon float64) string {
	if math.IsNaN(lat) || math.IsNaN(lon) {
		return "position unknown"
	}
	half := func(v float64, pos, neg string) string {
		s := strconv.FormatFloat(math.Abs(v), 'f', 4, 64) + "°\u00a0"
		if v < 0 {
			return s + neg
		}
		return s + pos
	}
	return half(lat, "N", "S") + " " + half(lon, "E", "W")
}

// addMap adds where the casts lie on the map.
func (d *data) addMap(f *figure.StationMap, s *page.Scene) {
	x := &mapData{Size: [2]float64{s.W, s.H}}
	for i, k := range f.Placed() {
		if n, ok := d.cast[k]; ok && i < len(s.Places) {
			x.Casts = append(x.Casts, n)
			x.Places = append(x.Places, [2]float64{page2(s.Places[i].X), page2(s.Places[i].Y)})
		}
	}
	d.Map = x
}

// page2 rounds a length on the page to hundredths of a point.
func page2(v float64) float64 { return math.Round(v*100) / 100 }

// sectionView is a section as the template writes it.
type sectionView struct {
	ID, Name, Title, Summary string
	Figures                  []figureView
	Elsewhere                []download // figures that are not on the page
	Thinned                  string     // which nodes the page carries
}

// groupView is a group of figures as the template writes it.
type groupView struct {
	*Group
	ID        string
	Shown     []figureView
	Elsewhere []download
}

type figureView struct {
	ID, Title, Caption, Short string
	SVG                       template.HTML
	Links                     []download
}
