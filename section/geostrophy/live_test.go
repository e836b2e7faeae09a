package geostrophy

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
)

type randomCast struct {
	ref, lat, lon float64
	p, sa, ct     []float64
}

// randomCasts makes casts of every kind of spacing: 1 dbar, 2 dbar with holes, odd bins, half dbar, standard levels,
// irregular.
func randomCasts(rng *rand.Rand, n int) []randomCast {
	out := make([]randomCast, n)
	for i := range out {
		c := &out[i]
		if i%2 == 1 { // the second of two on the same levels
			before := &out[i-1]
			c.p, c.ref = before.p, before.ref
			c.lat, c.lon = before.lat+0.3*rng.Float64(), before.lon+0.1+0.3*rng.Float64()
		} else {
			c.lat, c.lon = 10+60*rng.Float64(), 300*rng.Float64()
			if rng.IntN(2) == 0 {
				c.lat = -c.lat
			}
			m := 40 + rng.IntN(1500)
			p := float64(rng.IntN(12))
			for len(c.p) < m {
				c.p = append(c.p, p)
				switch i / 2 % 6 {
				case 0:
					p++
				case 1:
					p += 2
					if rng.IntN(30) == 0 {
						p += 2 * float64(rng.IntN(10))
					}
				case 2:
					p += 0.5
				case 3:
					p += 1 + math.Floor(p/10)
				case 4:
					p += 0.1 + 3*rng.Float64()
				case 5:
					p += 3
				}
				if p > 6000 {
					break
				}
			}
			last := c.p[len(c.p)-1]
			switch rng.IntN(3) {
			case 0:
				c.ref = c.p[rng.IntN(len(c.p))]
			case 1:
				c.ref = math.Floor(last * rng.Float64())
			}
		}
		a, b, w := 1.5*rng.Float64(), 25*rng.Float64(), 200+800*rng.Float64()
		for _, p := range c.p {
			c.sa = append(c.sa, 34.7+a*math.Exp(-p/w)+0.01*rng.NormFloat64())
			c.ct = append(c.ct, 1+b*math.Exp(-p/w)+0.02*rng.NormFloat64())
		}
	}
	return out
}

// Live against Debian's python3-gsw: dynamic height to 1e-8 m2/s2, velocity on the sphere to 1e-9 m/s (science section
// 13). The velocity is compared where the reference is a level, as the toolbox wants it.
func TestLiveAgainstReference(t *testing.T) {
	casts := randomCasts(rand.New(rand.NewPCG(3, 9)), 240)
	var in bytes.Buffer
	write := func(x any) {
		if err := binary.Write(&in, binary.LittleEndian, x); err != nil {
			t.Fatal(err)
		}
	}
	write(int64(len(casts)))
	for _, c := range casts {
		write(int64(len(c.p)))
		write([]float64{c.ref, c.lat, c.lon})
		write(c.p)
		write(c.sa)
		write(c.ct)
	}
	dir := t.TempDir()
	from, to := filepath.Join(dir, "in"), filepath.Join(dir, "out")
	if err := os.WriteFile(from, in.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("/usr/bin/python3", "-W", "ignore", filepath.Join("testdata", "reference.py"), from,
		to).CombinedOutput(); err != nil {
		t.Fatalf("the reference did not run (python3-gsw is needed): %v\n%s", err, out)
	}
	raw, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	want := make([]float64, len(raw)/8)
	if err := binary.Read(bytes.NewReader(raw), binary.LittleEndian, want); err != nil {
		t.Fatal(err)
	}
	points, largest := 0, map[string]float64{}
	for i, c := range casts {
		for _, m := range []interpolate.Method{interpolate.Linear, interpolate.Pchip} {
			got, err := DynamicHeight(make([]float64, len(c.p)), c.sa, c.ct, c.p, c.ref, m)
			if err != nil {
				t.Fatal(err)
			}
			for l, g := range got {
				d := math.Abs(g - want[l])
				if !(d <= 1e-8) {
					t.Fatalf("cast %d %s re %g at %g dbar: %.12g, want %.12g", i, m, c.ref, c.p[l], g, want[l])
				}
				largest[m.String()] = math.Max(largest[m.String()], d)
				points++
			}
			want = want[len(got):]
		}
	}
	for i := 0; i+1 < len(casts); i++ {
		a, b := casts[i], casts[i+1]
		if !slices.Equal(a.p, b.p) {
			continue
		}
		v := want[:len(a.p)]
		want = want[len(a.p):]
		opts := DefaultOptions()
		opts.Distance = section.Sphere
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: a.ref}
		opts.MaxGapDbar = new(float64)
		*opts.MaxGapDbar = math.Inf(1)
		r := mustCompute(t, sectionOf(fmt.Sprint(i), castOf("1", a.lat, section.Wrap180(a.lon), a.p, a.sa, a.ct),
			castOf("2", b.lat, section.Wrap180(b.lon), b.p, b.sa, b.ct)), opts)
		pr := &r.Pairs[0]
		if !pr.Status.HasVelocity() {
			t.Fatalf("pair %d: %s", i, pr.Reason)
		}
		for l, g := range pr.Velocity {
			d := math.Abs(g - v[l])
			if !(d <= 1e-9) {
				t.Fatalf("pair %d at %g dbar: velocity %.12g, want %.12g", i, pr.PressureDbar[l], g, v[l])
			}
			largest["velocity"] = math.Max(largest["velocity"], d)
		}
	}
	if len(want) != 0 {
		t.Fatalf("%d numbers of the reference were not compared", len(want))
	}
	t.Logf("%d dynamic heights; largest differences %v", points, largest)
	if points < 100_000 {
		t.Errorf("only %d points", points)
	}
}
