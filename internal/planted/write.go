package planted

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
)

// file returns a cast as an exchange file.
func (c *cast) file() []byte {
	var b bytes.Buffer
	line := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	line("CTD,20250401ZZZZZZCTW")
	line("# Invented cruise; no number here was measured")
	line("NUMBER_HEADERS = 9")
	line("EXPOCODE = %s\nSTNNBR = %s\nCASTNO = %s", c.expocode, c.station, c.number)
	line("DATE = %s\nTIME = %s\nLATITUDE = %.4f\nLONGITUDE = %.4f\nDEPTH = %.0f", c.at.Format("20060102"),
		c.at.Format("1504"), c.lat, c.lon, c.depthM)
	b.WriteString("CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W")
	units := "DBAR,,ITS-90,,PSS-78,"
	if !c.lacks["oxy"] {
		b.WriteString(",CTDOXY,CTDOXY_FLAG_W")
		units += ",UMOL/KG,"
	}
	if !c.lacks["xmiss"] {
		b.WriteString(",CTDXMISS")
		units += ",%TRANS"
	}
	line(",CTDTMP2,CTDSAL2,CTDETIME,ALTIM,CTDNOBS\n%s,ITS-90,PSS-78,SECONDS,METERS,", units)
	for i := range c.levels {
		l := &c.levels[i]
		fmt.Fprintf(&b, "%.1f,2,%.4f,2,%.4f,2", l.p, l.t, l.s)
		if !c.lacks["oxy"] {
			fmt.Fprintf(&b, ",%.2f,2", l.o)
		}
		if !c.lacks["xmiss"] {
			fmt.Fprintf(&b, ",%.3f", l.xm)
		}
		hab := "-999"
		if l.hab == l.hab {
			hab = fmt.Sprintf("%.0f", l.hab)
		}
		line(",%.4f,%.4f,%.0f,%s,%d", l.t2, l.s2, l.etime, hab, l.n)
	}
	line("END_DATA")
	return b.Bytes()
}

// bottleFile returns the bottles of the line: samples of the water as it is, and what the CTD read at closure.
func bottleFile(casts []cast) []byte {
	var b bytes.Buffer
	line := func(f string, a ...any) { fmt.Fprintf(&b, f+"\n", a...) }
	line("BOTTLE,20250401ZZZZZZCTW")
	line("EXPOCODE,STNNBR,CASTNO,SAMPNO,BTLNBR,BTLNBR_FLAG_W,DATE,TIME,LATITUDE,LONGITUDE,DEPTH,CTDPRS,CTDTMP,CTDSAL," +
		"CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W,SALNTY,SALNTY_FLAG_W,OXYGEN,OXYGEN_FLAG_W")
	line(",,,,,,,,,,METERS,DBAR,ITS-90,PSS-78,,UMOL/KG,,PSS-78,,UMOL/KG,")
	for i := range casts {
		c := &casts[i]
		if !c.bottles {
			continue
		}
		rng := rand.New(rand.NewPCG(77, uint64(i)))
		n := 0
		for k := len(c.levels) - 1; k > 0; k-- {
			l := &c.levels[k]
			if math.Mod(l.p, 250) != 0 && !(l.p > 1000 && math.Mod(l.p, 125) == 0) {
				continue
			}
			n++
			at := c.atClosure(l.p, rng)
			line("%s,%s,%s,%d,%d,2,%s,%s,%.4f,%.4f,%.0f,%.1f,%.4f,%.4f,2,%.2f,2,%.4f,2,%.2f,2", c.expocode,
				c.station, c.number, n, n,
				c.at.Format("20060102"), c.at.Format("1504"), c.lat, c.lon, c.depthM, l.p, at.t, at.s, at.o,
				at.s-(l.s-c.clean(l.p).s)+0.0008*rng.NormFloat64(),
				at.o-(l.o-c.clean(l.p).o)+0.5*rng.NormFloat64())
		}
	}
	line("END_DATA")
	return b.Bytes()
}

// clean returns the level at a pressure without faults.
func (c *cast) clean(p float64) *level { return &c.true[min(max(int(p/binDbar)-1, 0), len(c.true)-1)] }

// atClosure returns what the CTD reads when a bottle is closed: internal waves have moved the water since the
// downcast, by less than the window in which it is looked for.
func (c *cast) atClosure(p float64, rng *rand.Rand) level {
	moved := 8 * rng.NormFloat64() * math.Exp(-p/1500)
	at := *c.clean(p)
	t, s, o := c.sea(p)
	t2, s2, o2 := c.sea(p + math.Min(math.Max(moved, -15), 15))
	for i := range c.levels {
		if c.levels[i].p == p { // with the faults of the sensors
			at.t, at.s, at.o = c.levels[i].t, c.levels[i].s, c.levels[i].o
		}
	}
	at.t, at.s, at.o = at.t+t2-t, at.s+s2-s, at.o+o2-o
	return at
}

// stationTable returns the log: upcasts by their direction, times that are those of the files unless planted otherwise.
func stationTable(casts []cast) []byte {
	var b bytes.Buffer
	b.WriteString("station,cast,time,direction,role,system\n")
	for i := range casts {
		c := &casts[i]
		direction, role := "down", "primary"
		if c.up {
			direction = "up"
		}
		if c.station == "R" && c.number != "1" {
			role = "repeat"
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s\n", c.station, c.number, c.at.Add(c.log).Format("2006-01-02T15:04Z"),
			direction, role, c.system)
	}
	return b.Bytes()
}

const cruiseFile = `cruise:
  id: planted-2025-01
  title: Invented casts with planted faults
  ships: [{name: RV Invented, code: ZZPF}]
  legs: [{expocode: ZZPF20250105}]
release: {status: underway}
systems:
  - {label: A, bin: {width: 2, label: centre}}
  - {label: B, bin: {width: 2, label: centre}, stations: 25-36}
  - {label: C, bin: {width: 2, label: centre}, stations: 37-48}
casts:
  sources: [casts]
  bottles: [bottles_hy1.csv]
  station_table: stations.csv
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}, {column: ALTIM, means: hab}]
`
