package figure

import (
	"fmt"
	"math"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// An ocean is an invented one: a slope, a front over it, an eddy, and layers. Nothing in it was measured.
type ocean struct {
	lengthKm, depthM float64
}

func (o ocean) bottomM(x float64) float64 {
	u := x / o.lengthKm
	return o.depthM * (0.06 + 0.94/(1+math.Exp(-(u-0.16)*28))) * (1 - 0.16*math.Exp(-math.Pow((u-0.68)/0.06,
		2)) - 0.03*math.Sin(u*40))
}

// heave lifts the layers: a front and an eddy.
func (o ocean) heave(x float64) float64 {
	u := x / o.lengthKm
	return 260*math.Tanh((u-0.27)*16) - 190*math.Exp(-math.Pow((u-0.62)/0.07, 2))
}

func (o ocean) temp(x, p float64) float64 {
	z := math.Max(0, p-o.heave(x)*math.Exp(-p/1800)*(1-math.Exp(-p/120)))
	return 1.6 + 12*math.Exp(-z/650) + 5.5*math.Exp(-z/120) + 0.6*math.Sin(x/o.lengthKm*30)*math.Exp(-p/500)
}

func (o ocean) salt(x, p float64) float64 {
	z := math.Max(0, p-o.heave(x)*math.Exp(-p/1800)*(1-math.Exp(-p/120)))
	return 34.72 + 0.95*math.Exp(-z/520) - 0.33*math.Exp(-math.Pow((z-850)/330, 2)) +
		0.12*math.Exp(-math.Pow((z-2200)/900, 2)) - 0.5*math.Exp(-p/60)*math.Exp(-x/o.lengthKm*5)
}

func (o ocean) oxy(x, p float64) float64 {
	z := math.Max(0, p-o.heave(x)*math.Exp(-p/1800))
	return 225 + 25*math.Exp(-z/150) - 110*math.Exp(-math.Pow((z-950)/420, 2)) + 22*(1-math.Exp(-p/2500))
}

type layout struct {
	stations         int
	lengthKm, depthM float64
	from, to         orb.Point
	stepKm, stepDbar float64
	first            int
}

var wideLayout = layout{stations: 28, lengthKm: 620, depthM: 4300, from: orb.Point{-32.4, 38.2},
	to: orb.Point{-26.1, 40.6}, stepKm: 5, stepDbar: 10, first: 11}

// invent makes a section and its grid.
func invent(l layout) (*section.Section, *gridding.Grid) {
	o := ocean{l.lengthKm, l.depthM}
	s := &section.Section{Name: "A"}
	start := time.Date(2026, 5, 3, 4, 0, 0, 0, time.UTC)
	for k := range l.stations {
		u := float64(k) / float64(l.stations-1)
		u = 0.55*u*u + 0.45*u // closer over the slope
		x := u * l.lengthKm
		c := &section.Cast{Expocode: "99XX20260501", Station: fmt.Sprintf("%03d", l.first+k), Number: "1",
			Role: section.Primary,
			At: orb.Point{chart.Wrap180(l.from[0] + u*chart.Wrap180(l.to[0]-l.from[0])),
				l.from[1] + u*(l.to[1]-l.from[1])},
			Time: start.Add(time.Duration(k) * 5 * time.Hour), BottomM: math.Round(o.bottomM(x))}
		bottom := seawater.Pressure(-c.BottomM, c.At[1])
		n := int((bottom - 12) / 2)
		cols := map[string][]float64{}
		names := []string{"pres", "temp", "psal", "oxy", "temp2", "psal2", "asal", "ctemp"}
		for i := range n {
			p := float64(2 * (i + 1))
			t, sp := o.temp(x, p)+0.01*math.Sin(p*0.7+float64(k)), o.salt(x, p)+0.002*math.Sin(p*0.9+float64(2*k))
			cols["pres"] = append(cols["pres"], p)
			cols["temp"] = append(cols["temp"], t)
			cols["psal"] = append(cols["psal"], sp)
			cols["oxy"] = append(cols["oxy"], o.oxy(x, p)+0.4*math.Sin(p*0.31+float64(k)))
			cols["temp2"] = append(cols["temp2"], t+0.0007*math.Sin(p*1.3+float64(k))+0.0004*float64(k%5-2))
			cols["psal2"] = append(cols["psal2"],
				sp+0.0012*math.Sin(p*1.7+float64(k))-0.002*float64(k)/float64(l.stations))
			sa := sp * 35.16504 / 35
			cols["asal"] = append(cols["asal"], sa)
			cols["ctemp"] = append(cols["ctemp"], seawater.ConservativeTemperature(sa, t, p))
		}
		for _, name := range names {
			col := section.Column{Variable: metadata.MustVariable(name), Decimals: -1, Values: cols[name],
				Flags: make([]metadata.Flag, n)}
			for i := range col.Flags {
				col.Flags[i] = metadata.Acceptable
			}
			if name == "psal" && k == 6 && n > 400 {
				for i := 300; i < 330; i++ {
					col.Values[i] += 0.08
					col.Flags[i] = metadata.Questionable
				}
				col.Values[200], col.Flags[200] = 22, metadata.Bad
			}
			c.Columns = append(c.Columns, col)
		}
		c.PressureDbar = c.Columns[0].Values
		s.Casts = append(s.Casts, c)
		s.DistanceKm = append(s.DistanceKm, x)
	}
	return s, inventGrid(l, s)
}

func inventGrid(l layout, s *section.Section) *gridding.Grid {
	o := ocean{l.lengthKm, l.depthM}
	g := &gridding.Grid{Name: s.Name}
	var x, y []float64
	for k := 0; float64(k)*l.stepKm <= l.lengthKm+1e-9; k++ {
		x = append(x, float64(k)*l.stepKm)
	}
	deepest := 0.0
	for _, c := range s.Casts {
		deepest = math.Max(deepest, c.PressureDbar[len(c.PressureDbar)-1])
	}
	for k := 0; float64(k)*l.stepDbar <= deepest; k++ {
		y = append(y, float64(k)*l.stepDbar)
	}
	g.Axes = []gridding.Axis{{Variable: metadata.MustVariable("pres"), Values: y},
		{Variable: metadata.MustVariable("distance"), Values: x}}
	bottom := make([]float64, len(x))
	for j, km := range x {
		u := km / l.lengthKm
		g.Track = append(g.Track, orb.Point{chart.Wrap180(l.from[0] + u*chart.Wrap180(l.to[0]-l.from[0])),
			l.from[1] + u*(l.to[1]-l.from[1])})
		depth := make([]float64, len(s.Casts))
		for k, c := range s.Casts {
			depth[k] = c.BottomM
		}
		g.BottomM = append(g.BottomM, (&floorShape{x: s.DistanceKm, p: depth}).at(km))
		bottom[j] = seawater.Pressure(-g.BottomM[j], g.Track[j][1])
	}
	make2 := func(f func(x, p float64) float64) []float64 {
		d := make([]float64, len(x)*len(y))
		for i := range y {
			for j := range x {
				d[i*len(x)+j] = math.NaN()
				if y[i] <= bottom[j] {
					d[i*len(x)+j] = f(x[j], y[i])
				}
			}
		}
		return d
	}
	relative := make2(func(x, p float64) float64 {
		near, gap := math.Inf(1), 0.0
		for k, d := range s.DistanceKm {
			near = math.Min(near, math.Abs(d-x))
			if k > 0 && x >= s.DistanceKm[k-1] && x <= d {
				gap = d - s.DistanceKm[k-1]
			}
		}
		last := s.DistanceKm[len(s.DistanceKm)-1]
		hole := math.Exp(-math.Pow((x/last-0.85)/0.025, 2) - math.Pow((p-3100)/600, 2))
		far := math.Exp(-math.Pow((x/last-0.85)/0.06, 2) - math.Pow((p-3100)/1100, 2))
		return math.Min(1, 0.02+0.9*math.Pow(near*gap/math.Pow(last/float64(len(s.Casts)-1), 2)*0.5,
			1)*(0.5+p/9000)+0.5*hole+0.25*far)
	})
	salt := make2(func(x, p float64) float64 { return o.salt(x, p) * 35.16504 / 35 })
	ct := make2(func(x, p float64) float64 {
		return seawater.ConservativeTemperature(o.salt(x, p)*35.16504/35, o.temp(x, p), p)
	})
	oxy := make2(o.oxy)
	for k, r := range relative {
		if r > 0.5 {
			salt[k], ct[k], oxy[k] = math.NaN(), math.NaN(), math.NaN()
		}
	}
	err := func(of string, data []float64, sd float64) {
		v := metadata.MustVariable(of)
		g.Fields = append(g.Fields, gridding.Field{Variable: v, Data: data})
		e := v
		e.Name = of + "_err"
		abs := make([]float64, len(data))
		for k := range abs {
			abs[k] = sd * math.Sqrt(relative[k])
		}
		g.Fields = append(g.Fields, gridding.Field{Variable: e, Data: abs, Of: of, Kind: gridding.StandardError})
		e.Name, e.Units = of+"_relerr", "1"
		g.Fields = append(g.Fields, gridding.Field{Variable: e, Data: relative, Of: of, Kind: gridding.RelativeError})
		g.Skill = append(g.Skill, gridding.Skill{Variable: of, RMS: sd * 0.4, Bias: sd * 0.01, N: 1234,
			SkillLinear: 0.52, EndRMS: sd * 0.9, EndN: 88})
	}
	err("ctemp", ct, 0.3)
	err("asal", salt, 0.05)
	err("oxy", oxy, 9)
	g.Params = []metadata.Param{{Name: "method", Value: "optimal"}, {Name: "noise", Value: "0.02"},
		{Name: "neighbours", Value: "60"}}
	return g
}
