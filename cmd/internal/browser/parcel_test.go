package browser

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/bundle"
)

// A parcel of 2 MB has the page of the archive, which works as it does there: a station is chosen on the map,
// nothing is
// asked of a network, and every link leads to a file of the parcel. A parcel too small for it has a plain page with
// figures that are drawn.
func TestPageOfParcel(t *testing.T) {
	for name, most := range map[string]int64{"own": 2_000_000, "plain": 200_000} {
		out := t.TempDir()
		r, err := bundle.Run(context.Background(), bundle.Plan{Archive: filepath.Dir(demo(t)), Max: most, Out: out,
			Now: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil || r.Bytes > most {
			t.Fatalf("%s: %v, %d bytes", name, err, r.Bytes)
		}
		o, err := bundle.Open(context.Background(), bundle.OpenPlan{Parts: r.Parts, Out: out})
		if err != nil {
			t.Fatal(err)
		}
		x := open(t, filepath.Join(o.Path, "index.html"), 1200, 900)
		links := eval[[]string](x, `[...document.querySelectorAll("a[href]")].map((a) => a.getAttribute("href"))`)
		files := 0
		for _, l := range links {
			if strings.HasPrefix(l, "#") {
				continue
			}
			files++
			if _, err := os.Stat(filepath.Join(o.Path, l)); err != nil {
				t.Errorf("%s: the page has a link to %s: %v", name, l, err)
			}
		}
		text := eval[string](x, `document.body.textContent`)
		if files < 5 || !strings.Contains(text, "Left out") || !strings.Contains(text, "not for navigation") {
			t.Errorf("%s: %d links", name, files)
		}
		if name == "plain" {
			if broken := eval[int](x, `[...document.images].filter((i) => !(i.naturalWidth > 0)).length`); broken > 0 {
				t.Errorf("%d figures of the plain page are not drawn", broken)
			}
			if eval[int](x, `document.images.length`) == 0 {
				t.Error("the plain page has no figure")
			}
			continue
		}
		at := eval[[2]float64](x, `(() => { const m = JSON.parse(document.getElementById("data").textContent).map;
			return [m.places[3][0] / m.size[0], m.places[3][1] / m.size[1]]; })()`)
		x.point("#map > svg", at[0], at[1], true)
		if said := eval[string](x, `document.getElementById("map-readout").textContent`); !strings.Contains(said,
			"Cast ") {
			t.Errorf("a click on the map: %q", said)
		}
		x.quiet()
	}
}
