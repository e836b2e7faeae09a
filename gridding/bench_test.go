package gridding

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// peerMap maps a section as the peer pipeline of the bench folder does, so that both can be timed on the same work: the
// data are the means of the bins in each cell of the grid, nothing is interpolated vertically, and there is no
// background, no cut of the neighbourhood, no mask and no skill.
func peerMap(b *testing.B, sec *section.Section, method Method, names []string, lengthKm float64) *Grid {
	b.Helper()
	o := Options{Variables: names, Method: method, StepKm: 5, StepDbar: 10, LengthKm: lengthKm, LengthDbar: 100,
		Noise: 0.05, Workers: 2}
	if err := o.fill(); err != nil {
		b.Fatal(err)
	}
	vars, _ := variablesOf(sec.Casts, &o)
	s := newSurvey(sec.Casts, sec.DistanceKm, vars, &o)
	if err := s.places(); err != nil {
		b.Fatal(err)
	}
	for k := range s.sites {
		if c := s.sites[k].cast; c.BottomM > 0 {
			s.sites[k].bottomDbar = seawater.Pressure(-c.BottomM, c.At[1])
		}
	}
	g := &Grid{Name: sec.Name}
	cols := s.sectionColumns(g)
	cols = cols[:len(cols)-1]
	var levels []float64
	for p := 0.0; p-o.StepDbar/2 <= s.pmax; p += o.StepDbar {
		levels = append(levels, p)
	}
	down := s.verticalLengths(s.pmax)
	t := table{levels: levels, down: &down}
	for v := range vars {
		t.vars = append(t.vars, v)
	}
	for k := range s.sites {
		values := make([][]float64, len(vars))
		for v := range values {
			values[v] = make([]float64, len(levels))
			rebin(values[v], s.sites[k].profiles[v].p, s.sites[k].profiles[v].v, levels, o.StepDbar)
		}
		t.values = append(t.values, values)
	}
	e := s.newEngine(Linear, o.LengthFactor, s.prior(), []table{t}, nil) // without the form of the profiles
	e.method, e.set.cut = method, 1e3
	a := &assembly{survey: s, cols: cols, levels: levels, method: method, engine: e, mapping: e}
	a.mapColumns(e)
	g.Axes[0].Values, g.Axes[1].Values = levels, g.Axes[1].Values[:len(cols)]
	for v := range vars {
		f, errors := a.start(v)
		g.Fields = append(append(g.Fields, f), errors...)
	}
	return g
}

// BenchmarkPeer maps at the setting of the peer pipeline: an invented section, or the casts in the folder that
// CASTWRIGHT_PEER_CASTS names, whose fields are then written to the folder CASTWRIGHT_PEER_FIELDS (see .ci/bench.py).
func BenchmarkPeer(b *testing.B) {
	o := newOcean(1, false)
	sections, lengthKm := []*section.Section{o.sample(1, 40, false)}, 80.0
	names := [][]string{{"ctemp", "asal"}}
	if dir := os.Getenv("CASTWRIGHT_PEER_CASTS"); dir != "" {
		sections, lengthKm = PeerLegs(b, dir), 150
		names = [][]string{{"temp", "psal"}, {"oxy"}} // temperature and salinity share their points
	}
	for _, method := range []Method{Optimal, Linear} {
		b.Run(string(method), func(b *testing.B) {
			b.ReportAllocs()
			var grids []*Grid
			for b.Loop() {
				grids = grids[:0]
				for _, sec := range sections {
					for _, n := range names {
						grids = append(grids, peerMap(b, sec, method, n, lengthKm))
					}
				}
			}
			if dir := os.Getenv("CASTWRIGHT_PEER_FIELDS"); dir != "" {
				for _, g := range grids {
					writeFields(b, filepath.Join(dir, g.Name+"_"+string(method)+"_"), g)
				}
			}
		})
	}
}

// writeFields writes the shape (levels, columns) and the values of each field as little-endian numbers.
func writeFields(b *testing.B, prefix string, g *Grid) {
	b.Helper()
	for _, f := range g.Fields {
		var out bytes.Buffer
		for _, v := range []any{int64(len(g.Axes[0].Values)), int64(len(g.Axes[1].Values)), f.Data} {
			if err := binary.Write(&out, binary.LittleEndian, v); err != nil {
				b.Fatal(err)
			}
		}
		if err := os.WriteFile(prefix+f.Name+".bin", out.Bytes(), 0o644); err != nil {
			b.Fatal(err)
		}
	}
}

// PeerLegs reads the casts in a folder; set by the external test, which may import ingest.
var PeerLegs func(b *testing.B, dir string) []*section.Section

func BenchmarkMethods(b *testing.B) {
	o := newOcean(1, false)
	sec := o.sample(1, 20, false)
	for _, method := range Methods() {
		b.Run(string(method), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Map(sec, Options{Method: method, Workers: 2}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
