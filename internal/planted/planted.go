// Package planted makes an invented cruise with faults that are planted in it, for tests of the checks: a line of
// 48 casts with bottles and four upcasts, two casts each of a warm and of a freezing sea, and a station taken six
// times. Which faults is said by a table, testdata/planted/faults.csv; without faults it is the clean twin. The
// same table makes the same bytes.
package planted

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A Fault is one line of the table. A line without a check plants what other lines expect to be found; one without
// a fault expects what another planted.
type Fault struct {
	Check     string
	Casts     string   // "12/1", "25/1..36/1", "*"; "" for a finding of the whole cruise
	Variables []string // that the finding may name
	From, To  float64  // dbar; NaN: from the top, to the end
	Kind      string
	Size      float64
}

// Read reads a table of faults.
func Read(r io.Reader) ([]Fault, error) {
	rows, err := csv.NewReader(r).ReadAll()
	if err != nil {
		return nil, err
	}
	number := func(s string) float64 {
		if s == "" {
			return math.NaN()
		}
		v, e := strconv.ParseFloat(s, 64)
		if e != nil {
			err = e
		}
		return v
	}
	var out []Fault
	for _, r := range rows[1:] {
		out = append(out, Fault{r[0], r[1], strings.Fields(r[2]), number(r[3]), number(r[4]), r[5], number(r[6])})
	}
	return out, err
}

// Of reports whether a fault is of a cast, by its station and number.
func (f *Fault) Of(station, number string) bool {
	if f.Casts == "*" {
		return true
	}
	from, to, several := strings.Cut(f.Casts, "..")
	if !several || from[:1] == "R" {
		return from == station+"/"+number || several && station == "R"
	}
	n, err := strconv.Atoi(station)
	a, _ := strconv.Atoi(strings.TrimSuffix(from, "/1"))
	b, _ := strconv.Atoi(strings.TrimSuffix(to, "/1"))
	return err == nil && n >= a && n <= b
}

// in reports whether a pressure is in the range of the fault.
func (f *Fault) in(p float64) bool { return !(p < f.From) && !(p > f.To) }

// A level is one bin.
type level struct {
	p, t, s, t2, s2, o, xm, etime, hab float64
	n                                  int
}

// A cast is one file.
type cast struct {
	expocode, station, number, system string
	lat, lon, depthM                  float64
	at                                time.Time
	up, bottles, absent               bool
	log                               time.Duration // of the time in the log, beside that of the file
	levels                            []level
	true                              []level // without faults, for the bottles
	lacks                             map[string]bool
}

const (
	expocode = "ZZPF20250105"
	binDbar  = 2
)

// A Cruise is the files of an invented cruise, by name.
type Cruise struct {
	Files  map[string][]byte
	Island [2][2]float64 // corners (longitude, latitude) of an invented island
	names  []string
}

// Names returns the names of the files in order.
func (c *Cruise) Names() []string { return c.names }

// Make makes the cruise with faults; sign, 1 or -1, is that of offsets of whole casts and systems.
func Make(faults []Fault, sign float64) *Cruise {
	out := &Cruise{Files: map[string][]byte{}, Island: [2][2]float64{{100, -80}, {101, -79}}}
	casts := plan(faults)
	seed := uint64(20250105)
	for _, f := range faults {
		if f.Kind == "seed" {
			seed = uint64(f.Size)
		}
	}
	for i := range casts {
		c := &casts[i]
		c.levels = c.water(seed, uint64(i))
		c.true = slices.Clone(c.levels)
		for k := range faults {
			if faults[k].Of(c.station, c.number) {
				c.plant(&faults[k], sign, casts)
			}
		}
	}
	casts = slices.DeleteFunc(casts, func(c cast) bool { return c.absent })
	for i := range casts {
		out.put(fmt.Sprintf("casts/%s_%s_%s_ct1.csv", expocode, casts[i].station, casts[i].number), casts[i].file())
	}
	out.put("bottles_hy1.csv", bottleFile(casts))
	out.put("stations.csv", stationTable(casts))
	out.put("cruise.yaml", []byte(cruiseFile))
	return out
}

func (c *Cruise) put(name string, b []byte) {
	c.Files[name] = b
	c.names = append(c.names, name)
}

// plan returns the casts: the line, its upcasts, the two other seas and the repeated station. Faults of the kinds
// "hours apart" and "degrees apart" say how the casts of the line follow each other, "seed" gives other noise.
func plan(faults []Fault) []cast {
	var out []cast
	start := time.Date(2025, 1, 6, 2, 0, 0, 0, time.UTC)
	hours, degrees := 6.0, 0.42
	for _, f := range faults {
		switch f.Kind {
		case "hours apart":
			hours = f.Size
		case "degrees apart":
			degrees = f.Size
		}
	}
	for i := range 48 {
		c := cast{station: fmt.Sprint(i + 1), number: "1", system: string(rune('A' + max(0, i/12-1))), lat: -31.2,
			lon:     -22 + degrees*float64(i),
			depthM:  3050 + 120*math.Sin(float64(i)/3),
			at:      start.Add(time.Duration(float64(i) * hours * float64(time.Hour))),
			bottles: i != 9 && i != 41}
		out = append(out, c)
		if i == 4 || i == 14 || i == 25 || i == 37 {
			c.number, c.up, c.bottles, c.at = "2", true, false, c.at.Add(80*time.Minute)
			out = append(out, c)
		}
	}
	for i, s := range []string{"R", "M1", "M2", "P1", "P2"} {
		c := cast{station: s, number: "1", system: "A", at: start.Add([]time.Duration{40, 70, 71, 110,
			111}[i] * 24 * time.Hour)}
		switch s[0] {
		case 'R':
			c.lat, c.lon, c.depthM = -31, -4, 2900
		case 'M':
			c.lat, c.lon, c.depthM = 35.1, 18.2+0.3*float64(i), 1400
		case 'P':
			c.lat, c.lon, c.depthM = -66.5, -40+0.5*float64(i), 1100
		}
		times := 1
		if s == "R" {
			times = 6
		}
		for n := range times {
			c.number = fmt.Sprint(n + 1)
			out = append(out, c)
			c.at = c.at.Add(40 * time.Hour)
		}
	}
	for i := range out {
		out[i].expocode = expocode
	}
	return out
}

// water returns what sensors without a fault read.
func (c *cast) water(seed, n uint64) []level {
	rng := rand.New(rand.NewPCG(seed, n))
	var out []level
	smooth := 0.0
	for p := float64(binDbar); p <= c.depthM*1.012-20; p += binDbar {
		smooth = 0.9*smooth + 0.1*rng.NormFloat64()
		l := level{p: p, xm: 92 - 4*math.Exp(-p/50) + 0.01*rng.NormFloat64(), etime: 240 + p/0.95, n: 44 + rng.IntN(9),
			hab: math.NaN()}
		if above := math.Round(c.depthM - p*0.99); above < 100 { // what the altimeter reaches
			l.hab = above
		}
		l.t, l.s, l.o = c.sea(p)
		fine := smooth * (math.Exp(-p/600)*math.Min(p/80, 1) + 0.01)
		l.t += 0.05*fine + 0.0006*rng.NormFloat64()
		l.s += 0.004*fine + 0.0006*rng.NormFloat64()
		l.o += 0.5*fine + 0.15*rng.NormFloat64()
		l.t2, l.s2 = l.t+0.0003+0.0003*rng.NormFloat64(), l.s-0.0004+0.0004*rng.NormFloat64()
		out = append(out, l)
	}
	return out
}

// sea returns temperature in degC, practical salinity and oxygen in umol/kg of the invented seas.
func (c *cast) sea(p float64) (t, s, o float64) {
	switch c.station[0] {
	case 'M':
		return 13.6 + 8*math.Exp(-p/45), 38.75 - 0.3*math.Exp(-p/80) + 2e-5*p, 195 + 50*math.Exp(-p/90)
	case 'P':
		return -1.7 + 1.5*(1-math.Exp(-p/260)), 34.05 + 0.55*(1-math.Exp(-p/150)), 330 - 90*(1-math.Exp(-p/300))
	}
	x := (c.lon + 22) / 20
	q := math.Max(p+40*math.Sin(9*x)*math.Sin(math.Pi*math.Min(p/3200, 1)), 0)
	t = 1.2 + 14.5*math.Exp(-q/330) + 3.6*math.Exp(-q/1700)
	s = 34.74 + 1.1*math.Exp(-q/300) - 0.36*math.Exp(-sq((q-820)/330)) + 0.09*math.Exp(-sq((q-2100)/900)) + 0.004*x
	o = 215 + 25*math.Exp(-q/150) - 40*math.Exp(-sq((q-1150)/450)) + 18*math.Exp(-sq((q-2500)/800))
	return t, s, o
}

func sq(x float64) float64 { return x * x }
