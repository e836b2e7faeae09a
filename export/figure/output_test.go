package figure

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestSameBytes writes one of each kind with one and with eight workers.
func TestSameBytes(t *testing.T) {
	figs := gallery()
	o := Options{Widths: []Width{OneColumn}, About: aboutTrial, Stamp: time.Date(2026, 5, 9, 0, 0, 0, 0, time.UTC), Workers: 1}
	one, eight := t.TempDir(), t.TempDir()
	each := 4
	if d := os.Getenv("FIGURE_OUT"); d != "" { // for a person to look at
		one, o.Widths, each = d, []Width{TwoColumns, OneColumn}, 7
	}
	a, err := Write(context.Background(), one, figs, o)
	if err != nil {
		t.Fatal(err)
	}
	o.Workers = 8
	b, err := Write(context.Background(), eight, gallery(), o)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Join(a.Files, " ") != strings.Join(b.Files, " ") || len(a.Files) != each*len(figs) {
		t.Errorf("files differ: %v and %v", a.Files, b.Files)
	}
	for _, name := range a.Files {
		x, err := os.ReadFile(filepath.Join(one, name))
		if err != nil {
			t.Fatal(err)
		}
		y, err := os.ReadFile(filepath.Join(eight, name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(x, y) {
			t.Errorf("%s: other bytes with eight workers", name)
		}
	}
}

// TestValuesDrawnAreValuesStored looks up, at the nodes of the grid, the colour in the PNG and the band of the stored value.
func TestValuesDrawnAreValuesStored(t *testing.T) {
	s, g := invent(wideLayout)
	f := &Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}
	d, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	d.chooseLevels()
	var b bytes.Buffer
	if err := WriteOne(&b, f, TwoColumns, PNG, Options{About: aboutTrial}); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	// Where the panels are is found in the picture's own list: the two outlines that its borders are.
	page, err := f.draw(TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	var frames []frame
	for _, o := range page.ops {
		if o.kind == opLine && o.pen.colour == ink && o.pen.width == thin && len(o.path) == 1 && len(o.path[0]) == 4 && o.path[0][1].x-o.path[0][0].x > 200 {
			q := o.path[0]
			frames = append(frames, frame{l: q[0].x, t: q[0].y, r: q[2].x, b: q[2].y, x0: d.x0, x1: d.x1})
		}
	}
	if len(frames) != 2 {
		t.Fatalf("%d panels found", len(frames))
	}
	frames[0].y0, frames[0].y1 = 0, d.upper
	frames[1].y0, frames[1].y1 = d.upper, d.yMax
	same := func(a color.Color, b color.NRGBA) bool {
		r, g, bl, _ := a.RGBA()
		return uint8(r>>8) == b.R && uint8(g>>8) == b.G && uint8(bl>>8) == b.B
	}
	pixel := func(p pt) (int, int) { return int(p.x * dotsPerPoint), int(p.y * dotsPerPoint) }
	field := findField(g, "ctemp")
	x, y := g.Axes[1].Values, g.Axes[0].Values
	compared, wrong := 0, 0
	for _, fr := range frames {
		for i := range y {
			for j := range x {
				v := field.Data[i*len(x)+j]
				if math.IsNaN(v) || y[i] <= fr.y0 || y[i] >= fr.y1 || i < 3 || j < 1 || j > len(x)-2 || i > len(y)-3 {
					continue
				}
				// Inside a band: the neighbours, between which the picture is linear, are in it too.
				band := d.f.bandOf(v)
				inside := true
				for _, n := range []int{-2, -1, 1, 2} {
					for _, m := range []int{-1, 0, 1} {
						q := field.Data[(i+n)*len(x)+j+m]
						inside = inside && !math.IsNaN(q) && d.f.bandOf(q) == band
					}
				}
				if !inside || findField(g, "ctemp_relerr").Data[i*len(x)+j] > 0.2 {
					continue
				}
				px, py := pixel(fr.at(x[j], y[i]))
				if !clean(img, px, py) { // a line or a label passes
					continue
				}
				compared++
				if !same(img.At(px, py), d.f.colours[band]) {
					wrong++
					if wrong < 5 {
						t.Errorf("%.0f km, %.0f dbar: stored %.3f, band %d %v, painted %v", x[j], y[i], v, band, d.f.colours[band], img.At(px, py))
					}
				}
			}
		}
	}
	if compared < 5000 {
		t.Errorf("only %d nodes could be compared", compared)
	}
	if wrong > 0 {
		t.Errorf("%d of %d nodes are painted in another band's colour", wrong, compared)
	}
}

// clean says whether the pixels around are all of one colour.
func clean(img image.Image, x, y int) bool {
	for dx := -2; dx <= 2; dx++ {
		for dy := -2; dy <= 2; dy++ {
			if img.At(x+dx, y+dy) != img.At(x, y) {
				return false
			}
		}
	}
	return true
}

func TestWriteGoesOn(t *testing.T) {
	s, g := invent(layout{stations: 4, lengthKm: 100, depthM: 900, from: [2]float64{4, 60}, to: [2]float64{5, 60}, stepKm: 5, stepDbar: 10, first: 1})
	dir := t.TempDir()
	m, err := Write(context.Background(), dir, []Figure{&Section{Name: "none", Section: s, Grid: g, Field: "none"}, &Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}},
		Options{Formats: []Format{SVG}, Widths: []Width{OneColumn}})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Refused) != 1 || m.Refused[0].Stem != "none" || !errors.Is(m.Refused[0].Err, ErrNoField) {
		t.Errorf("refused: %v", m.Refused)
	}
	if strings.Join(m.Files, " ") != "good_one_column.svg good.txt" {
		t.Errorf("files: %v", m.Files)
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Write(stopped, dir, []Figure{&Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}}, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if _, err := Write(context.Background(), filepath.Join(dir, "not", "there"), []Figure{&Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}}, Options{Formats: []Format{SVG}}); err == nil {
		t.Error("no error though the folder is not there")
	}
	m, err = Write(context.Background(), dir, []Figure{&Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}}, Options{Formats: []Format{"bmp"}})
	if err != nil || len(m.Refused) != 1 || !errors.Is(m.Refused[0].Err, ErrFormat) {
		t.Errorf("unknown format: %v %v", m, err)
	}
	if err := WriteOne(&bytes.Buffer{}, &Section{Name: "x"}, TwoColumns, SVG, Options{}); !errors.Is(err, ErrTooFewStations) {
		t.Errorf("one figure that cannot be drawn: %v", err)
	}
}

func TestCaptionSaysWhatMatters(t *testing.T) {
	s, g := invent(wideLayout)
	about := aboutTrial
	about.Version, about.Notes = "0.2", []string{"salinity is not calibrated."}
	c, err := Caption(&Section{Name: "a", Section: s, Grid: g, Field: "ctemp", Overlay: "sigma0"}, about)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Conservative Temperature (°C) along section A, from station 11 to station 38", "σ₀", "upper 1000 dbar",
		"Where: 38.200°N, 32.400°W to 40.600°N, 26.100°W; 620.0 km along the track\n", "When: 2026-05-03 to 2026-05-08 (UTC)\n", "Casts: 28\n",
		"Gridded: method optimal; noise 0.02; neighbours 60\n", "rms 0.12 °C, bias 0.0030 °C, 1234 data", "= 0.52", "Contour interval: 0.5 to 2, uneven, as on the colour bar (°C); where it is narrowed, not below twice the mapping error; lines that would run together are left out\n",
		"Cruise: INVENTED-2026 (RV Example)\n", "Release: preliminary, version 0.2\n", "Licence: CC-BY-4.0\n",
		"Caution: these data are preliminary", "not for navigation", "not certified", "Caution: salinity is not calibrated.\n",
	} {
		if !strings.Contains(c, want) {
			t.Errorf("caption lacks %q:\n%s", want, c)
		}
	}
	c, err = Caption(&Velocity{Name: "a", Result: currents(s)}, about)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Positive: towards north-northwest (335° true), to the left of the direction of the section.", "partial: 26 of 27 pairs", "25–26 withheld (no common levels)", "Note: casts are not simultaneous\n"} {
		if !strings.Contains(c, want) {
			t.Errorf("caption of velocity lacks %q:\n%s", want, c)
		}
	}
	if _, err := Caption(&Section{Name: "x"}, about); err == nil {
		t.Error("a caption of nothing")
	}
}

func TestWords(t *testing.T) {
	for in, want := range map[string]string{"umol kg-1": "µmol kg⁻¹", "degC": "°C", "1": "", "m3 s-1": "m³ s⁻¹", "kg m-3": "kg m⁻³", "percent": "%", "S m-1": "S m⁻¹", "m2 s-2": "m² s⁻²"} {
		if got := plainSpaces(unitText(in)); got != want {
			t.Errorf("%q is set as %q, not %q", in, got, want)
		}
	}
	for in, want := range map[float64]string{-180: "180°", 180: "180°", 190: "170.0°W", -12.5: "12.5°W", 0: "0°", 540: "180°", 12: "12.0°E"} {
		if got := lonText(in, 1); got != want {
			t.Errorf("longitude %v is %q, not %q", in, got, want)
		}
	}
	for _, r := range "σΔΘ°µ−×–±½" {
		if !regular.has(r) {
			t.Errorf("the font has no %c", r)
		}
	}
	for _, w := range []Width{OneColumn, TwoColumns} {
		if got, err := ParseWidth(w.String()); err != nil || got != w {
			t.Errorf("%v: %v %v", w, got, err)
		}
	}
	if _, err := ParseWidth("wide"); !errors.Is(err, ErrWidth) {
		t.Errorf("%v", err)
	}
}

func TestLevelsAreRound(t *testing.T) {
	var vs []weighed
	for k := range 1000 {
		vs = append(vs, weighed{1.1 + 22*math.Pow(float64(k)/999, 4), 1, 0})
	}
	l := chooseLevels(vs, mostLevels)
	if len(l) < 8 || len(l) > mostLevels {
		t.Errorf("%d levels: %v", len(l), l)
	}
	for k := 1; k < len(l); k++ {
		if l[k] <= l[k-1] {
			t.Errorf("levels do not increase: %v", l)
		}
	}
	if decimalsOf(l) > 2 {
		t.Errorf("levels are not round: %v", l)
	}
	z := zeroLevels([]weighed{{-0.3, 1, 0}, {0.02, 5, 0}, {0.1, 2, 0}, {0.5, 1, 0}})
	for k := range z {
		if z[k] != -z[len(z)-1-k] {
			t.Errorf("levels are not alike on both sides of zero: %v", z)
		}
	}
}

// BenchmarkFourSections draws four sections of 38 stations, six variables each, in three formats: grids of 550 levels by 360 columns.
func BenchmarkFourSections(b *testing.B) {
	s, g := invent(layout{stations: 38, lengthKm: 1800, depthM: 5400, from: [2]float64{-60, 24}, to: [2]float64{-43, 24.5}, stepKm: 5, stepDbar: 10, first: 1})
	var figs []Figure
	for range 4 {
		for _, v := range []string{"ctemp", "asal", "oxy", "ctemp_err", "asal_err", "oxy_err"} {
			figs = append(figs, &Section{Name: v, Section: s, Grid: g, Field: v})
		}
	}
	dir := b.TempDir()
	for b.Loop() {
		for k, f := range figs {
			f.(*Section).Name = string(rune('a'+k/6)) + "_" + f.(*Section).Field
		}
		m, err := Write(context.Background(), dir, figs, Options{Workers: 2})
		if err != nil || len(m.Refused) > 0 || len(m.Files) != 96 {
			b.Fatal(err, m.Refused, len(m.Files))
		}
	}
}
