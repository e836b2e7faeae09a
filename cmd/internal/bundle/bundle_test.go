package bundle_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/bundle"
	"github.com/castwright/castwright/cmd/internal/pipeline"
)

var day = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// cruise writes a cruise of n copies of one cast, each at its own station, and its cruise file.
func cruise(t *testing.T, n int, more string) (file string) {
	t.Helper()
	dir := t.TempDir()
	data, err := os.ReadFile("../../../testdata/cruise/casts/ZZSM20260504_00001_00001_ct1.csv")
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		text := strings.NewReplacer("STNNBR = 1\n", fmt.Sprintf("STNNBR = %d\n", i+1), "LATITUDE = 67.0500",
			fmt.Sprintf("LATITUDE = %.4f", 60+0.1*float64(i))).Replace(string(data))
		put(t, filepath.Join(dir, "casts", fmt.Sprintf("%03d_ct1.csv", i+1)), text)
	}
	file = filepath.Join(dir, "cruise.yaml")
	put(t, file, "cruise: {id: many}\n"+more+
		"casts:\n  sources: [casts]\n  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]\n")
	return file
}

func put(t *testing.T, name, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func build(t *testing.T, file string) string {
	t.Helper()
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		for _, f := range p.Findings {
			t.Log(f.Position, f.Message)
		}
		t.Fatal(err)
	}
	return p.Path
}

// change makes a value of some casts another.
func change(t *testing.T, file string, casts ...int) {
	t.Helper()
	for _, n := range casts {
		name := filepath.Join(filepath.Dir(file), "casts", fmt.Sprintf("%03d_ct1.csv", n))
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		temperature := regexp.MustCompile(`(?m)^( *20\.0,2, *)(-?[0-9]+\.[0-9]{4})`)
		text := temperature.ReplaceAllString(string(data), "${1}1.2345")
		if text == string(data) {
			t.Fatalf("nothing changed in %s", name)
		}
		put(t, name, text)
	}
}

func pack(t *testing.T, plan bundle.Plan) *bundle.Result {
	t.Helper()
	plan.Now = day
	if plan.Out == "" {
		plan.Out = t.TempDir()
	}
	r, err := bundle.Run(context.Background(), plan)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func size(t *testing.T, name string) int64 {
	t.Helper()
	info, err := os.Stat(name)
	if err != nil {
		t.Fatal(err)
	}
	return info.Size()
}

// From the earlier archive and a parcel of three changed casts of 150 the receiver builds the same bytes; the parcel is
// under 5 % of the inputs. Another base is refused.
func TestChanges(t *testing.T) {
	file := cruise(t, 150, "figures: none\n")
	old := build(t, file)
	change(t, file, 7, 70, 141)
	now := build(t, file)
	r := pack(t, bundle.Plan{Archive: now, Since: old})
	if all := size(t, filepath.Join(now, "data", "inputs", "inputs.zip")); r.Bytes*20 > all {
		t.Errorf("%d bytes for 3 of 150 casts, all inputs are %d", r.Bytes, all)
	}
	out := t.TempDir()
	o, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: r.Parts, Base: old, Out: out})
	if err != nil || !o.Same {
		t.Fatalf("%v %+v", err, o)
	}
	same(t, now, o.Path)
	for _, base := range []string{now, ""} {
		if o, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: r.Parts, Base: base,
			Out: t.TempDir()}); err == nil {
			t.Errorf("%q as the base: %+v", base, o)
		}
	}
}

// same fails unless two folders hold the same files.
func same(t *testing.T, a, b string) {
	t.Helper()
	n := 0
	err := filepath.WalkDir(a, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		n++
		rel, err := filepath.Rel(a, p)
		if err != nil {
			return err
		}
		x, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		y, err := os.ReadFile(filepath.Join(b, rel))
		if err == nil && !bytes.Equal(x, y) {
			err = fmt.Errorf("%s differs", rel)
		}
		return err
	})
	if err != nil || n < 10 {
		t.Errorf("%d files: %v", n, err)
	}
}

// Parts are put together in any order and when one comes twice; one that is lost, damaged, cut or of another parcel is
// named. The same archive gives the same parts again.
func TestParts(t *testing.T) {
	file := cruise(t, 3, "figures: none\n")
	archive := build(t, file)
	r := pack(t, bundle.Plan{Archive: archive, Part: 2000})
	if len(r.Parts) < 5 {
		t.Fatalf("%d parts", len(r.Parts))
	}
	for _, p := range r.Parts {
		if size(t, p) > 2000 {
			t.Errorf("%s has %d bytes", p, size(t, p))
		}
	}
	again := pack(t, bundle.Plan{Archive: archive, Part: 2000})
	for i := range r.Parts {
		x, err := os.ReadFile(r.Parts[i])
		y, err2 := os.ReadFile(again.Parts[i])
		if err != nil || err2 != nil || !bytes.Equal(x, y) {
			t.Errorf("part %d differs when it is packed again", i+1)
		}
	}
	open := func(parts []string) error {
		_, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: parts, Out: t.TempDir()})
		return err
	}
	shuffled := append([]string{r.Parts[2]}, r.Parts...)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(shuffled), func(i, j int) {
		shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
	})
	if err := open(shuffled); err != nil {
		t.Error(err)
	}
	if err := open(append(append([]string{}, r.Parts[:1]...), r.Parts[3:]...)); err == nil ||
		!strings.Contains(err.Error(), "parts are missing: 2, 3") {
		t.Error(err)
	}
	data, err := os.ReadFile(r.Parts[1])
	if err != nil {
		t.Fatal(err)
	}
	for what, bad := range map[string][]byte{
		"a changed byte": append(append(append([]byte{}, data[:900]...), data[900]^1),
			data[901:]...), "cut": data[:len(data)-1], "longer": append(append([]byte{}, data...), 0), "empty": nil,
		"no part": []byte("hello\n"), "another number": bytes.Replace(data, []byte(" 2 "), []byte(" 3 "), 1)} {
		put(t, r.Parts[1], string(bad))
		if err := open(r.Parts); err == nil {
			t.Errorf("%s was not seen", what)
		}
	}
	put(t, r.Parts[1], string(data))
	change(t, file, 1)
	other := pack(t, bundle.Plan{Archive: build(t, file), Part: 2000})
	if err := open(append(append([]string{}, r.Parts[:2]...), other.Parts[2:]...)); err == nil ||
		!strings.Contains(err.Error(), "another parcel") {
		t.Error(err)
	}
}

// A parcel to look at stays within its budget, says what it left out, and its page names only files that it holds.
func TestLook(t *testing.T) {
	archive := build(t, cruise(t, 6, "figures: [map, profiles]\nsections: [{name: line, stations: 1-6, grid: none}]\n"))
	whole := pack(t, bundle.Plan{Archive: archive})
	var sizes []int64
	for _, most := range []int64{0, 300_000, 60_000, 20_000} {
		r := pack(t, bundle.Plan{Archive: archive, Max: most})
		sizes = append(sizes, r.Bytes)
		if most > 0 && r.Bytes > most || r.Bytes > whole.Bytes || len(r.LeftOut) == 0 {
			t.Errorf("%d bytes of at most %d, %d left out", r.Bytes, most, len(r.LeftOut))
		}
		o, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: r.Parts, Out: t.TempDir()})
		if err != nil {
			t.Fatal(err)
		}
		page, err := os.ReadFile(filepath.Join(o.Path, "index.html"))
		if err != nil {
			t.Fatal(err)
		}
		links := regexp.MustCompile(`(?:src|href)="([^"]+)"`).FindAllStringSubmatch(string(page), -1)
		for _, m := range links {
			if strings.HasPrefix(m[1], "#") || strings.HasPrefix(m[1], "data:") {
				continue
			}
			if _, err := os.Stat(filepath.Join(o.Path, m[1])); err != nil {
				t.Error(err)
			}
		}
		if len(links) < 5 || !strings.Contains(string(page), "Left out") {
			t.Errorf("%d links\n%s", len(links), page)
		}
		if own := strings.Contains(string(page), `id="stations"`); own != (most != 20_000) {
			t.Errorf("%d bytes: the page of the archive %v", most, own)
		}
	}
	if sizes[0] <= sizes[1] || sizes[2] <= sizes[3] {
		t.Errorf("sizes %v", sizes)
	}
	if _, err := bundle.Run(context.Background(), bundle.Plan{Archive: archive, Max: 3000, Out: t.TempDir(),
		Now: day}); err == nil {
		t.Error("a page in 3000 bytes")
	}
}

// A parcel to look at since an earlier archive has the page and a list of the changes, of tables, documents and figures
// those that changed, and needs no base to be opened.
func TestLookSince(t *testing.T) {
	file := cruise(t, 6, "figures: [map, profiles]\nsections: [{name: line, stations: 1-6, grid: none}]\n")
	old := build(t, file)
	change(t, file, 2)
	now := build(t, file)
	whole := pack(t, bundle.Plan{Archive: now})
	r := pack(t, bundle.Plan{Archive: now, Since: old, Look: true, Part: 100_000})
	if r.Bytes >= whole.Bytes {
		t.Errorf("%d bytes of changes, %d of all", r.Bytes, whole.Bytes)
	}
	o, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: r.Parts, Out: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]bool{"index.html": true, "changes.txt": true, "figures/line_profiles.png": true,
		"figures/map.png": false, "tables/stations.csv": true, "tables/stations.geojson": false} {
		if _, err := os.Stat(filepath.Join(o.Path, name)); (err == nil) != want {
			t.Errorf("%s is there: %v, want %v", name, err == nil, want)
		}
	}
	text, err := os.ReadFile(filepath.Join(o.Path, "changes.txt"))
	if err != nil || !strings.Contains(string(text), "temp: 1 of") || strings.Contains(string(text), old) {
		t.Errorf("%v\n%s", err, text)
	}
	page, err := os.ReadFile(filepath.Join(o.Path, "index.html"))
	if err != nil || !strings.Contains(string(page), "changed since the archive of ") ||
		!strings.Contains(string(page), `href="./changes.txt"`) {
		t.Error(err)
	}
	again := pack(t, bundle.Plan{Archive: now, Since: now, Look: true})
	if o, err = bundle.Open(context.Background(), bundle.OpenPlan{Parts: again.Parts, Out: t.TempDir()}); err != nil {
		t.Fatal(err)
	}
	if entries, err := os.ReadDir(filepath.Join(o.Path, "tables")); err == nil {
		t.Errorf("nothing changed, and the parcel holds %v", entries)
	}
}

// Data under an embargo are packed only for a named receiver, who is in the parcel; after its end for anybody.
func TestEmbargo(t *testing.T) {
	archive := build(t, cruise(t, 2, "figures: none\nrelease: {embargo: 2027-05-17}\n"))
	plan := bundle.Plan{Archive: archive, Out: t.TempDir(), Now: day}
	if _, err := bundle.Run(context.Background(), plan); err == nil || !strings.Contains(err.Error(), "2027-05-17") {
		t.Error(err)
	}
	r := pack(t, bundle.Plan{Archive: archive, To: "Ragna Holm"})
	o, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: r.Parts, Out: t.TempDir()})
	if err != nil || o.Label.To != "Ragna Holm" || o.Label.Embargo != "2027-05-17" {
		t.Fatalf("%v %+v", err, o)
	}
	if text, err := json.Marshal(o); err != nil || !bytes.Contains(text, []byte("Ragna Holm")) {
		t.Error(err, string(text))
	}
	plan.Now = day.AddDate(2, 0, 0)
	if _, err := bundle.Run(context.Background(), plan); err != nil {
		t.Error(err)
	}
}
