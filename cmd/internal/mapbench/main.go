// Command mapbench maps the legs of a cruise at the setting of the peer pipeline (see .ci/bench.py), prints the seconds
// that each method took, and writes the fields as little-endian float64, for comparison. It is a yardstick, not part of
// the tool.
//
//	go run ./cmd/internal/mapbench CASTS OUT
package main

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"log"
	"math"
	"os"
	"path/filepath"
	"time"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: mapbench CASTS OUT")
	}
	legs, err := readLegs(os.Args[1])
	if err != nil {
		log.Fatal(err)
	}
	seconds := map[string]float64{}
	for _, leg := range legs {
		bottom := make([]float64, len(leg.Casts))
		for i, c := range leg.Casts {
			bottom[i] = seawater.Pressure(-c.BottomM, c.At[1])
		}
		for _, method := range []gridding.Method{gridding.Linear, gridding.Optimal} {
			for _, names := range [][]string{{"temp", "psal"}, {"oxy"}} { // temperature and salinity share their points
				began := time.Now()
				g, _, err := gridding.Map(leg, gridding.Options{Variables: names, Method: method, StepKm: 5,
					StepDbar: 10, LengthKm: 150, LengthDbar: 100,
					Noise: 0.05, Neighbours: 60, Workers: 2, Sigma: []int{}, Comparison: &gridding.Comparison{
						BottomDbar: bottom}})
				if err != nil {
					log.Fatal(err)
				}
				seconds[string(method)] += time.Since(began).Seconds()
				for _, f := range g.Fields {
					if err := write(os.Args[2], leg.Name+"_"+string(method)+"_"+f.Name, g, f.Data); err != nil {
						log.Fatal(err)
					}
				}
			}
		}
	}
	if err := json.NewEncoder(os.Stdout).Encode(seconds); err != nil {
		log.Fatal(err)
	}
}

// write puts the shape (levels, columns) and the values of one field into a file.
func write(dir, name string, g *gridding.Grid, data []float64) error {
	var b bytes.Buffer
	for _, v := range []any{int64(len(g.Axes[0].Values)), int64(len(g.Axes[1].Values)), data} {
		if err := binary.Write(&b, binary.LittleEndian, v); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(dir, name+".bin"), b.Bytes(), 0o644)
}

// readLegs reads the casts and cuts them into legs wherever the section designation changes; where temperature or
// salinity is not usable neither is used, as in the peer.
func readLegs(dir string) ([]*section.Section, error) {
	l, err := ingest.List(dir, []ingest.Source{{Path: "."}}, ingest.CTD, nil)
	if err != nil {
		return nil, err
	}
	var r ingest.Reader
	var legs []*section.Section
	for i := range l.Inputs {
		casts, _, err := r.Casts(&l.Inputs[i])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", l.Inputs[i].Name, err)
		}
		c := &casts[0]
		t, s := c.Column("temp"), c.Column("psal")
		for k := range t.Values {
			if !t.UsableAt(k, false) || !s.UsableAt(k, false) {
				t.Values[k], s.Values[k] = math.NaN(), math.NaN()
			}
		}
		if len(legs) == 0 || legs[len(legs)-1].Name != c.SectionID {
			legs = append(legs, &section.Section{Name: c.SectionID})
		}
		leg := legs[len(legs)-1]
		leg.Casts = append(leg.Casts, c)
	}
	for _, leg := range legs {
		points := make([]orb.Point, len(leg.Casts))
		for i, c := range leg.Casts {
			points[i] = c.At
		}
		leg.DistanceKm = section.TrackKm(points, section.Sphere)
	}
	return legs, nil
}
