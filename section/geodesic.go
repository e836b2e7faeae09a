package section

import (
	"math"

	"github.com/paulmach/orb"
)

// Geodesics on the WGS84 ellipsoid: C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 43 (2013). Series are of
// sixth order, which leaves an error of some nanometres. Numbers in comments are equations of the paper. Angles called
// bet are reduced latitudes, alp azimuths, sig arc lengths on the auxiliary sphere, omg longitudes on it; s and c
// before a name are its sine and cosine.

// WGS84 (National Imagery and Mapping Agency TR8350.2).
const (
	equatorM   = 6378137.0
	flattening = 1 / 298.257223563
	oneMinusF  = 1 - flattening
	ecc2       = flattening * (2 - flattening)
	secondEcc2 = ecc2 / (oneMinusF * oneMinusF)
	thirdFlat  = flattening / (2 - flattening)
	polarM     = equatorM * oneMinusF
)

// Tolerances of the inverse problem.
const (
	ulp        = 0x1p-52
	tinyAngle  = 0x1p-511 // replaces 0 where a direction must remain
	sqrtUlp    = 0x1p-26
	maxNewton  = 20
	maxBisect  = maxNewton + 53 + 10
	nearPole   = 1000 * sqrtUlp
	nearEquat  = 200 * ulp
	shortSigma = 0.1 * sqrtUlp / 0.04091 // below it the start is exact; the divisor is sqrt(f (1-f/2) / 2)
)

// seriesTerms is the order of all series.
const seriesTerms = 6

type series [seriesTerms + 1]float64 // element 0 is not used

// sinSum is the sum of c[l] sin(2 l sig) by Clenshaw's recurrence.
func (c *series) sinSum(ssig, csig float64) float64 {
	ar := 2 * (csig - ssig) * (csig + ssig)
	var y0, y1 float64
	for l := seriesTerms; l >= 1; l-- {
		y0, y1 = float64(ar*y0)-y1+c[l], y0
	}
	return 2 * ssig * csig * y0
}

// arcScale is A1 - 1 (17).
func arcScale(eps float64) float64 {
	e2 := eps * eps
	return (e2*(e2*(e2+4)+64)/256 + eps) / (1 - eps)
}

// arcSeries is C1 (18): from arc to distance.
func arcSeries(eps float64) series {
	e2 := eps * eps
	return powers(eps, series{0,
		((6-e2)*e2 - 16) / 32,
		((64-9*e2)*e2 - 128) / 2048,
		(9*e2 - 16) / 768,
		(3*e2 - 5) / 512,
		-7.0 / 1280,
		-7.0 / 2048,
	})
}

// distanceSeries is C1' (21): from distance to arc.
func distanceSeries(eps float64) series {
	e2 := eps * eps
	return powers(eps, series{0,
		(e2*(205*e2-432) + 768) / 1536,
		(e2*(4005*e2-4736) + 3840) / 12288,
		(116 - 225*e2) / 384,
		(2695 - 7173*e2) / 7680,
		3467.0 / 7680,
		38081.0 / 61440,
	})
}

// reducedScale is A2 - 1 (42).
func reducedScale(eps float64) float64 {
	e2 := eps * eps
	return (e2*(e2*(-11*e2-28)-192)/256 - eps) / (1 + eps)
}

// reducedSeries is C2 (43).
func reducedSeries(eps float64) series {
	e2 := eps * eps
	return powers(eps, series{0,
		(e2*(e2+2) + 16) / 32,
		(e2*(35*e2+64) + 384) / 2048,
		(15*e2 + 80) / 768,
		(7*e2 + 35) / 512,
		63.0 / 1280,
		77.0 / 2048,
	})
}

// powers multiplies term l by eps to the power l.
func powers(eps float64, c series) series {
	d := eps
	for l := 1; l <= seriesTerms; l++ {
		c[l] *= d
		d *= eps
	}
	return c
}

// longitudeScale is A3 (24).
func longitudeScale(eps float64) float64 {
	const n = thirdFlat
	return 1 - eps*((1-n)/2+eps*((2+n-3*n*n)/8+eps*((1+3*n+n*n)/16+eps*((3+2*n)/64+eps*3/128))))
}

// longitudeSeries is C3 (25).
func longitudeSeries(eps float64) series {
	const n = thirdFlat
	return powers(eps, series{0,
		(1-n)/4 + eps*((1-n*n)/8+eps*((3+3*n-n*n)/64+eps*((5+2*n)/128+eps*3/128))),
		(2-3*n+n*n)/32 + eps*((3-2*n-3*n*n)/64+eps*((3+n)/128+eps*5/256)),
		(5-9*n+5*n*n)/192 + eps*((9-10*n)/384+eps*7/512),
		(7-14*n)/512 + eps*7/512,
		21.0 / 2560,
	})
}

// expansion is the parameter eps of the series from k2 (16).
func expansion(k2 float64) float64 { return k2 / (2*(1+math.Sqrt(1+k2)) + k2) }

func unit(s, c float64) (float64, float64) {
	h := math.Hypot(s, c)
	return s / h, c / h
}

// sinCosDeg is exact at multiples of 90 degrees.
func sinCosDeg(deg float64) (s, c float64) {
	quarter := math.Round(deg / 90)
	s, c = math.Sincos((deg - 90*quarter) * (math.Pi / 180))
	switch int64(math.Mod(quarter, 4)+4) & 3 {
	case 1:
		s, c = c, -s
	case 2:
		s, c = -s, -c
	case 3:
		s, c = -c, s
	}
	return s + 0, c + 0
}

// reduced returns sine and cosine of the reduced latitude.
func reduced(latDeg float64) (s, c float64) {
	s, c = sinCosDeg(latDeg)
	s, c = unit(oneMinusF*s, c)
	return s, max(tinyAngle, c)
}

// arc is what the inverse problem has found of the line on the auxiliary sphere.
type arc struct {
	sig12                      float64
	ssig1, csig1, ssig2, csig2 float64
	dn1, dn2                   float64
}

// lengths returns distance and reduced length, both divided by the polar radius (40).
func (x *arc) lengths(eps float64) (s12, m12 float64) {
	a1, a2 := arcScale(eps), reducedScale(eps)
	c1, c2 := arcSeries(eps), reducedSeries(eps)
	b1 := c1.sinSum(x.ssig2, x.csig2) - c1.sinSum(x.ssig1, x.csig1)
	b2 := c2.sinSum(x.ssig2, x.csig2) - c2.sinSum(x.ssig1, x.csig1)
	j12 := (a1-a2)*x.sig12 + ((1+a1)*b1 - (1+a2)*b2)
	return (1 + a1) * (x.sig12 + b1), x.dn2*(x.csig1*x.ssig2) - x.dn1*(x.ssig1*x.csig2) - x.csig1*x.csig2*j12
}

// ends holds the reduced latitudes of the two ends in the canonical order (lat1 <= 0, |lat2| <= -lat1).
type ends struct{ sbet1, cbet1, dn1, sbet2, cbet2, dn2 float64 }

// Geodesic returns the shortest distance (m) from a to b on WGS84 and the azimuths (degrees from north, -180..180) at a
// and b. Points are longitude, latitude in degrees; longitudes may have any turns. Antipodal points included. NaN for
// latitudes off the globe. Karney 2013; differs from GeographicLib by less than 1e-6 m.
func Geodesic(a, b orb.Point) (distanceM, azimuthA, azimuthB float64) {
	lat1, lat2 := a[1], b[1]
	lon12 := math.Remainder(b[0]-a[0], 360)
	if !(math.Abs(lat1) <= 90) || !(math.Abs(lat2) <= 90) || math.IsNaN(lon12) {
		nan := math.NaN()
		return nan, nan, nan
	}
	lonSign := 1.0
	if lon12 < 0 {
		lonSign, lon12 = -1, -lon12
	}
	swap := math.Abs(lat1) < math.Abs(lat2)
	if swap {
		lonSign = -lonSign
		lat1, lat2 = lat2, lat1
	}
	latSign := 1.0
	if lat1 >= 0 {
		latSign = -1
	}
	var e ends
	e.sbet1, e.cbet1 = reduced(lat1 * latSign)
	e.sbet2, e.cbet2 = reduced(lat2 * latSign)
	// Equal latitudes must be equal to the last bit, or the azimuth at the second end cannot be found.
	if e.cbet1 < -e.sbet1 {
		if e.cbet2 == e.cbet1 {
			e.sbet2 = math.Copysign(e.sbet1, e.sbet2)
		}
	} else if math.Abs(e.sbet2) == -e.sbet1 {
		e.cbet2 = e.cbet1
	}
	e.dn1, e.dn2 = math.Sqrt(1+secondEcc2*e.sbet1*e.sbet1), math.Sqrt(1+secondEcc2*e.sbet2*e.sbet2)
	s12, salp1, calp1, salp2, calp2 := e.solve(lon12, math.Abs(lat1) == 90)
	if swap {
		salp1, calp1, salp2, calp2 = -salp2, -calp2, -salp1, -calp1
	}
	salp1, calp1, salp2, calp2 = salp1*lonSign, calp1*latSign, salp2*lonSign, calp2*latSign
	return s12, math.Atan2(salp1+0, calp1) * (180 / math.Pi), math.Atan2(salp2+0, calp2) * (180 / math.Pi)
}

// solve returns distance (m) and azimuths for ends that differ by lon12 degrees, 0 to 180.
func (e *ends) solve(lon12 float64, pole bool) (s12, salp1, calp1, salp2, calp2 float64) {
	slam12, clam12 := sinCosDeg(lon12)
	if pole || slam12 == 0 {
		// Along the meridian, unless it passes a conjugate point.
		x := arc{ssig1: e.sbet1, csig1: clam12 * e.cbet1, ssig2: e.sbet2, csig2: e.cbet2, dn1: e.dn1, dn2: e.dn2}
		x.between()
		s, m := x.lengths(thirdFlat)
		if x.sig12 < 1 || m >= 0 {
			return s * polarM, slam12, clam12, 0, 1
		}
	}
	if e.sbet1 == 0 && 180-lon12 >= flattening*180 {
		return equatorM * lon12 * (math.Pi / 180), 1, 0, 1, 0 // along the equator
	}
	sig12, salp1, calp1, salp2, calp2, dnm := e.start(lon12*(math.Pi/180), slam12, clam12)
	if sig12 >= 0 {
		return sig12 * polarM * dnm, salp1, calp1, salp2, calp2 // so short that the start is the answer
	}
	// Newton's method on the azimuth at the first end, kept inside a bracket (section 4 of the paper).
	var l lambda
	salp1a, calp1a, salp1b, calp1b := tinyAngle, 1.0, tinyAngle, -1.0
	nearly, done := false, false
	for i := range maxBisect {
		l = e.hybrid(salp1, calp1, slam12, clam12)
		limit := ulp
		if nearly {
			limit = 8 * ulp
		}
		if done || !(math.Abs(l.lam12) >= limit) {
			break
		}
		if l.lam12 > 0 && (i > maxNewton || calp1/salp1 > calp1b/salp1b) {
			salp1b, calp1b = salp1, calp1
		} else if l.lam12 < 0 && (i > maxNewton || calp1/salp1 < calp1a/salp1a) {
			salp1a, calp1a = salp1, calp1
		}
		if i < maxNewton && l.slope > 0 {
			if step := -l.lam12 / l.slope; math.Abs(step) < math.Pi {
				sd, cd := math.Sincos(step)
				if s := salp1*cd + calp1*sd; s > 0 {
					salp1, calp1 = unit(s, calp1*cd-salp1*sd)
					nearly = math.Abs(l.lam12) <= 16*ulp
					continue
				}
			}
		}
		salp1, calp1 = unit((salp1a+salp1b)/2, (calp1a+calp1b)/2)
		nearly = false
		done = math.Abs(salp1a-salp1)+(calp1a-calp1) < ulp || math.Abs(salp1-salp1b)+(calp1-calp1b) < ulp
	}
	s, _ := l.lengths(l.eps)
	return s * polarM, salp1, calp1, l.salp2, l.calp2
}

// between sets sig12, 0 to pi, from the two ends.
func (x *arc) between() {
	x.sig12 = math.Atan2(max(0, x.csig1*x.ssig2-x.ssig1*x.csig2), x.csig1*x.csig2+x.ssig1*x.ssig2)
}

// start returns a first azimuth; sig12 is not negative when the line is so short that the start is exact (then the
// azimuth at the second end and dnm are set too).
func (e *ends) start(lam12, slam12, clam12 float64) (sig12, salp1, calp1, salp2, calp2, dnm float64) {
	sig12 = -1
	sbet12, cbet12 := e.sbet2*e.cbet1-e.cbet2*e.sbet1, e.cbet2*e.cbet1+e.sbet2*e.sbet1
	sbet12a := e.sbet2*e.cbet1 + e.cbet2*e.sbet1
	short := cbet12 >= 0 && sbet12 < 0.5 && e.cbet2*lam12 < 0.5
	somg12, comg12 := slam12, clam12
	if short {
		s, c := e.sbet1+e.sbet2, e.cbet1+e.cbet2
		dnm = math.Sqrt(1 + secondEcc2*(s*s/(s*s+c*c)))
		somg12, comg12 = math.Sincos(lam12 / (oneMinusF * dnm))
	}
	salp1 = e.cbet2 * somg12
	if comg12 >= 0 {
		calp1 = sbet12 + e.cbet2*e.sbet1*somg12*somg12/(1+comg12)
	} else {
		calp1 = sbet12a - e.cbet2*e.sbet1*somg12*somg12/(1-comg12)
	}
	ssig12, csig12 := math.Hypot(salp1, calp1), e.sbet1*e.sbet2+e.cbet1*e.cbet2*comg12
	switch {
	case short && ssig12 < shortSigma:
		drop := 1 - comg12
		if comg12 >= 0 {
			drop = somg12 * somg12 / (1 + comg12)
		}
		if ssig12 == 0 {
			return 0, 0, 1, 0, 1, dnm // the same point: north, by convention
		}
		salp2, calp2 = unit(e.cbet1*somg12, sbet12-e.cbet1*e.sbet2*drop)
		sig12 = math.Atan2(ssig12, csig12)
	case csig12 >= 0 || ssig12 >= 6*thirdFlat*math.Pi*e.cbet1*e.cbet1:
		// far enough from the antipode
	default:
		// Near the antipode: solve the problem of the astroid (53, 54).
		k2 := e.sbet1 * e.sbet1 * secondEcc2
		lamScale := flattening * e.cbet1 * longitudeScale(expansion(k2)) * math.Pi
		x, y := math.Atan2(-slam12, -clam12)/lamScale, sbet12a/(lamScale*e.cbet1)
		if y > -nearEquat && x > -1-nearPole {
			salp1 = min(1, -x)
			calp1 = -math.Sqrt(1 - salp1*salp1)
		} else {
			k := astroid(x, y)
			somg12, comg12 = math.Sincos(lamScale * (-x * k / (1 + k)))
			comg12 = -comg12
			salp1 = e.cbet2 * somg12
			calp1 = sbet12a - e.cbet2*e.sbet1*somg12*somg12/(1-comg12)
		}
	}
	if salp1 > 0 {
		salp1, calp1 = unit(salp1, calp1)
	} else {
		salp1, calp1 = 1, 0
	}
	return sig12, salp1, calp1, salp2, calp2, dnm
}

// astroid is the positive root k of k^4 + 2k^3 - (x^2+y^2-1)k^2 - 2y^2 k - y^2 = 0 (55).
func astroid(x, y float64) float64 {
	p, q := x*x, y*y
	r := (p + q - 1) / 6
	if q == 0 && r <= 0 {
		return 0
	}
	s := p * q / 4
	r2, r3 := r*r, r*r*r
	disc := s * (s + 2*r3)
	u := r
	if disc >= 0 {
		t3 := s + r3
		t := math.Cbrt(t3 + math.Copysign(math.Sqrt(disc), t3))
		u += t
		if t != 0 {
			u += r2 / t
		}
	} else {
		u += 2 * r * math.Cos(math.Atan2(math.Sqrt(-disc), -(s+r3))/3)
	}
	v := math.Sqrt(u*u + q)
	uv := u + v
	if u < 0 {
		uv = q / (v - u)
	}
	w := (uv - q) / (2 * v)
	return uv / (math.Sqrt(uv+w*w) + w)
}

// lambda is the longitude difference reached with a trial azimuth less the wanted one, its derivative, and what belongs
// to the line.
type lambda struct {
	arc
	lam12, slope, eps, salp2, calp2 float64
}

func (e *ends) hybrid(salp1, calp1, slam120, clam120 float64) (l lambda) {
	if e.sbet1 == 0 && calp1 == 0 {
		calp1 = -tinyAngle
	}
	salp0, calp0 := salp1*e.cbet1, math.Hypot(calp1, salp1*e.sbet1)
	somg1, comg1 := salp0*e.sbet1, calp1*e.cbet1
	l.ssig1, l.csig1 = unit(e.sbet1, comg1)
	l.salp2, l.calp2 = salp1, math.Abs(calp1)
	if e.cbet2 != e.cbet1 {
		l.salp2 = salp0 / e.cbet2
	}
	if e.cbet2 != e.cbet1 || math.Abs(e.sbet2) != -e.sbet1 {
		d := (e.sbet1 - e.sbet2) * (e.sbet1 + e.sbet2)
		if e.cbet1 < -e.sbet1 {
			d = (e.cbet2 - e.cbet1) * (e.cbet1 + e.cbet2)
		}
		l.calp2 = math.Sqrt(max(0, calp1*e.cbet1*(calp1*e.cbet1)+d)) / e.cbet2
	}
	somg2, comg2 := salp0*e.sbet2, l.calp2*e.cbet2
	l.ssig2, l.csig2 = unit(e.sbet2, comg2)
	l.dn1, l.dn2 = e.dn1, e.dn2
	l.between()
	somg12, comg12 := max(0, comg1*somg2-somg1*comg2), comg1*comg2+somg1*somg2
	eta := math.Atan2(somg12*clam120-comg12*slam120, comg12*clam120+somg12*slam120)
	l.eps = expansion(calp0 * calp0 * secondEcc2)
	c3 := longitudeSeries(l.eps)
	b312 := c3.sinSum(l.ssig2, l.csig2) - c3.sinSum(l.ssig1, l.csig1)
	l.lam12 = eta - flattening*longitudeScale(l.eps)*salp0*(l.sig12+b312)
	if l.calp2 == 0 {
		l.slope = -2 * oneMinusF * e.dn1 / e.sbet1
	} else {
		_, m := l.lengths(l.eps)
		l.slope = m * oneMinusF / (l.calp2 * e.cbet2)
	}
	return l
}

// Along returns the point at distanceM metres from a point on the geodesic that leaves it at azimuthDeg, and the
// azimuth there. The longitude is in -180..180. Karney 2013, the direct problem.
func Along(from orb.Point, azimuthDeg, distanceM float64) (to orb.Point, azimuthThere float64) {
	salp1, calp1 := sinCosDeg(azimuthDeg)
	sbet1, cbet1 := reduced(from[1])
	salp0, calp0 := salp1*cbet1, math.Hypot(calp1, salp1*sbet1)
	somg1, comg1 := salp0*sbet1, cbet1*calp1
	if sbet1 == 0 && calp1 == 0 {
		comg1 = 1
	}
	ssig1, csig1 := unit(sbet1, comg1)
	eps := expansion(calp0 * calp0 * secondEcc2)
	c1, c1p, c3 := arcSeries(eps), distanceSeries(eps), longitudeSeries(eps)
	b11 := c1.sinSum(ssig1, csig1)
	s, c := math.Sincos(b11)
	stau1, ctau1 := ssig1*c+csig1*s, csig1*c-ssig1*s
	tau12 := distanceM / (polarM * (1 + arcScale(eps)))
	s, c = math.Sincos(tau12)
	sig12 := tau12 + c1p.sinSum(stau1*c+ctau1*s, ctau1*c-stau1*s) + b11
	s, c = math.Sincos(sig12)
	ssig2, csig2 := ssig1*c+csig1*s, csig1*c-ssig1*s
	sbet2, cbet2 := calp0*ssig2, math.Hypot(salp0, calp0*csig2)
	somg2, comg2 := salp0*ssig2, csig2
	if cbet2 == 0 {
		cbet2, csig2 = tinyAngle, tinyAngle
	}
	omg12 := math.Atan2(somg2*comg1-comg2*somg1, comg2*comg1+somg2*somg1)
	lam12 := omg12 - flattening*salp0*longitudeScale(eps)*(sig12+c3.sinSum(ssig2, csig2)-c3.sinSum(ssig1, csig1))
	to = orb.Point{Wrap180(from[0] + lam12*(180/math.Pi)), math.Atan2(sbet2, oneMinusF*cbet2) * (180 / math.Pi)}
	return to, math.Atan2(salp0, calp0*csig2) * (180 / math.Pi)
}
