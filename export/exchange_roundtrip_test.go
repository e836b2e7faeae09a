package export_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
)

// The file printed in the format description (exchange.md section 2) comes out byte for byte.
func TestPrintedExampleByteForByte(t *testing.T) {
	want, err := os.ReadFile("../testdata/example_ct1.csv")
	if err != nil {
		t.Fatal(err)
	}
	casts, findings, err := ingest.Parse(want, "example_ct1.csv", ingest.Options{})
	if err != nil || len(findings) != 0 || len(casts) != 1 {
		t.Fatalf("%d casts, findings %v, error %v", len(casts), findings, err)
	}
	var got bytes.Buffer
	if err := export.WriteExchange(&got, &casts[0]); err != nil {
		t.Fatal(err)
	}
	if got.String() != string(want) {
		t.Errorf("wrote\n%s", got.String())
	}
}

// The printed bottle file comes out byte for byte, with 200 among oxygens of one decimal.
func TestPrintedBottleExample(t *testing.T) {
	in, err := os.ReadFile("../testdata/example_hy1.csv")
	if err != nil {
		t.Fatal(err)
	}
	b, findings, err := ingest.ParseBottles(in, "example_hy1.csv", ingest.Options{})
	if err != nil || len(findings) != 0 {
		t.Fatalf("findings %v, error %v", findings, err)
	}
	var got bytes.Buffer
	if err := export.WriteBottles(&got, b); err != nil {
		t.Fatal(err)
	}
	if got.String() != string(in) {
		t.Errorf("wrote\n%s", got.String())
	}
}

// The demo cruise comes out with every data line byte for byte, and reads back equal.
func TestDemoCruiseRoundTrip(t *testing.T) {
	files, err := filepath.Glob("../testdata/cruise/casts/*_ct1.csv")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	o := ingest.Options{Aliases: []ingest.Alias{{Column: "CTDTMP2", Means: "temp2"},
		{Column: "CTDSAL2", Means: "psal2"}}}
	read := 0
	for _, f := range files {
		in, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		casts, _, err := ingest.Parse(in, f, o)
		if err != nil {
			continue // the damaged one of the demo
		}
		read++
		var got bytes.Buffer
		if err := export.WriteExchange(&got, &casts[0]); err != nil {
			t.Fatal(err)
		}
		again, _, err := ingest.Parse(got.Bytes(), f, o)
		if err != nil {
			t.Fatalf("%s: what was written does not read back: %v", f, err)
		}
		if d := difference(&casts[0], &again[0]); d != "" {
			t.Errorf("%s: %s", f, d)
		}
	}
	if read < 20 {
		t.Errorf("only %d casts of the demo were read", read)
	}
}

// A cell of a text column that is empty, or -999 in any precision, is missing: it is written -999, as the format asks
// of every missing value (exchange.md section 1, rule 9), and reads back as missing.
func TestMissingText(t *testing.T) {
	const head = "CTD,20240501ZZZ\nNUMBER_HEADERS = 7\nEXPOCODE = ZZFU20240501\nSTNNBR = 1\nCASTNO = 1\nDATE = 20240502\nLATITUDE = 1.0\nLONGITUDE = 2.0\n"
	in := head + "CTDPRS,NOTE,QUALT1\nDBAR,,\n1,ok,22\n2,,23\n3,-999.00,\n4,\"q\",-999\nEND_DATA\n"
	want := head +
		"CTDPRS,NOTE,QUALT1\nDBAR,,\n     1,ok,22\n     2,-999,23\n     3,-999,-999\n     4,\"q\",-999\nEND_DATA\n"
	casts, _, err := ingest.Parse([]byte(in), "a_ct1.csv", ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, text := range [][]string{1: {"ok", "", "", "\"q\""}, 2: {"22", "23", "", ""}} {
		if got := casts[0].Columns[i].Text; text != nil && !slices.Equal(got, text) {
			t.Errorf("column %d reads %q, want %q", i, got, text)
		}
	}
	got, err := export.AppendExchange(nil, &casts[0])
	if err != nil {
		t.Fatal(err)
	}
	tidy := strings.NewReplacer("LATITUDE =      1.0", "LATITUDE = 1.0", "LONGITUDE =       2.0",
		"LONGITUDE = 2.0").Replace(string(got))
	if tidy != want {
		t.Errorf("wrote\n%s\nwant\n%s", tidy, want)
	}
	again, _, err := ingest.Parse(got, "a_ct1.csv", ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := difference(&casts[0], &again[0]); d != "" {
		t.Error(d)
	}
}
