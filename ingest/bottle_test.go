package ingest

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

func bottleExample(t testing.TB) string {
	t.Helper()
	b, err := os.ReadFile("../testdata/example_hy1.csv")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The bottle file printed in the format description (exchange.md section 4).
func TestReadsThePrintedBottles(t *testing.T) {
	b, found, err := ParseBottles([]byte(bottleExample(t)), "x_hy1.csv", Options{})
	if err != nil || len(found) > 0 {
		t.Fatal(describe(found, err))
	}
	want := section.Bottle{Expocode: "33RO20131223", SectionID: "A16S", Station: "1", Cast: "2", Sample: "23",
		Bottle: "23", Flag: metadata.BottleNoProblem,
		At: [2]float64{-24.9998, -6.0016}, Time: time.Date(2013, 12, 26, 7, 4, 0, 0, time.UTC), BottomM: 5809,
		AtDecimals: [2]int{4, 4}}
	if len(b.Rows) != 3 || b.Rows[1] != want || !b.Flagged || b.Rows[0].AtDecimals != [2]int{4, 4} {
		t.Errorf("%+v", b.Rows)
	}
	s := ""
	for _, c := range b.Columns {
		s += fmt.Sprintf("%s %d %d %d|", c.Name, c.Decimals, len(c.Flags), len(c.SampleFlags))
	}
	if s != "pres 1 0 0|temp 4 0 0|psal 4 3 0|salt_bottle 4 0 3|oxy 1 3 0|oxy_bottle 1 0 3|" {
		t.Error(s)
	}
	if v := b.Column("oxy").Values[2]; v != 200 || b.Column("nothing") != nil {
		t.Error(v)
	}
}

// Deviations of bottle files; what was said is in testdata/tolerated_bottles.txt.
func TestToleratedBottles(t *testing.T) {
	var said strings.Builder
	for _, c := range []struct {
		name  string
		edit  func(string) string
		check func(*section.Bottles) bool
	}{
		{"SAMPNO absent, as older files have it", func(s string) string {
			return strings.NewReplacer("SAMPNO,", "", ",24,24,", ",24,", ",23,23,", ",23,", ",22,22,", ",22,",
				",,,,,,,,,,,METERS", ",,,,,,,,,,METERS").Replace(s)
		}, func(b *section.Bottles) bool { return b.Rows[2].Sample == "22" && b.Rows[2].Bottle == "22" }},
		{"unit line absent", func(s string) string {
			i := strings.Index(s, ",,,,,,,,,,,METERS")
			return s[:i] + s[i+strings.Index(s[i:], "\n")+1:]
		},
			func(b *section.Bottles) bool {
				return b.Column("pres").Values[0] == 3.9 && b.Column("psal").Values[0] == 36.3097
			}},
		{"flags outside their sets", one("24,24,2", "24,24,X", "36.3082,2", "36.3082,B"),
			func(b *section.Bottles) bool { return b.Rows[0].Flag == 0 }},
		{"names of identification columns", one("STNNBR", "STATION", "CASTNO", "cast", "LATITUDE", "LAT"),
			func(b *section.Bottles) bool { return b.Rows[0].Station == "1" && b.Rows[0].At[1] == -6.0016 }},
		{"flags without values and values without flags", one("36.3082,2", "-999,2", "36.3171,2", "36.3171,9",
			"36.3080,2", "36.3080,"), func(b *section.Bottles) bool {
			c := b.Column("salt_bottle")
			return math.IsNaN(c.Values[0]) && c.SampleFlags[0] == metadata.SampleNotDrawn &&
				c.SampleFlags[1] == metadata.SampleNotDrawn && c.SampleFlags[2] == 0
		}},
		{"sample drawn, analysis not received", one("36.3082,2", "-999,1"), func(b *section.Bottles) bool {
			return b.Column("salt_bottle").SampleFlags[0] == metadata.SampleDrawn
		}},
		{"bottle flags keep their meaning", one(",24,24,2,", ",24,24,4,", ",23,23,2,", ",23,23,3,"),
			func(b *section.Bottles) bool {
				return b.Rows[0].Flag == metadata.BottleDidNotTrip && b.Rows[1].Flag == metadata.BottleLeaking
			}},
		{"a closure time in text, and unlisted samples", func(s string) string {
			return strings.NewReplacer("OXYGEN,OXYGEN_FLAG_W", "BTL_TIME,TRITUM", ",UMOL/KG,\n", ",,TU\n", "201.2,2",
				"0706,0.5", "201.3,2", "0704,0.25", "201.9,2", "0702,-999").Replace(s)
		}, func(b *section.Bottles) bool {
			return b.Column("btl_time").Text[1] == "0704" && b.Column("tritum").Values[1] == 0.25 &&
				b.Column("tritum").Decimals == 2
		}},
		{"longitude 0 to 360, unknown depth and no time", one("-24.9998,5809", "335.0002,-999", "0706,", "-999,"),
			func(b *section.Bottles) bool {
				return b.Rows[0].At[0] == -24.9998 && math.IsNaN(b.Rows[0].BottomM) && b.Rows[0].DateOnly
			}},
		{"casts that do not stand together", func(s string) string {
			return strings.Replace(s, "33RO20131223,A16S,1,2,23,", "33RO20131223,A16S,2,2,23,", 1)
		}, func(b *section.Bottles) bool { return b.Rows[1].Station == "2" }},
		{"identification of other characters", func(s string) string {
			return strings.NewReplacer("33RO20131223", "AR-2013", ",1,2,23,23", ",1,2,B-23,23").Replace(s)
		}, func(b *section.Bottles) bool { return b.Rows[1].Sample == "B-23" }},
		{"values out of range", one("36.3082,2", "56.3082,2", "36.3171,2", "56.3171,4"), func(b *section.Bottles) bool {
			return b.Column("salt_bottle").Values[0] == 56.3082
		}},
		{"IPTS-68", one("ITS-90", "IPTS-68"), func(b *section.Bottles) bool {
			t68 := 26.2239
			return b.Column("temp").Values[0] == math.Round(t68/1.00024*1e5)/1e5 && b.Column("temp").Decimals == 5 &&
				len(b.Comments) == 3
		}},
		{"not evaluated", func(s string) string {
			s = strings.NewReplacer("36.3082,2", "36.3082,1", ",24,24,2,", ",24,24,1,", "36.3097,2",
				"36.3097,1").Replace(s)
			return strings.Replace(s, "# From",
				"# SALNTY_FLAG_W: 1 = not evaluated (1 levels)\n# BTLNBR_FLAG_W: 1 = not evaluated (1 levels)\n# CTDSAL_FLAG_W: 1 = not evaluated at levels 1\n# OXYGEN_FLAG_W: 1 = not evaluated (7 levels)\n# NOTHING_FLAG_W: 1 = not evaluated (1 levels)\n# From",
				1)
		}, func(b *section.Bottles) bool {
			return b.Rows[0].Flag == 0 && b.Column("salt_bottle").SampleFlags[0] == 0 &&
				b.Column("psal").Flags[0] == 0 && len(b.Comments) == 4
		}},
		{"text with flags", func(s string) string {
			return strings.NewReplacer("OXYGEN", "REMARK", "201.2,2", "calm,2").Replace(s)
		}, func(b *section.Bottles) bool {
			return b.Column("remark").Text[0] == "calm" && b.Column("remark_flag_as_read").Text[2] == "2"
		}},
	} {
		data := c.edit(bottleExample(t))
		if data == bottleExample(t) {
			t.Errorf("%s: the edit changes nothing", c.name)
		}
		b, found, err := ParseBottles([]byte(data), "x_hy1.csv", Options{})
		if err != nil {
			t.Errorf("%s: %s", c.name, describe(nil, err))
			continue
		}
		if !c.check(b) {
			t.Errorf("%s: %+v %+v", c.name, b.Rows, b.Columns)
		}
		fmt.Fprintf(&said, "== %s\n%s", c.name, describe(found, nil))
	}
	golden.Check(t, "tolerated_bottles.txt", []byte(said.String()))
}

// The two WOCE sets of values use the same digits with other meanings (flags.md).
func TestFlagWords(t *testing.T) {
	for _, c := range []struct {
		digit       int
		ctd, sample string
	}{
		{1, "not_calibrated", "drawn_analysis_not_received"}, {4, "bad", "bad"},
		{6, "interpolated_over_more_than_2_dbar", "mean_of_replicates"}, {9, "not_sampled", "not_drawn"},
		{77, "unknown", "unknown"},
	} {
		if a, b := metadata.Flag(c.digit).String(), metadata.SampleFlag(c.digit).String(); a != c.ctd || b != c.sample {
			t.Errorf("%d: %s %s", c.digit, a, b)
		}
	}
}
