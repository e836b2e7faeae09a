package chart

import (
	"image/color"
	"math"
	"testing"
)

type vec [3]float64

type matrix [3]vec

func (m matrix) times(v vec) (out vec) {
	for i := range m {
		out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
	}
	return out
}

// toXYZ is that of sRGB with white D65 (IEC 61966-2-1), sharpened that of CIECAM02 (CIE 159:2004), and coneOfSharp
// turns the sharpened response into that of Hunt, Pointer and Estevez (CIE 159:2004: their matrix times the inverse of
// the other).
var (
	toXYZ = matrix{{0.4124564, 0.3575761, 0.1804375}, {0.2126729, 0.7151522, 0.0721750},
		{0.0193339, 0.1191920, 0.9503041}}

	sharpened = matrix{{0.7328, 0.4296, -0.1624}, {-0.7036, 1.6975, 0.0061}, {0.0030, 0.0136, 0.9834}}

	coneOfSharp = matrix{{0.7409792, 0.2180250, 0.0410058}, {0.2853532, 0.6242014, 0.0904454},
		{-0.0096280, -0.0056980, 1.0153260}}
)

// ucsOf returns J'a'b' of CAM02-UCS (Luo, Cui and Li 2006, Color Res. Appl. 31, 320) of linear sRGB: adapting luminance
// 4.07 cd/m2, background 20, average surround.
func ucsOf(linear vec) vec {
	const la, yb, f, c, nc = 4.07, 20.0, 1.0, 0.69, 1.0
	hundred := func(v vec) vec { return vec{100 * v[0], 100 * v[1], 100 * v[2]} }
	white, xyz := hundred(toXYZ.times(vec{1, 1, 1})), hundred(toXYZ.times(linear))
	d := f * (1 - math.Exp((-la-42)/92)/3.6)
	k := 1 / (5*la + 1)
	fl := 0.2*math.Pow(k, 4)*5*la + 0.1*math.Pow(1-math.Pow(k, 4), 2)*math.Cbrt(5*la)
	n := yb / white[1]
	nbb, z := 0.725*math.Pow(1/n, 0.2), 1.48+math.Sqrt(n)
	adapted := func(v vec) (out vec) {
		s, w := sharpened.times(v), sharpened.times(white)
		for i := range s {
			s[i] *= white[1]*d/w[i] + 1 - d
		}
		for i, p := range coneOfSharp.times(s) {
			t := math.Pow(fl*math.Abs(p)/100, 0.42)
			out[i] = math.Copysign(400*t/(t+27.13), p) + 0.1
		}
		return out
	}
	light := func(v vec) float64 { return (2*v[0] + v[1] + v[2]/20 - 0.305) * nbb }
	v := adapted(xyz)
	j := 100 * math.Pow(max(0, light(v)/light(adapted(white))), c*z)
	a, b := v[0]-12*v[1]/11+v[2]/11, (v[0]+v[1]-2*v[2])/9
	h := math.Atan2(b, a)
	t := 50000 / 13 * nc * nbb * (math.Cos(h+2) + 3.8) / 4 * math.Hypot(a, b) / (v[0] + v[1] + 21*v[2]/20)
	m := math.Pow(t, 0.9) * math.Sqrt(j/100) * math.Pow(1.64-math.Pow(0.29, n), 0.73) * math.Pow(fl, 0.25)
	colourful := math.Log(1+0.0228*m) / 0.0228
	return vec{1.7 * j / (1 + 0.007*j), colourful * math.Cos(h), colourful * math.Sin(h)}
}

// deficient simulates three deficiencies of full severity in linear sRGB: protanopia and deuteranopia by projection
// (Viénot, Brettel and Mollon 1999), tritanopia on two half planes (Brettel, Viénot and Mollon 1997, J. Opt. Soc. Am. A
// 14, 2647: matrices for sRGB, from memory).
func deficient(kind string, v vec) vec {
	m, ok := dichromat[kind]
	switch {
	case kind == "none":
		return v
	case !ok && 0.03901*v[0]-0.02788*v[1]-0.01113*v[2] >= 0:
		m = [9]float64{1.01277, 0.13548, -0.14826, -0.01243, 0.86812, 0.14431, 0.07589, 0.80500, 0.11911}
	case !ok:
		m = [9]float64{0.93678, 0.18979, -0.12657, 0.06154, 0.81526, 0.12320, -0.37562, 1.12767, 0.24796}
	}
	out := matrix{{m[0], m[1], m[2]}, {m[3], m[4], m[5]}, {m[6], m[7], m[8]}}.times(v)
	for i := range out {
		out[i] = max(0, min(1, out[i]))
	}
	return out
}

func linearOf(c color.NRGBA) vec { return vec{decode8(c.R), decode8(c.G), decode8(c.B)} }

// ucsDistance is how different two colours look.
func ucsDistance(kind string, a, b color.NRGBA) float64 {
	u, v := ucsOf(deficient(kind, linearOf(a))), ucsOf(deficient(kind, linearOf(b)))
	return math.Sqrt((u[0]-v[0])*(u[0]-v[0]) + (u[1]-v[1])*(u[1]-v[1]) + (u[2]-v[2])*(u[2]-v[2]))
}

// Bands beside each other differ by at least 4 in CAM02-UCS, as they are and under three deficiencies of full severity,
// with as many levels as figures choose.
func TestBandsAreToldApart(t *testing.T) {
	// White and red under these conditions, from an independent computation in floating point with numpy.
	for _, k := range []struct{ linear, want vec }{{vec{1, 1, 1}, vec{100, -1.9169, -1.1377}},
		{vec{1, 0, 0}, vec{60.0568, 38.6769, 24.3144}}} {
		for i, v := range ucsOf(k.linear) {
			if math.Abs(v-k.want[i]) > 0.002 {
				t.Errorf("%v is %v, want %v", k.linear, ucsOf(k.linear), k.want)
			}
		}
	}
	kinds := []string{"none", "protanopia", "deuteranopia", "tritanopia"}
	for _, m := range colourMaps {
		most := MostLevels
		switch {
		case m.Diverging:
			most = mostSigned
		case m.Name == "station1":
			most = 8 // classes of pressure
		case m.Name == "depth1":
			most = 12 // depths of a map
		}
		for n := 1; n <= most; n++ {
			var levels []float64
			for k := range n {
				levels = append(levels, float64(k))
				if m.Diverging {
					levels[k] -= float64(n / 2)
				}
			}
			colours := BandColours(m, levels)
			for k := 1; k < len(colours); k++ {
				for _, kind := range kinds {
					if d := ucsDistance(kind, colours[k-1], colours[k]); d < 4 {
						t.Errorf("%s, %d levels, %s: bands %d and %d differ by %.2f", m.Name, n, kind, k-1, k, d)
					}
				}
			}
		}
	}
}

// Labels have a contrast of at least 4.5 to 1 on the bands on both sides of their line, or on the patch under them.
func TestLabelsAreReadableOnBands(t *testing.T) {
	patched := 0
	for _, m := range colourMaps {
		for n := 1; n <= MostLevels; n++ {
			var levels []float64
			for k := range n {
				levels = append(levels, float64(k))
				if m.Diverging {
					levels[k] -= float64(n / 2)
				}
			}
			f := &Field{Levels: levels, Colours: BandColours(m, levels)}
			for k, l := range levels {
				ink, ground := InkOn(f, l), GroundUnder(f, l)
				least := min(contrast(ink, f.Colours[k]), contrast(ink, f.Colours[k+1]))
				if ground.A > 0 {
					least = contrast(ink, ground)
					patched++
				}
				if least < 4.5 {
					t.Errorf("%s, %d levels: the label of %g has a contrast of %.2f", m.Name, n, l, least)
				}
			}
		}
	}
	if patched == 0 {
		t.Error("no label needs a patch: the test is of no use")
	}
}
