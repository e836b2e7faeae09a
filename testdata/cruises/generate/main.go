// Command generate writes the casts of seven small invented cruises, one for each kind of work that the demo cruise
// does not show: a shelf survey, a lake, a yo-yo series, two legs that repeat their station numbers, sensors swapped
// midway, a line across the equator and a closed line.
//
//	go run ./testdata/cruises/generate -out testdata/cruises
//
// The same program writes the same bytes. Ships, seas and numbers are invented; positions are real places.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"github.com/castwright/castwright/section/seawater"
)

// A cast is what is planned of one cast.
type cast struct {
	expocode, section, station, number string
	lat, lon, depthM                   float64
	at                                 time.Time
	second                             bool // the second set of sensors, which reads salinity 0.003 too high
}

// A cruise is casts and the water they sample.
type cruise struct {
	name    string
	bin     float64 // dbar
	water   func(c cast, p float64) (t, s, o float64)
	casts   []cast
	bottles []float64 // pressures at which bottles were closed, first leg only
}

func day(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		log.Fatal(err)
	}
	return t
}

// ocean returns temperature in degC, practical salinity and oxygen in umol/kg of a sea whose thermocline deepens with
// the coordinate u, 0 to 1.
func ocean(p, u, warm, scale float64) (t, s, o float64) {
	pe := math.Max(p-0.35*scale*u*(1-math.Exp(-p/(0.3*scale))), 0)
	t = 1.9 + warm*math.Exp(-pe/scale) + 0.3*math.Exp(-pe/(4*scale))
	s = 34.75 + 0.55*math.Exp(-pe/(1.4*scale)) - 0.25*math.Exp(-math.Pow((pe-1.3*scale)/(0.6*scale), 2)) +
		0.05*u*math.Exp(-pe/scale)
	o = 235 - 95*math.Exp(-math.Pow((pe-1.1*scale)/(0.9*scale), 2)) - 25*u*math.Exp(-pe/scale)
	return t, s, o
}

func shelf() cruise {
	c := cruise{name: "shelf", bin: 1, water: func(c cast, p float64) (float64, float64, float64) {
		u := (c.lon + 5.2) / 1.4
		return 8.2 + 5.1/(1+math.Exp((p-22-14*u)/5)), 34.2 + 0.9*u + 0.25*(1-math.Exp(-p/40)), 280 - 0.22*p + 6*u
	}}
	start := day("2026-07-02 05:10")
	for line := range 2 {
		for i, depth := range []float64{24, 58, 92, 131, 187} {
			k := 5*line + i
			c.casts = append(c.casts, cast{"ZZKW20260701", "", fmt.Sprint(k + 1), "1",
				60.1 + 0.35*float64(line) + 0.03*float64(i),
				-3.9 - 0.32*float64(i), depth - 3*float64(line),
				start.Add(time.Duration(k)*80*time.Minute + time.Duration(line)*4*time.Hour), false})
		}
	}
	return c
}

func lake() cruise {
	c := cruise{name: "lake", bin: 2, water: func(_ cast, p float64) (float64, float64, float64) {
		return 4.6 + 13.5/(1+math.Exp((p-14)/3)), 0.211 + 0.006*(1-math.Exp(-p/60)), 322 - 0.5*p
	}}
	for i, depth := range []float64{38, 96, 148, 141, 77, 29} {
		c.casts = append(c.casts, cast{"ZZPW20260815", "", fmt.Sprint("L", i+1), "1", 62.05 - 0.055*float64(i),
			30.9 + 0.09*float64(i), depth,
			day("2026-08-15 07:00").Add(time.Duration(i) * 45 * time.Minute), false})
	}
	return c
}

func yoyo() cruise {
	c := cruise{name: "yoyo", bin: 5}
	c.water = func(k cast, p float64) (float64, float64, float64) {
		phase := 2 * math.Pi * k.at.Sub(c.casts[0].at).Hours() / 12.42
		return ocean(math.Max(p+14*math.Sin(phase)*math.Sin(math.Pi*p/520), 0), 0.4, 14, 180)
	}
	for i := range 12 {
		c.casts = append(c.casts, cast{"ZZTD20260310", "", "7", fmt.Sprint(i + 1), 36.412,
			-12.205 + 0.0004*float64(i%3), 522,
			day("2026-03-11 02:00").Add(time.Duration(i) * 75 * time.Minute), false})
	}
	return c
}

func twoLegs() cruise {
	c := cruise{name: "two-legs", bin: 10, bottles: []float64{1200, 1000, 800, 600, 400, 200, 100, 20},
		water: func(c cast, p float64) (float64, float64, float64) {
			return ocean(p, (c.lon+24)/4, 15, 420)
		}}
	for leg, e := range []string{"ZZGR20260905", "ZZGR20260921"} {
		for i := range 6 {
			c.casts = append(c.casts, cast{e, "", fmt.Sprint(i + 1), "1", 31.5 + 1.5*float64(leg), -24 + 0.8*float64(i),
				1420 + 60*float64(i),
				day([]string{"2026-09-06 10:00", "2026-09-22 10:00"}[leg]).Add(time.Duration(i) * 7 * time.Hour),
				false})
		}
	}
	return c
}

func swapped() cruise {
	c := cruise{name: "swapped", bin: 10, water: func(c cast, p float64) (float64, float64, float64) {
		return ocean(p, (c.lat-41)/3.5, 11, 500)
	}}
	for i := range 8 {
		c.casts = append(c.casts, cast{"ZZFM20260418", "", fmt.Sprint(i + 30), "1", 41 + 0.5*float64(i), -19.5,
			2100 - 25*float64(i),
			day("2026-04-19 03:00").Add(time.Duration(i) * 6 * time.Hour), i >= 4})
	}
	return c
}

func equator() cruise {
	c := cruise{name: "equator", bin: 10, water: func(c cast, p float64) (float64, float64, float64) {
		return ocean(p, 0.5+0.5*math.Cos(c.lat*0.6), 22, 190)
	}}
	for i := range 9 {
		c.casts = append(c.casts, cast{"ZZOP20261002", "", fmt.Sprint(100 + i), "1", -6 + 1.5*float64(i), -24.5, 1210,
			day("2026-10-03 00:00").Add(time.Duration(i) * 11 * time.Hour), false})
	}
	return c
}

// box is a closed line in a flow that is known in closed form: dynamic height is 2 F (1 - p/1000) m2/s2 relative to
// 1000 dbar beside a part that is the same everywhere, with F = 1 + 0.05 (lon + 40) + 0.03 (lat - 32). Absolute
// Salinity is 35 g/kg; Conservative Temperature is solved for the specific volume.
func box() cruise {
	c := cruise{name: "box", bin: 10, water: func(c cast, p float64) (t, s, o float64) {
		f := 1 + 0.05*(c.lon+40) + 0.03*(c.lat-32)
		want := seawater.SpecificVolumeAnomaly(35, 4+10*math.Exp(-p/700), p) + 2e-7*f
		ct := 10.0
		for range 20 {
			_, _, slope := seawater.SpecificVolumeSlopes(35, ct, p)
			ct += (want - seawater.SpecificVolumeAnomaly(35, ct, p)) / slope
		}
		place := seawater.PlaceOf(c.lon, c.lat)
		s = 34.8
		for range 5 {
			s += (35 - place.AbsoluteSalinity(s, p)) / seawater.ReferenceFactor
		}
		return seawater.InSituTemperature(35, ct, p), s, 230 - 0.03*p + 4*f
	}}
	for i, at := range [][2]float64{{30, -40}, {30, -38}, {32, -38}, {34, -38}, {34, -40}, {34, -42}, {32, -42},
		{30, -42}} {
		c.casts = append(c.casts, cast{"ZZBX20260612", "", fmt.Sprint(i + 1), "1", at[0], at[1], 1000,
			day("2026-06-13 04:00").Add(time.Duration(i) * 14 * time.Hour), false})
	}
	return c
}

// bins calls f with the values of each bin of a cast; bottles get those of the bin nearest to where they closed.
func (c cruise) bins(k cast, index int, f func(p, t, s, o float64, n int)) {
	rng := rand.New(rand.NewPCG(2026, uint64(index)))
	for p := c.bin; p <= k.depthM*1.008-5; p += c.bin {
		t, s, o := c.water(k, p)
		if k.second {
			s += 0.003
		}
		f(p, t+0.0006*rng.NormFloat64(), s+0.0006*rng.NormFloat64()*math.Min(s, 1), o+0.2*rng.NormFloat64(),
			int(24*c.bin)-2+rng.IntN(5))
	}
}

func (c cruise) file(k cast, index int) []byte {
	var b bytes.Buffer
	line := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	line("CTD,20261101ZZZZZZCTW")
	line("# Invented cruise; no number here was measured")
	line("# Downcast, pressures at the centre of the bins")
	line("NUMBER_HEADERS = 9")
	line("EXPOCODE = %s\nSTNNBR = %s\nCASTNO = %s", k.expocode, k.station, k.number)
	line("DATE = %s\nTIME = %s\nLATITUDE = %.4f\nLONGITUDE = %.4f\nDEPTH = %.0f", k.at.Format("20060102"),
		k.at.Format("1504"), k.lat, k.lon, k.depthM)
	line("CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W,CTDNOBS")
	line("DBAR,,ITS-90,,PSS-78,,UMOL/KG,,")
	c.bins(k, index, func(p, t, s, o float64, n int) { line("%8.1f,2,%9.4f,2,%9.4f,2,%9.1f,2,%5d", p, t, s, o, n) })
	line("END_DATA")
	return b.Bytes()
}

func (c cruise) bottleFile() []byte {
	var b bytes.Buffer
	line := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	line("BOTTLE,20261101ZZZZZZCTW")
	line("# Invented cruise; no number here was measured")
	line(
		"EXPOCODE,STNNBR,CASTNO,SAMPNO,BTLNBR,BTLNBR_FLAG_W,DATE,TIME,LATITUDE,LONGITUDE,DEPTH,CTDPRS,CTDTMP,CTDSAL,CTDSAL_FLAG_W,SALNTY,SALNTY_FLAG_W,OXYGEN,OXYGEN_FLAG_W")
	line(",,,,,,,,,,METERS,DBAR,ITS-90,PSS-78,,PSS-78,,UMOL/KG,")
	for index, k := range c.casts {
		if k.expocode != c.casts[0].expocode {
			continue
		}
		rng := rand.New(rand.NewPCG(77, uint64(index)))
		n := 0
		for _, at := range c.bottles {
			c.bins(k, index, func(p, t, s, o float64, _ int) {
				if p == at {
					n++
					line("%s,%s,%s,%d,%d,2,%s,%s,%.4f,%.4f,%.0f,%.1f,%.4f,%.4f,2,%.4f,2,%.1f,2", k.expocode, k.station,
						k.number, n, n, k.at.Format("20060102"),
						k.at.Add(time.Hour).Format("1504"), k.lat, k.lon, k.depthM, p, t, s, s+0.0008*rng.NormFloat64(),
						o+0.6*rng.NormFloat64())
				}
			})
		}
	}
	line("END_DATA")
	return b.Bytes()
}

func main() {
	out := flag.String("out", "testdata/cruises", "folder of the cruises; the casts go into its folders NAME/casts")
	flag.Parse()
	write := func(name string, b []byte) {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			log.Fatal(err)
		}
		if err := os.WriteFile(name, b, 0o644); err != nil {
			log.Fatal(err)
		}
	}
	for _, c := range []cruise{shelf(), lake(), yoyo(), twoLegs(), swapped(), equator(), box()} {
		for i, k := range c.casts {
			write(filepath.Join(*out, c.name, "casts", fmt.Sprintf("%s_%s_%s_ct1.csv", k.expocode, k.station,
				k.number)), c.file(k, i))
		}
		if c.bottles != nil {
			write(filepath.Join(*out, c.name, "bottles_hy1.csv"), c.bottleFile())
		}
	}
}
