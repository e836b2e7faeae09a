package export_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/section"
)

// seeds adds the printed examples and every broken file with the ending.
func seeds(f *testing.F, ending string) {
	f.Helper()
	files, err := filepath.Glob("../testdata/broken/*" + ending)
	if err != nil || len(files) == 0 {
		f.Fatal("no seeds", err)
	}
	more, _ := filepath.Glob("../testdata/example*" + ending)
	for _, name := range append(more, files...) {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
}

// No input makes the reader panic; with an error there are no casts; without one, what we write reads back equal.
func FuzzExchange(f *testing.F) {
	seeds(f, "_ct1.csv")
	example, err := os.ReadFile("../testdata/example_ct1.csv")
	if err != nil {
		f.Fatal(err)
	}
	s := string(example)
	f.Add([]byte(strings.NewReplacer("ITS-90", "ITS-68", "CTDSAL_FLAG_W", "REMARK", "34.6922,2", "34.6922,calm",
		"220.7,2", "220.7,0").Replace(s)))
	f.Add(
		[]byte(strings.NewReplacer("# REPORTED",
			"# HEADER CREW = 12\n# CTDOXY_FLAG_W: 1 = not evaluated at 2-8, 12 dbar\n# REPORTED", "220.8,2", "220.8,1",
			"220.5,2", "220.5,1").Replace(s)))
	f.Add([]byte(strings.ReplaceAll(s, "\n", "\r\n")))
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, o := range []ingest.Options{{}, {Lenient: true}} {
			casts, _, err := ingest.Parse(data, "fuzz_ct1.csv", o)
			if err != nil {
				if casts != nil {
					t.Fatal("casts in spite of an error")
				}
				continue
			}
			checkReadBack(t, &casts[0])
		}
	})
}

func checkReadBack(t *testing.T, c *section.Cast) {
	t.Helper()
	if err := c.Validate(); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := export.WriteExchange(&b, c); err != nil {
		t.Fatal(err)
	}
	again, found, err := ingest.Parse(b.Bytes(), "again_ct1.csv", ingest.Options{})
	if err != nil {
		t.Fatalf("what was written does not read back: %v\n%s", err, b.Bytes())
	}
	if d := difference(c, &again[0]); d != "" {
		t.Fatalf("%s\n%s\nfindings %v", d, b.Bytes(), found)
	}
	var twice bytes.Buffer
	if err := export.WriteExchange(&twice, &again[0]); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), twice.Bytes()) {
		t.Fatalf("written again it differs:\n%s\n%s", b.Bytes(), twice.Bytes())
	}
}

// The same for bottle files.
func FuzzBottles(f *testing.F) {
	seeds(f, "_hy1.csv")
	f.Fuzz(func(t *testing.T, data []byte) {
		b, _, err := ingest.ParseBottles(data, "fuzz_hy1.csv", ingest.Options{})
		if err != nil {
			if b != nil {
				t.Fatal("bottles in spite of an error")
			}
			return
		}
		var out bytes.Buffer
		if err := export.WriteBottles(&out, b); err != nil {
			t.Fatal(err)
		}
		again, _, err := ingest.ParseBottles(out.Bytes(), "again_hy1.csv", ingest.Options{})
		if err != nil {
			t.Fatalf("what was written does not read back: %v\n%s", err, out.Bytes())
		}
		if d := bottleDifference(b, again); d != "" {
			t.Fatalf("%s\n%s", d, out.Bytes())
		}
	})
}

func bottleDifference(a, b *section.Bottles) string {
	if len(a.Rows) != len(b.Rows) || a.Stamp != b.Stamp || !slices.Equal(comments(a.Comments), comments(b.Comments)) {
		return "rows, stamp or comments"
	}
	for i := range a.Rows {
		x, y := a.Rows[i], b.Rows[i]
		x.Time, y.Time = x.Time.Truncate(60e9), y.Time.Truncate(60e9)
		if math.IsNaN(x.BottomM) && math.IsNaN(y.BottomM) {
			x.BottomM, y.BottomM = 0, 0
		}
		if x != y {
			return "a row"
		}
	}
	if len(a.Columns) != len(b.Columns) {
		return "number of columns"
	}
	for i := range a.Columns {
		x, y := &a.Columns[i], &b.Columns[i]
		if !slices.Equal(x.SampleFlags, y.SampleFlags) {
			return "sample flags of " + x.Exchange
		}
		kx := section.Column{Variable: x.Variable, Decimals: x.Decimals, Values: x.Values, Text: x.Text, Flags: x.Flags}
		ky := section.Column{Variable: y.Variable, Decimals: y.Decimals, Values: y.Values, Text: y.Text, Flags: y.Flags}
		if d := columnDifference(&kx, &ky); d != "" {
			return x.Exchange + ": " + d
		}
	}
	return ""
}

// No archive makes the reader panic or fill the memory.
func FuzzZip(f *testing.F) {
	seeds(f, ".zip")
	example, err := os.ReadFile("../testdata/example_ct1.csv")
	if err != nil {
		f.Fatal(err)
	}
	casts, _, err := ingest.Parse(example, "x", ingest.Options{})
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if err := writeZip(&b, []*section.Cast{&casts[0]}); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) {
		casts, _, _ := ingest.ReadZip(data, "fuzz_ct1.zip", ingest.Options{})
		var list []*section.Cast
		for i := range casts {
			checkReadBack(t, &casts[i])
			list = append(list, &casts[i])
		}
		if len(list) == 0 {
			return
		}
		seen := map[string]bool{}
		for _, n := range export.ExchangeNames(list) {
			if seen[n] {
				return // one cast in two members: the pipeline reports it
			}
			seen[n] = true
		}
		var out bytes.Buffer
		if err := writeZip(&out, list); err != nil {
			t.Fatal(err)
		}
		again, found, err := ingest.ReadZip(out.Bytes(), "again_ct1.zip", ingest.Options{})
		if err != nil || len(again) != len(casts) {
			t.Fatalf("%d casts, then %d: %v %v", len(casts), len(again), err, found)
		}
	})
}
