// Command generate writes seven invented cruises that are hard to draw: a deep section across 180 degrees, a shelf
// beside an abyss, a meridional section of sixty stations, a polar section, a yo-yo with repeats, a survey with a grid
// of water depth, and a shelf with turbidity. What it writes is not kept:
//
//	go run ./testdata/hard/generate -out ../hard
//	castwright build --out ../hard ../hard/dateline/cruise.yaml
//
// The same program writes the same bytes. Ships and numbers are invented; positions are real places.
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"log"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"github.com/castwright/castwright/internal/nc"
)

// A cast is what is planned of one cast.
type cast struct {
	station, number       int
	lat, lon, depth, hour float64
	short                 float64 // metres that the cast ends above the bottom
}

// A cruise is casts and the water that they sample.
type cruise struct {
	name, sections string // sections and more of the cruise file
	casts          []cast
	bin            float64 // dbar
	turbid         bool    // an optical column instead of oxygen
	// water returns temperature, practical salinity and oxygen (or turbidity); u runs from 0 to 1 along the casts.
	water func(u, p float64, c cast) (t, s, x float64)
}

// line places n casts evenly between two positions; depth depends on how far along.
func line(n int, from, to [2]float64, hours float64, depth func(u float64) float64) []cast {
	var out []cast
	for k := range n {
		u := float64(k) / float64(n-1)
		lon := math.Mod(from[0]+u*(to[0]-from[0])+540, 360) - 180
		out = append(out, cast{k + 1, 1, from[1] + u*(to[1]-from[1]), lon, math.Round(depth(u)), float64(k) * hours,
			12})
	}
	return out
}

// ocean is a subtropical sea with a thermocline of so many dbar, shifted by eddies.
func ocean(u, p, warm, scale float64) (t, s, o float64) {
	heave := 0.12 * scale * math.Sin(19*u) * math.Exp(-p/(3*scale))
	pe := max(0, p+heave-0.2*scale*math.Tanh((u-0.25)/0.03))
	t = 1.1 + warm*math.Exp(-pe/scale) + 2.4*math.Exp(-pe/(3.2*scale)) + 0.35*math.Exp(-p/5000)
	s = 34.72 + 0.9*math.Exp(-pe/(1.3*scale)) - 0.42*math.Exp(-sq((pe-1.5*scale)/(0.55*scale))) - 0.03*math.Exp(-p/2500)
	o = 205 + 20*math.Exp(-pe/40) - 120*math.Exp(-sq((pe-1.9*scale)/(1.1*scale))) + 0.004*min(p, 5000)
	return t, s, o
}

func sq(x float64) float64 { return x * x }

func cruises() []cruise {
	deep := func(u float64) float64 { return 5350 - 900*math.Exp(-sq((u-0.55)/0.06)) + 180*math.Sin(23*u) }
	repeats := line(14, [2]float64{-9.6, 41.2}, [2]float64{-9.6, 41.2}, 1.4, func(float64) float64 { return 640 })
	for k := range repeats {
		repeats[k].station, repeats[k].number = 7, k+1
	}
	for k, c := range line(6, [2]float64{-9.9, 41.2}, [2]float64{-9.2, 41.2}, 3,
		func(u float64) float64 { return 900 - 700*u }) {
		c.hour += 60
		again := c
		again.hour, again.number = again.hour+40, 2
		if k == 2 {
			again.depth = 350
		}
		c.station, again.station = 20+k, 20+k
		repeats = append(repeats, c, again)
	}
	var survey []cast
	for k := range 24 {
		c := cast{k + 1, 1, 58.9 + 0.12*float64(k/6), -16.2 + 0.28*float64(k%6), 0, 2.2 * float64(k), 9}
		c.depth = math.Round(survey0(c.lon, c.lat))
		survey = append(survey, c)
	}
	return []cruise{
		{"dateline", "sections: [{name: pacific, stations: 1-36, reference: 1500}]",
			line(36, [2]float64{172, -31}, [2]float64{192, -29.5}, 7, deep), 4, false,
			func(u, p float64, _ cast) (float64, float64, float64) { return ocean(u, p, 17, 420) }},
		{"abyss", "sections: [{name: margin, stations: 1-22, reference: deepest}]",
			line(22, [2]float64{-12.4, 47.2}, [2]float64{-15.6, 45.1}, 5, func(u float64) float64 {
				return 22 + 5080/(1+math.Exp(-(u-0.52)/0.035))
			}), 2, false, func(u, p float64, _ cast) (float64, float64, float64) { return ocean(u, p, 11, 260) }},
		{"meridional", "sections: [{name: meridian, stations: 1-60, reference: 2000}]\nfigures: {overlay: sigma0}",
			line(60, [2]float64{-25, 60}, [2]float64{-25, -30}, 11, func(u float64) float64 {
				return 4600 - 1700*math.Exp(-sq((u-0.07)/0.08)) + 300*math.Sin(31*u)
			}), 5, false, func(u, p float64, _ cast) (float64, float64, float64) {
				return ocean(u, p, 3+22*math.Exp(-sq((u-0.67)/0.3)), 180+420*math.Exp(-sq((u-0.33)/0.15)))
			}},
		{"polar", "sections: [{name: ice, stations: 1-18, reference: deepest}]", polar(), 2, false,
			func(u, p float64, _ cast) (float64, float64, float64) {
				atlantic := math.Exp(-sq((p - 320 - 80*u) / 260))
				return -1.75 + 2.9*atlantic + 0.9*math.Exp(-p/18)*u +
						0.75*(1-math.Exp(-p/1800)), 34.9 - 2.6*math.Exp(-p/70) + 0.03*atlantic,
					300 + 70*math.Exp(-p/60) - 15*atlantic
			}},
		{"repeats",
			"  role: [{yoyo: 7}, {repeat: \"20/2, 21/2, 22/2, 23/2, 24/2, 25/2\"}]\nsections: [{name: canyon, stations: 20-25, reference: deepest}]",
			repeats, 2, false,
			func(u, p float64, c cast) (float64, float64, float64) {
				return ocean(0.3+0.1*u, p+35*math.Sin(c.hour*2*math.Pi/12.42)*math.Sin(math.Pi*min(1, p/640)), 8, 180)
			}},
		{"survey",
			"  bathymetry: depth.nc\nsections:\n  - {name: south, stations: 1-6, reference: deepest}\n  - {name: north, stations: 19-24, reference: deepest}\n" +
				"fields: [{name: bank, grid: {variables: [ctemp, asal]}}]", survey, 2, false,
			func(u, p float64, c cast) (float64, float64, float64) {
				return ocean(0.2+0.1*math.Sin(3*c.lon), p, 6,
					210)
			}},
		{"turbid",
			"sections: [{name: estuary, stations: 1-12, reference: deepest, grid: {variables: [ctemp, asal, turb]}}]",
			line(12, [2]float64{3.1, 53.4}, [2]float64{4.5, 53.1}, 1, func(u float64) float64 {
				return 38 - 20*u
			}), 0.5, true, func(u, p float64, c cast) (float64, float64, float64) {
				near := math.Exp(-(c.depth - p) / 4)
				return 14.5 + 2.2*u - 3.4/(1+math.Exp(-(p-16)/1.6))*(1-u), 34.4 - 4.2*u*u + 0.3/(1+math.Exp(-(p-14)/2)),
					0.06 + 1.4*u*u*near + 0.25*u + 0.12*near
			}},
	}
}

// polar crosses near the pole, where neither longitude nor latitude runs one way along the track.
func polar() []cast {
	out := line(18, [2]float64{0, 0}, [2]float64{0, 0}, 9,
		func(u float64) float64 { return 3900 - 2400*math.Exp(-sq((u-0.5)/0.07)) })
	for k := range out {
		x, y := -2.2+4.4*float64(k)/17, 0.9*math.Sin(float64(k)/2.4)
		out[k].lat = 90 - math.Hypot(x, y)
		out[k].lon = math.Atan2(x, y)*180/math.Pi + 30
	}
	return out
}

// survey0 is the water depth of the survey: a bank with a trough.
func survey0(lon, lat float64) float64 {
	return 820 - 560*math.Exp(-sq((lon+15.6)/0.35)-sq((lat-59.1)/0.15)) + 240*math.Exp(-sq((lon+15.05)/0.08))
}

func (c cruise) file(k cast, u float64, seed int) []byte {
	var b bytes.Buffer
	line := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	column, unit := "CTDOXY", "UMOL/KG"
	if c.turbid {
		column, unit = "CTDTURB", "NTU"
	}
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(k.hour * float64(time.Hour)))
	line("CTD,20261101ZZZZZZCTW\n# Invented cruise; no number here was measured\nNUMBER_HEADERS = 9")
	line("EXPOCODE = ZZHD20260301\nSTNNBR = %d\nCASTNO = %d", k.station, k.number)
	line("DATE = %s\nTIME = %s\nLATITUDE = %.4f\nLONGITUDE = %.4f\nDEPTH = %.0f", at.Format("20060102"),
		at.Format("1504"), k.lat, k.lon, k.depth)
	line("CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,%[1]s,%[1]s_FLAG_W", column)
	line("DBAR,,ITS-90,,PSS-78,,%s,", unit)
	rng := rand.New(rand.NewPCG(13, uint64(seed)))
	for p := c.bin; p <= (k.depth-min(k.short, 0.1*k.depth))*1.01; p += c.bin {
		t, s, x := c.water(u, p, k)
		noise := 0.4
		if c.turbid {
			noise = 0.02 * x
		}
		line("%8.1f,2,%9.4f,2,%9.4f,2,%9.3f,2", p, t+0.0008*rng.NormFloat64(), s+0.0008*rng.NormFloat64(),
			max(0.01, x+noise*rng.NormFloat64()))
	}
	line("END_DATA")
	return b.Bytes()
}

func (c cruise) settings() []byte {
	alias := ""
	if c.turbid {
		alias = "  aliases: [{column: CTDTURB, means: turb}]\n"
	}
	return fmt.Appendf(nil, `# An invented cruise that is hard to draw.
cruise:
  id: %s-2026
  ships: [{name: RV Invented, code: ZZHD}]
  legs:
    - {expocode: ZZHD20260301, start: 2026-03-01, end: 2026-04-20, from: Duneport, to: Duneport,
      chief_scientist: {name: Isla Thorn}}
  institutions: [Duneport Marine Station]
release: {status: preliminary, licence: CC0-1.0, contact: data@example.org}
systems:
  - label: main
    bin: {width: %g, label: centre}
    salinity: {stage: laboratory}
    oxygen: {stage: laboratory}
casts:
  sources: [casts]
  time: start
  depth: echo sounder
%s%s
`, c.name, c.bin, alias, c.sections)
}

// depths writes the grid of water depth of the survey, larger than the survey.
func depths(path string) error {
	var lon, lat, depth []float64
	for k := range 90 {
		lon = append(lon, -17.4+0.04*float64(k))
	}
	for k := range 60 {
		lat = append(lat, 58.4+0.025*float64(k))
		for _, x := range lon {
			depth = append(depth, survey0(x, lat[k]))
		}
	}
	units := func(s string) []nc.Attr { return []nc.Attr{{Name: "units", Value: s}} }
	w, err := nc.Create(path, &nc.Schema{Dims: []nc.Dim{{Name: "lat", Len: len(lat)}, {Name: "lon", Len: len(lon)}},
		Vars: []nc.Var{
			{Name: "lat", Type: nc.Double, Dims: []int{0}, Attrs: units("degrees_north")}, {Name: "lon",
				Type: nc.Double,
				Dims: []int{1}, Attrs: units("degrees_east")},
			{Name: "depth", Type: nc.Double, Dims: []int{0, 1}, Attrs: append(units("m"),
				nc.Attr{Name: "positive", Value: "down"},
				nc.Attr{Name: "standard_name", Value: "sea_floor_depth_below_geoid"})}}})
	if err != nil {
		return err
	}
	for i, v := range [][]float64{lat, lon, depth} {
		if err := w.Write(i, v); err != nil {
			return err
		}
	}
	return w.Close()
}

func main() {
	out := flag.String("out", "", "folder for the cruises, each in a folder of its name")
	flag.Parse()
	if *out == "" {
		log.Fatal("say where to write: -out FOLDER")
	}
	write := func(name string, b []byte) {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			log.Fatal(err)
		}
		if err := os.WriteFile(name, b, 0o644); err != nil {
			log.Fatal(err)
		}
	}
	for _, c := range cruises() {
		for i, k := range c.casts {
			name := fmt.Sprintf("ZZHD20260301_%05d_%05d_ct1.csv", k.station, k.number)
			write(filepath.Join(*out, c.name, "casts", name), c.file(k, float64(i)/float64(len(c.casts)-1), i))
		}
		write(filepath.Join(*out, c.name, "cruise.yaml"), c.settings())
		if c.name == "survey" {
			grid := filepath.Join(*out, c.name, "depth.nc")
			if err := os.Remove(grid); err != nil && !errors.Is(err, fs.ErrNotExist) {
				log.Fatal(err)
			}
			if err := depths(grid); err != nil {
				log.Fatal(err)
			}
		}
	}
}
