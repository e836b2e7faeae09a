package page

import (
	"bytes"
	"image/color"
	"os"
	"testing"
	"time"
)

func trial() *Scene {
	s := New(240, 120)
	s.Title, s.Detail = "a trial", "shapes & words"
	s.Fill(Path{{{20, 20}, {100, 20}, {100, 100}, {20, 100}}, {{40, 40}, {80, 40}, {80, 80}, {40, 80}}},
		color.NRGBA{90, 120, 160, 255})
	s.Outline(Rect(20, 20, 100, 100), Pen{Colour: Ink, Width: 0.8})
	s.Stroke(Path{{{120, 20}, {200, 60}, {130, 100}}}, Pen{Colour: Ink, Width: 1.4, Dash: []float64{4, 2}, Round: true})
	s.Text(Label{Text: "σ₀ − 10⁻³ µmol kg⁻¹ (°C)", At: Point{120, 12}, Size: 7})
	s.Text(Label{Text: "Sea pressure (dbar)", At: Point{12, 60}, Size: 7, Turn: 90, H: Middle, V: Base, Bold: true})
	s.Text(Label{Text: "turned 30", At: Point{150, 80}, Size: 9, Turn: 30, H: Middle, V: Centre})
	return s
}

func TestFormatsRepeat(t *testing.T) {
	stamp := time.Date(2026, 5, 4, 3, 2, 1, 0, time.UTC)
	var first [3][]byte
	for k := range 3 {
		var b [3]bytes.Buffer
		s := trial()
		if err := writeSVG(&b[0], s); err != nil {
			t.Fatal(err)
		}
		if err := writePDF(&b[1], s, stamp); err != nil {
			t.Fatal(err)
		}
		if err := writePNG(&b[2], s); err != nil {
			t.Fatal(err)
		}
		for f := range b {
			if k == 0 {
				first[f] = b[f].Bytes()
				if d := os.Getenv("FIGURE_OUT"); d != "" {
					if err := os.WriteFile(d+"/trial."+[]string{"svg", "pdf", "png"}[f], b[f].Bytes(),
						0o644); err != nil {
						t.Fatal(err)
					}
				}
			} else if !bytes.Equal(first[f], b[f].Bytes()) {
				t.Errorf("format %d gives other bytes in run %d", f, k)
			}
		}
	}
	if !bytes.Contains(first[1], []byte("D:20260504030201")) {
		t.Error("the PDF does not carry the given date")
	}
	if !bytes.Contains(first[2], []byte("pHYs\x00\x00\x2e\x23\x00\x00\x2e\x23\x01")) { // 11811 dots per metre
		t.Error("the PNG does not say 300 dots per inch")
	}
}

func BenchmarkPDF(b *testing.B) {
	s := trial()
	for b.Loop() {
		var o bytes.Buffer
		if err := writePDF(&o, s, time.Time{}); err != nil {
			b.Fatal(err)
		}
	}
}
