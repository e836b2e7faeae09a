package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestClean(t *testing.T) {
	for s, want := range map[string]string{
		"plain\nµ 20 °C ✓": "plain\nµ 20 °C ✓", "\x1b[2J": `\u001b[2J`, "a\rb\tc\x00": `a\u000db\u0009c\u0000`,
		"\u009b31m": `\u009b31m`, "x\u202ey": `x\u202ey`,
		"\xff": `\u00ff`, "\U000e0041": `\udb40\udc41`,
	} {
		if got := clean(s); got != want {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	}
	if s := oneLine(strings.Repeat("é\n", 400)); !strings.HasSuffix(s, "... (1200 characters)") ||
		strings.Contains(s, "\n") {
		t.Errorf("%q", s)
	}
}

// TestNothingSteersTheTerminal runs commands on a cruise whose cast, columns, file names and cruise file are full of
// escape sequences, and of values of 100 000 characters: no control character and no endless line is printed, as lines
// or as JSON.
func TestNothingSteersTheTerminal(t *testing.T) {
	dir := t.TempDir()
	evil := "\x1b]0;owned\x07\x1b[31m"
	cast := "CTD,20260101ZZZ\n# " + evil +
		"\nNUMBER_HEADERS = 9\nEXPOCODE = ZZCL20260101\nSTNNBR = 1\nCASTNO = 1\nDATE = 20260102\nLATITUDE = 10.0" +
		"\nLONGITUDE = 30.0\nWATCH = " + evil + strings.Repeat("x", 100000) + "\n" + evil +
		" = 3\nCTDPRS,CTDTMP,CTDSAL," + evil + "\nDBAR,ITS-90,PSS-78,X" + evil +
		"\n1.0,20.0,35.0,1\n2.0," + evil + ",35.0,2\n3.0,20.0," + strings.Repeat("9", 100000) + ",x\n" +
		strings.Repeat(evil, 9) + "\n"
	for name, text := range map[string]string{"casts/a" + evil + "_ct1.csv": cast, "casts/b_ct1.csv": cast,
		"casts/" + evil + ".txt": "x",
		"cruise.yaml": "cruise: {id: a, title: \"\\e[31mred\"}\ncasts: {sources: [casts], lenient: yes}\n" +
			"sections: [{name: s, stations: \"1, \\e[2J\"}]\n"} {
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range [][]string{{"check", filepath.Join(dir, "cruise.yaml")}, {"check", "--json", dir},
		{"build", "--out", dir, dir},
		{"verify", filepath.Join(dir, "casts", "a"+evil+"_ct1.csv")},
		{"verify", "--json", filepath.Join(dir, "casts", "b_ct1.csv")}, {evil}, {"verify", evil}} {
		var out, errs bytes.Buffer
		run(t.Context(), append([]string{"castwright"}, args...), nil, &out, &errs)
		text := out.String() + errs.String()
		for _, line := range strings.Split(text, "\n") {
			if len(line) > 3000 && args[1] != "--json" {
				t.Errorf("%q: a line of %d bytes", args, len(line))
			}
		}
		if i := strings.IndexFunc(text, steers); i >= 0 {
			t.Errorf("%q prints %q", args, text[max(0, i-40):min(len(text), i+40)])
		}
		if len(args) > 1 && args[1] == "--json" && !json.Valid(out.Bytes()) {
			t.Errorf("%q: not JSON: %.300s", args, out.String())
		}
	}
}
