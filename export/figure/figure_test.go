package figure

import (
	"bytes"
	"compress/zlib"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// textIsApart fails when two texts of a page overlap or one runs off it.
func textIsApart(t *testing.T, name string, s *page.Scene) {
	t.Helper()
	for i, a := range s.Boxes {
		for _, p := range a {
			if p.X < -0.01 || p.Y < -0.01 || p.X > s.W+0.01 || p.Y > s.H+0.01 {
				t.Errorf("%s: %q runs off the page: %.1f %.1f", name, s.Words[i], p.X, p.Y)
				break
			}
		}
		for j := range i {
			if a.Overlaps(s.Boxes[j], 0.05) {
				t.Errorf("%s: %q lies on %q", name, s.Words[i], s.Words[j])
			}
		}
	}
	if len(s.Boxes) < 5 {
		t.Errorf("%s: %d texts only", name, len(s.Boxes))
	}
}

func both(t *testing.T, f Figure) {
	t.Helper()
	if dir := os.Getenv("FIGURE_OUT"); dir != "" { // for a person to look at
		if _, err := Write(context.Background(), dir, []Figure{f},
			Options{Widths: []chart.Width{chart.TwoColumns, chart.OneColumn}, Formats: []page.Format{page.SVG},
				About: aboutTrial}); err != nil {
			t.Error(err)
		}
	}
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		s, err := f.draw(w)
		if err != nil {
			t.Errorf("%s: %v", f.Stem(), err)
			return
		}
		textIsApart(t, f.Stem()+" "+w.String(), s)
		for _, o := range s.Ops {
			if o.Kind == page.TextOp && o.Label.Size < chart.SmallType {
				t.Errorf("%s: %q has only %g points", f.Stem(), o.Label.Text, o.Label.Size)
			}
		}
	}
	if _, err := f.caption(&aboutTrial); err != nil {
		t.Errorf("%s: caption: %v", f.Stem(), err)
	}
}

func TestTextIsApart(t *testing.T) {
	for _, f := range gallery() {
		both(t, f)
	}
}

// TestHardCases draws what is awkward.
func TestHardCases(t *testing.T) {
	cases := map[string]layout{
		"150 stations": {stations: 150, lengthKm: 2400, depthM: 5200, from: orb.Point{-60, 24},
			to: orb.Point{-35, 24.5}, stepKm: 10, stepDbar: 20, first: 1},
		"3 stations": {stations: 3, lengthKm: 90, depthM: 1900, from: orb.Point{4, 60}, to: orb.Point{4, 60.8},
			stepKm: 3, stepDbar: 10, first: 7},
		"2 stations": {stations: 2, lengthKm: 30, depthM: 400, from: orb.Point{4, 60}, to: orb.Point{4.2, 60.1},
			stepKm: 2, stepDbar: 5, first: 99999},
		"200 m apart": {stations: 6, lengthKm: 1, depthM: 900, from: orb.Point{10.001, 57.2},
			to: orb.Point{10.0175, 57.2001}, stepKm: 0.05, stepDbar: 1, first: 1200},
		"antimeridian": {stations: 30, lengthKm: 1500, depthM: 5000, from: orb.Point{173, -30},
			to: orb.Point{-172, -31}, stepKm: 10, stepDbar: 20, first: 1},
		"pole": {stations: 20, lengthKm: 700, depthM: 4100, from: orb.Point{10, 87},
			to: orb.Point{10, 89.95}, stepKm: 10, stepDbar: 20, first: 1},
		"across the pole": {stations: 12, lengthKm: 500, depthM: 4000, from: orb.Point{-20, 88},
			to: orb.Point{150, 88.5}, stepKm: 10, stepDbar: 20, first: 1},
		"equator": {stations: 12, lengthKm: 700, depthM: 4000, from: orb.Point{-0.5, -3},
			to: orb.Point{0.5, 3}, stepKm: 10, stepDbar: 20, first: 1},
	}
	names := []string{"150 stations", "3 stations", "2 stations", "200 m apart", "antimeridian", "pole",
		"across the pole", "equator"}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			s, g := invent(cases[name])
			for _, f := range []Figure{
				&Section{Name: name + " temperature", Section: s, Grid: g, Field: "ctemp"},
				&Section{Name: name + " salinity", Title: "A section with a rather long title of its own", Section: s,
					Grid: g, Field: "asal", Overlay: "sigma0", UpperDbar: 100},
				&StationMap{Name: name + " map", Title: "Invented cruise", Casts: s.Casts,
					Sections: []*section.Section{s}},
				&PropertyPlot{Kind: KindTemperatureSalinity, Name: name + " ts", Casts: s.Casts, Shade: ByLatitude},
				&PropertyPlot{Kind: KindOxygenDensity, Name: name + " oxygen", Casts: s.Casts},
				&Profiles{Name: name + " profiles", Casts: s.Casts},
				&SensorDifferences{Name: name + " sensors", Casts: s.Casts}, sensorPairs(s), bottlesBesideCasts(s),
				&LeaveOneOut{Name: name + " left out", Section: s, Variable: metadata.MustVariable("ctemp"),
					Residuals: predicted(s)},
				&Velocity{Name: name + " velocity", Result: currents(s)},
			} {
				both(t, f)
			}
		})
	}
}

func TestNothingToDraw(t *testing.T) {
	bare := []*section.Cast{{Station: "1", At: orb.Point{1, 2}, PressureDbar: []float64{1, 2}}}
	for _, f := range []Figure{&PropertyPlot{Kind: KindTemperatureSalinity, Name: "a", Casts: bare},
		&PropertyPlot{Kind: KindOxygenDensity, Name: "b", Casts: bare}, &Profiles{Name: "c", Casts: bare},
		&SensorDifferences{Name: "d", Casts: bare}, &Velocity{Name: "e"}} {
		if _, err := f.draw(chart.TwoColumns); !errors.Is(err, ErrNoValues) {
			t.Errorf("%s: %v", f.Stem(), err)
		}
		if _, err := f.caption(&aboutTrial); !errors.Is(err, ErrNoValues) {
			t.Errorf("%s: caption: %v", f.Stem(), err)
		}
	}
}

// TestSameBytes writes one of each kind with one and with eight workers.
func TestSameBytes(t *testing.T) {
	figs := gallery()
	o := Options{Widths: []chart.Width{chart.OneColumn}, About: aboutTrial,
		Stamp: time.Date(2026, 5, 9, 0, 0, 0, 0, time.UTC), Workers: 1}
	one, eight := t.TempDir(), t.TempDir()
	each := 4
	if d := os.Getenv("FIGURE_OUT"); d != "" { // for a person to look at
		one, o.Widths, each = d, []chart.Width{chart.TwoColumns, chart.OneColumn}, 7
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

func TestWriteGoesOn(t *testing.T) {
	s, g := invent(layout{stations: 4, lengthKm: 100, depthM: 900, from: [2]float64{4, 60}, to: [2]float64{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
	dir := t.TempDir()
	m, err := Write(context.Background(), dir, []Figure{&Section{Name: "none", Section: s, Grid: g, Field: "none"},
		&Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}},
		Options{Formats: []page.Format{page.SVG}, Widths: []chart.Width{chart.OneColumn}})
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
	if _, err := Write(stopped, dir, []Figure{&Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}},
		Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	if _, err := Write(context.Background(), filepath.Join(dir, "not", "there"),
		[]Figure{&Section{Name: "good", Section: s, Grid: g,
			Field: "ctemp"}}, Options{Formats: []page.Format{page.SVG}}); err == nil {
		t.Error("no error though the folder is not there")
	}
	m, err = Write(context.Background(), dir, []Figure{&Section{Name: "good", Section: s, Grid: g, Field: "ctemp"}},
		Options{Formats: []page.Format{"bmp"}})
	if err != nil || len(m.Refused) != 1 || !errors.Is(m.Refused[0].Err, page.ErrFormat) {
		t.Errorf("unknown format: %v %v", m, err)
	}
}

// BenchmarkFourSections draws four sections of 38 stations, six variables each, in three formats: grids of
// 550 levels by 360 columns.
func BenchmarkFourSections(b *testing.B) {
	s, g := invent(layout{stations: 38, lengthKm: 1800, depthM: 5400, from: [2]float64{-60, 24},
		to: [2]float64{-43, 24.5}, stepKm: 5, stepDbar: 10, first: 1})
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

// BenchmarkOverviews draws the pages of four sections of 38 stations in three formats.
func BenchmarkOverviews(b *testing.B) {
	s, g := invent(layout{stations: 38, lengthKm: 1800, depthM: 5400, from: [2]float64{-60, 24},
		to: [2]float64{-43, 24.5}, stepKm: 5, stepDbar: 10, first: 1})
	dir := b.TempDir()
	for b.Loop() {
		var figs []Figure
		for k := range 4 {
			f := (&SectionMaterial{Section: s, Grid: g, Velocity: currents(s)}).overview(&Choice{}, nil)
			f.Name = string(rune('a'+k)) + "_overview"
			figs = append(figs, f)
		}
		if m, err := Write(context.Background(), dir, figs, Options{Workers: 2}); err != nil || len(m.Files) != 16 {
			b.Fatal(err, m.Refused, len(m.Files))
		}
	}
}

// Programs that search or read aloud find in each file what the picture is and which ranges it shows.
func TestFilesDescribeThemselves(t *testing.T) {
	s, g := invent(wideLayout)
	dir := t.TempDir()
	f := &Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}
	if _, err := Write(context.Background(), dir, []Figure{f}, Options{About: aboutTrial}); err != nil {
		t.Fatal(err)
	}
	alternative := ""
	for _, u := range utf16.Encode([]rune("Distance 0 to 620 km; Sea pressure 0 to ")) {
		alternative += fmt.Sprintf("%04X", u)
	}
	for name, want := range map[string][]string{
		"a.svg": {"<desc>", "Distance 0 to 620 km; Sea pressure 0 to ", "; Conservative Temperature ", `xml:lang="en"`},
		"a.png": {"iTXtTitle\x00\x00\x00en\x00\x00Conservative Temperature (°C), Section A", "iTXtDescription",
			"Distance 0 to"},
		"a.pdf": {"/BaseFont /CWFIGS+LiberationSans\n", "/FontName /CWFIGS+LiberationSans-Bold", "/Lang (en)"},
	} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !bytes.Contains(b, []byte(w)) {
				t.Errorf("%s has no %q", name, w)
			}
		}
		if name == "a.pdf" && !bytes.Contains(inflated(t, b), []byte(alternative)) {
			t.Error("the PDF has no alternative text")
		}
	}
}

// inflated returns the contents of the compressed streams of a PDF file.
func inflated(t *testing.T, b []byte) []byte {
	t.Helper()
	var out []byte
	for _, part := range bytes.Split(b, []byte("stream\n"))[1:] {
		if z, err := zlib.NewReader(bytes.NewReader(part)); err == nil {
			text, _ := io.ReadAll(z) // what follows the stream is no part of it
			out = append(out, text...)
		}
	}
	return out
}

// A legend explains what is seen: no bottom that lies below the picture, and none for one plain swatch.
func TestLegendsOfWhatIsSeen(t *testing.T) {
	s, g := invent(wideLayout)
	for k, v := range findField(g, "ctemp").Data {
		if math.IsNaN(v) {
			findField(g, "ctemp").Data[k] = 2 // values everywhere: the bottom is all there is to explain
		}
		findField(g, "ctemp_relerr").Data[k] = 0.1
	}
	p, err := (&Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if p.Has("bottom") {
		t.Error("a legend of the bottom alone")
	}
	for j := range g.BottomM {
		g.BottomM[j] = 9000
	}
	p, err = (&Section{Name: "a", Section: s, Grid: g, Field: "ctemp", Overlay: "sigma0"}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if p.Has("bottom") || !strings.Contains(strings.Join(p.Words, "|"), "|σ₀, below σ") {
		t.Errorf("a bottom below the picture is explained: %v", p.Words)
	}
	one := s.Casts[:1]
	p, err = (&Profiles{Name: "p", Casts: one}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if p.Has("Station") {
		t.Error("one colour has a bar")
	}
}

// Every quantity has a unit, in the heading and at the colour bar.
func TestUnitsAreGiven(t *testing.T) {
	for name, unit := range map[string]string{"turb": "NTU", "psal": "PSS-78", "oxy": "µmol kg⁻¹", "sigma0": "kg m⁻³",
		"beamc": "m⁻¹"} {
		s, g := invent(wideLayout)
		v := metadata.MustVariable(name)
		g.Fields[0].Variable = v
		p, err := (&Section{Name: "a", Section: s, Grid: g, Field: name}).draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		if all := chart.PlainSpaces(strings.Join(p.Words, "|")); !strings.Contains(all, "("+unit+")|") ||
			!strings.Contains(all, "|"+unit+"|") {
			t.Errorf("%s without %s: %s", name, unit, all)
		}
	}
}
