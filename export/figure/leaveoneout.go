package figure

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// LeaveOneOut shows how well a grid predicts a station it has not seen: at every station the prediction from
// all others minus the datum, and beneath the root mean square of each station.
type LeaveOneOut struct {
	Name      string
	Title     string
	Section   *section.Section
	Variable  metadata.Variable
	Residuals []Residual
	Skill     gridding.Skill // the numbers for the caption; zero when there are none
	Params    []metadata.Param
	UpperDbar float64        // as in Section
	Grid      *gridding.Grid // whose bottom is drawn; nil: that of the stations
	Depth     bool           // as in Section
}

// A Residual is one datum that was predicted from the other stations. Residuals of a station follow each
// other, downward.
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
	var vs []chart.Weighed
	for _, r := range f.Residuals {
		if !math.IsNaN(r.Value) {
			vs = append(vs, chart.Weighed{Value: r.Value, Weight: 1})
		}
	}
	return chart.ZeroLevels(vs)
}

func (f *LeaveOneOut) draw(w chart.Width) (*page.Scene, error) {
	rms, deepest, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := chart.NewSheet(w, 45)
	p.Heading("Prediction minus datum, "+lowerName(nameText(&f.Variable))+bracketed(unitOf(&f.Variable)),
		sectionTitle(f.Section, f.Title))
	p.StationRow()
	s := p.Scene
	floor := bottomOf(f.Section, f.Grid)
	d := f.Section.DistanceKm
	pad := (d[len(d)-1] - d[0]) * 0.012
	yMax := depthOfPicture(deepest, floor.p)
	upper := upperOf(cmp.Or(f.UpperDbar, splitOf(f.Section.Casts, floor.p, yMax)), yMax, chart.Ticks(0, yMax, 200))
	frames := p.Panels(p.Tall(190, 140), d[0]-pad, d[len(d)-1]+pad, 0, upper, yMax)
	levels := f.levels()
	bands := &chart.Field{Levels: levels, Colours: chart.BandColours(chart.Colours("difference1"), levels)}
	p.Stations(&frames[0], marksOf(f.Section))
	negative := false
	for k := range frames {
		floor.paint(s, &frames[k]) // first: values may lie below a depth as logged
		negative = f.columns(s, &frames[k], bands) || negative
	}
	down := verticalOf(f.Depth, f.Section.Casts)
	p.VerticalAxes(frames, p.Size*2.8, down.axis())
	last := &frames[len(frames)-1]
	chart.ColourBar(p, frames[0].T, last.B, levels, bands.Colours, unitOf(&f.Variable))

	low := *last
	low.T = last.B + 7
	low.B = low.T + p.Tall(44, 36)
	most := cmp.Or(max(0, chart.ExtentOf(rms).Hi), 1)
	power := chart.TenPower([]float64{most})
	scale := math.Pow10(-power)
	low.Y0, low.Y1 = most*scale*1.1, 0
	for k, v := range rms {
		if !math.IsNaN(v) {
			x, half := low.X(d[k]), f.halfWidth(&low, k)
			s.Fill(page.Rect(x-half, low.Y(v*scale), x+half, low.B), chart.SoftInk)
		}
	}
	low.Border(s)
	low.LeftAxis(s, chart.Ticks(0, low.Y0, 3), p.Size)
	unit := strings.TrimSpace(chart.PowerText(power) + " " + unitOf(&f.Variable))
	p.SideTitle("rms"+bracketed(unit), low.Mid().Y)
	p.DistanceAxes(&low, trackOf(f.Section, nil), "")
	ks := floor.keys()
	if negative {
		ks = append(ks, chart.AreaKey(page.Paper, "less than the datum, beyond the first level", chart.DoubtAngle))
	}
	p.Keys(ks)
	if f.Skill.N > 0 {
		p.Note(upperFirst(f.skill()) + ".")
	}
	return p.Done(), nil
}

func (f *LeaveOneOut) skill() string {
	return skillText(&gridding.Grid{Skill: []gridding.Skill{f.Skill}}, f.Skill.Variable, f.Variable.Units)
}

// halfWidth of the column of a station: most of the way to its nearest neighbour, but no wider than a few points.
func (f *LeaveOneOut) halfWidth(fr *chart.Frame, k int) float64 {
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

// columns draws each station as a column of bands: a datum fills the height half way to its neighbours. What lies
// below the first level under zero is hatched, so that signs are seen without colour; it reports whether any does.
func (f *LeaveOneOut) columns(s *page.Scene, fr *chart.Frame, bands *chart.Field) (negative bool) {
	areas := make([]page.Path, len(bands.Colours))
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
		up, down = max(up, fr.Y0), min(down, fr.Y1)
		if !(down > up) {
			continue
		}
		half := f.halfWidth(fr, r.Station)
		x := fr.X(d[r.Station])
		b := bands.BandOf(r.Value)
		areas[b] = append(areas[b], page.Rect(x-half, fr.Y(up), x+half, fr.Y(down))[0])
	}
	for b, a := range areas {
		s.Fill(a, bands.Colours[b])
		if b < len(bands.Levels) && bands.Levels[b] < 0 && len(a) > 0 {
			ink := chart.InkOn(bands, bands.Levels[b]) // light on dark bands
			s.Stroke(page.Hatch(a, 3, chart.DoubtAngle), page.Pen{Colour: ink, Width: chart.Hair})
			negative = true
		}
	}
	for k := range d { // so that a column whose colour is near white is seen
		half := f.halfWidth(fr, k)
		e := chart.NoExtent()
		for _, r := range rs {
			if r.Station == k && !math.IsNaN(r.Value) {
				e.Add(r.PressureDbar)
			}
		}
		if lo, hi := max(e.Lo, fr.Y0), min(e.Hi, fr.Y1); hi > lo {
			column := page.Rect(fr.X(d[k])-half, fr.Y(lo), fr.X(d[k])+half, fr.Y(hi))
			s.Outline(column, page.Pen{Colour: chart.Faint, Width: chart.Hair})
		}
	}
	return negative
}

func (f *LeaveOneOut) caption(a *About) (caption, error) {
	_, deepest, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Leave one station out, " + lowerName(nameText(&f.Variable)) + ", " +
		sectionTitle(f.Section, f.Title)}
	rms := ""
	if f.Skill.N > 0 {
		rms = fmt.Sprintf("Root mean square of %d values: %s %s.", f.Skill.N, chart.Significant(f.Skill.RMS, 2),
			unitOf(&f.Variable))
	}
	c.write(fmt.Sprintf("%s: prediction of each station from all others minus its data, %s, %s. Colours show how "+
		"far each "+
		"value is missed; bars beneath, the root mean square of each station.", sectionTitle(f.Section, f.Title),
		titleText(&f.Variable), stationSpan(f.Section)), rms, a.data(), "Columns are stations, and pale colours "+
		"are near zero.",
		"The deepest data are at the lower edge.")
	residuals := chart.NoExtent()
	for _, r := range f.Residuals {
		residuals.Add(r.Value)
	}
	c.span("prediction minus datum", residuals, unitOf(&f.Variable))
	down := verticalOf(f.Depth, f.Section.Casts)
	down.span(&c, chart.Extent{Hi: deepest})
	c.along(f.Section)
	c.add("Gridded", settings(f.Params))
	c.add("Skill", f.skill())
	c.add("Contour interval", chart.IntervalText(f.levels())+bracketed(unitOf(&f.Variable)))
	floor := bottomOf(f.Section, f.Grid)
	c.bottom(&floor)
	c.about(a, true)
	return c, nil
}
