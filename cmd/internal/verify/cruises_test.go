//go:build cgo

package verify

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/metadata"
)

// TestCommittedCruises builds each cruise of testdata/cruises, without a warning where the defaults suit it, and
// verifies its archive.
func TestCommittedCruises(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/cruises/*/cruise.yaml")
	if err != nil || len(files) != 7 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		t.Run(filepath.Base(filepath.Dir(file)), func(t *testing.T) {
			t.Parallel()
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS(filepath.Dir(file))); err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(dir, "cruise.yaml")
			if err := os.WriteFile(file, append(b, "figures: none\n"...), 0o644); err != nil {
				t.Fatal(err)
			}
			p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
			if err != nil || p.Path == "" {
				t.Fatal(p.Findings, err)
			}
			r, err := Archive(t.Context(), Plan{Path: p.Path})
			if err != nil || r.Faults() > 0 {
				t.Errorf("%v %v", r.Findings, err)
			}
		})
	}
}

// TestBudgetOfClosedCruise reads the budget of the closed line in an analytic flow from its archive: the net of every
// kind is its beta term to 1e-3 of the sum of the absolute transports, and the volume is that of box_checks.csv, whose
// flow goes down to 1000 m where that of the cruise ends at 1000 dbar, 992 m. A number that is changed, in the table or
// in the file of station pairs, is found without the inputs.
func TestBudgetOfClosedCruise(t *testing.T) {
	archive := smallArchive(t, "box", "figures: none\ninputs: omit\n")
	const table = "data/tables/budgets.csv"
	b, err := os.ReadFile(filepath.Join(archive, table))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil || len(rows) != 1+len(export.BudgetKinds) {
		t.Fatal(err, rows)
	}
	for _, row := range rows[1:] {
		cell := func(name string) float64 {
			x, err := strconv.ParseFloat(row[slices.Index(rows[0], name)], 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		kind := row[slices.Index(rows[0], "kind")]
		net, beta, all := cell("net"), cell("beta_term"), cell("sum_of_absolute_transports")
		if math.Abs(net-beta) > 1e-3*all {
			t.Errorf("%s: net %g, beta term %g, sum of absolute transports %g", kind, net, beta, all)
		}
		// 0.2903250292 Sv: the last cumulative value of box_checks.csv, the integral of beta v/f over the area.
		if kind == "volume" && (math.Abs(net-0.2903250292*0.992) > 1e-3*all || cell("stated_error") <= 0) {
			t.Errorf("net volume %g Sv", net)
		}
		if status := row[slices.Index(rows[0], "status")]; status != "complete" {
			t.Errorf("%s: %s", kind, status)
		}
	}
	r, err := Archive(t.Context(), Plan{Path: archive})
	if err != nil || r.Faults() > 0 {
		t.Fatal(r.Findings, err)
	}
	e := startEditor(t)
	for what, change := range map[string]func(dir string) error{
		"table.budgets": func(dir string) error {
			return rewrite(filepath.Join(dir, table), bytes.Replace(b, []byte(",in,0.2"), []byte(",in,0.3"), 1))
		},
		"recompute.budget": func(dir string) error {
			_, err := e.edit(filepath.Join(dir, "data/sections/gyre_geostrophy.nc"), 1, "total_beta_term")
			return err
		},
	} {
		dir := filepath.Join(t.TempDir(), "a")
		if err := copyOf(archive, dir); err != nil {
			t.Fatal(err)
		}
		if err := change(dir); err != nil {
			t.Fatal(err)
		}
		if err := repair(dir); err != nil {
			t.Fatal(err)
		}
		r, err := Archive(t.Context(), Plan{Path: dir})
		if err != nil || !slices.ContainsFunc(r.Findings, func(f metadata.Finding) bool { return f.Check == what }) {
			t.Errorf("%s is not found: %v %v", what, r.Findings, err)
		}
	}
}

// TestClosedCruiseWithoutBudget verifies a closed line that crosses itself, whose pairs have totals all the same.
func TestClosedCruiseWithoutBudget(t *testing.T) {
	archive := smallArchive(t, "box", "  - {name: crossed, stations: '1, 4, 2, 6, 1', grid: none}\nfigures: none\n"+
		"inputs: omit\n")
	r, err := Archive(t.Context(), Plan{Path: archive})
	if err != nil || r.Faults() > 0 {
		t.Error(r.Findings, err)
	}
	b, err := os.ReadFile(filepath.Join(archive, "data/tables/budgets.csv"))
	if err != nil || !bytes.Contains(b, []byte("\ncrossed,all,none,")) || !bytes.Contains(b, []byte("crosses itself")) {
		t.Errorf("%s %v", b, err)
	}
}

// TestCommittedCruisesAreGenerated compares the committed casts with what their generator writes.
func TestCommittedCruisesAreGenerated(t *testing.T) {
	dir := t.TempDir()
	c := exec.Command("go", "run", "./testdata/cruises/generate", "-out", dir)
	c.Dir = "../../.."
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	names, err := filepath.Glob("../../../testdata/cruises/*/casts/*.csv")
	if err != nil || len(names) != 65 {
		t.Fatal(len(names), err)
	}
	for _, name := range names {
		rel, err := filepath.Rel("../../../testdata/cruises", name)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(filepath.Join(dir, rel))
		if err != nil {
			t.Error(err)
			continue
		}
		if got, err := os.ReadFile(name); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s differs from what the generator writes: %v", rel, err)
		}
	}
}
