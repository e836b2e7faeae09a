package geostrophy

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/internal/checkvalues"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// A gyre is an invented ocean whose dynamic height is 2 F(lon, lat) (1 - p/1000) m2/s2 relative to 1000 dbar, beside a
// part that is the same everywhere: specific volume anomaly is 2e-7 F m3/kg above a profile, at 35 g/kg. Conservative
// Temperature is solved for it, so that it is the same along every line of flow: nothing but the divergence of the flow
// moves heat and salt in or out.
type gyre struct {
	f   func(lon, lat float64) float64
	off float64 // degrees added to longitudes
}

const gyreDbar = 1000

func (o *gyre) temperature(t testing.TB, f, p float64) float64 {
	base := seawater.SpecificVolumeAnomaly(35, 4+10*math.Exp(-p/700), p)
	return temperatureFor(t, base+2e-7*f, p, 10)
}

// closed returns the closed section of stations at points, in 10-dbar bins.
func (o *gyre) closed(t testing.TB, points []orb.Point) *section.Section {
	t.Helper()
	var casts []*section.Cast
	for k, at := range points {
		var p, sa, ct []float64
		for x := 0.0; x <= gyreDbar; x += 10 {
			p, sa, ct = append(p, x), append(sa, 35), append(ct, o.temperature(t, o.f(at[0], at[1]), x))
		}
		lon := section.Wrap180(at[0] + o.off)
		c := castOf(strconv.Itoa(k+1), at[1], lon, p, sa, ct)
		c.Time = time.Date(2026, 5, 1+k, 0, 0, 0, 0, time.UTC)
		casts = append(casts, c)
	}
	return sectionOf("BOX", append(casts, casts[0])...)
}

// inflow returns the integrals over a rectangle of beta v/f times 1, density, salt and heat, volume to 1000 dbar: for
// each latitude the change of 1/f times the integral over F and depth. Gauss's rule of three points in 8 parts each.
func (o *gyre) inflow(t testing.TB, west, east, south, north, salinity, temperature float64) (out [Kinds]float64) {
	nodes := [3]float64{-math.Sqrt(0.6), 0, math.Sqrt(0.6)}
	weight := [3]float64{5. / 18, 8. / 18, 5. / 18}
	const parts, omega = 4, 7.292115e-5
	each := func(from, to float64, do func(x, w float64)) {
		h := (to - from) / parts
		for i := range parts {
			for k := range nodes {
				do(from+h*(float64(i)+0.5+0.5*nodes[k]), h*weight[k])
			}
		}
	}
	each(south, north, func(lat, dLat float64) {
		rad := math.Pi / 180
		s, c := math.Sincos(lat * rad)
		inverse := c / (2 * omega * s * s) * rad * dLat // -d(1/f)
		each(o.f(west, lat), o.f(east, lat), func(f, df float64) {
			each(0, gyreDbar, func(p, dp float64) {
				ct := o.temperature(t, f, p)
				v := seawater.SpecificVolume(35, ct, p)
				place := seawater.PlaceOf(0, lat)
				dz := dp * 1e4 * v / place.Gravity(p)
				q := inverse * df * 2 * (1 - p/gyreDbar) * dz
				out[Volume] += q
				out[Mass] += q / v
				out[Salt] += q / v * 0.035
				out[Temperature] += q / v * seawater.HeatCapacity * ct
				out[Heat] += q / v * seawater.HeatCapacity * (ct - temperature)
				out[Freshwater] -= q / v * (35 - salinity) / salinity
			})
		})
	})
	return out
}

func boxPoints() []orb.Point {
	return []orb.Point{{-40, 30}, {-38, 30}, {-38, 32}, {-38, 34}, {-40, 34}, {-42, 34}, {-42, 32}, {-42, 30}}
}

func boxF(lon, lat float64) float64 { return 1 + 0.05*(lon+40) + 0.03*(lat-32) }

// The net volume, mass, salt and heat of a closed line in an analytic flow are the integrals of its divergence over the
// area, to 1e-3 of the sum of the absolute transports; each pair is that of box_checks.csv. The same holds for the line
// taken the other way round, across the antimeridian and in the south, and what counts as in does not change.
func TestBudgetOfAnalyticFlow(t *testing.T) {
	rows := checkvalues.Table(t, "box_checks.csv")
	backwards := boxPoints()
	slices.Reverse(backwards)
	south := boxPoints()
	for i := range south {
		south[i][1] *= -1
	}
	southF := func(lon, lat float64) float64 { return boxF(lon, -lat) }
	for _, x := range []struct {
		name         string
		o            gyre
		points       []orb.Point
		south, north float64
		left         bool
	}{
		{"anticlockwise", gyre{boxF, 0}, boxPoints(), 30, 34, true},
		{"clockwise", gyre{boxF, 0}, backwards, 30, 34, false},
		{"across the antimeridian", gyre{boxF, 220}, boxPoints(), 30, 34, true},
		{"in the south, clockwise", gyre{southF, 0}, south, -34, -30, false},
		{"no flow across latitudes", gyre{func(_, lat float64) float64 { return 1 + 0.05*(lat-32) }, 0},
			boxPoints(), 30, 34, true},
	} {
		sec := x.o.closed(t, x.points)
		opts := DefaultOptions()
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: gyreDbar}
		opts.Triangle = NoFlow
		r := mustCompute(t, sec, opts)
		b := r.Budget
		if b == nil || b.Reason != "" || !b.OneReference || r.Positive != In || b.Towards != In ||
			b.Enclosed.Left != x.left || b.Days != 7 {
			t.Fatalf("%s: %s %+v", x.name, r.Positive, b)
		}
		want := x.o.inflow(t, -42, -38, x.south, x.north, r.ReferenceSalinity, r.ReferenceTemperature)
		for k := range Kind(Kinds) {
			if k == Freshwater {
				continue // none of it moves where the salinity is the same everywhere
			}
			tol := 1e-3 * b.Absolute[k]
			within(t, x.name+": net "+k.String(), r.Total[k].Value, want[k], tol)
			within(t, x.name+": beta term of "+k.String(), b.Beta[k], want[k], tol)
			within(t, x.name+": one Coriolis parameter, "+k.String(), b.OneCoriolis[k], 0, tol)
			if x.name != "no flow across latitudes" && k != Heat && math.Abs(want[k]) < 0.02*b.Absolute[k] {
				t.Errorf("%s: the beta term of %s, %g, is too small for a test", x.name, k, want[k])
			}
		}
		within(t, x.name+": freshwater", r.Total[Freshwater].Value, 0, 1e-9*b.Absolute[Mass])
		within(t, x.name+": closing velocity", b.ClosingVelocity*b.LengthKm*1e3*992, -r.Total[Volume].Value,
			0.01*b.Absolute[Volume])
		area, heat := 0.0, 0.0 // every cast has the same levels, a step apart: the mean over the area of the line
		for i, p := range r.Pairs {
			area += p.LengthKm
			heat += p.LengthKm * (meanOver(sec.Casts[i]) + meanOver(sec.Casts[i+1])) / 2
		}
		within(t, x.name+": reference temperature", r.ReferenceTemperature, heat/area, 0.005)
		moved := opts // heat and freshwater relative to a little more: the net moves by what is stated
		moved.ReferenceTemperature, moved.ReferenceSalinity = r.ReferenceTemperature+0.01, r.ReferenceSalinity+0.01
		other := mustCompute(t, sec, moved)
		for _, k := range []Kind{Heat, Freshwater} {
			slope := (other.Total[k].Value - r.Total[k].Value) / 0.01
			within(t, x.name+": change with the reference, "+k.String(), b.PerReference[k], slope,
				1e-3*math.Abs(slope)+1e-6*b.Absolute[Mass])
		}
		if notes := strings.Join(r.Notes, "; "); !strings.Contains(notes, "it is no larger than twice the error") {
			t.Errorf("%s: a net of just the beta term: %s", x.name, notes)
		}
		if x.name == "anticlockwise" {
			for i, row := range rows {
				v, err := strconv.ParseFloat(row["transport_Sv"], 64)
				if err != nil {
					t.Fatal(err)
				}
				// 1000 dbar are 992 m, and the volume is in between: 1 percent.
				got := r.Pairs[i].Transport[Volume].Value / 1e6
				within(t, "pair "+row["from"]+"-"+row["to"], got, v, 0.011*math.Abs(v))
			}
			within(t, "area", b.Enclosed.AreaKm2, 6371.0072*6371.0072*4*math.Pi/180*
				(math.Sin(34*math.Pi/180)-math.Sin(30*math.Pi/180)), 300) // between two meridians and parallels
			opts.Land = func(at orb.Point) bool { return at[0] > -39 }
			if land := mustCompute(t, sec, opts).Budget; math.Abs(land.Land-0.25) > 0.01 ||
				!strings.HasPrefix(land.Inside(), "inside: land (2") {
				t.Errorf("land: %g, %q", land.Land, land.Inside())
			}
			opts.Positive = Out
			if out := mustCompute(t, sec, opts); out.Total[Volume].Value != -r.Total[Volume].Value ||
				out.Budget.Towards != Out {
				t.Errorf("out: %g, in: %g", out.Total[Volume].Value, r.Total[Volume].Value)
			}
			opts.Positive = Right
			if out := mustCompute(t, sec, opts); out.Budget.Towards != Out {
				t.Errorf("right is out of a line whose inside is on its left: %s", out.Budget.Towards)
			}
		}
	}
}

// meanOver returns the mean over pressure of the Conservative Temperature of a cast whose levels are a step apart.
func meanOver(c *section.Cast) float64 {
	v := c.Column("ctemp").Values
	sum := -(v[0] + v[len(v)-1]) / 2
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v)-1)
}

// The error of the net counts each station once, the first among them, which is the last too: an error of it leaves
// |1/f - 1/f'| as at any other station. The Monte-Carlo members agree.
func TestErrorOfBudget(t *testing.T) {
	o := &gyre{f: boxF}
	opts := DefaultOptions()
	opts.Reference = Reference{Kind: AtPressure, PressureDbar: gyreDbar}
	opts.Members, opts.Triangle = 600, NoFlow
	opts.Accuracies = []Accuracy{{Salinity: 2e-3, TemperatureK: 0, PressureDbar: 0, CommonFraction: nan}}
	opts.PositionErrKm = 0
	points := boxPoints()
	var errs []float64
	for turn := range points { // whichever station the line begins with
		sec := o.closed(t, slices.Concat(points[turn:], points[:turn]))
		if turn > 1 {
			opts.Members = 0
		}
		r := mustCompute(t, sec, opts)
		errs = append(errs, r.Total[Volume].Stated)
		within(t, fmt.Sprintf("error, beginning at point %d", turn), errs[turn], errs[0], 1e-9*errs[0])
		if opts.Members > 0 {
			within(t, "members", r.Total[Volume].MonteCarlo, errs[turn], 0.1*errs[turn])
		}
	}
	// In closed form: the integral over depth of the salinity error's dynamic height, times the sum of squares of the
	// changes of 1/f (science of leftover_checks.csv); on the sides along a latitude 1/f does not change.
	var sum float64
	f := func(a, b orb.Point) float64 { return 1 / seawater.Coriolis(0.5*(a[1]+b[1])) }
	n := len(points)
	for k := range points {
		d := f(points[(k+n-1)%n], points[k]) - f(points[k], points[(k+1)%n])
		sum += d * d
	}
	// 2e-3 g/kg times 1e4 times v beta 7.4e-7: 1.45e-2 m2/s2 over 1000 dbar, the mean over the depth is half of it.
	within(t, "error in closed form", errs[0], 0.5*2e-3*1e4*1000*7.4e-7*992*math.Sqrt(sum), 0.03*errs[0])
}

// What a budget needs: every pair, one reference, a line that does not cross itself.
func TestNoBudget(t *testing.T) {
	o := &gyre{f: boxF}
	compute := func(change func(*section.Section, *Options)) *Result {
		sec, opts := o.closed(t, boxPoints()), DefaultOptions()
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: 800}
		change(sec, &opts)
		return mustCompute(t, sec, opts)
	}
	says := func(r *Result, severity metadata.Severity, text string) {
		t.Helper()
		for _, f := range r.Findings {
			if f.Check == "geostrophy.budget" && f.Severity == severity && strings.Contains(f.Message+
				f.Remedy, text) {
				return
			}
		}
		t.Errorf("no finding %q of severity %s in %v", text, severity, r.Findings)
	}
	short := func(c *section.Cast, n int) {
		c.PressureDbar = c.PressureDbar[:n]
		for i := range c.Columns {
			c.Columns[i].Values = c.Columns[i].Values[:n]
		}
	}
	r := compute(func(s *section.Section, _ *Options) { short(s.Casts[3], 1) })
	if r.Budget.Reason == "" || !strings.HasPrefix(r.Partial.Statement, "partial: 6 of 8 pairs") ||
		!math.IsNaN(r.Budget.Beta[Volume]) || r.HeatAllowed {
		t.Errorf("%q, %q", r.Budget.Reason, r.Partial.Statement)
	}
	says(r, metadata.Warning, "without a budget: 2 of 8 pairs without velocity: stations 3 and 4")

	r = compute(func(s *section.Section, o *Options) {
		short(s.Casts[3], 61)
		o.Accuracies, o.PositionErrKm = []Accuracy{{Salinity: 1e-5, CommonFraction: nan}}, 0
	})
	if b := r.Budget; b.Reason != "" || b.OneReference || b.ShallowestDbar != 600 || b.DeepestDbar != 800 {
		t.Errorf("%+v", b)
	}
	says(r, metadata.Note, "mixed reference: the reference levels of the pairs are from 600 to 800 dbar")
	// What is left with one Coriolis parameter is not nothing here: each transport as if its pair had the mean of 1/f.
	length, inverse, one := 0.0, 0.0, 0.0
	coriolis := func(pair int) float64 {
		return seawater.Coriolis((r.Stations[pair].Cast.At.Lat() + r.Stations[pair+1].Cast.At.Lat()) / 2)
	}
	for i, p := range r.Pairs {
		length, inverse = length+p.LengthKm, inverse+p.LengthKm/coriolis(i)
	}
	for i, p := range r.Pairs {
		one += p.Transport[Volume].Value * coriolis(i) * inverse / length
	}
	within(t, "one Coriolis parameter", r.Budget.OneCoriolis[Volume], one, 1e-9*r.Budget.Absolute[Volume])
	within(t, "beta term", r.Budget.Beta[Volume], r.Total[Volume].Value-one, 1e-9*r.Budget.Absolute[Volume])
	if math.Abs(one) < 0.01*r.Budget.Absolute[Volume] {
		t.Errorf("%g with one Coriolis parameter is too small for a test", one)
	}
	says(r, metadata.Note, "write reference: 600, which every pair")
	if notes := strings.Join(r.Notes, "; "); !strings.Contains(notes, "mixed reference") ||
		!strings.Contains(notes, "it is larger than twice the error") {
		t.Errorf("notes %q", r.Notes)
	}

	r = compute(func(_ *section.Section, o *Options) { o.Reference = Reference{} })
	if !r.Budget.OneReference { // every cast ends at one pressure
		t.Errorf("%+v", r.Budget)
	}

	cross := boxPoints()
	cross[2], cross[6] = cross[6], cross[2]
	sec := o.closed(t, cross)
	if r = mustCompute(t, sec, DefaultOptions()); r.Positive != Left ||
		!strings.Contains(r.Budget.Reason, "crosses itself") {
		t.Errorf("%s %q", r.Positive, r.Budget.Reason)
	}
	for _, x := range []struct {
		sec      *section.Section
		positive Direction
		says     string
	}{
		{sec, In, "crosses itself"},
		{o.closed(t, boxPoints()), North, "on a closed line; use in, out, left or right"},
		{sectionOf("LINE", sec.Casts[:3]...), In, "on a line that is not closed"},
	} {
		opts := DefaultOptions()
		opts.Positive = x.positive
		if _, err := Compute(x.sec, opts); !errors.Is(err, ErrDirection) || !strings.Contains(err.Error(), x.says) {
			t.Errorf("positive %s: %v", x.positive, err)
		}
	}
}
