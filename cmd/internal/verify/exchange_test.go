package verify

import (
	"archive/zip"
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// The files that violations are planted in are the printed examples of the format description (CTD and bottle), as in
// testdata.
func printed(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile("../../../testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestExchangeViolationsAreFoundUnderTheirNumber(t *testing.T) {
	const error, warning, note = metadata.Failure, metadata.Warning, metadata.Note
	rows := []struct {
		rule     string
		severity metadata.Severity
		file     string
		change   []string // pairs of old and new
	}{
		{"1.1", error, "ctd", []string{"CTD,2013", "\xEF\xBB\xBFCTD,2013"}},
		{"1.1", error, "ctd", []string{"# REPORTED", "# M\xe9 REPORTED"}},
		{"1.2", error, "ctd", []string{"\n", "\r\n"}},
		{"1.2", error, "ctd", []string{"END_DATA\n", "END_DATA"}},
		{"1.3", error, "ctd", []string{"CTD,2013", "ctd,2013"}},
		{"1.3", warning, "ctd", []string{"CTD,20130709ODF", "CTD"}},
		{"1.3", warning, "ctd", []string{"CTD,20130709ODF", "CTD,July"}},
		{"1.4", error, "ctd", []string{"STNNBR =", "# here\nSTNNBR ="}},
		{"1.4", error, "ctd", []string{"DBAR,,ITS-90,,PSS-78,,UMOL/KG,\n", "DBAR,,ITS-90,,PSS-78,,UMOL/KG,\n# here\n"}},
		{"1.6", error, "ctd", []string{"CTDOXY,CTDOXY_FLAG_W", "CTDSAL,CTDOXY_FLAG_W"}},
		{"1.6", error, "ctd", []string{"CTDTMP,", "ctdtmp,"}},
		{"1.6", error, "ctd", []string{"CTDTMP,CTDTMP_FLAG_W", ",CTDTMP_FLAG_W"}},
		{"1.7", error, "ctd", []string{"DBAR,,ITS-90,,PSS-78,,UMOL/KG,", "DBAR,,ITS-90,,PSS-78,,UMOL/KG"}},
		{"1.8", error, "ctd", []string{"220.8,2", "220.8,2,"}},
		{"1.8", error, "ctd", []string{"220.8,2", "2.208E2,2"}},
		{"1.8", error, "ctd", []string{"19.1840", "+9.1840"}},
		{"1.8", error, "ctd", []string{"19.1840", "1\t.1840"}},
		{"1.9", error, "ctd", []string{"    220.8,2", ",9"}},
		{"1.9", warning, "ctd", []string{"    220.8,2", "-999.0,9"}},
		{"1.10", error, "ctd", []string{"220.8,2", "220.8,0"}},
		{"1.10", warning, "ctd", []string{"220.8,2", "220.8,8"}},
		{"1.10", error, "ctd", []string{"DBAR,,ITS-90", "DBAR,1,ITS-90"}},
		{"1.10", error, "ctd", []string{"CTDOXY_FLAG_W", "CTDOXZ_FLAG_W"}},
		{"1.11", error, "ctd", []string{"END_DATA\n", ""}},
		{"1.12", note, "ctd", []string{"UMOL/KG", "UMOL/KILO"}},
		{"2.1", error, "ctd", []string{"END_DATA\n", "END_DATA\nCTD,20130709ODF\n"}},
		{"2.2", error, "ctd", []string{"NUMBER_HEADERS = 10", "NUMBER_HEADERS = 9"}},
		{"2.2", error, "ctd", []string{"NUMBER_HEADERS = 10\nEXPOCODE = 318M20130321",
			"EXPOCODE = 318M20130321\nNUMBER_HEADERS = 10"}},
		{"2.3", error, "ctd", []string{"CASTNO = 2\n", "", "NUMBER_HEADERS = 10", "NUMBER_HEADERS = 9"}},
		{"2.4", error, "ctd", []string{"SECT_ID", "SECT"}},
		{"2.5", warning, "ctd", []string{"SECT_ID = P02W\nSTNNBR = 1\n", "STNNBR = 1\nSECT_ID = P02W\n"}},
		{"2.6", warning, "ctd", []string{"      4.0,2", "      2.0,2"}},
		{"2.6", error, "ctd", []string{"CTDPRS,CTDPRS_FLAG_W", "CTDPRE,CTDPRE_FLAG_W"}},
		{"4.1", error, "bottle", []string{"SAMPNO,", "SAMPLE,"}},
		{"4.1", error, "bottle", []string{"33RO20131223,A16S,1,2,24,", "33RO20131223,A16S,1,2,-999,"}},
		{"4.2", error, "bottle", []string{"A16S,1,2,23,", "A16S,1,2,24,"}},
		{"4.3", warning, "bottle", []string{"A16S,1,2,23,", "A16S,2,2,23,"}},
		{"5.1", error, "ctd", []string{"318M20130321", "318M/2013"}},
		{"5.1", warning, "ctd", []string{"318M20130321", "OLDCODE"}},
		{"5.2", warning, "ctd", []string{"STNNBR = 1", "STNNBR = 1-A"}},
		{"5.3", warning, "ctd", []string{"CASTNO = 2", "CASTNO = two"}},
		{"5.4", error, "ctd", []string{"DATE = 20130322", "DATE = 2013-03-22"}},
		{"5.4", error, "ctd", []string{"TIME = 2205", "TIME = 705"}},
		{"5.5", error, "ctd", []string{"133.0297", "226.9703"}},
		{"5.5", error, "ctd", []string{"32.5068", "32 30.41 N"}},
		{"5.6", error, "ctd", []string{"DEPTH =   166", "DEPTH = deep"}},
	}
	bases := map[string]string{"ctd": "example_ct1.csv", "bottle": "example_hy1.csv"}
	for file, name := range bases {
		found, _ := checkExchange([]byte(printed(t, name)), name)
		for _, f := range found {
			t.Errorf("%s as printed: %s %s: %s", file, f.Position, f.Check, f.Message)
		}
	}
	hit := map[string]bool{"3.1": true, "3.2": true, "3.3": true} // bundles, below
	for _, r := range rows {
		hit[r.rule] = true
		text := printed(t, bases[r.file])
		for k := 0; k < len(r.change); k += 2 {
			if !strings.Contains(text, r.change[k]) {
				t.Fatalf("%s has no %q", r.file, r.change[k])
			}
			text = strings.ReplaceAll(text, r.change[k], r.change[k+1])
		}
		found, _ := checkExchange([]byte(text), bases[r.file])
		if !slices.ContainsFunc(found, func(f metadata.Finding) bool {
			return f.Check == "exchange."+r.rule &&
				f.Severity == r.severity
		}) {
			t.Errorf("%s, %q: no %s of rule %s:", r.file, r.change, r.severity, r.rule)
			for _, f := range found {
				t.Errorf("  %s %s %s: %s", f.Severity, f.Position, f.Check, f.Message)
			}
		}
	}
	source, err := os.ReadFile("exchange.go")
	if err != nil {
		t.Fatal(err)
	}
	rules := regexp.MustCompile(`(?m)^//\t(\d\.\d+)\t`).FindAllStringSubmatch(string(source), -1)
	if len(rules) < 25 {
		t.Fatalf("%d rules are listed", len(rules))
	}
	for _, rule := range rules {
		if !hit[rule[1]] {
			t.Errorf("no violation of rule %s is planted", rule[1])
		}
	}
}

func TestBundleViolations(t *testing.T) {
	text := []byte(printed(t, "example_ct1.csv"))
	pack := func(names ...string) []byte {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, n := range names {
			w, err := z.Create(n)
			if err == nil {
				_, err = w.Write(text)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	for want, data := range map[string][]byte{
		"":             pack("318M20130321_00001_00002_ct1.csv"),
		"exchange.3.1": pack("casts/318M20130321_00001_00002_ct1.csv"),
		"exchange.3.2": pack("318M20130321_00001_00002_ct1.csv")[:200],
		"exchange.3.3": pack("a_ct1.csv", "a_ct1.csv"),
	} {
		file := filepath.Join(t.TempDir(), "x_ct1.zip")
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := File(t.Context(), Plan{Path: file})
		if err != nil {
			t.Fatal(err)
		}
		faults := slices.DeleteFunc(slices.Clone(r.Findings), func(f metadata.Finding) bool {
			return f.Severity != metadata.Failure
		})
		if want == "" && len(faults) > 0 || want != "" &&
			!slices.ContainsFunc(faults, func(f metadata.Finding) bool { return f.Check == want }) {
			t.Errorf("%q: %v", want, faults)
		}
	}
}

// What our reader tolerates and the standard forbids is a fault here; the reader's own word comes beside it.
func TestStrangeExchangeFilesHaveBothVoices(t *testing.T) {
	text := strings.Replace(printed(t, "example_ct1.csv"), "NUMBER_HEADERS = 10", "NUMBER_HEADERS = 9", 1)
	found, casts := checkExchange([]byte(text), "x_ct1.csv")
	strict, tolerant := false, false
	for _, f := range found {
		strict = strict || f.Check == "exchange.2.2" && f.Severity == metadata.Failure
		tolerant = tolerant || f.Check == "exchange.number_headers" && f.Severity == metadata.Warning
	}
	if !strict || !tolerant || len(casts) != 1 {
		t.Errorf("strict %v, tolerant %v, %d casts: %v", strict, tolerant, len(casts), found)
	}
}
