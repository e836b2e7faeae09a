package interpolate

import "math"

// Barker and McDougall 2020: the pair is turned through eight angles k pi/16 in the plane of 9 SA (g/kg) and CT (degC),
// each turned coordinate interpolated by pchip against the number of the bottle, turned back, and averaged, so that
// neither variable's extrema leave artefacts in the water masses. 9 makes salinity count about as much as temperature.
const (
	rotations      = 8
	salinityWeight = 9
)

// turnCos and turnSin: cos and sin of k pi/16.
var (
	turnCos = [rotations]float64{1, 0.98078528040323044913, 0.92387953251128675613, 0.83146961230254523708,
		0.70710678118654752440, 0.55557023301960222474, 0.38268343236508977173, 0.19509032201612826785}
	turnSin = [rotations]float64{0, 0.19509032201612826785, 0.38268343236508977173, 0.55557023301960222474,
		0.70710678118654752440, 0.83146961230254523708, 0.92387953251128675613, 0.98078528040323044913}
)

func (w *Workspace) rotated(dstSA, dstCT, x, sa, ct, at []float64) (outSA, outCT []float64) {
	n, m := len(x), len(at)
	if len(sa) != n || len(ct) != n || len(dstSA) != m || len(dstCT) != m {
		panic(differentLengths)
	}
	checkNodes(x)
	number, slope := grow(&w.number, n), grow(&w.slope, n)
	for i := range number {
		number[i] = float64(i)
	}
	// Where each point lies: its interval, and how far along in bottle numbers, 0 to 1.
	place, interval := grow(&w.place, m), grow(&w.interval, m)
	PchipSlopes(slope, x, number)
	k, ok := 0, false
	for i, v := range at {
		if k, ok = walk(x, v, k); !ok {
			interval[i] = -1
			continue
		}
		interval[i], place[i] = k, 0
		if v != x[k] {
			h := x[k+1] - x[k]
			place[i] = cubic(0, 1/h, slope[k], slope[k+1], h, v-x[k])
		}
	}
	clear(dstSA)
	clear(dstCT)
	turned1, turned2, slope2 := grow(&w.turned1, n), grow(&w.turned2, n), grow(&w.slope2, n)
	for r := range rotations {
		c, s := turnCos[r], turnSin[r]
		for i := range n {
			s9 := salinityWeight * sa[i]
			turned1[i] = float64(s*s9) + float64(c*ct[i])
			turned2[i] = float64(c*s9) - float64(s*ct[i])
		}
		PchipSlopes(slope, number, turned1)
		PchipSlopes(slope2, number, turned2)
		for i, k := range interval {
			if k < 0 {
				continue
			}
			a, b := turned1[k], turned2[k]
			if t := place[i]; t != 0 {
				a = cubic(a, turned1[k+1]-a, slope[k], slope[k+1], 1, t)
				b = cubic(b, turned2[k+1]-b, slope2[k], slope2[k+1], 1, t)
			}
			dstSA[i] += float64(s*a) + float64(c*b)
			dstCT[i] += float64(c*a) - float64(s*b)
		}
	}
	for i, k := range interval {
		switch {
		case k < 0:
			dstSA[i], dstCT[i] = math.NaN(), math.NaN()
		case place[i] == 0:
			dstSA[i], dstCT[i] = sa[k], ct[k]
		default:
			dstSA[i] /= salinityWeight * rotations
			dstCT[i] /= rotations
		}
	}
	return dstSA, dstCT
}
