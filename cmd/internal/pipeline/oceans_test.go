package pipeline_test

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// An invented ocean whose velocity is known in closed form: v = v0 + s z to the left of a line, everywhere along it, z
// upwards. From station to station the specific volume anomaly changes by f L s v_std/g (thermal wind); in-situ
// temperature is solved for it at Practical Salinity 35. Over a bottom that slopes linearly from depth a to b between
// stations L apart the transport is L (v0 (a+b)/2 - s (a2 + ab + b2)/6).
type analytic struct {
	letter    string
	points    []orb.Point
	depth     []float64 // m
	first     []float64 // dbar, of the bins of station k modulo the length
	step      float64   // dbar
	v0, shear float64   // m/s, 1/s
}

func (o *analytic) soundings(t *testing.T) (out []sounding) {
	t.Helper()
	offset := make([]float64, len(o.points)) // integral of f L along the line
	for k := 1; k < len(o.points); k++ {
		l, _, _ := section.Geodesic(o.points[k-1], o.points[k])
		offset[k] = offset[k-1] + seawater.Coriolis(0.5*(o.points[k-1][1]+o.points[k][1]))*l
	}
	for k, at := range o.points {
		place := seawater.PlaceOf(at[0], at[1])
		wind := (offset[k] - 0.5*offset[len(offset)-1]) * o.shear
		guess := 10.0
		s := sounding{station: fmt.Sprint(o.letter, k+1), lat: strconv.FormatFloat(at[1], 'f', -1, 64),
			lon:   strconv.FormatFloat(at[0], 'f', -1, 64),
			depth: strconv.FormatFloat(o.depth[k], 'f', -1, 64), water: func(p float64) (float64, float64) {
				sa := place.AbsoluteSalinity(35, p)
				want := seawater.SpecificVolumeAnomaly(35, 4+10*math.Exp(-p/700), p) + wind*seawater.SpecificVolume(
					seawater.StandardSalinity, 0, p)/place.Gravity(p)
				for range 50 {
					_, _, slope := seawater.SpecificVolumeSlopes(sa, guess, p)
					d := (want - seawater.SpecificVolumeAnomaly(sa, guess, p)) / slope
					if guess += d; math.Abs(d) < 1e-11 {
						return seawater.InSituTemperature(sa, guess, p), 35
					}
				}
				t.Fatalf("no temperature at %g dbar", p)
				return 0, 0
			}}
		for p := o.first[k%len(o.first)]; -seawater.Height(p, at[1]) <= o.depth[k]-10; p += o.step {
			s.pressures = append(s.pressures, p)
		}
		out = append(out, s)
	}
	return out
}

// transport is the closed form of pair k, m3/s.
func (o *analytic) transport(k int) float64 {
	l, _, _ := section.Geodesic(o.points[k], o.points[k+1])
	a, b := o.depth[k], o.depth[k+1]
	return l * (o.v0*(a+b)/2 - o.shear*(a*a+a*b+b*b)/6)
}

// known writes the table of known velocities at 200 dbar, by pressure or by depth.
func (o *analytic) known(sign float64, byDepth bool) string {
	text := "station_a,station_b," + map[bool]string{true: "depth_m", false: "pressure_dbar"}[byDepth] +
		",velocity_ms,standard_error_ms\n"
	for k := 0; k+1 < len(o.points); k++ {
		lat := 0.5 * (o.points[k][1] + o.points[k+1][1])
		z := seawater.Height(200, lat)
		level := 200.0
		if byDepth {
			level = -z
		}
		text += fmt.Sprintf("%s%d,%s%d,%.9g,%.9g,0.002\n", o.letter, k+1, o.letter, k+2, level, sign*(o.v0+o.shear*z))
	}
	return text
}

// stations lists them from one end or the other.
func (o *analytic) stations(backwards bool) string {
	var names []string
	for k := range o.points {
		names = append(names, fmt.Sprint(o.letter, k+1))
	}
	if backwards {
		slices.Reverse(names)
	}
	return "\"" + strings.Join(names, ", ") + "\""
}

func points(lon, lat, dlon, dlat float64, n int) (out []orb.Point) {
	for i := range n {
		out = append(out, orb.Point{section.Wrap180(lon + dlon*float64(i)), lat + dlat*float64(i)})
	}
	return out
}

var (
	across = &analytic{letter: "A", points: points(179.2, 40, 0.5, 0.05, 5), depth: []float64{700, 900, 1200, 1000,
		800}, first: []float64{1, 2}, step: 2, v0: 0.25, shear: 9e-5}
	south = &analytic{letter: "S", points: points(-40, -36, 0, 0.5, 4), depth: []float64{800, 1100, 1000, 700},
		first: []float64{2}, step: 2, v0: -0.1, shear: 5e-5}
)

// Velocity and transport of an ocean with closed forms to 1e-3 relative, from exchange files to NetCDF:
// over the antimeridian with odd bins against even ones, and northwards in the south; positive in every word, each with
// the bearing that it means.
func TestClosedForms(t *testing.T) {
	files := plant("", append(across.soundings(t), south.soundings(t)...)...)
	cases := []struct {
		name, positive string
		o              *analytic
		backwards      bool
		sign           float64 // of the closed form, which is to the left of the line as it was laid
		bearing        float64 // within 10 degrees
		byDepth        bool
		rule           string
	}{
		{"a_left", "left", across, false, 1, 0, false, "union of bins"},
		{"a_right", "right", across, false, -1, 180, true, "union of bins"},
		{"a_north", "north", across, false, 1, 0, false, "union of bins"},
		{"a_back_left", "left", across, true, -1, 180, false, "union of bins"},
		{"a_back_north", "north", across, true, 1, 0, false, "union of bins"},
		{"s_left", "left", south, false, 1, 270, false, "common bins"},
		{"s_east", "east", south, false, -1, 90, true, "common bins"},
		{"s_back_east", "east", south, true, -1, 90, false, "common bins"},
	}
	files["cruise.yaml"] += "sections:\n"
	for _, c := range cases {
		files["cruise.yaml"] += fmt.Sprintf(
			"  - {name: %s, stations: %s, positive: %s, reference: {velocities: %s.csv}, triangle: constant_shear, grid: none}\n",
			c.name, c.o.stations(c.backwards), c.positive, c.name)
		files[c.name+".csv"] = c.o.known(c.sign, c.byDepth)
	}
	a := build(t, files)
	largest := 0.0
	for _, c := range cases {
		f := filepath.Join(a, "data/sections", c.name+"_geostrophy.nc")
		v, shape := read(t, f, "velocity")
		pres, _ := read(t, f, "pres")
		transport, _ := read(t, f, "transport")
		towards, _ := read(t, f, "positive_direction")
		rules := texts(t, f, "level_rule")
		pairs := len(c.o.points) - 1
		if len(transport) != pairs || len(shape) != 2 {
			t.Fatalf("%s: %d pairs, shape %v", c.name, len(transport), shape)
		}
		sum := 0.0
		for i := range transport {
			k := i
			if c.backwards {
				k = pairs - 1 - i
			}
			want := c.sign * c.o.transport(k)
			sum += want
			d := math.Abs(transport[i]/want - 1)
			if largest = math.Max(largest, d); !(d <= 1e-3) {
				t.Errorf("%s pair %d: transport %g, closed form %g", c.name, i+1, transport[i], want)
			}
			if off := math.Abs(math.Remainder(towards[i]-c.bearing, 360)); !(off < 10) {
				t.Errorf("%s pair %d: positive towards %g, want about %g", c.name, i+1, towards[i], c.bearing)
			}
			if rules[i] != c.rule {
				t.Errorf("%s pair %d: %s", c.name, i+1, rules[i])
			}
			n, lat := 0, 0.5*(c.o.points[k][1]+c.o.points[k+1][1])
			for l, p := range pres {
				if x := v[i*shape[1]+l]; x == x {
					n++
					w := c.sign * (c.o.v0 + c.o.shear*seawater.Height(p, lat))
					if !(math.Abs(x-w) <= 1e-3*math.Abs(c.o.v0)) {
						t.Fatalf("%s pair %d at %g dbar: %g m/s, closed form %g", c.name, i+1, p, x, w)
					}
				}
			}
			if n < 300 {
				t.Errorf("%s pair %d: only %d levels", c.name, i+1, n)
			}
		}
		if total := attribute(t, f, "transport", "total"); !(math.Abs(total/sum-1) <= 1e-3) {
			t.Errorf("%s: total %g, closed form %g", c.name, total, sum)
		}
	}
	t.Logf("largest difference of a transport %.2g of it", largest)
}

var kindNames = []string{"transport", "transport_mass", "transport_temperature", "transport_salt",
	"transport_freshwater", "transport_heat"}

// Layers and classes sum to the whole to 1e-12 of the sum of absolute parts, pair by pair and in total;
// the section run backwards flips every sign, and none where positive is a compass word.
func TestSumsAndReversal(t *testing.T) {
	files := plant("sections:\n", across.soundings(t)...)
	for _, c := range []struct{ name, positive string }{{"left", "left"}, {"right", "right"}, {"north", "north"}} {
		for _, back := range []bool{false, true} {
			name := c.name + map[bool]string{true: "_back"}[back]
			files["cruise.yaml"] += fmt.Sprintf(
				"  - {name: %s, stations: %s, positive: %s, reference: 600, layers: [0, 100, 350.5, 5000], classes: {sigma0: [26, 26.8, 27.2]}, "+
					"reference_temperature: 3, reference_salinity: 34.9, grid: none}\n", name, across.stations(back),
				c.positive)
		}
	}
	a := build(t, files)
	all := map[string]ncFile{}
	for _, name := range []string{"left", "right", "north", "left_back", "right_back", "north_back"} {
		all[name] = readAll(t, filepath.Join(a, "data/sections", name+"_geostrophy.nc"))
	}
	of := func(name, variable string) ([]float64, []int) {
		f := all[name]
		return f.of(t, variable)
	}
	numbers := 0
	for _, k := range kindNames {
		whole, _ := of("left", k)
		for _, band := range []string{"_layer", "_class"} {
			parts, shape := of("left", k+band)
			var sums, sizes []float64
			for i := range whole {
				sum, size := 0.0, 0.0
				for _, x := range parts[i*shape[1] : (i+1)*shape[1]] {
					sum, size = sum+x, size+math.Abs(x)
				}
				sums, sizes = append(sums, sum), append(sizes, size)
				if !(math.Abs(sum-whole[i]) <= 1e-12*size) || size == 0 {
					t.Errorf("%s%s pair %d: sum %.15g, whole %.15g", k, band, i+1, sum, whole[i])
				}
			}
			sum, size := 0.0, 0.0
			for i := range sums {
				sum, size = sum+sums[i], size+sizes[i]
			}
			if total := all["left"].total[k]; !(math.Abs(sum-total) <= 1e-12*size) {
				t.Errorf("%s%s: sum %.15g, total %.15g", k, band, sum, total)
			}
		}
		for _, c := range []struct {
			name string
			sign float64
		}{{"left", -1}, {"right", -1}, {"north", 1}} {
			for _, v := range []string{k, k + "_err", k + "_triangle", k + "_layer", k + "_class", k + "_second",
				k + "_above_triangle"} {
				forth, shape := of(c.name, v)
				back, _ := of(c.name+"_back", v)
				sign := c.sign
				if strings.HasSuffix(v, "_err") {
					sign = 1
				}
				n := len(forth) / shape[0]
				scale := 0.0
				for _, x := range forth {
					scale = math.Max(scale, math.Abs(x))
				}
				for i := range forth {
					j := (shape[0]-1-i/n)*n + i%n
					numbers++
					if !(math.Abs(forth[i]-sign*back[j]) <= 1e-9*scale) {
						t.Errorf("%s of %s: %g forth, %g back", v, c.name, forth[i], back[j])
					}
				}
			}
			if forth, back := all[c.name].total[k],
				all[c.name+"_back"].total[k]; !(math.Abs(forth-c.sign*back) <= 1e-9*math.Abs(forth)) || forth == 0 {
				t.Errorf("%s total of %s: %g forth, %g back", k, c.name, forth, back)
			}
		}
	}
	v, shape := of("left", "velocity")
	for name, sign := range map[string]float64{"right": -1, "north": 1} {
		w, _ := of(name, "velocity")
		for i := range v {
			if v[i] == v[i] && v[i] != sign*w[i] {
				t.Fatalf("velocity %d of %v: left %g, %s %g", i, shape, v[i], name, w[i])
			}
		}
	}
	t.Logf("%d numbers forth and back", numbers)
}
