// Command generate writes the same four invented casts as exchange files and in eleven forms of text that have little
// in common.
//
//	go run ./testdata/layouts/generate -out testdata/layouts
//
// The same program writes the same bytes. Ship and numbers are invented.
package main

import (
	"flag"
	"fmt"
	"log"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode/utf16"

	"github.com/castwright/castwright/section/seawater"
)

// A level is one bin of a cast: pressure in dbar, temperature in degC (ITS-90), practical salinity and oxygen in
// umol/kg, each rounded to the digits that it is written with. A missing oxygen is NaN.
type level struct {
	p, t, s, o float64
	ft, fs, fo int // WOCE flags
}

type cast struct {
	station  int
	at       time.Time
	lat, lon float64
	depthM   int
	levels   []level
}

func rounded(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}

func casts() []cast {
	var out []cast
	for k := range 4 {
		c := cast{station: 21 + k, lat: 54.5 + 0.05*float64(k), lon: -10.25 - 0.125*float64(k), depthM: 84 + 20*k,
			at: time.Date(2026, 8, 14, 6, 30, 0, 0, time.UTC).Add(time.Duration(k) * 150 * time.Minute)}
		for i := range (c.depthM - 6) / 2 {
			p := 2 * float64(i+1)
			l := level{p: p, ft: 2, fs: 2, fo: 2,
				t: rounded(7.9+8.3/(1+math.Exp((p-24-3*float64(k))/5))+0.0137*math.Sin(p), 4),
				s: rounded(34.1+0.12*float64(k)+0.9*(1-math.Exp(-p/35))+0.0021*math.Cos(1.7*p), 4),
				o: rounded(262-0.31*p+11*math.Exp(-math.Pow((p-30)/12, 2)), 1)}
			switch {
			case k == 1 && i >= 10 && i < 13:
				l.o, l.fo = math.NaN(), 9
			case k == 2 && i == 7:
				l.fs = 3
			case k == 3 && i == 20:
				l.ft, l.fs = 4, 4
			}
			c.levels = append(c.levels, l)
		}
		out = append(out, c)
	}
	return out
}

const expocode = "ZZSD20260812"

func main() {
	out := flag.String("out", "", "folder to write to")
	flag.Parse()
	if *out == "" {
		log.Fatal("give -out DIR")
	}
	all := casts()
	for name, write := range map[string]func([]cast) map[string]string{
		"exchange": exchange, "decimal-comma": decimalComma, "utf-16": wide, "fixed-width": fixed, "minutes": minutes,
		"day-of-year":  dayOfYear,
		"packed-flags": packed, "conductivity": conductivity, "depth": depth, "upcasts": upcasts,
		"two-in-a-file": twoInAFile, "table": table,
	} {
		dir := filepath.Join(*out, name)
		if err := os.MkdirAll(dir, 0o755); err != nil {
			log.Fatal(err)
		}
		for file, text := range write(all) {
			if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644); err != nil {
				log.Fatal(err)
			}
		}
	}
}

// value writes a number with so many decimals, or what marks a missing one.
func value(v float64, decimals int, missing string) string {
	if math.IsNaN(v) {
		return missing
	}
	return fmt.Sprintf("%.*f", decimals, v)
}

func each(all []cast, name string, text func(c cast, b *strings.Builder)) map[string]string {
	out := map[string]string{}
	for _, c := range all {
		var b strings.Builder
		text(c, &b)
		out[fmt.Sprintf(name, c.station)] = b.String()
	}
	return out
}

func exchange(all []cast) map[string]string {
	return each(all, expocode+"_%05d_00001_ct1.csv", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b,
			"CTD,20260901ZZZZZZCTW\n# Invented cruise; no number here was measured\nNUMBER_HEADERS = 9\nEXPOCODE = %s\nSTNNBR = %d\nCASTNO = 1\nDATE = %s\nTIME = %s\n",
			expocode, c.station, c.at.Format("20060102"), c.at.Format("1504"))
		fmt.Fprintf(b, "LATITUDE = %.4f\nLONGITUDE = %.4f\nDEPTH = %d\n", c.lat, c.lon, c.depthM)
		b.WriteString(
			"CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W\nDBAR,,ITS-90,,PSS-78,,UMOL/KG,\n")
		for _, l := range c.levels {
			fmt.Fprintf(b, "%.1f,2,%.4f,%d,%.4f,%d,%s,%d\n", l.p, l.t, l.ft, l.s, l.fs, value(l.o, 1, "-999"), l.fo)
		}
		b.WriteString("END_DATA\n")
	})
}

func comma(s string) string { return strings.ReplaceAll(s, ".", ",") }

func latin1(s string) string {
	var b []byte
	for _, r := range s {
		b = append(b, byte(r))
	}
	return string(b)
}

// decimalComma is a spreadsheet saved in a country of the decimal comma: semicolons, Latin-1, nothing where a value is
// missing.
func decimalComma(all []cast) map[string]string {
	out := each(all, "Profil_%d.csv", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b, "Fahrt;Strandläufer 26/3\r\nStation;%d\r\nDatum;%s\r\nUhrzeit;%s\r\n", c.station,
			c.at.Format("02.01.2006"), c.at.Format("15:04"))
		fmt.Fprintf(b, "Breite;%s\r\nLänge;%s\r\nWassertiefe;%d\r\n", comma(fmt.Sprintf("%.4f", c.lat)),
			comma(fmt.Sprintf("%.4f", c.lon)), c.depthM)
		b.WriteString("Druck [dbar];Temperatur [°C];Salzgehalt [PSU];Sauerstoff [µmol/kg]\r\n")
		for _, l := range c.levels {
			b.WriteString(comma(fmt.Sprintf("%.1f;%.4f;%.4f;%s", l.p, l.t, l.s, value(l.o, 1, ""))) + "\r\n")
		}
	})
	for k, v := range out {
		out[k] = latin1(v)
	}
	return out
}

// l20 returns the SeaDataNet flag of a WOCE flag.
func l20(f int) string { return map[int]string{2: "1", 3: "3", 4: "4", 9: "9"}[f] }

// wide is tab-separated text in UTF-16 with flags of another scheme in columns of their own.
func wide(all []cast) map[string]string {
	out := each(all, "export-%d.txt", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b,
			"Station\t%d\r\nCast\t1\r\nDate\t%s\r\nTime\t%s\r\nLat\t%.4f N\r\nLon\t%.4f W\r\nSounding\t%d\r\n\r\n",
			c.station, c.at.Format("01/02/2006"),
			c.at.Format("3:04 PM"), c.lat, -c.lon, c.depthM)
		b.WriteString(
			"Pressure\tTemperature\tQF_T\tSalinity\tQF_S\tOxygen\tQF_O\r\n[dbar]\t[deg C]\t\t\t\t[umol/kg]\t\r\n")
		for _, l := range c.levels {
			fmt.Fprintf(b, "%.1f\t%.4f\t%s\t%.4f\t%s\t%s\t%s\r\n", l.p, l.t, l20(l.ft), l.s, l20(l.fs),
				value(l.o, 1, "-99.0"), l20(l.fo))
		}
	})
	for k, v := range out {
		b := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(v)) {
			b = append(b, byte(u), byte(u>>8))
		}
		out[k] = string(b)
	}
	return out
}

// fixed has numbers of fixed width without blanks between them.
func fixed(all []cast) map[string]string {
	return each(all, "ST%d.DAT", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b, "STN %04d CAST 01 %s %sZ %7.4fN %08.4fW %5dM\n", c.station, c.at.Format("060102"),
			c.at.Format("1504"), c.lat, -c.lon, c.depthM)
		b.WriteString("  PRES  TEMP90   SALINOXYGEN\n")
		for _, l := range c.levels {
			fmt.Fprintf(b, "%06.1f%08.4f%08.4f%s\n", l.p, l.t, l.s, value(l.o, 2, "999.99"))
		}
	})
}

func degreesMinutes(v float64, positive, negative string) string {
	h := positive
	if v < 0 {
		h, v = negative, -v
	}
	d := math.Floor(v + 1e-9)
	return fmt.Sprintf("%.0f %06.3f %s", d, 60*(v-d)+1e-9, h)
}

// minutes has a commented head with degrees and minutes, and columns divided by blanks.
func minutes(all []cast) map[string]string {
	return each(all, "ctd%04d_01.asc", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b,
			"* Invented data, averaged into 2 dbar\n* Latitude:  %s\n* Longitude: %s\n* Start: %s UTC\n* Water depth: %d m\n",
			degreesMinutes(c.lat, "N", "S"),
			degreesMinutes(c.lon, "E", "W"), c.at.Format("Jan 02 2006 15:04:05"), c.depthM)
		b.WriteString("*    press      temp      salt     oxygen\n*    (dbar)   (ITS-90)   (PSS-78)   (umol/kg)\n")
		for _, l := range c.levels {
			fmt.Fprintf(b, "%10.1f%10.4f%10.4f%10s\n", l.p, l.t, l.s, value(l.o, 1, "-9.9"))
		}
		b.WriteString("*END*\n")
	})
}

func yearDay(t time.Time) float64 {
	return t.Sub(time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)).Hours() / 24
}

// dayOfYear has no names at all: one line of numbers as a head, then columns of numbers.
func dayOfYear(all []cast) map[string]string {
	return each(all, "%d.prf", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b, "%5d 1 %d %.5f %.4f %.4f %d\n", c.station, c.at.Year(), yearDay(c.at)+1, c.lat, c.lon+360,
			c.depthM)
		for _, l := range c.levels {
			fmt.Fprintf(b, "%8.1f %9.4f %9.4f %12s\n", l.p, l.t, l.s, value(l.o, 1, "-9.990e-29"))
		}
	})
}

// packed has the flags of all columns in one word.
func packed(all []cast) map[string]string {
	return each(all, "stn_%d_cast_1.csv", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b, "Time (UTC): %s\nPosition: %.4f, %.4f\nBottom depth (m): %d\n\n",
			c.at.Format("2006-01-02 15:04"), c.lat, c.lon, c.depthM)
		b.WriteString("P,T90,S,DO,QUALITY\n")
		for _, l := range c.levels {
			fmt.Fprintf(b, "%.1f,%.4f,%.4f,%s,2%d%d%d\n", l.p, l.t, l.s, value(l.o, 1, "NaN"), l.ft, l.fs, l.fo)
		}
	})
}

// conductivity has conductivity in place of salinity, and oxygen per litre.
func conductivity(all []cast) map[string]string {
	return each(all, "profile%d.log", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b,
			"# station = %d\n# cast = 1\n# datetime = %s\n# latitude = %.4f\n# longitude = %.4f\n# bottom = %d\n",
			c.station, c.at.Format("2006-01-02T15:04:05Z"), c.lat, c.lon, c.depthM)
		b.WriteString("pressure_dbar|temperature_C|conductivity_mS_cm|oxygen_umol_L\n")
		place := seawater.PlaceOf(c.lon, c.lat)
		for _, l := range c.levels {
			sa := place.AbsoluteSalinity(l.s, l.p)
			litre := l.o * (1000 + seawater.Sigma0(sa, seawater.ConservativeTemperature(sa, l.t, l.p))) / 1000
			fmt.Fprintf(b, "%.1f|%.4f|%.4f|%s\n", l.p, l.t, seawater.Conductivity(l.s, l.t, l.p), value(litre, 2, "-"))
		}
	})
}

// depth has depth in place of pressure, oxygen in ml/l and days that are counted from 0.
func depth(all []cast) map[string]string {
	return each(all, "deep%d.tab", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b, "%% STATION %d YEAR %d DAYS %.5f\n%% LAT %.4f LON %.4f SOUNDING %d\n", c.station, c.at.Year(),
			yearDay(c.at), c.lat, c.lon, c.depthM)
		b.WriteString("% depth_m t90 sp o2_ml_l\n")
		place := seawater.PlaceOf(c.lon, c.lat)
		for _, l := range c.levels {
			sa := place.AbsoluteSalinity(l.s, l.p)
			ml := l.o * (1000 + seawater.Sigma0(sa, seawater.ConservativeTemperature(sa, l.t, l.p))) / 1000 /
				seawater.MicromolesPerMillilitre
			fmt.Fprintf(b, "%.2f %.4f %.4f %s\n", -seawater.Height(l.p, c.lat), l.t, l.s, value(ml, 3, "-1.000"))
		}
	})
}

// upcasts has the levels from the bottom up, and temperature on IPTS-68.
func upcasts(all []cast) map[string]string {
	return each(all, "up_%d.txt", func(c cast, b *strings.Builder) {
		fmt.Fprintf(b, "Upcast of station %d, cast 1\n%s  %.4f  %.4f  bottom %d m\n\n", c.station,
			c.at.Format("2 January 2006 15:04"), c.lat, c.lon, c.depthM)
		b.WriteString("PR   T68   SAL   OX\ndbar IPTS-68 PSS-78 umol/kg\n-----------------------\n")
		for i := len(c.levels) - 1; i >= 0; i-- {
			l := c.levels[i]
			fmt.Fprintf(b, "%.1f %.4f %.4f %s\n", l.p, 1.00024*l.t, l.s, value(l.o, 1, "NA"))
		}
	})
}

// twoInAFile has two casts in each file, each with a head of its own.
func twoInAFile(all []cast) map[string]string {
	out := map[string]string{}
	for k := 0; k < len(all); k += 2 {
		var b strings.Builder
		b.WriteString("Leg 1 of an invented cruise\n")
		for _, c := range all[k : k+2] {
			fmt.Fprintf(&b, "=== Station %d / Cast 1 ===\n%s\n%.4f %.4f\nDepth %d\n", c.station,
				c.at.Format("2006/01/02 15:04"), c.lat, c.lon, c.depthM)
			b.WriteString("Pres, Temp, Sal, Oxy\n")
			for _, l := range c.levels {
				fmt.Fprintf(&b, "%.1f, %.4f, %.4f, %s\n", l.p, l.t, l.s, value(l.o, 1, "-999.0"))
			}
			b.WriteString("End of cast\n")
		}
		out[fmt.Sprintf("pair%d.txt", k/2+1)] = b.String()
	}
	return out
}

// table is one table of the whole cruise, with what is said of a cast in every line.
func table(all []cast) map[string]string {
	var b strings.Builder
	b.WriteString(
		"Cruise,Station,Cast,yyyy-mm-ddThh:mm,Longitude [deg E],Latitude [deg N],Bottom depth [m],Pressure [dbar],Temperature [degC],Salinity,Oxygen [umol/kg]\n")
	for _, c := range all {
		for _, l := range c.levels {
			fmt.Fprintf(&b, "%s,%d,1,%s,%.4f,%.4f,%d,%.1f,%.4f,%.4f,%s\n", expocode, c.station,
				c.at.Format("2006-01-02T15:04"), c.lon, c.lat, c.depthM, l.p, l.t, l.s, value(l.o, 1, ""))
		}
	}
	return map[string]string{"whole-cruise.csv": b.String()}
}
