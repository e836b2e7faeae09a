package ingest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
)

// Each file of testdata/broken has one fault, for which it is named. The golden is all that the reader says about it:
// errors with line and column, what to do, and the findings beside them (exchange.md section 8).
func TestBroken(t *testing.T) {
	entries, err := os.ReadDir("../testdata/broken")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, e := range entries {
		name := e.Name()
		if name == "README.md" {
			continue
		}
		n++
		t.Run(name, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join("../testdata/broken", name))
			if err != nil {
				t.Fatal(err)
			}
			var found []metadata.Finding
			var failed error
			switch {
			case strings.HasSuffix(name, "_hy1.csv"):
				b, f, err := ParseBottles(data, "broken/"+name, Options{})
				if found, failed = f, err; err != nil && b != nil {
					t.Error("bottles in spite of an error")
				}
			case strings.HasSuffix(name, "_levels.csv"), strings.HasSuffix(name, "_velocities.csv"):
				var rows []KnownLevel
				if rows, failed = ReadKnownLevels(data, "broken/"+name,
					strings.HasSuffix(name, "_velocities.csv")); failed != nil && rows != nil {
					t.Error("levels in spite of an error")
				}
			case strings.HasSuffix(name, "_layout.txt"):
				c, f, err := ParseLayout(data, "broken/"+name, brokenLayout(name),
					Options{Legs: []Leg{{Expocode: "ZZSD20260812"}}})
				if found, failed = f, err; err != nil && c != nil {
					t.Error("casts in spite of an error")
				}
			case strings.HasSuffix(name, ".zip"):
				_, found, failed = ReadZip(data, "broken/"+name, Options{})
			default:
				c, f, err := Parse(data, "broken/"+name, Options{})
				if found, failed = f, err; err != nil && c != nil {
					t.Error("casts in spite of an error")
				}
			}
			if failed == nil {
				t.Error("read without an error")
			}
			golden.Check(t, "broken/"+name+".txt", []byte(describe(found, failed)))
		})
	}
	if n < 60 {
		t.Errorf("%d broken files", n)
	}
}
