package compare_test

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/compare"
)

// The same line ten years later, 0.05 degC warmer at the same salinity: the change on pressure is that, positive
// whatever the order in which the archives are named, and heave and change on density sum to it.
func TestLine(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits))
	file := cruise(t, dir, strings.Replace(plain, "  edits: edits.csv\n", "", 1))
	old := build(t, file)
	names, err := filepath.Glob(filepath.Join(dir, "casts", "*"))
	if err != nil || len(names) != 6 {
		t.Fatal(err, names)
	}
	temperature := regexp.MustCompile(`(?m)^( *[0-9.]+,2, *)(-?[0-9.]+)(,)`)
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.NewReplacer("20260504", "20360504", "20260505", "20360505").Replace(string(data))
		text = temperature.ReplaceAllStringFunc(text, func(s string) string {
			m := temperature.FindStringSubmatch(s)
			v, err := strconv.ParseFloat(m[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			return m[1] + strconv.FormatFloat(v+0.05, 'f', 4, 64) + m[3]
		})
		put(t, filepath.Join(filepath.Dir(name), strings.Replace(filepath.Base(name), "2026", "2036", 1)), []byte(text))
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
	}
	now := build(t, file)
	for _, order := range [][2]string{{old, now}, {now, old}} {
		l, err := compare.CompareLine(context.Background(), compare.LinePlan{Old: order[0], New: order[1],
			Section: "west"})
		if err != nil {
			t.Fatal(err)
		}
		rows := l.Rows()
		if l.Old != old || len(l.Changed.Places) != 4 || len(rows) < 100 {
			t.Fatalf("%s %d %d", l.Old, len(l.Changed.Places), len(rows))
		}
		defined := 0
		for _, r := range rows {
			change, err := strconv.ParseFloat(r["ctemp_change"], 64)
			if err != nil || change < 0.0495 || change > 0.0506 { // Conservative Temperature changes by a little more
				t.Errorf("%v", r)
			}
			if !strings.HasPrefix(r["on_density"], "defined") {
				continue
			}
			defined++
			d, err := strconv.ParseFloat(r["ctemp_change_on_density"], 64)
			h, err2 := strconv.ParseFloat(r["ctemp_heave"], 64)
			if err != nil || err2 != nil || d+h-change > 2e-6 || d+h-change < -2e-6 {
				t.Errorf("%v", r)
			}
		}
		if defined < 50 {
			t.Errorf("%d of %d on density", defined, len(rows))
		}
		if len(l.Cautions()) != 1 {
			t.Errorf("%q", l.Cautions())
		}
	}
	for _, bad := range []compare.LinePlan{{Old: old, New: now, Section: "north"},
		{Old: old, New: old, Section: "west"}} {
		if _, err := compare.CompareLine(context.Background(), bad); err == nil {
			t.Errorf("%+v was compared", bad)
		}
	}
}
