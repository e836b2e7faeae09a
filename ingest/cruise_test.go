package ingest

import (
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

func cast(file, expocode, station, number, when string, lon, lat float64) *section.Cast {
	c := &section.Cast{Expocode: expocode, Station: station, Number: number, At: orb.Point{lon, lat},
		Source: metadata.Digest{Name: file}}
	if t, err := time.Parse("2006-01-02 15:04", when); err == nil {
		c.Time = t
	} else if t, err := time.Parse("2006-01-02", when); err == nil {
		c.Time, c.DateOnly = t, true
	}
	return c
}

// The rows of exchange.md section 8 that compare files with each other, each with its exact message.
func TestCheckCruise(t *testing.T) {
	const e = "318M20130321"
	for _, c := range []struct {
		name     string
		casts    []*section.Cast
		declared []Leg
		want     string
	}{
		{"nothing", []*section.Cast{cast("a.csv", e, "1", "1", "2013-03-22 10:00", 10, 50),
			cast("b.csv", e, "2", "1", "2013-03-22 14:00", 10.5, 50)}, legs(e), ""},
		{"the same cast twice", []*section.Cast{cast("a.csv", e, "1", "1", "", 0, 0),
			cast("b.csv", e, "1", "1", "", 0, 0)}, nil,
			"error: b.csv: expocode 318M20130321 station 1 cast 1 is in a.csv too\n" +
				"  hint: correct the header of one of the two; or leave one out with this in the cruise file:\n        casts:\n          leave_out:\n            - {file: b.csv, reason: \"...\"}\n" +
				"        or give it another number with this in the cruise file:\n        casts:\n          renumber:\n            - {file: b.csv, to: 1/2, why: \"...\"}\n"},
		{"stations equal but for zeros", []*section.Cast{cast("a.csv", e, "1", "1", "", 0, 0),
			cast("b.csv", e, "001", "1", "", 0, 0), cast("c.csv", e, "001", "2", "", 0, 0)}, nil,
			"warning: b.csv: [exchange.station_zeros] stations 1 (a.csv) and 001 (b.csv) differ by zeros or case only; taken as two stations\n" +
				"  hint: if they are one, give one name to both with this in the cruise file:\n        casts:\n          renumber:\n            - {file: b.csv, to: 1/2, why: \"...\"}\n"},
		{"stations equal but for case, no words of the cruise file",
			[]*section.Cast{cast("a.csv", e, "t-1", "1", "", 0, 0), cast("b.csv", e, "T-1", "1", "", 0, 0)}, nil,
			"warning: b.csv: [exchange.station_zeros] stations t-1 (a.csv) and T-1 (b.csv) differ by zeros or case only; taken as two stations\n" +
				"  hint: if they are one, give one name to both with this in the cruise file:\n        casts:\n          renumber:\n" +
				`            - {file: b.csv, to: "\"t-1\"/2", why: "..."}` + "\n"},
		{"stations equal but for case", []*section.Cast{cast("a.csv", e, "12a", "1", "", 0, 0),
			cast("b.csv", e, "12A", "1", "", 0, 0)}, nil,
			"warning: b.csv: [exchange.station_zeros] stations 12a (a.csv) and 12A (b.csv) differ by zeros or case only; taken as two stations\n" +
				"  hint: if they are one, give one name to both with this in the cruise file:\n        casts:\n          renumber:\n            - {file: b.csv, to: 12a/2, why: \"...\"}\n"},
		{"expocodes that differ", []*section.Cast{cast("a.csv", e, "1", "1", "", 0, 0),
			cast("b.csv", "318M20130401", "2", "1", "", 0, 0), cast("c.csv", "318M20130401", "3", "1", "", 0, 0)}, nil,
			"warning: b.csv: [exchange.expocode_differs] expocode 318M20130401 (first in b.csv) differs from 318M20130321 (first in a.csv)\n" +
				"  hint: if it belongs to the cruise, declare it with this in the cruise file:\n        cruise:\n          legs:\n            - {expocode: 318M20130321}\n            - {expocode: 318M20130401}\n"},
		{"an expocode that is not declared, and one that no file has",
			[]*section.Cast{cast("a.csv", e, "1", "1", "", 0, 0)},
			[]Leg{{Expocode: "318M20130401", At: metadata.Position{File: "a.cruise.yaml", Line: 3}}},
			"warning: a.cruise.yaml:3: [exchange.expocode_unused] expocode 318M20130401 is declared, and no file has it\n" +
				"  hint: correct the legs of the cruise file, or the sources\n" +
				"warning: a.csv: [exchange.expocode_differs] expocode 318M20130321 (first in a.csv) is not declared; declared: 318M20130401\n" +
				"  hint: if it belongs to the cruise, declare it with this in the cruise file:\n        cruise:\n          legs:\n            - {expocode: 318M20130321}\n"},
		{"file names", []*section.Cast{
			cast("leg1/318M20130321_00001_00002_ct1.csv", e, "1", "2", "", 0, 0),
			cast("leg1/318M20130321_00003_00001_ct1.csv", e, "4", "1", "", 0, 0),
			cast("leg1/318M20130321_00005_00001_CT1.CSV", e, "5", "2", "", 0, 0),
			cast("leg1/33RO20131223_00006_00001_ct1.csv", e, "6", "1", "", 0, 0),
			cast("leg1/318M20130321_A_7_00001_ct1.csv", e, "A_7", "1", "", 0, 0),
			cast("012_ct1.csv", e, "8", "1", "", 0, 0), cast("my_own_cast_ct1.csv", e, "9", "1", "", 0, 0),
			cast("x.csv", e, "10", "1", "", 0, 0)}, nil,
			"warning: leg1/318M20130321_00003_00001_ct1.csv: [exchange.file_name] the file name says 318M20130321_00003_00001, the header says expocode 318M20130321 station 4 cast 1; the header counts\n" +
				"  hint: compare both with the log; or when the file name is right, say so with this in the cruise file:\n        casts:\n          renumber:\n            - {file: leg1/318M20130321_00003_00001_ct1.csv, to: 3/1, why: \"...\"}\n" +
				"warning: leg1/318M20130321_00005_00001_CT1.CSV: [exchange.file_name] the file name says 318M20130321_00005_00001, the header says expocode 318M20130321 station 5 cast 2; the header counts\n" +
				"  hint: compare both with the log; or when the file name is right, say so with this in the cruise file:\n        casts:\n          renumber:\n            - {file: leg1/318M20130321_00005_00001_CT1.CSV, to: 5/1, why: \"...\"}\n" +
				"warning: leg1/33RO20131223_00006_00001_ct1.csv: [exchange.file_name] the file name says 33RO20131223_00006_00001, the header says expocode 318M20130321 station 6 cast 1; the header counts\n" +
				"  hint: compare both with the log, and rename the file or correct the header\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			found, err := CheckCruise(c.casts, c.declared)
			if got := describe(found, err); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

// legs returns legs of these expocodes, declared nowhere.
func legs(expocodes ...string) (out []Leg) {
	for _, e := range expocodes {
		out = append(out, Leg{Expocode: e})
	}
	return out
}
