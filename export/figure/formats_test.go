package figure

import (
	"bytes"
	"os"
	"testing"
	"time"
)

func trial() *scene {
	s := newScene(240, 120)
	s.title, s.detail = "a trial", "shapes & words"
	s.fill(path{{{20, 20}, {100, 20}, {100, 100}, {20, 100}}, {{40, 40}, {80, 40}, {80, 80}, {40, 80}}}, mustMap("temperature1").At(0.6))
	s.outline(rect(20, 20, 100, 100), pen{colour: ink, width: normal})
	s.stroke(path{{{120, 20}, {200, 60}, {130, 100}}}, pen{colour: softInk, width: heavy, dash: []float64{4, 2}, round: true})
	s.text(label{text: "σ₀ − 10⁻³ µmol kg⁻¹ (°C)", at: pt{120, 12}, size: mainType})
	s.text(label{text: "Sea pressure (dbar)", at: pt{12, 60}, size: mainType, turn: 90, h: middle, v: base, bold: true})
	s.text(label{text: "turned 30", at: pt{150, 80}, size: 9, turn: 30, h: middle, v: centre})
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
					if err := os.WriteFile(d+"/trial."+[]string{"svg", "pdf", "png"}[f], b[f].Bytes(), 0o644); err != nil {
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
