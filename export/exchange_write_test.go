package export_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

func example(t testing.TB, edits ...string) *section.Cast {
	t.Helper()
	in, err := os.ReadFile("../testdata/example_ct1.csv")
	if err != nil {
		t.Fatal(err)
	}
	casts, _, err := ingest.Parse([]byte(strings.NewReplacer(edits...).Replace(string(in))), "x_ct1.csv",
		ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return &casts[0]
}

func written(t testing.TB, c *section.Cast) string {
	t.Helper()
	var b bytes.Buffer
	if err := export.WriteExchange(&b, c); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The three cases of flags.md, Writing "not evaluated", and what is read back from each.
func TestWritesNotEvaluated(t *testing.T) {
	for _, c := range []struct {
		name, flags, missing string // flags in memory by level; levels without a value
		note, column         string // the comment, and the flags in the file; "" for no flag column
	}{
		{"nothing evaluated", "00000000", "", "", ""},
		{"nothing evaluated, levels absent", "00900000", "..x.....", "", ""},
		{"some evaluated", "00222222", "", "(2 levels)", "11222222"},
		{"some evaluated, levels absent", "00222020", ".....x..", "(3 levels)", "11222921"},
		{"with true 1", "00212022", "", "at 2.0-4.0, 12.0 dbar", "11212122"},
		{"all absent", "99999999", "xxxxxxxx", "", "99999999"},
		{"only a judgement of an absent value", "00040000", "...x....", "(7 levels)", "11141111"},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := example(t)
			col := k.Column("psal")
			for i := range col.Flags {
				col.Flags[i] = metadata.Flag(c.flags[i] - '0')
				if c.missing != "" && c.missing[i] == 'x' {
					col.Values[i] = math.NaN()
				}
			}
			text := written(t, k)
			if note := "\n# CTDSAL_FLAG_W: 1 = not evaluated " + c.note + "\n"; strings.Contains(text,
				"not evaluated") != (c.note != "") || c.note != "" && strings.Index(text, note) != strings.Index(text,
				"\n") {
				t.Errorf("note: %s", text)
			}
			got := ""
			if strings.Contains(text, "CTDSAL_FLAG_W,") {
				for _, l := range strings.Split(text, "\n") {
					if f := strings.Split(l, ","); len(f) == 8 && strings.HasPrefix(l, " ") {
						got += f[5]
					}
				}
			}
			if got != c.column {
				t.Errorf("flags in the file %q, want %q", got, c.column)
			}
			again, _, err := ingest.Parse([]byte(text), "x", ingest.Options{})
			if err != nil {
				t.Fatal(err)
			}
			for i, f := range again[0].Column("psal").Flags {
				want := metadata.Flag(c.flags[i] - '0')
				if want == metadata.NotEvaluated && math.IsNaN(col.Values[i]) {
					want = metadata.NotSampled
				}
				if f != want {
					t.Errorf("level %d: flag %d read back, want %d", i+1, f, want)
				}
			}
		})
	}
}

// Where pressures repeat, the comment counts levels.
func TestWritesNotEvaluatedByLevel(t *testing.T) {
	k := example(t, "      4.0", "      2.0")
	copy(k.Column("psal").Flags, []metadata.Flag{0, 1})
	text := written(t, k)
	if !strings.Contains(text, "\n# CTDSAL_FLAG_W: 1 = not evaluated at levels 1\n") {
		t.Error(text)
	}
	again, _, err := ingest.Parse([]byte(text), "x", ingest.Options{})
	if err != nil || !slices.Equal(again[0].Column("psal").Flags, k.Column("psal").Flags) {
		t.Errorf("%v %v", again, err)
	}
}

// Strict to 1.3: comments where the standard wants them, user headers as comments, -999 in any column, derived columns
// left out.
func TestWritesStrictly(t *testing.T) {
	k := example(t, "STNNBR = 1\n", "# between\nSTNNBR = 001\nCREW = 12\n", "  19.1992,2", "-999.0000,9", "END_DATA",
		"END_DATA\nafter", "   166", "166", "TIME = 2205\n", "", "CTDOXY", "WIND")
	k.Columns = append(k.Columns, section.Column{Variable: metadata.MustVariable("asal"), Decimals: -1,
		Values: make([]float64, 8), Derived: true},
		section.Column{Variable: metadata.MustVariable("temp2"), Decimals: -1, Values: make([]float64, 8)})
	written2, omitted := export.ExchangeColumns(k)
	if len(written2) != 4 || !slices.Equal(omitted, []int{5}) {
		t.Errorf("columns written %v, omitted %v", written2, omitted)
	}
	want := `CTD,20130709ODF
# HEADER CREW = 12
# REPORTED CAST DEPTH IS CTD_DEPTH + DISTANCE_ABOVE_BOTTOM AT MAX PRESSURE
# between
NUMBER_HEADERS = 9
EXPOCODE = 318M20130321
SECT_ID = P02W
STNNBR = 001
CASTNO = 2
DATE = 20130322
LATITUDE =  32.5068
LONGITUDE =  133.0297
DEPTH =   166
CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,WIND,WIND_FLAG_W
DBAR,,ITS-90,,PSS-78,,UMOL/KG,
      2.0,2,  19.1840,2,  34.6935,2,    220.8,2
      4.0,2,     -999,9,  34.6924,2,    220.7,2
`
	text := written(t, k)
	if !strings.HasPrefix(text, want) || !strings.HasSuffix(text, "END_DATA\nafter\n") {
		t.Errorf("wrote\n%s", text)
	}
}

// A column mixed of 220 and 220.7 is written as it was; a column not from text in the customary decimals.
func TestWritesDecimals(t *testing.T) {
	k := example(t, "    220.8", "      220")
	if text := written(t, k); !strings.Contains(text, ",      220,2\n") {
		t.Error(text)
	}
	for name, want := range map[string]string{"temp": ",  19.1840,", "nobs": ",    19,",
		"dynamic_height": ",  19.1840,"} {
		k := example(t)
		c := k.Column("temp")
		c.Variable, c.Decimals = metadata.MustVariable(name), -1
		c.Exchange, c.ExchangeUnit = "CTDXYZ", ""
		if text := written(t, k); !strings.Contains(text, want) {
			t.Errorf("%s: %s", name, text)
		}
	}
	k = example(t)
	k.BottomM, k.AtDecimals = math.NaN(), [2]int{-1, -1}
	k.Column("pres").Decimals = -1
	if text := written(t, k); strings.Contains(text, "DEPTH =") || !strings.Contains(text, "LATITUDE =  32.5068\n") {
		t.Error(text)
	}
}

func TestRefusesWhatTheFormatCannotHold(t *testing.T) {
	for name, break1 := range map[string]func(*section.Cast){
		"it has no pressure column":                   func(c *section.Cast) { c.Columns = c.Columns[1:] },
		"expocode, station or cast number is missing": func(c *section.Cast) { c.Station = "" },
		"its date is unknown":                         func(c *section.Cast) { c.Time = time.Time{} },
		"its position is unknown":                     func(c *section.Cast) { c.At[0] = math.NaN() },
		"it has no levels":                            func(c *section.Cast) { c.PressureDbar = nil },
		`comment "no sign" does not begin with #`: func(c *section.Cast) {
			c.Comments[0].Text = "no sign"
		},
		`comment "a\nb" holds a line end`: func(c *section.Cast) {
			c.Comments[0] = section.Comment{Text: "a\nb", Place: section.AfterEnd}
		},
		`line "STNNBR = 1\n2" holds a line end`: func(c *section.Cast) { c.Station = "1\n2" },
		`stamp "a\nb" holds a line end`:         func(c *section.Cast) { c.Stamp = "a\nb" },
		`column "A,B" has a name or unit that breaks the line`: func(c *section.Cast) {
			c.Columns[1].Exchange = "A,B"
		},
		`column CTDTMP, level 2: text "a,b" breaks the line`: func(c *section.Cast) {
			c.Columns[1].Text = []string{"a", "a,b", "", "", "", "", "", ""}
		},
		`column CTDTMP, level 1: text "sm\u00f8r" breaks the line`: func(c *section.Cast) {
			c.Columns[1].Text = []string{"smør", "", "", "", "", "", "", ""}
		},
	} {
		c := example(t)
		break1(c)
		err := export.WriteExchange(io.Discard, c)
		name = strings.ReplaceAll(name, `\u00f8`, "ø")
		if !errors.Is(err, export.ErrNotExchange) || !strings.HasSuffix(err.Error(), ": "+name) {
			t.Errorf("got %v, want %s", err, name)
		}
	}
	if err := export.WriteBottles(io.Discard, &section.Bottles{}); !errors.Is(err, export.ErrNotExchange) {
		t.Error(err)
	}
}

// A bundle is PKZIP 2.0: no flags, no extra fields, version 2.0, times of the casts; the same bytes whoever packs the
// members.
func TestBundle(t *testing.T) {
	var casts []*section.Cast
	for _, s := range []string{"1", "001", "2"} {
		casts = append(casts, example(t, "STNNBR = 1\n", "STNNBR = "+s+"\n"))
	}
	names := export.ExchangeNames(casts)
	if want := []string{"318M20130321_1_00002_ct1.csv", "318M20130321_001_00002_ct1.csv",
		"318M20130321_00002_00002_ct1.csv"}; !slices.Equal(names, want) {
		t.Errorf("names %v", names)
	}
	var b bytes.Buffer
	if err := writeZip(&b, casts); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range z.File {
		if f.Name != names[i] || f.Flags != 0 || len(f.Extra) != 0 || f.ReaderVersion != 20 ||
			f.Method != zip.Deflate || !f.Modified.Equal(time.Date(2013, 3, 22, 22, 5, 0, 0, time.UTC)) {
			t.Errorf("%+v", f.FileHeader)
		}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil || string(text) != written(t, casts[i]) {
			t.Errorf("%s: %v", f.Name, err)
		}
	}
	members := make([]export.ZipMember, len(casts))
	var wg sync.WaitGroup
	for i := range casts {
		wg.Go(func() {
			var p export.Packer
			var err error
			if members[i], err = p.Cast(casts[i], names[i]); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	var again bytes.Buffer
	if err := export.WriteZip(&again, members); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("other bytes with one worker for each member: %v", err)
	}
	members[1].Name = members[0].Name
	if err := export.WriteZip(io.Discard, members); err == nil {
		t.Error("two members of one name are written")
	}
	casts[0].Time = time.Time{}
	if err := writeZip(io.Discard, casts); !errors.Is(err, export.ErrNotExchange) {
		t.Error(err)
	}
}

// Bottle flags of all three sets, not evaluated ones among them, come back.
func TestBottleFlagsComeBack(t *testing.T) {
	in, err := os.ReadFile("../testdata/example_hy1.csv")
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := ingest.ParseBottles(in, "x_hy1.csv", ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b.Rows[0].Flag, b.Rows[1].Flag = 0, metadata.BottleNoInformation
	copy(b.Column("psal").Flags, []metadata.Flag{2, 0, 1})
	copy(b.Column("salt_bottle").SampleFlags, []metadata.SampleFlag{6, 1, 0})
	copy(b.Column("oxy_bottle").SampleFlags, []metadata.SampleFlag{0, 0, 0})
	b.Rows[2].DateOnly, b.Rows[2].Time = true, b.Rows[2].Time.Truncate(24*time.Hour)
	b.Rows[1].BottomM, b.Rows[0].Bottle, b.Rows[0].SectionID = math.NaN(), "", ""
	b.Comments = append(b.Comments, section.Comment{Text: "the end", Place: section.AfterEnd})
	var out bytes.Buffer
	if err := export.WriteBottles(&out, b); err != nil {
		t.Fatal(err)
	}
	again, _, err := ingest.ParseBottles(out.Bytes(), "y_hy1.csv", ingest.Options{})
	if err != nil {
		t.Fatal(err, out.String())
	}
	b.Column("oxy_bottle").SampleFlags = nil
	if d := bottleDifference(b, again); d != "" {
		t.Errorf("%s\n%s", d, out.String())
	}
	for _, break1 := range []func(){func() { b.Comments[0].Text = "a\nb" },
		func() { b.Columns[2].ExchangeUnit = "a,b" }} {
		break1()
		if err := export.WriteBottles(io.Discard, b); !errors.Is(err, export.ErrNotExchange) {
			t.Error(err)
		}
		b.Comments[0].Text = "#"
	}
}

func BenchmarkWriteExchange(b *testing.B) {
	c := example(b)
	var buf []byte
	b.ReportAllocs()
	for b.Loop() {
		var err error
		if buf, err = export.AppendExchange(buf[:0], c); err != nil {
			b.Fatal(err)
		}
	}
}

// writeZip writes casts as one bundle.
func writeZip(w io.Writer, casts []*section.Cast) error {
	var p export.Packer
	members := make([]export.ZipMember, len(casts))
	for i, name := range export.ExchangeNames(casts) {
		var err error
		if members[i], err = p.Cast(casts[i], name); err != nil {
			return err
		}
	}
	return export.WriteZip(w, members)
}
