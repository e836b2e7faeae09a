// Command generate writes the demo cruise: an invented ship, an invented ocean and the small troubles that real casts
// have. The places are real (a strait between two coasts, and the slope south of it) so that maps and the anomaly atlas
// have something to work on; every number of the sea is made up by the formulas below.
//
//	go run ./testdata/cruise/generate -out testdata/cruise
//
// The same program gives the same bytes.
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
	"strings"
	"time"
)

const (
	expocode = "ZZSM20260504"
	binDbar  = 2.0
	fill     = -999.0
)

// A station of the plan. Trouble names the one thing that is odd about its file.
type station struct {
	name, cast, section string
	lat, lon, depthM    float64
	hours               float64 // since the first cast
	trouble             string
}

func plan() []station {
	var s []station
	// The strait, from the north-western shelf to the south-eastern one.
	depths := []float64{236, 288, 342, 478, 612, 668, 590, 455, 318, 174}
	for i, d := range depths {
		u := float64(i) / float64(len(depths)-1)
		s = append(s, station{
			name: fmt.Sprint(i + 1), cast: "1", section: "STRAIT",
			lat: 67.05 - 0.80*u, lon: -29.90 + 5.35*u, depthM: d, hours: 2.6 * float64(i),
		})
	}
	// The slope, towards the south-west.
	depths = []float64{905, 1188, 1432, 1710, 1985, 2208, 2395, 2530}
	for i, d := range depths {
		u := float64(i) / float64(len(depths)-1)
		s = append(s, station{
			name: fmt.Sprint(i + 11), cast: "1", section: "SLOPE",
			lat: 65.55 - 1.95*u, lon: -30.30 - 4.10*u, depthM: d, hours: 36 + 5.2*float64(i),
		})
	}
	troubles := map[string]string{
		"2": "late first bins", "3": "header count one too few", "4": "bad salinity run", "5": "questionable oxygen",
		"6": "dead oxygen", "7": "missing bins", "8": "no end line and CRLF", "9": "longitude to 360 and short time",
		"10": "no water depth", "12": "interpolated bins", "13": "old user header", "14": "fluorometer never judged",
		"15": "comments in odd places", "16": "misspelt unit", "17": "stopped high above the bottom",
		"18": "temperature spike",
	}
	for i := range s {
		s[i].trouble = troubles[s[i].name]
	}
	s = append(s,
		station{name: "T1", cast: "1", lat: 66.905, lon: -27.71, depthM: 541, hours: -9, trouble: "test cast"},
		station{name: "6", cast: "2", section: "STRAIT", lat: 66.607, lon: -26.926, depthM: 667, hours: 29.4,
			trouble: "repeat"},
		station{name: "19", cast: "1", section: "SLOPE", lat: 63.42, lon: -34.87, depthM: 2610, hours: 78.2,
			trouble: "damaged file"},
	)
	return s
}

// ocean returns temperature (ITS-90), practical salinity, oxygen, beam transmission and fluorescence of the invented
// sea.
func ocean(st station, p float64, wave [3]float64) (t, s, o, xm, fl float64) {
	// across: 0 on the cold north-western side, 1 on the warm south-eastern side; the slope line lies on the warm side
	// of the front.
	across := (st.lon+29.9)/5.35 + 0.15*(67.05-st.lat)/0.8
	if st.section == "SLOPE" {
		across = 0.42 + 0.10*math.Sin((st.lon+34)/1.1)
	}
	heave := 18*wave[0] + 9*wave[1]*math.Cos(p/260) + 7*wave[2]*math.Sin(p/140)
	pe := math.Max(p+heave*math.Tanh(p/90), 0)
	front := 1 / (1 + math.Exp(-(across-0.38-0.00018*pe)/0.075)) // 0 polar, 1 Atlantic
	polarT := -1.45 + 1.9*math.Exp(-pe/24) + 1.6*(1-math.Exp(-pe/420))
	polarS := 34.92 - 2.35*math.Exp(-pe/62) - 0.02*math.Exp(-pe/300)
	warmT := 3.1 + 3.6*math.Exp(-pe/520) + 1.3*math.Exp(-pe/34)
	warmS := 34.93 + 0.17*math.Exp(-pe/480) - 0.06*math.Exp(-pe/22)
	t = polarT + (warmT-polarT)*front
	s = polarS + (warmS-polarS)*front
	// Dense overflow hugging the bottom on the north-western flank.
	h := math.Max(st.depthM-p, 0)
	over := math.Exp(-h/95) * math.Exp(-sq((across-0.40)/0.22)) * math.Min(st.depthM/480, 1)
	t += (0.25 - t) * over
	s += (34.895 - s) * over
	t += 0.25 * wave[0] * math.Exp(-p/300)
	s += 0.012 * wave[0] * math.Exp(-p/300)
	o = 303 - 22*front*math.Exp(-sq((p-700)/600)) + 26*(1-front)*math.Exp(-p/140) + 6*over + 14*math.Exp(-p/30)
	xm = 92.6 - 6.5*math.Exp(-p/38) - 2.2*math.Exp(-h/40)
	fl = 0.04 + (1.6+0.8*front)*math.Exp(-sq((p-22)/17))
	return t, s, o, xm, fl
}

func sq(x float64) float64 { return x * x }

type level struct {
	p, t, s, o, xm, fl, t2, s2 float64
	f                          [8]int // flags of p t s o xm fl t2 s2
	n                          int
}

func levels(st station, index int) []level {
	rng := rand.New(rand.NewPCG(20260504, uint64(index)))
	wave := [3]float64{math.Sin(st.lat*7.3 + st.lon*2.1), math.Cos(st.lat*11.7 - st.lon*3.3), math.Sin(st.lon * 5.9)}
	last := st.depthM*1.012 - 9
	switch st.trouble {
	case "stopped high above the bottom":
		last -= 310
	case "test cast":
		last = 160
	}
	var out []level
	smooth := 0.0
	for p := binDbar; p <= last; p += binDbar {
		smooth = 0.9*smooth + 0.1*rng.NormFloat64()
		t, s, o, xm, fl := ocean(st, p, wave)
		decay := math.Exp(-p/500)*math.Min(p/60, 1) + 0.02
		t += 0.12*smooth*decay + 0.0006*rng.NormFloat64()
		s += 0.006*smooth*decay + 0.0006*rng.NormFloat64()
		l := level{p: p, t: t, s: s, o: o + 0.25*rng.NormFloat64(), xm: xm + 0.01*rng.NormFloat64(),
			fl: math.Max(fl+0.006*rng.NormFloat64(), 0.01), n: 40 + rng.IntN(17)}
		l.t2, l.s2 = t+0.0007+0.0004*rng.NormFloat64(), s-0.0011+0.0005*rng.NormFloat64()
		for i := range l.f {
			l.f[i] = 2
		}
		out = append(out, l)
	}
	n := len(out)
	switch st.trouble {
	case "late first bins":
		out = out[3:]
	case "bad salinity run":
		for i := n / 2; i < n/2+14; i++ {
			out[i].s += 0.061
			out[i].f[2] = 4
		}
	case "questionable oxygen":
		for i := 20; i < 27; i++ {
			out[i].o -= 9
			out[i].f[3] = 3
		}
	case "dead oxygen":
		for i := range out {
			out[i].o, out[i].f[3] = fill, 9
		}
	case "missing bins":
		out = append(out[:90], out[99:]...)
	case "interpolated bins":
		for i := 300; i < 304; i++ {
			out[i].f[1], out[i].f[2], out[i].f[3] = 6, 6, 6
		}
	case "temperature spike": // nobody has flagged it: the checks should name it
		out[410].t += 0.62
		out[410].s += 0.021
	}
	return out
}

// headers returns the header lines of a station after NUMBER_HEADERS.
func headers(st station, start time.Time) []string {
	headers := []string{"EXPOCODE = " + expocode}
	if st.section != "" {
		headers = append(headers, "SECT_ID = "+st.section)
	}
	clock, lon := start.Format("1504"), st.lon
	if st.trouble == "longitude to 360 and short time" {
		lon += 360
		clock = strings.TrimLeft(clock, "0")
	}
	depth := fmt.Sprintf("%.0f", st.depthM)
	if st.trouble == "no water depth" {
		depth = "-999"
	}
	headers = append(headers, "STNNBR = "+st.name, "CASTNO = "+st.cast, "DATE = "+start.Format("20060102"),
		"TIME = "+clock,
		fmt.Sprintf("LATITUDE = %.4f", st.lat), fmt.Sprintf("LONGITUDE = %.4f", lon), "DEPTH = "+depth)
	if st.trouble == "old user header" {
		headers = append(headers, "WATCH = starboard")
	}
	return headers
}

func file(st station, index int) []byte {
	var b bytes.Buffer
	start := time.Date(2026, 5, 4, 18, 0, 0, 0, time.UTC).Add(time.Duration(st.hours * float64(time.Hour))).Truncate(
		time.Minute)
	line := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	line("CTD,20260517SKRSMTOWL")
	line("# Invented demo cruise of RV Saltmarten; no number here was measured")
	line("# Downcast, 2-dbar bins labelled at the centre; time is the start of the cast")
	line("# Water depth by echo sounder, corrected for sound speed; as logged, not for navigation")
	headers := headers(st, start)
	count := len(headers) + 1
	if st.trouble == "header count one too few" {
		count--
	}
	line("NUMBER_HEADERS = %d", count)
	for i, h := range headers {
		line("%s", h)
		if st.trouble == "comments in odd places" && i == 3 {
			line("# swell 3 m from the south-west")
		}
	}
	judged := st.trouble != "fluorometer never judged"
	dbar := "DBAR"
	if st.trouble == "misspelt unit" {
		dbar = "DBARS"
	}
	names :=
		"CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W,CTDXMISS,CTDXMISS_FLAG_W,CTDFLUOR,"
	units := dbar + ",,ITS-90,,PSS-78,,UMOL/KG,,%TRANS,,MG/M^3,"
	if judged {
		names += "CTDFLUOR_FLAG_W,"
		units += ","
	}
	names += "CTDTMP2,CTDTMP2_FLAG_W,CTDSAL2,CTDSAL2_FLAG_W,CTDNOBS"
	units += "ITS-90,,PSS-78,,"
	line("%s", names)
	b.WriteString(units + "\n")
	for i, l := range levels(st, index) {
		if st.trouble == "comments in odd places" && i == 200 {
			line("# winch stopped for two minutes")
		}
		o := fmt.Sprintf("%9.1f", l.o)
		if l.o == fill {
			o = "     -999"
		}
		fmt.Fprintf(&b, "%8.1f,%d,%9.4f,%d,%9.4f,%d,%s,%d,%8.3f,%d,%8.3f,", l.p, l.f[0], l.t, l.f[1], l.s, l.f[2], o,
			l.f[3], l.xm, l.f[4], l.fl)
		if judged {
			fmt.Fprintf(&b, "%d,", l.f[5])
		}
		fmt.Fprintf(&b, "%9.4f,%d,%9.4f,%d,%4d\n", l.t2, l.f[6], l.s2, l.f[7], l.n)
	}
	out := b.Bytes()
	switch st.trouble {
	case "no end line and CRLF":
		return bytes.ReplaceAll(out, []byte("\n"), []byte("\r\n"))
	case "damaged file": // the end was lost in a copy, and a line is torn
		lines := bytes.Split(out, []byte("\n"))
		lines = lines[:420]
		lines[300] = append(append([]byte{}, lines[300][:37]...), lines[302][20:]...)
		return append(bytes.Join(lines, []byte("\n")), '\n')
	}
	out = append(out, "END_DATA\n"...)
	if st.trouble == "comments in odd places" {
		out = append(out, "sampled by the second watch\n"...)
	}
	return out
}

func main() {
	dir := flag.String("out", "testdata/cruise", "folder of the demo cruise; the casts go into its folder casts")
	flag.Parse()
	casts := filepath.Join(*dir, "casts")
	if err := os.MkdirAll(casts, 0o755); err != nil {
		log.Fatal(err)
	}
	for i, st := range plan() {
		name := fmt.Sprintf("%s_%05s_%05s_ct1.csv", expocode, st.name, st.cast)
		if err := os.WriteFile(filepath.Join(casts, strings.ReplaceAll(name, " ", "0")), file(st, i),
			0o644); err != nil {
			log.Fatal(err)
		}
	}
}
