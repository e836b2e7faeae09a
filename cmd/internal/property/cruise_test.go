package property

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"
)

// A cruise is one generated cruise: the files of its folder by name, with slashes, cruise.yaml among them.
type cruise struct {
	*rand.Rand
	seed  uint64
	files map[string][]byte

	place place
	legs  []string // expocodes
	casts []*cast
	depth float64 // m, of the deepest station
	lines []string
	heads string // the lines of names of all files of casts
}

// A cast is what the generator remembers of a cast for the tables and the cruise file.
type cast struct {
	expocode, station, number string
	lat, lon                  float64
	at                        time.Time
	pressures                 []float64
	file                      string
	out                       bool // left out by the cruise file
}

// A place is a region with its water.
type place struct {
	name             string
	lat, lon         float64
	deep             float64 // m
	surface, abyss   float64 // degC
	salt, saltBottom float64
	lake, ice        bool
}

var places = []place{
	{"northern slope", 60, -30, 2500, 12, 2, 35.1, 34.95, false, false},
	{"equator", 0.2, -25, 4500, 27, 2, 35.5, 34.8, false, false},
	{"antimeridian", -30, 179.5, 5500, 20, 1, 35.4, 34.7, false, false},
	{"antimeridian, 0 to 360", -42, 180.2, 3000, 14, 1.5, 34.9, 34.7, false, false},
	{"arctic", 84, 10, 4000, -1.6, -0.8, 32.5, 34.93, false, false},
	{"southern", -62, -55, 3500, 0.5, -0.5, 33.9, 34.67, false, false},
	{"brackish", 57.5, 19.8, 200, 16, 5, 7, 12, false, false},
	{"shelf", 54.2, 6.1, 60, 15, 13, 33, 34, false, false},
	{"warm and salty", 25.5, -38, 5000, 26, 2.4, 37.4, 34.9, false, false},
	{"ice shelf", -76.5, -32, 900, -1.9, -2.1, 34.3, 34.6, false, true},
	{"lake", 46.45, 6.6, 300, 18, 6, 0.2, 0.2, true, false},
	{"pole", 89.2, 100, 4000, -1.5, -0.9, 32, 34.9, false, false},
	{"nowhere near a sea", 47, 100, 200, 10, 5, 30, 31, false, false},
	{"Mediterranean", 35.2, 18.5, 3200, 22, 13.8, 38.4, 38.7, false, false},
	{"prime meridian", 50.1, -0.4, 90, 13, 12, 34.8, 35, false, false},
}

// generate makes the cruise of a seed.
func generate(seed uint64) *cruise {
	c := &cruise{Rand: rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)), seed: seed, files: map[string][]byte{}}
	c.place = pick(c, places...)
	c.depth = c.place.deep * c.between(0.2, 1)
	if c.chance(0.25) {
		c.depth = min(c.depth, c.between(15, 150))
	}
	c.legs = []string{"ZZXX20260501"}
	if c.chance(0.25) {
		c.legs = append(c.legs, "ZZXY20260511")
	}
	if c.chance(0.1) {
		c.legs = append(c.legs, pick(c, "ZZ_20260521", "ZZYY20260521"))
	}
	c.makeCasts()
	c.writeCasts()
	c.writeCruiseFile()
	return c
}

func (c *cruise) chance(p float64) bool { return c.Float64() < p }

func (c *cruise) between(low, high float64) float64 { return low + (high-low)*c.Float64() }

func pick[T any](c *cruise, of ...T) T { return of[c.IntN(len(of))] }

// some returns n of a list at most, in a random order.
func some[T any](c *cruise, n int, of []T) []T {
	of = slices.Clone(of)
	c.Shuffle(len(of), func(i, j int) { of[i], of[j] = of[j], of[i] })
	return of[:min(n, len(of))]
}

// stationNames returns names of one habit, or of several mixed.
func (c *cruise) stationNames(n int) []string {
	styles := []func(i int) string{
		func(i int) string { return fmt.Sprint(i) },
		func(i int) string { return fmt.Sprint(i) },
		func(i int) string { return fmt.Sprintf("%03d", i) },
		func(i int) string { return fmt.Sprintf("T-%d", i) },
		func(i int) string { return fmt.Sprintf("%d.5", i) },
		func(i int) string { return fmt.Sprintf("%dA", i) },
		func(i int) string { return fmt.Sprintf("st%02d", i) },
		func(i int) string { return fmt.Sprintf("A_%d", i) },
		func(i int) string { return fmt.Sprintf("B#%d", i) },
		func(i int) string { return fmt.Sprintf("+%d", i) },
		func(i int) string { return []string{"all", "except", "nan", "1e3", "-1", "0", "yes", "null"}[i%8] },
	}
	style := pick(c, styles...)
	if c.chance(0.03) { // no name for a file
		style = func(i int) string { return fmt.Sprintf("%s%d", pick(c, "N ", "a:", "x*", "."), i) }
	}
	mixed := c.chance(0.2)
	out := make([]string, n)
	for i := range out {
		if mixed {
			style = pick(c, styles...)
		}
		for k := i + 1; ; k += 10 {
			if out[i] = style(k); !slices.Contains(out[:i], out[i]) {
				break
			}
			if k > 60 {
				style = styles[0]
			}
		}
	}
	return out
}

// makeCasts decides where and when casts are taken and how they are called.
func (c *cruise) makeCasts() {
	n := 1 + c.IntN(8)
	if c.chance(0.5) {
		n = 4 + c.IntN(5)
	}
	names := c.stationNames(n)
	heading := c.between(0, 2*math.Pi)
	spacing := pick(c, 0.02, 0.1, 0.3, 0.8) * c.between(0.5, 1.5)
	if c.chance(0.04) {
		spacing = pick(c, 0, 1e-4, 12)
	}
	ring := n > 3 && c.chance(0.15) // the track comes back to where it began
	at := time.Date(pick(c, 2026, 2026, 2026, 1969, 1901, 2019), pick(c, time.May, time.May, time.December), 2,
		c.IntN(24), c.IntN(60), 0, 0, time.UTC)
	sameName := len(c.legs) > 1 && c.chance(0.4)
	number := pick(c, "1", "1", "1", "2", "01", "A", "12")
	for i := range n {
		leg := i * len(c.legs) / n
		k := &cast{expocode: c.legs[leg], station: names[i], number: number, at: at,
			lat: c.place.lat + spacing*float64(i)*math.Sin(heading)*0.6 + c.between(-1, 1)*spacing*0.1,
			lon: c.place.lon + spacing*float64(i)*math.Cos(heading) + c.between(-1, 1)*spacing*0.1}
		if ring {
			turn := 2 * math.Pi * float64(i) / float64(n)
			k.lat, k.lon = c.place.lat+spacing*math.Sin(turn), c.place.lon+spacing*math.Cos(turn)
		}
		if sameName && leg > 0 {
			k.station = names[i%(n/len(c.legs)+1)]
		}
		if i > 0 && c.chance(0.15) { // a second cast of a station
			prev := c.casts[i-1]
			k.expocode, k.station, k.lat, k.lon = prev.expocode, prev.station, prev.lat+c.between(-0.005, 0.005),
				prev.lon
			k.number = pick(c, "2", "3", "02", "B")
		}
		for c.taken(k) {
			k.number += pick(c, "1", "2", "7")
		}
		k.lat = math.Max(-89.9, math.Min(89.9, k.lat))
		c.casts = append(c.casts, k)
		at = at.Add(time.Duration(c.between(40, 700)) * time.Minute)
		if leg < (i+1)*len(c.legs)/n {
			at = at.Add(5 * 24 * time.Hour)
		}
	}
}

func (c *cruise) taken(k *cast) bool {
	return slices.ContainsFunc(c.casts, func(o *cast) bool {
		return o.expocode == k.expocode && o.station == k.station && o.number == k.number
	})
}

// list writes stations in the notation of the cruise file, quoted for YAML.
func (c *cruise) list(casts []*cast) string {
	var out []string
	for _, k := range casts {
		if k.out && len(casts) > 1 && !c.chance(0.02) {
			continue
		}
		s := k.station
		if strings.Trim(s, "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_.") != "" || s == "all" ||
			s == "except" {
			s = `"` + s + `"`
		}
		if c.repeated(k.station) {
			s = k.expocode + ":" + s
		}
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return "'" + strings.Join(out, ", ") + "'"
}

// one writes the name of one cast.
func (c *cruise) one(k *cast) string {
	s := strings.Trim(c.list([]*cast{k}), "'")
	return "'" + s + "/" + k.number + "'"
}

// repeated reports whether a station name occurs on two legs.
func (c *cruise) repeated(station string) bool {
	legs := map[string]bool{}
	for _, k := range c.casts {
		if k.station == station {
			legs[k.expocode] = true
		}
	}
	return len(legs) > 1
}
