package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// LeaveOneOut shows how well a grid predicts a station it has not seen: at every station the prediction from all others minus the datum,
// and beneath the root mean square of each station.
type LeaveOneOut struct {
	Name      string
	Title     string
	Section   *section.Section
	Variable  metadata.Variable
	Residuals []Residual
	Skill     gridding.Skill // the numbers for the caption; zero when there are none
	Params    []metadata.Param
	UpperDbar float64 // as in Section
}

// A Residual is one datum that was predicted from the other stations. Residuals of a station follow each other, downward.
type Residual struct {
	Station      int     // index into Section.Casts
	PressureDbar float64 // of the datum
	Value        float64 // prediction minus datum, in the variable's units; NaN where the method gave none
}

// Stem implements Figure.
func (f *LeaveOneOut) Stem() string { return f.Name }

func (f *LeaveOneOut) prepare() (rms []float64, deepest float64, err error) {
	if err := checkSection(f.Section, f.Name); err != nil {
		return nil, 0, err
	}
	rms = make([]float64, len(f.Section.Casts))
	n := make([]float64, len(rms))
	any := false
	for _, r := range f.Residuals {
		if r.Station < 0 || r.Station >= len(rms) || math.IsNaN(r.Value) {
			continue
		}
		any = true
		rms[r.Station] += r.Value * r.Value
		n[r.Station]++
		deepest = max(deepest, r.PressureDbar)
	}
	if !any {
		return nil, 0, fmt.Errorf("%s: %w: no station could be predicted", f.Name, ErrNoValues)
	}
	for k := range rms {
		rms[k] = math.Sqrt(rms[k] / n[k]) // NaN for a station without predictions
	}
	return rms, deepest, nil
}

func (f *LeaveOneOut) levels() []float64 {
	var vs []weighed
	for _, r := range f.Residuals {
		if !math.IsNaN(r.Value) {
			vs = append(vs, weighed{r.Value, 1, 0})
		}
	}
	return zeroLevels(vs)
}

func (f *LeaveOneOut) draw(w Width) (*scene, error) {
	rms, deepest, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := newSheet(w, 45)
	p.heading(withUnit("Prediction minus datum, "+lowerName(nameText(&f.Variable)), f.Variable.Units), sectionTitle(f.Section, f.Title))
	p.stationRow()
	s := p.s
	floor := bottomOf(f.Section, nil)
	d := f.Section.DistanceKm
	pad := (d[len(d)-1] - d[0]) * 0.012
	fr := frame{l: p.l, r: p.r, t: p.y, b: p.y + p.tall(190, 140), x0: d[0] - pad, x1: d[len(d)-1] + pad, y0: 0, y1: depthOfPicture(deepest, floor.p)}
	frames := []frame{fr}
	if u := upperOf(f.UpperDbar, fr.y1, ticks(0, fr.y1, 200)); u > 0 {
		cut := fr.t + (fr.b-fr.t)*upperShare
		frames = []frame{fr, fr}
		frames[0].b, frames[0].y1 = cut, u
		frames[1].t, frames[1].y0, frames[1].b = cut+5, u, fr.b+5
	}
	levels := f.levels()
	colours := bandColours(mustMap("difference1"), levels)
	bands := &field{levels: levels}
	p.stations(&frames[0], marksOf(f.Section))
	for k := range frames {
		floor.paint(s, &frames[k]) // first: values may lie below a depth as logged
		f.columns(s, &frames[k], bands.bandOf, colours)
		frames[k].border(s)
		frames[k].leftAxis(s, axisTicks(frames[k].y0, frames[k].y1, int(max(2, (frames[k].b-frames[k].t)/(p.size*2.8))), k > 0), p.size)
	}
	last := &frames[len(frames)-1]
	pres := metadata.MustVariable("pres")
	p.sideTitle(titleText(&pres), (fr.t+last.b)/2)
	colourBar(p, fr.t, last.b, levels, colours, f.Variable.Units)

	most := 0.0
	for _, v := range rms {
		if !math.IsNaN(v) {
			most = max(most, v)
		}
	}
	if most == 0 {
		most = 1
	}
	power := tenPower([]float64{most})
	most *= math.Pow10(-power)
	low := frame{l: p.l, r: p.r, t: last.b + 7, b: last.b + 7 + p.tall(44, 36), x0: fr.x0, x1: fr.x1, y0: most * 1.1, y1: 0}
	for k, v := range rms {
		if math.IsNaN(v) {
			continue
		}
		half := f.halfWidth(&low, k)
		s.fill(rect(low.X(d[k])-half, low.Y(v*math.Pow10(-power)), low.X(d[k])+half, low.b), softInk)
	}
	low.border(s)
	low.leftAxis(s, ticks(0, low.y0, 3), p.size)
	unit := strings.TrimSpace(powerText(power) + " " + unitText(f.Variable.Units))
	if unit != "" {
		unit = " (" + unit + ")"
	}
	p.sideTitle("rms"+unit, (low.t+low.b)/2)
	p.distanceAxes(&low, trackOf(f.Section, nil), "")
	p.keys(floor.keys())
	if f.Skill.N > 0 {
		g := gridding.Grid{Skill: []gridding.Skill{f.Skill}}
		for _, l := range wrap(regular, upperFirst(skillText(&g, f.Skill.Variable, f.Variable.Units))+".", p.size, s.w-4-p.l) {
			s.text(label{text: l, at: pt{p.l, p.y}, size: p.size, v: top})
			p.y += p.size * 1.32
		}
	}
	return p.done(), nil
}

// halfWidth of the column of a station: most of the way to its nearest neighbour, but no wider than a few points.
func (f *LeaveOneOut) halfWidth(fr *frame, k int) float64 {
	d := f.Section.DistanceKm
	w := 5.0
	if k > 0 {
		w = min(w, fr.X(d[k])-fr.X(d[k-1]))
	}
	if k+1 < len(d) {
		w = min(w, fr.X(d[k+1])-fr.X(d[k]))
	}
	return max(0.3, w*0.4)
}

// columns draws each station as a column of bands: a datum fills the height half way to its neighbours.
func (f *LeaveOneOut) columns(s *scene, fr *frame, band func(float64) int, colours []color.NRGBA) {
	areas := make([]path, len(colours))
	d := f.Section.DistanceKm
	rs := f.Residuals
	for k, r := range rs {
		if math.IsNaN(r.Value) || r.Station < 0 || r.Station >= len(d) {
			continue
		}
		up, down := r.PressureDbar, r.PressureDbar
		if k > 0 && rs[k-1].Station == r.Station {
			up = (rs[k-1].PressureDbar + r.PressureDbar) / 2
		}
		if k+1 < len(rs) && rs[k+1].Station == r.Station {
			down = (rs[k+1].PressureDbar + r.PressureDbar) / 2
		}
		up, down = max(up, fr.y0), min(down, fr.y1)
		if !(down > up) {
			continue
		}
		half := f.halfWidth(fr, r.Station)
		x := fr.X(d[r.Station])
		b := band(r.Value)
		areas[b] = append(areas[b], rect(x-half, fr.Y(up), x+half, fr.Y(down))[0])
	}
	for b, a := range areas {
		s.fill(a, colours[b])
	}
	for k := range d { // so that a column whose colour is near white is seen
		half := f.halfWidth(fr, k)
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, r := range rs {
			if r.Station == k && !math.IsNaN(r.Value) {
				lo, hi = min(lo, r.PressureDbar), max(hi, r.PressureDbar)
			}
		}
		lo, hi = max(lo, fr.y0), min(hi, fr.y1)
		if hi > lo {
			s.outline(rect(fr.X(d[k])-half, fr.Y(lo), fr.X(d[k])+half, fr.Y(hi)), pen{colour: faint, width: hair})
		}
	}
}

func (f *LeaveOneOut) caption(a *About) (caption, error) {
	if _, _, err := f.prepare(); err != nil {
		return caption{}, err
	}
	var c caption
	c.head = "Leave one station out, " + lowerName(nameText(&f.Variable)) + ", " + sectionTitle(f.Section, f.Title)
	c.what = fmt.Sprintf("Prediction of each station from all others minus its data, %s, along %s, %s; beneath, root mean square of each station.",
		titleText(&f.Variable), lowerSection(f.Section, f.Title), stationSpan(f.Section))
	c.add("Where", whereText(f.Section))
	c.add("Station names", namesOfStations(f.Section.Casts).note())
	c.add("When", whenText(f.Section.Casts))
	c.add("Casts", number(float64(len(f.Section.Casts)), 0))
	c.add("Gridded", settings(f.Params))
	c.add("Skill", skillText(&gridding.Grid{Skill: []gridding.Skill{f.Skill}}, f.Skill.Variable, f.Variable.Units))
	c.add("Contour interval", withUnit(intervalText(f.levels()), f.Variable.Units))
	if floor := bottomOf(f.Section, nil); floor.none() {
		c.add("Bottom", "not known, not drawn")
	} else if len(floor.assumed) > 0 {
		c.add("Bottom", strings.TrimPrefix(floor.solid(), "; "))
	}
	c.about(a, true)
	return c, nil
}
