package figure

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// Hatching below the last common levels of a flat-bottomed section is explained.
func TestHatchingBelowCommonLevelsIsExplained(t *testing.T) {
	s, _ := invent(wideLayout)
	r := currents(s)
	for k := range r.Stations { // all casts end 90 m above a flat bottom
		r.Stations[k].BottomM = 1200
	}
	for k := range r.Pairs {
		q := &r.Pairs[k]
		q.Status, q.Reason = geostrophy.Computed, ""
		q.PressureDbar, q.Velocity = nil, nil
		for p := 2.0; p <= 1110; p += 2 {
			q.PressureDbar, q.Velocity = append(q.PressureDbar, p), append(q.Velocity, 0.1*math.Exp(-p/500))
		}
	}
	p, err := (&Velocity{Name: "v", Result: r}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Has("no common levels") {
		t.Errorf("not explained: %v", p.Words)
	}
}

// A section that turns has no one direction in which velocity is positive.
func TestDirectionOfATurningSection(t *testing.T) {
	s, _ := invent(wideLayout)
	r := currents(s)
	n := len(r.Pairs)
	for k := range r.Pairs {
		r.Pairs[k].PositiveDeg = math.Mod(100+200*float64(k)/float64(n-1), 360)
	}
	got := (&Velocity{Name: "v", Result: r}).direction()
	if want := "Positive: to the left of the direction of the section; the section turns: towards east (100° true) " +
		"at its first pair, towards west-northwest (300° true) at its last."; got != want {
		t.Errorf("%s", got)
	}
	for k := range r.Pairs {
		r.Pairs[k].PositiveDeg = []float64{350, 20}[k%2] // about north
	}
	if got := (&Velocity{Name: "v", Result: r}).direction(); !strings.HasPrefix(got, "Positive: towards north (") {
		t.Errorf("%s", got)
	}
}

// The reference level at the lower end of a pair makes no zero line along it; one in the middle does.
func TestReferenceAtTheLowerEnd(t *testing.T) {
	f := &chart.Field{X: []float64{0}, Y: []float64{0, 1, 2, 3}, Data: []float64{-0.3, -0.1, 0, math.NaN()}}
	signAtEnd(f, 0)
	if f.Data[2] >= 0 || f.Data[2] < -1e-3 {
		t.Errorf("zero below -0.1 became %g", f.Data[2])
	}
	f.Data = []float64{-0.3, 0, 0.1, 0.2}
	signAtEnd(f, 0)
	if f.Data[1] != 0 || f.Data[3] != 0.2 {
		t.Errorf("a zero that is no lower end was changed: %v", f.Data)
	}
}

// In the middle of many upright lines labels stand upright, and are read upward.
func TestUprightLabels(t *testing.T) {
	s, _ := invent(wideLayout)
	p, err := (&Velocity{Name: "a", Result: currents(s)}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	labels, upright := 0, 0
	for _, o := range p.Ops {
		if o.Kind != page.TextOp || o.Label.Turn == 0 || strings.ContainsAny(o.Label.Text,
			"abcdefghijklmnopqrstuvwxyz") {
			continue
		}
		labels++
		if math.Abs(o.Label.Turn) > 72 {
			upright++
		}
		if o.Label.Turn < -80 {
			t.Errorf("%s is read downward (%.0f degrees)", o.Label.Text, o.Label.Turn)
		}
	}
	if labels < 10 || upright == 0 {
		t.Errorf("%d labels on lines, %d upright", labels, upright)
	}
}

// Signs of velocity are seen without colour: dashed lines below zero in the picture and its bar, hatched bars
// of negative transport, and the signs of a current into and out of the page.
func TestSignsWithoutColour(t *testing.T) {
	s, _ := invent(wideLayout)
	r := currents(s)
	for k := range r.Pairs {
		r.Pairs[k].AzimuthDeg, r.Pairs[k].PositiveDeg = 80, 350
	}
	p, err := (&Velocity{Name: "v", Result: r}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	pale := chart.Colours("velocity1").At(0.36)
	dashed, plain, bars, hatched := 0, 0, 0, 0
	for k, o := range p.Ops {
		switch {
		case o.Kind == page.StrokeOp && o.Pen.Width == chart.Hair && len(o.Pen.Dash) > 0:
			dashed++
		case o.Kind == page.StrokeOp && o.Pen.Width == chart.Hair:
			plain++
		case o.Kind == page.FillOp && o.Pen.Colour == pale && len(o.Path) == 1 && len(o.Path[0]) == 4:
			bars++
			if p.Ops[k+1].Kind == page.StrokeOp || p.Ops[k+1].Kind == page.OutlineOp {
				hatched++
			}
		}
	}
	negative := 0
	for _, q := range r.Pairs {
		if q.Status.HasVelocity() && q.Transport[geostrophy.Volume].Value < 0 {
			negative++
		}
	}
	if dashed < 3 || plain < 3 || negative == 0 || bars < negative || hatched != bars {
		t.Errorf("%d dashed lines, %d plain; %d pale bars of %d, %d hatched", dashed, plain, bars, negative, hatched)
	}
	for _, want := range []string{"positive: into the page, towards north (350° true)",
		"negative: out of the page, towards south (170° true)"} {
		if !p.Has(want) {
			t.Errorf("no key %q: %v", want, p.Words)
		}
	}
	for k := range r.Pairs {
		r.Pairs[k].PositiveDeg = 170
	}
	if p, err = (&Velocity{Name: "v", Result: r}).draw(chart.OneColumn); err != nil {
		t.Fatal(err)
	}
	if !p.Has("positive: out of the page, towards south (170° true)") {
		t.Errorf("to the right of the section is out of the page: %v", p.Words)
	}
}

// No zero line follows a level of no motion, which is a dashed line with its name, nor runs through noise:
// velocities that are smaller than their per-cast error.
func TestZeroLines(t *testing.T) {
	s, _ := invent(layout{stations: 13, lengthKm: 600, depthM: 2500, from: orb.Point{4, 60}, to: orb.Point{15, 60},
		stepKm: 10, stepDbar: 20, first: 1})
	r := currents(s)
	for k := range r.Pairs { // a current to one side, then noise
		q := &r.Pairs[k]
		q.Status, q.Reason = geostrophy.Computed, ""
		q.PressureDbar, q.Velocity, q.PerCastErr, q.ReferenceDbar = nil, nil, nil, 1000
		for p := 10.0; p <= 2000; p += 10 {
			v := 0.3 * (math.Exp(-p/400) - math.Exp(-1000.0/400)) * math.Copysign(1, 3.5-float64(k))
			if k > 6 {
				v = 0.004 * math.Sin(float64(k)*1.7+p/60) * (p - 1000) / 1000
			}
			q.PressureDbar, q.Velocity = append(q.PressureDbar, p), append(q.Velocity, v)
			q.PerCastErr = append(q.PerCastErr, 0.01*math.Abs(p-1000)/1000)
		}
	}
	p, err := (&Velocity{Name: "v", Result: r}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Has("reference 1000 dbar") {
		t.Errorf("the level of no motion has no name: %v", p.Words)
	}
	var frames []page.Box
	dashed, zero := 0, 0.0
	for _, o := range p.Ops {
		switch {
		case o.Kind == page.OutlineOp && o.Pen.Width == chart.Thin && len(o.Path[0]) == 4 &&
			o.Path[0][1].X-o.Path[0][0].X > 300:
			frames = append(frames, page.Box(o.Path[0]))
		case o.Kind == page.StrokeOp && o.Pen.Width == chart.Thin && len(o.Pen.Dash) > 0:
			dashed++
		}
	}
	for _, o := range p.Ops {
		if o.Kind != page.StrokeOp || o.Pen.Width < 1.3 || o.Pen.Colour != page.Ink {
			continue
		}
		for _, line := range o.Path {
			for k := 1; k < len(line) && line[k].Y < frames[1][2].Y; k++ {
				a, b := line[k-1], line[k]
				zero += a.Dist(b)
				if middle := (frames[0][0].X + frames[0][1].X) / 2; a.X > middle+20 {
					t.Errorf("a zero line in noise at %v", a)
				}
				if math.Abs(b.X-a.X) > 3*math.Abs(b.Y-a.Y) && a.Dist(b) > 5 {
					t.Errorf("a level zero line from %v to %v", a, b)
				}
			}
		}
	}
	if dashed == 0 || zero < 60 {
		t.Errorf("%d dashed lines; %.0f points of zero line between the currents", dashed, zero)
	}
}

// The last band does not hide a jet, and the caption says how fast it is and where.
func TestExtremesAreSeen(t *testing.T) {
	var vs []chart.Weighed
	for k := range 2000 {
		vs = append(vs, chart.Weighed{Value: 0.3 * math.Sin(float64(k)), Weight: 1})
	}
	for _, jet := range []float64{0.96, -2.4, 0.4} {
		l := chart.ZeroLevels(append(vs, chart.Weighed{Value: jet, Weight: 1}))
		if top := l[len(l)-1]; math.Abs(jet) > 1.5*top || top >= math.Abs(jet) || len(l) > 30 {
			t.Errorf("%g in bands up to %g: %v", jet, top, l)
		}
	}
	s, _ := invent(wideLayout)
	r := currents(s)
	r.Pairs[5].Velocity[40] = 0.96
	c, err := captionOf(&Velocity{Name: "v", Result: r}, aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	if want := "Extremes: 0.96 m s⁻¹ at 82 dbar between stations 16 and 17; −"; !strings.Contains(c, want) {
		t.Errorf("no %q in %s", want, c)
	}
}

// Transports: a sum has a band of its error and is broken where a pair is withheld; questionable pairs are marked.
func TestTransportsShowTheirLimits(t *testing.T) {
	s, _ := invent(wideLayout)
	r := currents(s)
	r.Pairs[3].Status = geostrophy.Questionable
	p, err := (&Velocity{Name: "v", Result: r}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Has("pair questionable, near the equator") {
		t.Errorf("questionable pairs are not explained: %v", p.Words)
	}
	fr := chart.Frame{L: 33, R: chart.TwoColumns.Points() - 45, X0: 0, X1: s.DistanceKm[len(s.Casts)-1]}
	l, right := fr.X(r.Pairs[14].FromKm), fr.X(r.Pairs[14].ToKm)
	bands, sums := 0, 0
	for _, o := range p.Ops {
		if o.Kind == page.FillOp && o.Pen.Colour == errorBand {
			bands = len(o.Path)
		}
		if o.Kind != page.StrokeOp || o.Pen.Width != chart.Heavy {
			continue
		}
		for _, line := range o.Path {
			sums++
			for k := 1; k < len(line); k++ {
				if line[k-1].X < right-0.1 && line[k].X > l+0.1 && line[k].Y > 200 {
					t.Errorf("the sum runs over the withheld pair, from %v to %v", line[k-1], line[k])
				}
			}
		}
	}
	if bands != len(r.Pairs)-1 || sums < 2 {
		t.Errorf("%d parts of the band of %d pairs, %d lines of the sum", bands, len(r.Pairs), sums)
	}
}

// Every figure with colours on both sides of zero shows the sign without colour, at both widths: negative level lines
// are dashed and positive ones are not, and columns of residuals are hatched where they are negative and only there.
func TestSignsOfEveryFigure(t *testing.T) {
	found := 0
	for _, f := range gallery() {
		_, columns := f.(*LeaveOneOut)
		switch o := f.(type) {
		case *Velocity, *Change, *LeaveOneOut:
		case *Overview:
			if o.Velocity == nil {
				continue
			}
		default:
			continue
		}
		found++
		for _, w := range []chart.Width{chart.OneColumn, chart.TwoColumns} {
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			dashed, plain, below, hatched, above := 0, 0, 0, 0, 0
			for k, o := range p.Ops {
				switch {
				case o.Kind == page.StrokeOp && o.Pen.Width == chart.Hair && len(o.Pen.Dash) > 0:
					dashed++
				case o.Kind == page.StrokeOp && o.Pen.Width == chart.Hair:
					plain++
				}
				if o.Kind != page.FillOp || len(o.Path) < 5 || !columns { // bars of colour and of rms are single
					continue
				}
				after := p.Ops[k+1].Kind == page.StrokeOp
				if c := o.Pen.Colour; int(c.B) > int(c.R)+8 { // the cold side of the colours of differences
					if below++; after {
						hatched++
					}
				} else if int(c.R) > int(c.B)+8 && after {
					above++
				}
			}
			switch {
			// the bands beside zero of two panels are not hatched
			case columns && (hatched < 2 || hatched < below-2 || above > 0):
				t.Errorf("%s: %d areas below zero, %d hatched; %d above zero are", f.Stem(), below, hatched, above)
			case !columns && (dashed < 3 || plain < 3):
				t.Errorf("%s: %d dashed lines, %d plain", f.Stem(), dashed, plain)
			}
		}
	}
	if found < 4 {
		t.Errorf("only %d figures", found)
	}
}
