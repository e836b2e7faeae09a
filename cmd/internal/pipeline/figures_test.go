package pipeline_test

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"
)

// A reading is what a reader takes from a picture of a section: where its panels and the numbers of its axes stand, in
// points from the upper left corner, and the colours of its colour bar with the numbers between them.
type reading struct {
	panels  []panel
	colours []color.RGBA // of the bands, upward
	levels  []float64    // between them
}

type panel struct {
	l, t, r, b float64
	x, y       ruler
}

// A ruler is marks at places of the page with the numbers beside them.
type ruler struct{ place, number []float64 }

// at returns the place of a number: linear through the first and the last mark.
func (r ruler) at(v float64) float64 {
	n := len(r.place) - 1
	return r.place[0] + (v-r.number[0])/(r.number[n]-r.number[0])*(r.place[n]-r.place[0])
}

var (
	svgPanel = regexp.MustCompile(
		`^<path fill="none" stroke="[^"]+" stroke-width="\.5" d="M([\d.]+) ([\d.]+)l([\d.]+) 0 0 ([\d.]+)-([\d.]+) 0z"/>$`)
	svgTick = regexp.MustCompile(
		`^<path fill="none" stroke="[^"]+" stroke-width="\.5" d="M([\d.]+) ([\d.]+)l([\d.]+) ([\d.]+)"/>$`)
	svgSwatch = regexp.MustCompile(`^<path fill="#(\w{6})" d="M([\d.]+) ([\d.]+)l8 0 0 ([\d.]+)-8 0z"/>$`)
	svgWords  = regexp.MustCompile(`aria-label="([^"]*)"`)
)

// readPicture reads the axes and the colour bar of a section off its SVG file, which draws each mark just before its
// number.
func readPicture(t *testing.T, path string) (out reading) {
	t.Helper()
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(strings.ReplaceAll(s, "−", "-"), 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	lines := strings.Split(contents(t, path), "\n")
	type tick struct{ x, y, v float64 }
	var left, below, bar []tick
	for k, line := range lines {
		if m := svgPanel.FindStringSubmatch(line); m != nil && number(m[3]) > 100 {
			l, top := number(m[1]), number(m[2])
			out.panels = append(out.panels, panel{l: l, t: top, r: l + number(m[3]), b: top + number(m[4])})
		}
		if m := svgSwatch.FindStringSubmatch(line); m != nil {
			rgb, err := strconv.ParseUint(m[1], 16, 32)
			if err != nil {
				t.Fatal(err)
			}
			out.colours = append(out.colours, color.RGBA{uint8(rgb >> 16), uint8(rgb >> 8), uint8(rgb), 255})
		}
		m := svgTick.FindStringSubmatch(line)
		if m == nil || k+1 == len(lines) {
			continue
		}
		words := svgWords.FindStringSubmatch(lines[k+1])
		if words == nil || math.IsNaN(number(words[1])) {
			continue
		}
		q := tick{number(m[1]), number(m[2]), number(words[1])}
		switch dx, dy := number(m[3]), number(m[4]); {
		case dx == 2.6 && dy == 0:
			left = append(left, q)
		case dx == 0 && dy == 2.6:
			below = append(below, q)
		case dx == 1.8 && dy == 0:
			bar = append(bar, q)
		}
	}
	for k := range out.panels {
		p := &out.panels[k]
		for _, q := range left {
			if q.y >= p.t-0.02 && q.y <= p.b+0.02 {
				p.y.place, p.y.number = append(p.y.place, q.y), append(p.y.number, q.v)
			}
		}
		for _, q := range below {
			p.x.place, p.x.number = append(p.x.place, q.x), append(p.x.number, q.v)
		}
		for _, r := range []ruler{p.x, p.y} {
			if len(r.place) < 2 {
				t.Fatalf("%s: panel %d has too few numbers at an axis: %v", path, k, r)
			}
			for i, v := range r.number {
				if d := r.at(v) - r.place[i]; math.Abs(d) > 0.02 {
					t.Errorf("%s: the number %g lies %.3f points from its place", path, v, d)
				}
			}
		}
	}
	for _, q := range bar {
		out.levels = append(out.levels, q.v)
	}
	if len(out.panels) == 0 || len(out.colours) < 2 || len(out.levels) != len(out.colours)-1 ||
		!sort.Float64sAreSorted(out.levels) {
		t.Fatalf("%s: %d panels, %d colours, levels %v", path, len(out.panels), len(out.colours), out.levels)
	}
	return out
}

// band returns the band of the colour bar that holds a value.
func (r *reading) band(v float64) int {
	return sort.Search(len(r.levels), func(k int) bool { return r.levels[k] > v })
}

func picture(t *testing.T, path string) image.Image {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// Values drawn are values stored. The pictures of an archive are read as a person reads them, by
// their axes and colour bars, and held against the grid's NetCDF file: at each node that lies well inside a band, the
// pixel of the PNG has the colour that the bar gives to the stored value.
func TestPixelsAreStoredValues(t *testing.T) {
	// Invented water; the deep section is drawn in two panels, the shallow one in one.
	var casts []sounding
	for k, warm := range []float64{0, 0.8, 2.2, 2.8, 1.5, 0.4} {
		casts = append(casts,
			sounding{station: fmt.Sprintf("S%d", k+1), lat: "40", lon: fmt.Sprintf("%.2f", -20+0.25*float64(k)),
				pressures: bins(5, 600, 5), water: ocean(warm), depth: fmt.Sprint(606 + 5*k)},
			sounding{station: fmt.Sprintf("D%d", k+1), lat: fmt.Sprintf("%.2f", 45-0.25*float64(k)), lon: "-25",
				pressures: bins(10, 2200, 10), water: ocean(3 - warm), depth: fmt.Sprint(2230 - 7*k)})
	}
	files := plant("sections:\n"+
		"  - {name: shallow, stations: \"S1, S2, S3, S4, S5, S6\", reference: deepest}\n"+
		"  - {name: deep, stations: \"D1, D2, D3, D4, D5, D6\", reference: deepest}\n", casts...)
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "figures: none",
		"figures: {only: [section], formats: [svg, png], widths: [one_column, two_columns]}", 1)
	archive := build(t, files)
	const pixelsPerPoint = 300.0 / 72
	for _, x := range []struct {
		section string
		panels  int
	}{{"shallow", 1}, {"deep", 2}} {
		grid := filepath.Join(archive, "data", "sections", x.section+"_grid.nc")
		pres, _ := read(t, grid, "pres")
		distance, _ := read(t, grid, "distance")
		for _, name := range []string{"ctemp", "asal", "sigma0"} {
			stored, shape := read(t, grid, name)
			if len(shape) != 2 || shape[0] != len(pres) || shape[1] != len(distance) {
				t.Fatalf("%s of %s has shape %v, axes %d and %d", name, x.section, shape, len(pres), len(distance))
			}
			for _, width := range []string{"", "_one_column"} {
				stem := filepath.Join(archive, "data", "figures", x.section+"_"+name+width)
				p := readPicture(t, stem+".svg")
				img := picture(t, stem+".png")
				if len(p.panels) != x.panels {
					t.Errorf("%s is drawn in %d panels", stem, len(p.panels))
				}
				compared, wrong, grounds, seen := 0, 0, 0, map[int]bool{}
				for _, q := range p.panels {
					for i := 2; i < len(pres)-2; i++ {
						py := q.y.at(pres[i])
						if py < q.t+1 || py > q.b-1 {
							continue
						}
						for j := 1; j < len(distance)-1; j++ {
							v := stored[i*len(distance)+j]
							band := p.band(v)
							inside := !math.IsNaN(v) // so that what is drawn between the nodes is of the band too
							for n := -1; n <= 1 && inside; n++ {
								for m := -1; m <= 1; m++ {
									w := stored[(i+n)*len(distance)+j+m]
									inside = inside && !math.IsNaN(w) && p.band(w) == band
								}
							}
							if !inside {
								continue
							}
							px, py := int(q.x.at(distance[j])*pixelsPerPoint), int(py*pixelsPerPoint)
							c := color.RGBAModel.Convert(img.At(px, py)).(color.RGBA)
							clean := true // no line, label or hatching near
							for a := -2; a <= 2; a++ {
								for b := -2; b <= 2; b++ {
									clean = clean && img.At(px+a, py+b) == img.At(px, py)
								}
							}
							if !clean {
								continue
							}
							if !slices.Contains(p.colours, c) { // the ground of a label
								grounds++
								continue
							}
							compared++
							seen[band] = true
							if c != p.colours[band] {
								if wrong++; wrong < 4 {
									t.Errorf("%s at %.1f dbar, %.1f km: stored %.4f is band %d, colour %v, painted %v",
										filepath.Base(stem), pres[i], distance[j], v, band, p.colours[band], c)
								}
							}
						}
					}
				}
				if 100*grounds > compared {
					t.Errorf("%s: %d nodes have a colour that is not in the bar", filepath.Base(stem), grounds)
				}
				if wrong > 0 {
					t.Errorf("%s: %d of %d nodes are painted in another colour than the bar gives to the stored value",
						filepath.Base(stem), wrong, compared)
				}
				if compared < 500 || len(seen) < 4 {
					t.Errorf("%s: only %d nodes in %d bands could be compared", filepath.Base(stem), compared,
						len(seen))
				}
				t.Logf("%s: %d nodes in %d of %d bands agree", filepath.Base(stem), compared-wrong, len(seen),
					len(p.colours))
			}
		}
	}
}
