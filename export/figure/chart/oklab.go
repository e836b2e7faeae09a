package chart

import (
	"image/color"
	"math"
)

// lab is a colour in OKLab (Ottosson 2020, "A perceptual color space for image processing"): L from 0 (black)
// to 1 (white), and two opponent axes. Equal distances are meant to look equally different, which is what a
// colour map needs.
type lab struct{ L, A, B float64 }

// lch returns the colour with lightness l, chroma c and hue hDeg (degrees).
func lch(l, c, hDeg float64) lab {
	s, k := math.Sincos(hDeg * math.Pi / 180)
	return lab{l, c * k, c * s}
}

// linear returns linear-light sRGB; components outside 0..1 are out of gamut.
func (q lab) linear() (r, g, b float64) {
	l := cube(q.L + 0.3963377774*q.A + 0.2158037573*q.B)
	m := cube(q.L - 0.1055613458*q.A - 0.0638541728*q.B)
	s := cube(q.L - 0.0894841775*q.A - 1.2914855480*q.B)
	return 4.0767416621*l - 3.3077115913*m + 0.2309699292*s,
		-1.2684380046*l + 2.6097574011*m - 0.3413193965*s,
		-0.0041960863*l - 0.7034186147*m + 1.7076147010*s
}

func (q lab) inGamut() bool {
	r, g, b := q.linear()
	return min(r, g, b) >= -1e-6 && max(r, g, b) <= 1+1e-6
}

// rgb returns the nearest 8-bit sRGB colour (IEC 61966-2-1 transfer curve).
func (q lab) rgb() color.NRGBA {
	r, g, b := q.linear()
	return color.NRGBA{encode8(r), encode8(g), encode8(b), 255}
}

// labOf returns the colour of 8-bit sRGB.
func labOf(c color.NRGBA) lab { return labOfLinear(decode8(c.R), decode8(c.G), decode8(c.B)) }

func labOfLinear(r, g, b float64) lab {
	l := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	m := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	s := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return lab{
		0.2104542553*l + 0.7936177850*m - 0.0040720468*s,
		1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s,
	}
}

func (q lab) distance(o lab) float64 {
	return math.Sqrt((q.L-o.L)*(q.L-o.L) + (q.A-o.A)*(q.A-o.A) + (q.B-o.B)*(q.B-o.B))
}

func cube(x float64) float64 { return x * x * x }

func encode8(x float64) uint8 {
	x = max(0, min(1, x))
	if x <= 0.0031308 {
		x *= 12.92
	} else {
		x = 1.055*math.Pow(x, 1/2.4) - 0.055
	}
	return uint8(math.Floor(x*255 + 0.5))
}

func decode8(u uint8) float64 {
	x := float64(u) / 255
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}
