package figure

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/gridding/contour"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// Section is a gridded section: filled bands with labelled level lines, the bottom as a solid shape, stations along the top. A field of
// kind StandardError or RelativeError makes the picture of the mapping error.
type Section struct {
	Name    string
	Title   string // of the section; "" for "Section NAME"
	Section *section.Section
	Grid    *gridding.Grid // axes: pressure, distance
	Field   string         // name of the field; for an error field its own name

	Overlay    string  // density lines on top: sigma0 .. sigma4, a field of the grid or computed from its asal and ctemp; "" none
	UpperDbar  float64 // bottom of the expanded upper panel; 0: scaled to the depth; at or below the deepest value: one panel
	Axis       string  // second axis: latitude, longitude; "" the one that changes more
	HatchAbove float64 // hatch where the normalised error variance is above it; 0: 0.3
}

// Stem implements Figure.
func (f *Section) Stem() string { return f.Name }

const defaultHatch = 0.3

// sectionData is a section's field made ready.
type sectionData struct {
	field    *gridding.Field
	f        *field
	raw      []float64 // as stored
	standard []float64 // standard error; nil when there is none
	error    *field    // normalised error variance; nil when there is none
	lines    *field    // overlay; nil for none
	floor    floorShape
	deepest  float64 // dbar, of values
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
	marks    []stationMark
	track    *track
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

func companion(g *gridding.Grid, of string, kind gridding.FieldKind) *gridding.Field {
	for k := range g.Fields {
		if g.Fields[k].Of == of && g.Fields[k].Kind == kind {
			return &g.Fields[k]
		}
	}
	return nil
}

// checkSection refuses what cannot be drawn as a section.
func checkSection(s *section.Section, name string) error {
	if s == nil || len(s.Casts) < 2 {
		n := 0
		if s != nil {
			n = len(s.Casts)
		}
		return &metadata.InputError{Err: fmt.Errorf("%s: section %q has %s: %w", name, sectionName(s), plural(n, "station", "stations"), ErrTooFewStations),
			Remedy: "give the section at least two stations, or leave its figures out (figures: only)"}
	}
	if !(s.DistanceKm[len(s.DistanceKm)-1] > s.DistanceKm[0]) {
		return &metadata.InputError{Err: fmt.Errorf("%s: section %q: %w", name, s.Name, ErrNoExtent),
			Remedy: "check the positions of its stations"}
	}
	return nil
}

func sectionName(s *section.Section) string {
	if s == nil {
		return ""
	}
	return s.Name
}

func sectionTitle(s *section.Section, title string) string {
	if title != "" {
		return title
	}
	return "Section " + s.Name
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
		return nil, fmt.Errorf("%s: field %q has %d values for %d nodes: %w", f.Name, f.Field, len(d.field.Data), len(x)*len(y), ErrNoField)
	}
	d.raw = d.field.Data
	d.f = &field{x: x, y: y, data: append([]float64(nil), d.raw...)}
	d.deepest = -1
	for i := range y {
		for j := range x {
			if !math.IsNaN(d.raw[i*len(x)+j]) {
				d.deepest = y[i]
			}
		}
	}
	if d.deepest < 0 || len(x) < 2 || len(y) < 2 {
		return nil, fmt.Errorf("%s: %w in %q", f.Name, ErrNoValues, f.Field)
	}
	if g.Axes[0].Name == "pres" {
		d.floor = bottomOf(f.Section, g)
	}
	d.extend(y, x)
	d.marks, d.track = marksOf(f.Section), trackOf(f.Section, g)
	d.x0 = min(x[0], f.Section.DistanceKm[0])
	d.x1 = max(x[len(x)-1], f.Section.DistanceKm[len(f.Section.DistanceKm)-1])
	d.yMax = depthOfPicture(d.deepest, d.floor.p)
	if g.Axes[0].Name == "pres" {
		asked := f.UpperDbar
		if asked == 0 && colourMapOf(f.Field).Name == "chlorophyll1" && d.yMax > 2*lightDbar { // what lives on light is not seen at the scale of the deep sea
			asked = lightDbar
		}
		d.upper = upperOf(asked, d.yMax, y)
	} else { // density for pressure: no bottom, one panel, from the lightest down
		d.yMax = d.deepest
	}

	parent := d.field.Name
	if d.field.Of != "" {
		parent = d.field.Of
	}
	if e := companion(g, parent, gridding.RelativeError); e != nil && d.field.Kind == gridding.Value && len(e.Data) == len(d.raw) {
		d.error = d.padded(e.Data)
	}
	if e := companion(g, parent, gridding.StandardError); e != nil && d.field.Kind == gridding.Value && len(e.Data) == len(d.raw) {
		d.standard = e.Data
	}
	if m := companion(g, parent, gridding.MaskReason); m != nil && len(m.Data) == len(d.raw) {
		for k, r := range m.Data {
			if math.IsNaN(d.raw[k]) && r >= 0 && int(r) < len(d.reasons) {
				d.reasons[int(r)] = true
			}
		}
	}
	if f.Overlay != "" {
		if data := overlayOf(g, f.Overlay); data != nil {
			d.lines = d.padded(data)
		} else {
			return nil, fmt.Errorf("%s: overlay: %w: %q", f.Name, ErrNoField, f.Overlay)
		}
	}
	return d, nil
}

// top is the value at the upper edge of the picture: the sea surface, or the lightest density.
func (d *sectionData) top() float64 {
	if d.floor.none() && d.f.y[0] > 0.1*d.yMax {
		return d.f.y[0]
	}
	return min(0, d.f.y[0])
}

// padded gives another field of the grid the rows that the drawn field has.
func (d *sectionData) padded(data []float64) *field {
	out := append([]float64(nil), data...)
	for len(out) < len(d.f.data) {
		out = append(out, math.NaN())
	}
	return &field{x: d.f.x, y: d.f.y, data: out}
}

// nearBottom is the part of the depth that casts may stay above the bottom before the gap is shown as one.
const nearBottom = 0.02

// extend adds rows under the last level of the grid, for fillBelow. Where the last level ends a little above the deepest bottom, as casts
// do, the rows reach down to it, and the caption says so.
func (d *sectionData) extend(y, x []float64) {
	n := len(y)
	step := y[n-1] - y[n-2]
	rows := 2
	deepest := 0.0
	for _, p := range d.floor.p {
		deepest = max(deepest, p)
	}
	if gap := deepest - y[n-1]; gap > step && gap <= nearBottom*deepest && gap < 40*step {
		rows = int(math.Ceil(gap/step)) + 1
		d.carried = gap
	}
	d.f.y = append([]float64(nil), y...)
	for k := range rows {
		d.f.y = append(d.f.y, y[n-1]+float64(k+1)*step)
		for range x {
			d.f.data = append(d.f.data, math.NaN())
		}
	}
	d.rows, d.last = rows, y[n-1]
}

// chooseLevels sets levels and colours from what the picture will show.
func (d *sectionData) chooseLevels() {
	v := d.field.Variable
	shown := d.values()
	m := colourMapOf(v.Name)
	if d.field.Kind == gridding.StandardError || d.field.Kind == gridding.RelativeError {
		m = mustMap("error1")
	}
	switch {
	case m.Diverging:
		d.f.levels = zeroLevels(shown)
	case m.Name == "error1":
		if d.f.levels = sequenceLevels(shown); len(d.f.levels) == 0 { // nothing round between the least and the greatest
			d.f.levels = chooseLevels(shown, mostLevels)
		}
	default:
		d.f.levels = chooseLevels(shown, mostLevels)
	}
	d.f.colours = bandColours(m, d.f.levels)
}

// values weighs each stored value by the height it has in the picture.
func (d *sectionData) values() []weighed {
	var out []weighed
	nx := len(d.f.x)
	errorAt := func(int) float64 { return 0 }
	if d.standard != nil {
		errorAt = func(k int) float64 {
			if e := d.standard[k]; e > 0 {
				return e
			}
			return 0
		}
	}
	for i := range len(d.raw) / nx {
		p := d.f.y[i]
		if p > d.yMax {
			break
		}
		w := 1.0
		if d.upper > 0 && p <= d.upper {
			w = (d.yMax - d.upper) / d.upper * upperShare / (1 - upperShare)
		}
		for j := range nx {
			if v := d.raw[i*nx+j]; !math.IsNaN(v) {
				out = append(out, weighed{v, w, errorAt(i*nx + j)})
			}
		}
	}
	return out
}

// marksOf gives the stations of a section by distance.
func marksOf(s *section.Section) []stationMark {
	out := make([]stationMark, len(s.Casts))
	names := namesOfStations(s.Casts)
	for k, c := range s.Casts {
		out[k] = stationMark{s.DistanceKm[k], c.Station, names.of(c)}
	}
	return out
}

// trackOf gives positions along a section: of its stations, since ticks of a second axis are read against them.
func trackOf(s *section.Section, g *gridding.Grid) *track {
	if g != nil && len(g.Track) > 1 && len(g.Axes) == 2 && len(g.Track) == len(g.Axes[1].Values) {
		return newTrack(g.Axes[1].Values, g.Track)
	}
	at := make([]orb.Point, len(s.Casts))
	for k, c := range s.Casts {
		at[k] = c.At
	}
	return newTrack(s.DistanceKm, at)
}

// A floorShape is the bottom as pressure (dbar) by distance (km).
type floorShape struct {
	x, p    []float64
	assumed [][2]float64 // km from and to where nobody knows the depth, and the deepest value stands for the bottom
	deepest bool         // the deepest bin is the bottom because the cruise file says so
}

func (b *floorShape) none() bool { return len(b.x) == 0 }

// known says whether the depth is known anywhere.
func (b *floorShape) known() bool {
	return !b.none() && !(len(b.assumed) == 1 && b.assumed[0][0] <= b.x[0] && b.assumed[0][1] >= b.x[len(b.x)-1])
}

// assume notes that the depth is not known between two distances.
func (b *floorShape) assume(from, to float64) {
	if n := len(b.assumed); n > 0 && b.assumed[n-1][1] >= from {
		b.assumed[n-1][1] = max(b.assumed[n-1][1], to)
		return
	}
	b.assumed = append(b.assumed, [2]float64{from, to})
}

// assumeAround notes the stations whose depth is not known: what is drawn between neighbours is the straight line from one to the other.
func (b *floorShape) assumeAround(km []float64, known func(k int) bool) {
	for k := range km {
		if !known(k) {
			b.assume(km[max(0, k-1)], km[min(len(km)-1, k+1)])
		}
	}
}

func (b *floorShape) keys() []key {
	var ks []key
	if b.known() {
		text := "bottom"
		if b.deepest {
			text = "bottom, taken at the deepest values"
		}
		ks = append(ks, areaKey(seabed, text))
	}
	if len(b.assumed) > 0 {
		ks = append(ks, areaKey(unsounded, "below the deepest values; water depth not known"))
	}
	return ks
}

// solid says for captions what the solid shape is.
func (b *floorShape) solid() string {
	switch {
	case b.none():
		return ""
	case !b.known():
		return "; the solid shape lies below the deepest values, the bottom is not known"
	case b.deepest:
		return "; the solid shape is the bottom, taken at the deepest values"
	case len(b.assumed) > 0:
		return "; the solid shape is the bottom, in its lighter part what lies below the deepest values where the bottom is not known"
	}
	return "; the solid shape is the bottom"
}

// paramOf gives the value of a parameter, "" when there is none.
func paramOf(ps []metadata.Param, name string) string {
	for _, p := range ps {
		if p.Name == name {
			return p.Value
		}
	}
	return ""
}

// bottomOf gives the bottom by distance: from the grid, else from the casts. A grid has a bottom everywhere, as its method takes the deepest
// value of a cast whose water depth nobody knows; where that is so it is noted.
func bottomOf(s *section.Section, g *gridding.Grid) (b floorShape) {
	add := func(km, depth, lat float64) {
		if !math.IsNaN(depth) && depth > 0 && !math.IsNaN(lat) {
			b.x = append(b.x, km)
			b.p = append(b.p, seawater.Pressure(-depth, lat))
		}
	}
	if g != nil && len(g.Axes) == 2 && len(g.BottomM) == len(g.Axes[1].Values) {
		t := trackOf(s, g)
		for j, km := range g.Axes[1].Values {
			add(km, g.BottomM[j], t.along(t.lat, km))
		}
		switch g.Bottom {
		case gridding.DeepestBins:
			b.deepest = true
		case gridding.StatedDepth:
			b.assumeAround(s.DistanceKm, func(k int) bool { return s.Casts[k].BottomM > 0 })
		}
	}
	if !b.none() {
		return b
	}
	for k, c := range s.Casts {
		add(s.DistanceKm[k], c.BottomM, c.At[1])
	}
	if b.none() || len(b.x) == len(s.Casts) {
		return b
	}
	b.x, b.p = nil, nil // some depths are known: for the others the deepest value stands, as in a grid
	for k, c := range s.Casts {
		if n := len(c.PressureDbar); !(c.BottomM > 0) && n > 0 {
			b.x, b.p = append(b.x, s.DistanceKm[k]), append(b.p, c.PressureDbar[n-1])
			continue
		}
		add(s.DistanceKm[k], c.BottomM, c.At[1])
	}
	b.assumeAround(s.DistanceKm, func(k int) bool { return s.Casts[k].BottomM > 0 })
	return b
}

// depthOfPicture is the greatest pressure drawn: down to the bottom, but not far below the deepest value.
func depthOfPicture(deepest float64, bottomP []float64) float64 {
	most := deepest
	for _, p := range bottomP {
		most = max(most, p)
	}
	return min(most*1.02, deepest*1.2)
}

// lightDbar is how far down light reaches that makes chlorophyll, generously.
const lightDbar = 250

// upperShare is the part of the height that the expanded upper panel takes.
const upperShare = 0.46

// upperOf chooses where the upper panel ends: at a level of the grid.
func upperOf(asked, yMax float64, y []float64) float64 {
	u := asked
	if u == 0 {
		switch {
		case yMax > 3000:
			u = 1000
		case yMax > 1500:
			u = 500
		default:
			return 0
		}
	}
	if u >= 0.85*yMax || u < 0 {
		return 0
	}
	k := sort.SearchFloat64s(y, u)
	if k == len(y) || k == 0 {
		return 0
	}
	if y[k]-u > u-y[k-1] {
		k--
	}
	return y[k]
}

// overlayOf gives a density field on the grid.
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

// A sheet is a page with its margins: what every section picture shares.
type sheet struct {
	s     *scene
	width Width
	size  float64 // of numbers
	l, r  float64 // of the frames
	y     float64 // how far down the page is used
}

// newSheet begins a page; the height is set when the page is done.
func newSheet(w Width, rightMargin float64) *sheet {
	p := &sheet{s: newScene(w.points(), 2000), width: w, size: mainType}
	if w == OneColumn {
		p.size = smallTyp
	}
	p.l, p.r = 33, w.points()-rightMargin
	p.y = 3
	return p
}

func (p *sheet) tall(two, one float64) float64 {
	if p.width == OneColumn {
		return one
	}
	return two
}

// heading writes the subject at the left, and the place at the right when there is room, else below it.
func (p *sheet) heading(subject, place string) {
	size := p.size + 0.6
	for _, line := range wrap(strong, subject, size, p.s.w-p.l-4) {
		p.s.text(label{text: line, at: pt{p.l, p.y}, size: size, v: top, bold: true})
		p.y += size * 1.3
	}
	l := label{text: place, at: pt{p.s.w - 4, p.y - size*1.3}, size: size, h: right, v: top, colour: softInk}
	if !p.s.tryText(l, 6) {
		for _, line := range wrap(regular, place, size, p.s.w-p.l-4) {
			p.s.text(label{text: line, at: pt{p.l, p.y}, size: size, v: top, colour: softInk})
			p.y += size * 1.3
		}
	}
	p.y += 2
}

// stationRow leaves room for the numbers of stations.
func (p *sheet) stationRow() { p.y += p.size + 6 }

// stations writes them along the top of a frame, and the word before them when there is room.
func (p *sheet) stations(fr *frame, marks []stationMark) {
	fr.stationsOnTop(p.s, marks, p.size)
	p.s.tryText(label{text: "Station", at: pt{p.l - 8.5, fr.t - 5.2}, size: p.size, h: right, v: base, colour: softInk}, 1)
}

// sideTitle writes the name of a vertical axis along the left edge of the page.
func (p *sheet) sideTitle(text string, y float64) {
	p.s.text(label{text: text, at: pt{2 + capHeight*p.size, y}, size: p.size, h: middle, v: base, turn: 90})
}

// distanceAxes draws distance and position under the last frame.
func (p *sheet) distanceAxes(fr *frame, t *track, which string) {
	most := int(max(3, (fr.r-fr.l)/(p.size*5.2)))
	fr.bottomAxis(p.s, fr.ticksThatFit(most, p.size), p.size)
	p.y = fr.b + tickLength + 2 + p.size
	p.s.text(label{text: "Distance (km)", at: pt{(fr.l + fr.r) / 2, p.y + 1.5}, size: p.size, h: middle, v: top})
	p.y += 1.5 + p.size*1.05
	if t != nil {
		p.y += 3.5
		word := fr.secondAxis(p.s, t, which, p.y, p.size)
		p.y += tickLength + 2 + p.size
		p.s.text(label{text: upperFirst(word), at: pt{(fr.l + fr.r) / 2, p.y + 1.5}, size: p.size, h: middle, v: top})
		p.y += 1.5 + p.size*1.05
	}
	p.y += 3
}

// A key is one entry of the explanation below a picture: a swatch drawn in a small box, and words.
type key struct {
	draw func(s *scene, x0, y0, x1, y1 float64)
	text string
}

// keys writes the explanation in rows.
func (p *sheet) keys(ks []key) {
	const swatch = 13.0
	x := p.l
	size := p.size - 0.4
	row := size * 1.65
	for _, k := range ks {
		lines := wrap(regular, k.text, size, p.s.w-4-p.l-swatch-3)
		w := 0.0
		for _, l := range lines {
			w = max(w, textWidth(regular, l, size))
		}
		if x > p.l && x+swatch+3+w > p.s.w-4 {
			x = p.l
			p.y += row
		}
		mid := p.y + row/2
		k.draw(p.s, x, mid-size*0.42, x+swatch, mid+size*0.42)
		for n, l := range lines {
			if n > 0 {
				p.y += size * 1.25
				mid = p.y + row/2
			}
			p.s.text(label{text: l, at: pt{x + swatch + 3, mid}, size: size, v: centre})
		}
		x += swatch + 3 + w + 9
	}
	if len(ks) > 0 {
		p.y += row + 1
	}
}

// done gives the page its height.
func (p *sheet) done() *scene {
	p.s.h = math.Ceil(p.y + 3)
	return p.s
}

func areaKey(c color.NRGBA, text string) key {
	return key{func(s *scene, x0, y0, x1, y1 float64) {
		s.fill(rect(x0, y0, x1, y1), c)
		s.outline(rect(x0, y0, x1, y1), pen{colour: ink, width: hair})
	}, text}
}

func hatchKey(ground color.NRGBA, angle float64, text string) key {
	return key{func(s *scene, x0, y0, x1, y1 float64) {
		s.fill(rect(x0, y0, x1, y1), ground)
		s.stroke(hatch(rect(x0, y0, x1, y1), hatchSpacing, angle), pen{colour: hatchInk, width: hair})
		s.outline(rect(x0, y0, x1, y1), pen{colour: ink, width: hair})
	}, text}
}

func lineKey(n pen, under *pen, text string) key {
	return key{func(s *scene, x0, y0, x1, y1 float64) {
		y := (y0 + y1) / 2
		if under != nil {
			u := *under
			u.width += n.width
			s.line(x0, y, x1, y, u)
		}
		s.line(x0, y, x1, y, n)
	}, text}
}

const (
	hatchSpacing = 3.0
	noValueAngle = 45  // of the hatching where there is no value
	doubtAngle   = -45 // of the hatching where the error is large
)

// How far apart, in points, lines of one kind must run for all of them to be drawn.
const (
	overlayApart = 4.5
	levelApart   = 1.4
)

var overlayUnder = pen{colour: paper, width: 1.1}
var overlayPen = pen{colour: ink, width: 0.9}

func (f *Section) draw(w Width) (*scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	d.chooseLevels()
	limit := f.limit()
	p := newSheet(w, 45)
	p.heading(titleOfField(d.field, f.Grid), sectionTitle(f.Section, f.Title))
	p.stationRow()
	top := p.y
	var frames []frame
	if d.upper > 0 {
		h := p.tall(238, 168)
		cut := top + h*upperShare
		frames = []frame{
			{l: p.l, r: p.r, t: top, b: cut, x0: d.x0, x1: d.x1, y0: 0, y1: d.upper},
			{l: p.l, r: p.r, t: cut + 5, b: top + h + 5, x0: d.x0, x1: d.x1, y0: d.upper, y1: d.yMax},
		}
	} else {
		h := p.tall(178, 130)
		frames = []frame{{l: p.l, r: p.r, t: top, b: top + h, x0: d.x0, x1: d.x1, y0: d.top(), y1: d.yMax}}
	}
	d.drawFrames(p, frames, limit)
	p.stations(&frames[0], d.marks)
	last := &frames[len(frames)-1]
	for k := range frames {
		fr := &frames[k]
		fr.border(p.s)
		most := int(max(2, (fr.b-fr.t)/20))
		if w == OneColumn {
			most = int(max(2, (fr.b-fr.t)/16))
		}
		fr.leftAxis(p.s, axisTicks(fr.y0, fr.y1, most, k > 0), p.size)
	}
	axis := &f.Grid.Axes[0].Variable
	p.sideTitle(titleText(axis), (top+last.b)/2)
	colourBar(p, frames[0].t, last.b, d.f.levels, d.f.colours, d.field.Units)
	if len(d.f.levels) == 0 { // one colour stands for one value
		for _, v := range d.raw {
			if !math.IsNaN(v) {
				p.s.text(label{text: short(round(v)), at: pt{p.r + 19, (frames[0].t + last.b) / 2}, size: p.size, v: centre})
				break
			}
		}
	}
	p.distanceAxes(last, d.track, f.Axis)
	p.keys(d.explain(f, limit))
	return p.done(), nil
}

// axisTicks gives round values of pressure; the first of a lower panel is left out when it is the edge shared with the one above.
func axisTicks(y0, y1 float64, most int, lower bool) []float64 {
	t := ticks(y0, y1, most)
	if lower && len(t) > 1 && t[0] == y0 {
		t = t[1:]
	}
	return t
}

func titleOfField(f *gridding.Field, g *gridding.Grid) string {
	name := nameText(&f.Variable)
	if f.Of != "" {
		of := f.Of
		if p := findField(g, f.Of); p != nil {
			of = nameText(&p.Variable)
		}
		switch f.Kind {
		case gridding.StandardError:
			return withUnit("Mapping error of "+lowerName(of), f.Units)
		case gridding.RelativeError:
			return "Mapping error variance over signal variance, " + lowerName(of)
		case gridding.CountField:
			return "Number of data, " + lowerName(of)
		}
	}
	return withUnit(name, f.Units)
}

// lowerName puts a name into a sentence: "Conservative Temperature" and "Absolute Salinity" keep their capitals.
func lowerName(n string) string {
	if n == "Conservative Temperature" || n == "Absolute Salinity" {
		return n
	}
	return lowerFirst(n)
}

// below says which nodes lie under the bottom, or so close above it that a hole between them and the bottom would be no more than a
// pattern of rows and columns.
func (d *sectionData) below(g *field) []bool {
	const rows = 2
	out := make([]bool, len(g.data))
	if d.floor.none() {
		return out
	}
	for j, x := range g.x {
		b := interpolate(d.floor.x, d.floor.p, x)
		for i, y := range g.y {
			step := 0.0
			if i > 0 {
				step = y - g.y[i-1]
			}
			out[i*len(g.x)+j] = y > b-rows*step || (y > d.last && d.carried > 0)
		}
	}
	return out
}

// look finds what the caption has to explain: parts without a value and parts of large error.
func (d *sectionData) look(limit float64) {
	nx := len(d.f.x)
	under := d.below(d.f)
	for k, v := range d.f.data {
		y := d.f.y[k/nx]
		switch {
		case y > d.yMax:
		case math.IsNaN(v) && !under[k]:
			d.masked = true
			d.beneath = d.beneath || y > d.last
		case !math.IsNaN(v) && d.error != nil && d.error.data[k] > limit:
			d.doubtful = true
		}
	}
}

// drawFrames paints the field into the panels.
func (d *sectionData) drawFrames(p *sheet, frames []frame, limit float64) {
	nx := int((p.r - p.l) * 1.1)
	below := d.below
	var oLevels []float64
	if d.lines != nil {
		var vs []weighed
		for k, v := range d.lines.data[:len(d.raw)] {
			if !math.IsNaN(v) && !math.IsNaN(d.raw[k]) {
				vs = append(vs, weighed{v, 1, 0})
			}
		}
		oLevels = chooseLevels(vs, 9)
	}
	for k := range frames {
		fr := &frames[k]
		ny := int((fr.b - fr.t) * 1.5)
		cut := func(g *field) *field {
			return g.window(fr.y0, fr.y1).thin(nx, ny)
		}
		s := p.s
		s.fill(rect(fr.l, fr.t, fr.r, fr.b), noValue)
		s.stroke(hatch(rect(fr.l, fr.t, fr.r, fr.b), hatchSpacing, noValueAngle), pen{colour: hatchInk, width: hair})
		g := cut(d.f)
		under := below(g)
		for i := range g.data {
			if math.IsNaN(g.data[i]) && !under[i] {
				d.masked = true
				d.beneath = d.beneath || g.y[i/len(g.x)] > d.last
			}
		}
		g.fillBelow(under, d.rows+1)
		g.paint(s, fr)
		if d.error != nil {
			e := cut(d.error)
			e.fillBelow(below(e), d.rows+1)
			for i := range e.data { // no hatching for doubt where there is no value
				if math.IsNaN(g.data[i]) {
					e.data[i] = math.NaN()
				}
			}
			if len(e.x) > 1 && len(e.y) > 1 {
				region := onPage(contour.Above(e.x, e.y, e.data, []float64{limit})[0], fr)
				if len(region) > 0 {
					d.doubtful = true
					s.stroke(hatch(region, hatchSpacing, doubtAngle), pen{colour: hatchInk, width: hair})
				}
			}
		}
		free := func(q pt) bool {
			x := fr.x0 + (q.x-fr.l)/(fr.r-fr.l)*(fr.x1-fr.x0)
			y := fr.y0 + (q.y-fr.t)/(fr.b-fr.t)*(fr.y1-fr.y0)
			return d.floor.none() || y < interpolate(d.floor.x, d.floor.p, x)
		}
		var overlay func()
		if d.lines != nil {
			o := cut(d.lines)
			for i := range o.data {
				if math.IsNaN(g.data[i]) {
					o.data[i] = math.NaN()
				}
			}
			o.fillBelow(below(o), d.rows+1)
			traced := partTogether(o.trace(fr, oLevels), oLevels, overlayApart)
			overlay = labelLines(s, fr, traced, oLevels, lineStyle{
				pen: func(float64) pen { return overlayPen }, under: &overlayUnder, size: p.size - 0.4, bold: true,
				text: short, colour: func(float64) color.NRGBA { return ink },
				perPoint: 420, free: free, patch: true,
			})
			onTop := free
			free = func(q pt) bool { return onTop(q) && awayFromAll(q, traced, 2.2) }
		}
		g.levelLines(s, fr, p, free, d.field.Kind != gridding.Value)
		if overlay != nil {
			overlay()
		}
		d.floor.paint(s, fr)
	}
}

// awayFromAll says whether a point keeps a distance from lines.
func awayFromAll(q pt, lines [][][]pt, far float64) bool {
	for _, level := range lines {
		for _, l := range level {
			for k := 1; k < len(l); k++ {
				a, b := l[k-1], l[k]
				if min(a.x, b.x)-far > q.x || max(a.x, b.x)+far < q.x || min(a.y, b.y)-far > q.y || max(a.y, b.y)+far < q.y {
					continue
				}
				if awayFrom(q, a, b) < far {
					return false
				}
			}
		}
	}
	return true
}

// levelLines draws the lines between the bands, in a colour that shows on them.
func (f *field) levelLines(s *scene, fr *frame, p *sheet, free func(pt) bool, quiet bool) {
	if len(f.x) < 2 || len(f.y) < 2 {
		return
	}
	inkFor := func(l float64) color.NRGBA {
		k := f.bandOf(l)
		lower := max(0, k-1)
		if (labOf(f.colours[k]).L+labOf(f.colours[lower]).L)/2 < 0.60 {
			return color.NRGBA{250, 250, 248, 255}
		}
		return ink
	}
	zero := colourOfZero(f.levels)
	onto := free
	free = func(q pt) bool { return onto(q) && f.known(fr, q) }
	lines := partTogether(f.trace(fr, f.levels), f.levels, levelApart)
	zeroWidth := heavy
	if zero {
		if p.width == OneColumn {
			zeroWidth = 1
		}
		long := 0.0
		for _, l := range lines[len(f.levels)/2] {
			long += length(l)
		}
		// Where the zero line is everywhere, a heavy one would be all there is to see.
		if width := f.x[len(f.x)-1] - f.x[0]; long > 0 {
			between := (fr.b - fr.t) * (fr.r - fr.l) * width / (fr.x1 - fr.x0) / long
			zeroWidth = max(1.7*hair, min(zeroWidth, between/18))
		}
	}
	labelLines(s, fr, lines, f.levels, lineStyle{
		pen: func(l float64) pen {
			n := pen{colour: inkFor(l), width: hair}
			if zero && l == 0 {
				n = pen{colour: ink, width: zeroWidth}
			}
			return n
		},
		size: p.size - 0.7, text: scaled(tenPower(f.levels)), colour: inkFor,
		perPoint: 330, free: free, skip: func(float64) bool { return quiet }, steep: zero,
	})()
}

// colourOfZero says whether levels run over zero with zero among them, alike on both sides.
func colourOfZero(levels []float64) bool {
	n := len(levels)
	return n > 2 && levels[n/2] == 0 && levels[0] == -levels[n-1]
}

// interpolate is linear in x, with the end values beyond the ends.
func interpolate(xs, ys []float64, x float64) float64 {
	k := sort.SearchFloat64s(xs, x)
	if k == 0 {
		return ys[0]
	}
	if k == len(xs) {
		return ys[len(ys)-1]
	}
	d := xs[k] - xs[k-1]
	if d == 0 {
		return ys[k]
	}
	return ys[k-1] + (ys[k]-ys[k-1])*(x-xs[k-1])/d
}

// paint paints the bottom over a panel.
func (b *floorShape) paint(s *scene, fr *frame) {
	if b.none() {
		return
	}
	line := b.shape(s, fr, fr.x0, fr.x1, seabed)
	for _, r := range b.assumed {
		from, to := r[0], r[1]
		if from <= b.x[0] { // beyond the first and the last station it goes on
			from = fr.x0
		}
		if to >= b.x[len(b.x)-1] {
			to = fr.x1
		}
		b.shape(s, fr, from, to, unsounded)
	}
	// In grey the bottom can be as dark as the water above it: a line parts them.
	var pieces path
	for k := 1; k < len(line); k++ {
		high, low := min(line[k-1].y, line[k].y), max(line[k-1].y, line[k].y)
		if low > fr.t+1e-9 && high < fr.b-1e-9 { // not along the edge of the panel
			pieces = append(pieces, []pt{line[k-1], line[k]})
		}
	}
	s.stroke(join(pieces), pen{colour: ink, width: thin, round: true})
}

// shape fills what lies below the bottom between two distances and gives its upper side; nil when none of it is in the panel.
func (b *floorShape) shape(s *scene, fr *frame, from, to float64, c color.NRGBA) []pt {
	var line []pt
	lastX, lastP := from, interpolate(b.x, b.p, from)
	add := func(x, p float64) { line = append(line, fr.at(x, max(fr.y0, min(fr.y1, p)))) }
	next := func(x, p float64) {
		edges := [2]float64{fr.y0, fr.y1} // the bottom passes the edges of the panel in this order
		if p < lastP {
			edges = [2]float64{fr.y1, fr.y0}
		}
		for _, edge := range edges {
			if (lastP-edge)*(p-edge) < 0 {
				add(lastX+(edge-lastP)/(p-lastP)*(x-lastX), edge)
			}
		}
		add(x, p)
		lastX, lastP = x, p
	}
	add(lastX, lastP)
	for k, x := range b.x {
		if x > from && x < to {
			next(x, b.p[k])
		}
	}
	next(to, interpolate(b.x, b.p, to))
	deep := true
	for _, q := range line {
		deep = deep && q.y >= fr.b-1e-9
	}
	if deep {
		return nil
	}
	line = simplify(line)
	ring := append(append([]pt(nil), line...), pt{fr.X(to), fr.b}, pt{fr.X(from), fr.b})
	s.fill(path{ring}, c)
	return line
}

// tenPower gives the power of ten that is taken out of numbers too long to be read, 0 mostly.
func tenPower(levels []float64) int {
	most, long := 0.0, 0
	for _, v := range levels {
		most = max(most, math.Abs(v))
		long = max(long, len([]rune(short(v))))
	}
	if most == 0 || long <= 7 && most > 1e-6 {
		return 0
	}
	if most > 0.01 && most < 1e5 {
		return 0
	}
	return 3 * int(math.Floor(math.Floor(math.Log10(most)+1e-9)/3))
}

// scaled prints a level without the power of ten.
func scaled(e int) func(v float64) string {
	return func(v float64) string { return short(round(v / math.Pow10(e))) }
}

func powerText(e int) string {
	if e == 0 {
		return ""
	}
	t := "10"
	for _, r := range fmt.Sprint(e) {
		t += string(raisedOf[r])
	}
	return t
}

// colourBar draws the bands one above the other with their levels, and the unit on top.
func colourBar(p *sheet, t, b float64, levels []float64, colours []color.NRGBA, units string) {
	s := p.s
	l := p.r + 8
	r := l + 8
	power := tenPower(levels)
	if u := strings.TrimSpace(powerText(power) + " " + unitText(units)); u != "" {
		s.text(label{text: u, at: pt{min(l, s.w-3-textWidth(regular, u, p.size)), t}, size: p.size, v: top})
		t += p.size * 1.45
	}
	n := float64(len(colours))
	h := (b - t) / n
	for k, c := range colours {
		y1 := b - float64(k)*h
		s.fill(rect(l, y1-h, r, y1), c)
	}
	s.outline(rect(l, t, r, b), pen{colour: ink, width: thin})
	each := 1
	for float64(each)*h < p.size*1.08 {
		each++
	}
	from := 0
	if colourOfZero(levels) {
		from = (len(levels) / 2) % each
	}
	for k, v := range levels {
		y := b - float64(k+1)*h
		s.line(l, y, r, y, pen{colour: ink, width: hair})
		if (k-from)%each != 0 {
			continue
		}
		s.line(r, y, r+1.8, y, pen{colour: ink, width: thin})
		s.text(label{text: scaled(power)(v), at: pt{r + 3, y}, size: p.size, v: centre})
	}
}

// reasonWords says why a node holds no value, by the numbers of gridding's field of reasons; the bottom is drawn and needs no words.
var reasonWords = [...]string{gridding.AboveFirst: "above the first data", gridding.OutsideCasts: "outside the stations",
	gridding.InGap: "gap in a cast", gridding.NoData: "no data near", gridding.ErrorTooBig: "mapping error too large"}

// why lists the reasons at hand, in brackets.
func (d *sectionData) why() string {
	var out []string
	for k, w := range reasonWords {
		if w != "" && d.reasons[k] {
			out = append(out, w)
		}
	}
	if d.beneath {
		out = append(out, "below the casts")
	}
	if len(out) == 0 {
		return ""
	}
	return " (" + strings.Join(out, ", ") + ")"
}

// explain gives the key below the picture.
func (d *sectionData) explain(f *Section, limit float64) []key {
	var ks []key
	ks = append(ks, d.floor.keys()...)
	if d.masked {
		ks = append(ks, hatchKey(noValue, noValueAngle, "no value"+d.why()))
	}
	if d.doubtful {
		ks = append(ks, hatchKey(paper, doubtAngle, "error variance above "+short(limit)+" of the signal's"))
	}
	if d.lines != nil {
		name := signOf(f.Overlay)
		if name == "" {
			name = f.Overlay
		}
		ks = append(ks, lineKey(overlayPen, &overlayUnder, name+" (kg m⁻³)"))
	}
	return ks
}

func (f *Section) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	d.chooseLevels()
	var c caption
	title := titleOfField(d.field, f.Grid)
	c.head = title + ", " + sectionTitle(f.Section, f.Title)
	lines := "labelled lines"
	if d.field.Kind != gridding.Value {
		lines = "lines"
	}
	c.what = fmt.Sprintf("%s along %s, from %s. Shaded bands and %s show the gridded field%s; ticks along the top are stations.",
		title, lowerSection(f.Section, f.Title), stationSpan(f.Section), lines, d.floor.solid())
	if f.Overlay != "" {
		c.what += fmt.Sprintf(" Heavy lines: %s (kg m⁻³).", signOf(f.Overlay))
	}
	if d.upper > 0 {
		c.what += fmt.Sprintf(" The upper %s dbar are drawn at a larger scale.", short(d.upper))
	}
	c.add("Where", whereText(f.Section))
	c.add("Station names", namesOfStations(f.Section.Casts).note())
	c.add("When", whenText(f.Section.Casts))
	c.add("Casts", number(float64(len(f.Section.Casts)), 0))
	c.add("Gridded", settings(slices.Concat(f.Grid.Params, f.Grid.Results)))
	of := d.field.Name
	if d.field.Of != "" {
		of = d.field.Of
	}
	c.add("Skill", skillText(f.Grid, of, d.field.Units))
	interval := withUnit(intervalText(d.f.levels), d.field.Units)
	if d.standard != nil && len(d.f.levels) > 1 {
		interval += "; where it is narrowed, not below twice the mapping error"
	}
	c.add("Contour interval", interval+"; lines that would run together are left out")
	limit := f.limit()
	d.look(limit)
	var hatched []string
	if d.doubtful {
		hatched = append(hatched, "error variance above "+short(limit)+" of the signal variance (//)")
	}
	if d.masked {
		hatched = append(hatched, "no value"+d.why()+" (\\\\)")
	}
	c.add("Hatched", strings.Join(hatched, "; "))
	if d.floor.none() {
		c.add("Bottom", "not known, not drawn")
	} else if d.carried > 0 {
		c.add("Near the bottom", "the deepest level of the grid is painted down to the bottom, "+significant(d.carried, 2)+" dbar at most")
	}
	c.about(a, !d.floor.none())
	return c, nil
}

// limit is the normalised error variance above which the picture is hatched.
func (f *Section) limit() float64 {
	if f.HatchAbove == 0 {
		return defaultHatch
	}
	return f.HatchAbove
}

func lowerSection(s *section.Section, title string) string {
	if title != "" {
		return title
	}
	return "section " + s.Name
}

func stationSpan(s *section.Section) string {
	return fmt.Sprintf("station %s to station %s", trimZeros(s.Casts[0].Station), trimZeros(s.Casts[len(s.Casts)-1].Station))
}

func whereText(s *section.Section) string {
	a, b := s.Casts[0].At, s.Casts[len(s.Casts)-1].At
	return fmt.Sprintf("%s, %s to %s, %s; %s km along the track", latText(a[1], 3), lonText(a[0], 3), latText(b[1], 3), lonText(b[0], 3),
		significant(s.DistanceKm[len(s.DistanceKm)-1], 4))
}

// whenText gives the first and the last day of casts.
func whenText(casts []*section.Cast) string {
	var first, last time.Time
	for _, c := range casts {
		if c.Time.IsZero() {
			continue
		}
		if first.IsZero() || c.Time.Before(first) {
			first = c.Time
		}
		if c.Time.After(last) {
			last = c.Time
		}
	}
	if first.IsZero() {
		return "not known"
	}
	const day = "2006-01-02"
	a, b := first.UTC().Format(day), last.UTC().Format(day)
	if a == b {
		return a + " (UTC)"
	}
	return a + " to " + b + " (UTC)"
}

// skillText says how well the grid predicts a station it has not seen.
func skillText(g *gridding.Grid, variable, units string) string {
	for _, k := range g.Skill {
		if k.Variable != variable || k.N == 0 {
			continue
		}
		t := fmt.Sprintf("predicting each inner station from the others, rms %s, bias %s, %d data", withPlain(significant(k.RMS, 2), units),
			withPlain(significant(k.Bias, 2), units), k.N)
		if !math.IsNaN(k.SkillLinear) {
			t += fmt.Sprintf("; 1 − rms²/rms²(linear along distance) = %s", number(k.SkillLinear, 2))
		}
		if k.EndN > 0 {
			t += fmt.Sprintf("; end stations rms %s, %d data", withPlain(significant(k.EndRMS, 2), units), k.EndN)
		}
		return t
	}
	return "not computed"
}

func withPlain(v, units string) string {
	if u := unitText(units); u != "" {
		return v + " " + u
	}
	return v
}
