package pipeline

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
)

// hardCruises draws the seven invented cruises that are hard to draw and hands over each figure with its caption and
// its picture as SVG.
func hardCruises(t *testing.T, each func(c *survey, f figure.Figure, caption, svg string)) {
	t.Helper()
	ctx, dir := context.Background(), t.TempDir()
	generate := exec.Command("go", "run", "./testdata/hard/generate", "-out", dir)
	generate.Dir = filepath.Join("..", "..", "..")
	if out, err := generate.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	names, err := filepath.Glob(filepath.Join(dir, "*", "cruise.yaml"))
	if err != nil || len(names) != 7 {
		t.Fatalf("cruises: %v %v", names, err)
	}
	for _, name := range names {
		c, err := readCruise(ctx, &Plan{CruiseFile: name})
		if err != nil || c.failed() {
			t.Fatalf("%s: %v %v", name, err, c.findings)
		}
		c.explainLayout()
		for _, step := range []func(context.Context) error{c.derive, c.assembleSections, c.flows, c.grids} {
			if err := step(ctx); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		figs, out := c.figures(c.figureChoice()), t.TempDir()
		made, err := figure.Write(ctx, out, figs, figure.Options{Formats: []page.Format{page.SVG},
			About: c.aboutFigures()})
		if err != nil || len(made.Refused) > 0 {
			t.Fatalf("%s: %v %v", name, err, made.Refused)
		}
		for _, f := range figs {
			read := func(ending string) string {
				b, err := os.ReadFile(filepath.Join(out, f.Stem()+ending))
				if err != nil {
					t.Fatal(err)
				}
				return string(b)
			}
			each(c, f, read(".txt"), read(".svg"))
		}
	}
}

// floorsOf returns twice the error of each band of pressure as these tests compute it: the larger of the median mapping
// error and the root mean square of what leaving inner stations out misses; a band with fewer than 30 residuals has
// those of the bands above too (the bands of the signal variance of package gridding).
func floorsOf(g *gridding.Grid, name string) (edges, floors []float64) {
	edges = []float64{0, 200, 1000, 2000, math.Inf(1)}
	nx := len(g.Axes[1].Values)
	sum, n := 0.0, 0
	for b := range len(edges) - 1 {
		if n >= 30 {
			sum, n = 0, 0
		}
		for _, d := range g.LeftOut {
			if d.Variable == name && d.Inner && d.PressureDbar >= edges[b] && d.PressureDbar < edges[b+1] &&
				!math.IsNaN(d.Residual) {
				sum, n = sum+d.Residual*d.Residual, n+1
			}
		}
		var errors []float64
		for _, f := range g.Fields {
			if f.Of != name || f.Kind != gridding.StandardError {
				continue
			}
			for k, e := range f.Data {
				if p := g.Axes[0].Values[k/nx]; p >= edges[b] && p < edges[b+1] && !math.IsNaN(e) {
					errors = append(errors, e)
				}
			}
		}
		floor := 0.0
		if n > 0 {
			floor = 2 * math.Sqrt(sum/float64(n))
		}
		if len(errors) > 0 {
			slices.Sort(errors)
			floor = max(floor, 2*errors[len(errors)/2])
		}
		floors = append(floors, floor)
	}
	return edges, floors
}

// On every figure of a property of the hard cruises at most a third of the nodes of the grid share one band, or the
// caption says that the fullest band is at its floor or that there are 16 levels, and a step finer would be below the
// floor; and no step is below the floor of the band of pressure in which most of its values lie, where it holds more
// than a twentieth.
func TestBandsOfTheHardCruises(t *testing.T) {
	drawn, shared := 0, 0
	hardCruises(t, func(c *survey, f figure.Figure, caption, _ string) {
		s, ok := f.(*figure.Section)
		if !ok {
			return
		}
		where := c.cruise.ID + " " + f.Stem()
		var levels []float64
		_, list, _ := strings.Cut(caption, "\nLevels: ")
		list, _, _ = strings.Cut(list, "\n")
		for _, w := range strings.Split(strings.ReplaceAll(list, "−", "-"), ", ") {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatalf("%s: levels %q", where, list)
			}
			levels = append(levels, v)
		}
		i := slices.IndexFunc(s.Grid.Fields, func(g gridding.Field) bool { return g.Name == s.Field })
		data, nx := s.Grid.Fields[i].Data, len(s.Grid.Axes[1].Values)
		edges, floors := floorsOf(s.Grid, s.Field)
		inBand, total := make([]int, len(levels)+1), 0
		byPressure := make([][4]int, len(levels)+1)
		for k, v := range data {
			if math.IsNaN(v) {
				continue
			}
			b := 0
			for b < len(levels) && v >= levels[b] {
				b++
			}
			q := 0
			for s.Grid.Axes[0].Values[k/nx] >= edges[q+1] {
				q++
			}
			inBand[b]++
			byPressure[b][q]++
			total++
		}
		drawn++
		// Density has the errors of salinity and temperature, which are not computed again here.
		own := !strings.HasPrefix(s.Field, "sigma")
		for b := 1; b < len(levels) && own; b++ {
			most := 0
			for q := range 4 {
				if byPressure[b][q] > byPressure[b][most] {
					most = q
				}
			}
			if step := levels[b] - levels[b-1]; 20*inBand[b] > total && step < floors[most]*(1-1e-6) {
				t.Errorf("%s: the step from %g to %g is below %g, the floor from %g dbar on", where, levels[b-1],
					levels[b],
					floors[most], edges[most])
			}
		}
		b := slices.Index(inBand, slices.Max(inBand))
		if 3*inBand[b] <= total {
			return
		}
		shared++
		says := fmt.Sprintf("%s: one band holds %.0f %% of the nodes", where, 100*float64(inBand[b])/float64(total))
		switch {
		case len(levels) > 12 && strings.Contains(caption, "there are no more than 16 levels"):
		case !strings.Contains(caption, "as a finer step would be below that"):
			t.Errorf("%s and the caption does not say why: %v", says, levels)
		case own && b > 0 && b < len(levels):
			next := (levels[b] - levels[b-1]) / 2
			if strings.HasSuffix(strings.TrimRight(fmt.Sprintf("%.12f", 2*next), "0"), "5") { // 5 is parted into ones
				next = 2 * next / 5
			}
			least := math.Inf(1) // some band of pressure in which it has values has a floor above the next step
			for q, n := range byPressure[b] {
				if n > 0 {
					least = min(least, next/floors[q])
				}
			}
			if least >= 1 {
				t.Errorf("%s, and a step of %g is above all floors %v: %v", says, next, floors, levels)
			}
		}
	})
	if drawn < 30 {
		t.Errorf("%d figures of properties", drawn)
	}
	t.Logf("%d figures of properties; in %d of them more than a third of the nodes share a band", drawn, shared)
}
