package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// Section is a gridded section: filled bands with labelled level lines, the bottom as a solid shape, stations
// along the top. A field of kind StandardError or RelativeError makes the picture of the mapping error.
type Section struct {
	Name    string
	Title   string // of the section; "" for "Section NAME"
	Section *section.Section
	Grid    *gridding.Grid // axes: pressure, distance
	Field   string         // name of the field; for an error field its own name

	// density lines on top: sigma0 .. sigma4, a field of the grid or computed from its asal and ctemp; "" none
	Overlay string
	// bottom of the expanded upper panel; 0: scaled to the depth; at or below the deepest value: one panel
	UpperDbar  float64
	Axis       string  // second axis: latitude, longitude; "" the one that changes more
	HatchAbove float64 // hatch where the normalised error variance is above it; 0: 0.3
	Scale      Scale
	Dots       bool // a dot at each value of the casts
	Depth      bool // the vertical axis has depth instead of pressure

	bands *lazyBands // nil: of this figure alone
	doubt string     // what hatching means; "": the error variance
	// lines of density are no closer than twice their error in a band of pressure
	quietOverlay bool
	edges        *densityEdges // of a section against density; else nil
}

// Stem implements Figure.
func (f *Section) Stem() string { return f.Name }

const defaultHatch = 0.3

// sectionData is a section's field made ready.
type sectionData struct {
	field    *gridding.Field
	f        *chart.Field
	raw      []float64    // as stored
	error    *chart.Field // normalised error variance; nil when there is none
	lines    *chart.Field // overlay; nil for none
	overlays []string     // names of the densities drawn, by panel
	colours  *chart.ColourMap
	shared   int          // sections that have these levels
	chosen   chart.Levels // how levels were chosen, where they were by how full bands are
	floor    floorShape
	vertical vertical
	yMax     float64
	upper    float64 // 0: one panel
	x0, x1   float64
	rows     int     // added under the grid
	carried  float64 // dbar that they reach down to the deepest bottom; 0 when there is no such gap
	last     float64 // last level of the grid
	masked   bool
	beneath  bool    // part without values lies below the last level of the grid
	reasons  [8]bool // why there is no value, by the numbers of gridding; from the grid's field of reasons
	doubtful bool
	gaps     [][2]float64 // km from and to where stations are far apart
	gapWords string       // "" for "gap between stations"
	marks    []chart.Mark
	track    *chart.Track
}

// findField finds a field of a grid by name.
func findField(g *gridding.Grid, name string) *gridding.Field {
	for k := range g.Fields {
		if g.Fields[k].Name == name {
			return &g.Fields[k]
		}
	}
	return nil
}

// companion returns the field of a kind that belongs to the drawn one; nil when there is none.
func (d *sectionData) companion(g *gridding.Grid, kind gridding.FieldKind) []float64 {
	for _, f := range g.Fields {
		if f.Of == d.parent() && f.Kind == kind && len(f.Data) == len(d.raw) {
			return f.Data
		}
	}
	return nil
}

// parent is the name of the variable that the field is, or is an error of.
func (d *sectionData) parent() string { return cmp.Or(d.field.Of, d.field.Name) }

// unit is the unit of the field as figures print it: that of its variable, but for a ratio or a number.
func (d *sectionData) unit() string {
	if d.field.Kind != gridding.Value && d.field.Kind != gridding.StandardError {
		return "1"
	}
	return unitOf(&metadata.Variable{Name: d.parent(), Units: d.field.Units})
}

// checkSection refuses what cannot be drawn as a section.
func checkSection(s *section.Section, name string) error {
	if s == nil {
		s = &section.Section{}
	}
	if n := len(s.Casts); n < 2 {
		return &metadata.InputError{Err: fmt.Errorf("%s: section %q has %s: %w", name, s.Name,
			plural(n, "station", "stations"), ErrTooFewStations),
			Remedy: "give the section at least two stations, or leave its figures out (figures: only)"}
	}
	if !(s.DistanceKm[len(s.DistanceKm)-1] > s.DistanceKm[0]) {
		return &metadata.InputError{Err: fmt.Errorf("%s: section %q: %w", name, s.Name, ErrNoExtent),
			Remedy: "check the positions of its stations"}
	}
	return nil
}

func (f *Section) prepare() (*sectionData, error) {
	if err := checkSection(f.Section, f.Name); err != nil {
		return nil, err
	}
	g := f.Grid
	if g == nil || len(g.Axes) != 2 {
		return nil, fmt.Errorf("%s: a section needs a grid of pressure by distance: %w", f.Name, ErrNoField)
	}
	d := &sectionData{field: findField(g, f.Field)}
	if d.field == nil {
		return nil, fmt.Errorf("%s: %w: %q", f.Name, ErrNoField, f.Field)
	}
	y, x := g.Axes[0].Values, g.Axes[1].Values
	if len(d.field.Data) != len(x)*len(y) {
		return nil, fmt.Errorf("%s: field %q has %d values for %d nodes: %w", f.Name, f.Field, len(d.field.Data),
			len(x)*len(y), ErrNoField)
	}
	d.raw = d.field.Data
	d.gaps = gapsOf(f.Section)
	d.f = &chart.Field{X: x, Y: y, Data: slices.Clone(d.raw)}
	emptyGaps(d.f, d.gaps)
	deepest := -1.0
	for k, v := range d.raw {
		if !math.IsNaN(v) {
			deepest = y[k/len(x)]
		}
	}
	if deepest < 0 || len(x) < 2 || len(y) < 2 {
		return nil, fmt.Errorf("%s: %w in %q", f.Name, ErrNoValues, f.Field)
	}
	d.yMax = deepest // density for pressure: no bottom, one panel, from the lightest down
	d.vertical = verticalOf(f.Depth && g.Axes[0].Name == "pres", f.Section.Casts)
	if g.Axes[0].Name != "pres" {
		d.vertical.otherwise = titleText(&g.Axes[0].Variable)
	} else {
		d.floor = bottomOf(f.Section, g)
		d.yMax = depthOfPicture(deepest, d.floor.p)
		asked := f.UpperDbar
		if asked == 0 && chart.ColourMapOf(f.Field).Name == "chlorophyll1" && d.yMax > 2*lightDbar {
			asked = lightDbar // what lives on light is not seen at the scale of the deep sea
		}
		if asked == 0 {
			asked = splitOf(f.Section.Casts, d.floor.p, d.yMax)
		}
		d.upper = upperOf(asked, d.yMax, y)
	}
	d.extend(y, x)
	if d.masked = f.edges != nil; d.masked {
		f.edges.carry(d.f)
	}
	km := f.Section.DistanceKm
	d.marks, d.track = marksOf(f.Section), trackOf(f.Section, g)
	d.x0, d.x1 = min(x[0], km[0]), max(x[len(x)-1], km[len(km)-1])
	d.errors(f, g)
	for k, r := range d.companion(g, gridding.MaskReason) {
		if math.IsNaN(d.raw[k]) && r >= 0 && int(r) < len(d.reasons) {
			d.reasons[int(r)] = true
		}
	}
	if f.Overlay != "" {
		data := overlayOf(g, f.Overlay)
		if data == nil {
			return nil, fmt.Errorf("%s: overlay: %w: %q", f.Name, ErrNoField, f.Overlay)
		}
		d.lines = d.padded(data)
	}
	if f.bands == nil {
		f.bands = &lazyBands{}
	}
	b, err := f.bands.get(func() (*bands, error) { return f.chooseBands(d, d.values(g)) })
	if err != nil {
		return nil, err
	}
	d.f.Levels, d.colours, d.chosen, d.shared = b.levels, b.colours, b.chosen, b.shared
	return d, nil
}

// errors takes the relative error, and for changes twice the standard error: values nearer to zero are noise.
func (d *sectionData) errors(f *Section, g *gridding.Grid) {
	e := d.companion(g, gridding.RelativeError)
	if e == nil || d.field.Kind != gridding.Value {
		return
	}
	if d.error = d.padded(e); f.doubt == "" {
		return
	}
	d.f.Noise = d.padded(d.companion(g, gridding.StandardError)).Data
	for k := range d.f.Noise {
		d.f.Noise[k] *= 2
	}
}

// colour chooses the colours of the bands.
func (d *sectionData) colour() { d.f.Colours = chart.BandColours(d.colours, d.f.Levels) }

// top is the value at the upper edge of the picture: the sea surface, or the lightest density.
func (d *sectionData) top() float64 {
	if d.floor.none() && d.f.Y[0] > 0.1*d.yMax {
		return d.f.Y[0]
	}
	return min(0, d.f.Y[0])
}

// padded returns another field of the grid the rows that the drawn field has.
func (d *sectionData) padded(data []float64) *chart.Field {
	out := append([]float64(nil), data...)
	for len(out) < len(d.f.Data) {
		out = append(out, math.NaN())
	}
	return &chart.Field{X: d.f.X, Y: d.f.Y, Data: out}
}

// nearBottom is the part of the depth that casts may stay above the bottom before the gap is shown as one.
const nearBottom = 0.02

// extend adds rows under the last level of the grid, for fillBelow. Where the last level ends a little above
// the deepest bottom, as casts do, the rows reach down to it, and the caption says so.
func (d *sectionData) extend(y, x []float64) {
	n := len(y)
	step := y[n-1] - y[n-2]
	rows := 2
	deepest := chart.ExtentOf(d.floor.p).Hi
	if gap := deepest - y[n-1]; gap > step && gap <= nearBottom*deepest && gap < 40*step {
		rows = int(math.Ceil(gap/step)) + 1
		d.carried = gap
	}
	d.f.Y = append([]float64(nil), y...)
	for k := range rows {
		d.f.Y = append(d.f.Y, y[n-1]+float64(k+1)*step)
		for range x {
			d.f.Data = append(d.f.Data, math.NaN())
		}
	}
	d.rows, d.last = rows, y[n-1]
}

// values weighs each stored value by the height it has in the picture. Levels closer than twice the error of the band
// of pressure would show no more than the error.
func (d *sectionData) values(g *gridding.Grid) []chart.Weighed {
	out := make([]chart.Weighed, 0, len(d.raw))
	var bands []gridding.ErrorBand
	if d.field.Kind == gridding.Value && g.Axes[0].Name == "pres" {
		bands = g.ErrorBands(d.field.Name)
	}
	for k, v := range d.raw {
		p := d.f.Y[k/len(d.f.X)]
		if math.IsNaN(v) || p > d.yMax || inGap(d.f.X[k%len(d.f.X)], d.gaps) {
			continue
		}
		q := chart.Weighed{Value: v, Weight: enlarged(p, d.upper, d.yMax)}
		q.Floor = floorAt(bands, p)
		out = append(out, q)
	}
	return out
}

// floorAt returns the least step between levels at a pressure: twice the error of its band.
func floorAt(bands []gridding.ErrorBand, dbar float64) float64 {
	for _, b := range bands {
		if dbar >= b.TopDbar && dbar < b.BottomDbar {
			return 2 * b.Error
		}
	}
	return 0
}

// enlarged returns how much taller a part of the picture is than it would be in the lower panel.
func enlarged(p, upper, deepest float64) float64 {
	if upper > 0 && p <= upper {
		return (deepest - upper) / upper * chart.UpperShare / (1 - chart.UpperShare)
	}
	return 1
}

// lightDbar is how far down light reaches that makes chlorophyll, generously.
const lightDbar = 250

// upperOf chooses where the upper panel ends: at a level of the grid.
func upperOf(u, yMax float64, y []float64) float64 {
	k := sort.SearchFloat64s(y, u)
	if u >= 0.85*yMax || u <= 0 || k == len(y) || k == 0 {
		return 0
	}
	if y[k]-u > u-y[k-1] {
		k--
	}
	return y[k]
}

// overlayOf returns a density field on the grid.
func overlayOf(g *gridding.Grid, name string) []float64 {
	if f := findField(g, name); f != nil {
		return append([]float64(nil), f.Data...)
	}
	sa, ct := findField(g, "asal"), findField(g, "ctemp")
	if sa == nil || ct == nil || len(name) != 6 || name[:5] != "sigma" || name[5] < '0' || name[5] > '4' {
		return nil
	}
	return seawater.Sigmas(make([]float64, len(sa.Data)), int(name[5]-'0'), sa.Data, ct.Data)
}

// below says which nodes lie under the bottom, or so close above it that a hole between them and the bottom
// would be no more than a pattern of rows and columns.
func (d *sectionData) below(g *chart.Field) []bool {
	const rows = 2
	out := make([]bool, len(g.Data))
	if d.floor.none() {
		return out
	}
	for j, x := range g.X {
		b := d.floor.at(x)
		for i, y := range g.Y {
			step := 0.0
			if i > 0 {
				step = y - g.Y[i-1]
			}
			out[i*len(g.X)+j] = !inGap(x, d.gaps) && (y > b-rows*step || (y > d.last && d.carried > 0))
		}
	}
	return out
}
