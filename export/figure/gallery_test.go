package figure

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// gallery returns one of every kind of figure, of the invented ocean.
func gallery() []Figure {
	s, g := invent(wideLayout)
	polar := layout{stations: 14, lengthKm: 400, depthM: 3000, from: orb.Point{150, 84}, to: orb.Point{-150, 86},
		stepKm: 5, stepDbar: 10, first: 1}
	south := layout{stations: 20, lengthKm: 600, depthM: 3500, from: orb.Point{-60, -62}, to: orb.Point{-52, -64.5},
		stepKm: 5, stepDbar: 10, first: 1}
	dateline := layout{stations: 16, lengthKm: 900, depthM: 5000, from: orb.Point{172, -18}, to: orb.Point{-176, -21},
		stepKm: 5, stepDbar: 10, first: 101}
	ps, _ := invent(polar)
	ss, _ := invent(south)
	ds, _ := invent(dateline)
	return []Figure{
		&StationMap{Name: "map", Title: "INVENTED-2026", Casts: s.Casts, Sections: []*section.Section{s},
			Bathymetry: seafloor()},
		&StationMap{Name: "map_polar", Title: "INVENTED-2026", Casts: ps.Casts, Sections: []*section.Section{ps}},
		&StationMap{Name: "map_south", Title: "INVENTED-2026", Casts: ss.Casts, Sections: []*section.Section{ss}},
		&StationMap{Name: "map_dateline", Title: "INVENTED-2026", Casts: ds.Casts, Sections: []*section.Section{ds}},
		&Section{Name: "a_ctemp", Section: s, Grid: g, Field: "ctemp"},
		&Section{Name: "a_asal", Section: s, Grid: g, Field: "asal"},
		&Section{Name: "a_oxy_sigma", Section: s, Grid: g, Field: "oxy", Overlay: "sigma0"},
		&PropertyPlot{Kind: KindTemperatureSalinity, Name: "a_ts", Title: "Section A", Casts: s.Casts},
		&PropertyPlot{Kind: KindTemperatureSalinity, Name: "polar_ts", Title: "Section A", Casts: ps.Casts,
			Shade: ByLatitude},
		&PropertyPlot{Kind: KindOxygenDensity, Name: "a_oxygen_density", Title: "Section A", Casts: s.Casts},
		&Profiles{Name: "a_profiles", Title: "Section A", Casts: s.Casts},
		&SensorDifferences{Name: "a_sensors", Title: "Section A", Casts: s.Casts},
		&Velocity{Name: "a_velocity", Result: currents(s)},
		&LeaveOneOut{Name: "a_leave_one_out", Section: s, Variable: metadata.MustVariable("ctemp"),
			Residuals: predicted(s), Skill: g.Skill[0], Params: g.Params},
		&Section{Name: "a_ctemp_error", Section: s, Grid: g, Field: "ctemp_err"},
		&Section{Name: "a_asal_depth", Section: s, Grid: g, Field: "asal", Depth: true, Dots: true,
			Scale: Scale{Step: 0.2, Lo: 34.8, Hi: 36}},
		&Overview{Name: "a_overview", Velocity: &Velocity{Result: currents(s), Grid: g}, Sections: []*Section{
			{Section: s, Grid: g, Field: "ctemp"}, {Section: s, Grid: g, Field: "asal"},
			{Section: s, Grid: g, Field: "oxy"}}},
		&Against{Name: "a_oxy_by_asal", Title: "Section A", X: "asal", Y: "oxy", Casts: s.Casts, Bottles: sampledAt(s)},
		&FieldMap{Name: "f_ctemp_100dbar", Title: "Section A", Grid: inventField(), Field: "ctemp", Level: 100,
			Casts: s.Casts[:9]},
		&FieldMap{Name: "f_ctemp_surface", Title: "Section A", Grid: inventSurface(), Field: "ctemp", Level: 26.9,
			Casts: s.Casts[:9]},
		againstDensity(s, g)[1],
		&Change{Name: "a_change", Reference: "the occupation of 2016", Section: s, Grid: changed(s)},
		&Change{Name: "a_change_oxy", Of: "oxy", Reference: "the occupation of 2016", Section: s, Grid: changed(s)},
		&TimeSeries{Name: "tide_ctemp", Title: "Tide at the sill", Series: tidal(withGap...), Field: "ctemp",
			Overlay: "sigma0"},
		&TimeSeries{Name: "tide_oxy", Series: tidal(0, 400), Field: "oxy", Dots: true},
		&Differences{Name: "tide_differences", Title: "Tide at the sill",
			Sets: [][]*section.Cast{tidal(withGap...).Casts}},
		&Differences{Name: "repeats", Title: "INVENTED-2026", FromFirst: true,
			Sets: [][]*section.Cast{tidal(0, 1).Casts, tidal(2, 5).Casts}},
		sensorPairs(s), bottlesBesideCasts(s),
	}
}

// twoSystems returns the casts of a section, the later half with a second system of sensors.
func twoSystems(s *section.Section) []*section.Cast {
	var out []*section.Cast
	for k, c := range s.Casts {
		d := *c
		d.System = map[bool]string{true: "A", false: "B"}[2*k < len(s.Casts)]
		out = append(out, &d)
	}
	return out
}

// sensorPairs makes differences of two thermometers and two cells, of which one steps with the second system.
func sensorPairs(s *section.Section) *SensorPairs {
	f := &SensorPairs{Name: "sensor_pairs", Title: "INVENTED-2026",
		Better: []string{"psal agrees better with the bottles in system B: invented."}}
	casts := twoSystems(s)
	for _, name := range []string{"temp", "psal"} {
		for k, c := range casts {
			d := export.PairPart{FirstDbar: 1502, LastDbar: 2900, Levels: 700, Median: 0.0004 * math.Sin(float64(k)),
				Error: 0.0001}
			if name == "psal" && c.System == "B" {
				d.Median += 0.0035
			}
			f.Rows = append(f.Rows, export.PairRow{Cast: c, Variable: metadata.MustVariable(name), Deep: d,
				Shallow: k == 3, Limit: map[string]float64{"temp": 0.002, "psal": 0.003}[name]})
		}
	}
	return f
}

// bottlesBesideCasts makes bottles of which the second system's salinity is 0.004 too high, and oxygen too low at
// depth.
func bottlesBesideCasts(s *section.Section) *BottleComparison {
	f := &BottleComparison{Name: "bottle_comparison", Title: "INVENTED-2026"}
	fit := func(variable, system, term string, v, e, target float64) {
		f.Fits = append(f.Fits, export.FitRow{Of: "bottle minus downcast", Variable: variable, System: system,
			Term: term, Value: v, Error: e, Target: target, Values: 90, Casts: 14, MeanDbar: 2000})
	}
	fit("psal", "", "offset", -0.002, 0.0005, 0.002)
	fit("psal", "A", "offset", 0.0001, 0.0002, 0.002)
	fit("psal", "B", "offset", -0.004, 0.0002, 0.002)
	fit("oxy", "A", "offset", 2.2, 0.1, 2)
	fit("oxy", "A", "pressure", 1.1, 0.1, 1)
	fit("oxy", "B", "offset", 2.2, 0.1, 2)
	fit("oxy", "B", "pressure", 1.1, 0.1, 1)
	casts := twoSystems(s)
	for _, name := range []string{"psal", "oxy"} {
		for k, c := range casts {
			for p := 250.0; p < c.PressureDbar[len(c.PressureDbar)-1]; p += 250 {
				r := export.ComparisonRow{Cast: c, Variable: metadata.MustVariable(name), Dbar: p, Value: 35,
					Samples: 1, Closure: math.NaN(), MatchedBy: "density", DownDbar: p, Second: math.NaN(),
					Fitted: p >= 1000}
				d := 0.0008 * math.Sin(p*float64(k+1))
				if name == "oxy" {
					r.Value, d = 200, 0.4*math.Sin(p*float64(k+1))+1.1*p/1000
				} else if c.System == "B" {
					d -= 0.004
				}
				if p < 1000 {
					d *= 2.5
				}
				r.Down = r.Value - d
				f.Rows = append(f.Rows, r)
			}
		}
	}
	return f
}

func seafloor() *Bathymetry {
	b := &Bathymetry{Source: "invented"}
	for k := range 60 {
		b.LonDeg = append(b.LonDeg, -35+float64(k)*0.2)
		b.LatDeg = append(b.LatDeg, 35+float64(k)*0.15)
	}
	for _, lat := range b.LatDeg {
		for _, lon := range b.LonDeg {
			b.DepthM = append(b.DepthM, 2600+1900*math.Sin(lon*0.9)*math.Cos(lat*1.1)+500*math.Sin(lat*2.3))
		}
	}
	return b
}

// currents makes a result by hand, so that these tests need no physics: velocity from the slope of the
// invented layers.
func currents(s *section.Section) *geostrophy.Result {
	o := ocean{wideLayout.lengthKm, wideLayout.depthM}
	r := &geostrophy.Result{Section: s.Name, Positive: "left", Notes: []string{"casts are not simultaneous"}}
	for k, c := range s.Casts {
		r.Stations = append(r.Stations, geostrophy.Station{Cast: c, DistanceKm: s.DistanceKm[k], BottomM: c.BottomM})
	}
	sum := 0.0
	km := 0.0
	n := 0
	for k := 0; k+1 < len(s.Casts); k++ {
		a, b := s.DistanceKm[k], s.DistanceKm[k+1]
		q := geostrophy.Pair{A: k, B: k + 1, FromKm: a, ToKm: b, LengthKm: b - a, PositiveDeg: 335, SurfaceCarriedM: 2}
		if k == 14 {
			q.Status, q.Reason = geostrophy.WithheldNoLevels, "no common levels"
			r.Pairs = append(r.Pairs, q)
			continue
		}
		slope := (o.heave(b) - o.heave(a)) / (b - a)
		deepest := math.Min(s.Casts[k].PressureDbar[len(s.Casts[k].PressureDbar)-1],
			s.Casts[k+1].PressureDbar[len(s.Casts[k+1].PressureDbar)-1])
		for p := 2.0; p <= deepest; p += 2 {
			q.PressureDbar = append(q.PressureDbar, p)
			q.Velocity = append(q.Velocity,
				0.09*slope*(math.Exp(-p/700)-math.Exp(-deepest/700))+0.012*math.Sin(a/40)*(1-p/deepest))
		}
		t := 0.0
		for i := range q.Velocity {
			t += q.Velocity[i] * 2 * (b - a) * 1000
		}
		q.Transport[geostrophy.Volume] = geostrophy.Sum{Value: t, Stated: 3e5 + 0.06*math.Abs(t)}
		sum += t
		n++
		km += b - a
		q.Cumulative[geostrophy.Volume] = geostrophy.Sum{Value: sum, Stated: 8e5}
		q.CumulativePartial = k > 14
		r.Pairs = append(r.Pairs, q)
	}
	r.Total[geostrophy.Volume] = geostrophy.Sum{Value: sum, Stated: 1.4e6}
	r.Partial.Statement = fmt.Sprintf("partial: %d of %d pairs, %.0f of %.0f km", n, len(s.Casts)-1, km,
		s.DistanceKm[len(s.Casts)-1])
	return r
}

// sampledAt returns a few bottles with oxygen a little above that of the casts.
func sampledAt(s *section.Section) []Bottle {
	var out []Bottle
	for _, c := range s.Casts {
		for k := 20; k < len(c.PressureDbar); k += 300 {
			out = append(out, Bottle{Cast: c, PressureDbar: c.PressureDbar[k],
				Values: map[string]float64{"oxy_bottle": c.Column("oxy").Values[k] + 1}})
		}
	}
	return out
}

// inventField makes a field on pressure, latitude and longitude, with the bottom above its second level in the east.
func inventField() *gridding.Grid {
	g := &gridding.Grid{Name: "f",
		Axes: []gridding.Axis{{Variable: metadata.MustVariable("pres"), Values: []float64{10, 100}},
			{Variable: metadata.MustVariable("lat")}, {Variable: metadata.MustVariable("lon")}}}
	for k := range 21 {
		g.Axes[1].Values = append(g.Axes[1].Values, 58+0.05*float64(k))
	}
	for k := range 31 {
		g.Axes[2].Values = append(g.Axes[2].Values, -16+0.06*float64(k))
	}
	var data, reason []float64
	for level, p := range g.Axes[0].Values {
		for _, lat := range g.Axes[1].Values {
			for _, lon := range g.Axes[2].Values {
				v, why := 12-p/50+2*math.Sin(3*lon)+lat-58, float64(gridding.NotMasked)
				if level == 1 && lon > -14.6 {
					v, why = math.NaN(), gridding.BelowBottom
				}
				data, reason = append(data, v), append(reason, why)
			}
		}
	}
	v := metadata.MustVariable("ctemp")
	g.Fields = []gridding.Field{{Variable: v, Data: data}, {Variable: metadata.Variable{Name: "ctemp_mask"},
		Data: reason,
		Of:   "ctemp", Kind: gridding.MaskReason}}
	return g
}

// inventSurface is the invented field on surfaces of density.
func inventSurface() *gridding.Grid {
	g := inventField()
	salt := gridding.Field{Variable: metadata.MustVariable("asal"), Data: make([]float64, len(g.Fields[0].Data))}
	for k := range salt.Data {
		salt.Data[k] = 35.2 + 0.25*math.Sin(float64(k%31)/7)*math.Cos(float64(k/31%21)/9)
	}
	g.Fields = append(g.Fields, salt)
	out, err := gridding.OnDensity(g, "sigma0", []float64{26.4, 26.9})
	if err != nil {
		panic(err)
	}
	return out
}

// againstDensity returns the figures of a section against density.
func againstDensity(s *section.Section, g *gridding.Grid) []Figure {
	m := &SectionMaterial{Section: s, Grid: g}
	return m.onDensity(&Choice{OnDensity: "sigma0"})
}

// changed compares a section with itself, warmed and moved down, as ten years before.
func changed(s *section.Section) *gridding.Grid {
	accuracy := func(*section.Cast) (float64, float64) { return 0.002, 0.001 }
	older := &section.Section{Name: s.Name, DistanceKm: s.DistanceKm}
	for _, c := range s.Casts {
		k := *c
		k.Columns = slices.Clone(c.Columns)
		for i := range k.Columns {
			if q := &k.Columns[i]; q.Name == "ctemp" {
				q.Values = slices.Clone(q.Values)
				for n, p := range c.PressureDbar {
					q.Values[n] -= 0.3 * math.Exp(-p/500) * math.Sin(c.At[0])
				}
			}
		}
		older.Casts = append(older.Casts, &k)
	}
	var levels []float64
	for p := 20.0; p < 4500; p += 20 {
		levels = append(levels, p)
	}
	oxygen, _ := metadata.ByName("oxy")
	c, err := gridding.Change(&gridding.Occupation{Section: older, Accuracy: accuracy},
		gridding.Occupation{Section: s, Accuracy: accuracy, Others: []metadata.Variable{oxygen}}, levels)
	if err != nil {
		panic(err)
	}
	return c.Grid(s.Name)
}

func predicted(s *section.Section) []Residual {
	var out []Residual
	for k, c := range s.Casts {
		for i := 0; i < len(c.PressureDbar); i += 25 {
			p := c.PressureDbar[i]
			out = append(out, Residual{k, p,
				(0.5*math.Sin(float64(k)*2.1+p/300) + 0.1*math.Sin(p/70)) * math.Exp(-p/900)})
		}
	}
	return out
}

var aboutTrial = About{Cruise: "INVENTED-2026", Ships: "RV Example", Release: "preliminary", Licence: "CC-BY-4.0"}

// captionOf returns the text of a figure's caption file.
func captionOf(f Figure, a About) (string, error) {
	c, err := f.caption(&a)
	return c.text(), err
}
