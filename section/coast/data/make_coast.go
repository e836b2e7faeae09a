//go:build ignore

// make_coast turns land-50m.json and land-10m.json of the npm package world-atlas 2.0.2 (TopoJSON of Natural Earth
// 4.1.0, 1:50 and 1:10 million, public domain) into coast.z and fine.z: rings of longitude and latitude in
// thousandths of a degree.
//
//	npm pack world-atlas@2.0.2 && tar xzf world-atlas-2.0.2.tgz
//	go run make_coast.go package/land-50m.json coast.z
//	go run make_coast.go package/land-10m.json fine.z
package main

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/json"
	"log"
	"math"
	"os"
)

type topology struct {
	Objects struct {
		Land struct {
			Geometries []struct {
				Type string
				Arcs [][][]int // polygons, rings, arcs
			}
		}
	}
	Arcs      [][][2]float64
	Transform struct{ Scale, Translate [2]float64 }
}

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: make_coast land-50m.json coast.z")
	}
	b, err := os.ReadFile(os.Args[1])
	if err != nil {
		log.Fatal(err)
	}
	var t topology
	if err := json.Unmarshal(b, &t); err != nil {
		log.Fatal(err)
	}
	arcs := make([][][2]int64, len(t.Arcs))
	for k, a := range t.Arcs {
		var x, y float64
		for _, d := range a {
			x, y = x+d[0], y+d[1]
			arcs[k] = append(arcs[k], [2]int64{
				int64(math.Round((x*t.Transform.Scale[0] + t.Transform.Translate[0]) * 1000)),
				int64(math.Round((y*t.Transform.Scale[1] + t.Transform.Translate[1]) * 1000)),
			})
		}
	}
	var raw []byte
	rings, points := 0, 0
	for _, g := range t.Objects.Land.Geometries {
		for _, polygon := range g.Arcs {
			for _, ring := range polygon {
				var line [][2]int64
				for _, n := range ring {
					arc := arcs[max(n, ^n)]
					for k := range arc {
						p := arc[k]
						if n < 0 {
							p = arc[len(arc)-1-k]
						}
						if len(line) == 0 || line[len(line)-1] != p {
							line = append(line, p)
						}
					}
				}
				if len(line) > 1 && line[0] == line[len(line)-1] {
					line = line[:len(line)-1]
				}
				if len(line) < 3 {
					continue
				}
				rings++
				points += len(line)
				raw = binary.AppendUvarint(raw, uint64(len(line)))
				var x, y int64
				for _, p := range line {
					raw = binary.AppendVarint(raw, p[0]-x)
					raw = binary.AppendVarint(raw, p[1]-y)
					x, y = p[0], p[1]
				}
			}
		}
	}
	var out bytes.Buffer
	w, err := zlib.NewWriterLevel(&out, zlib.BestCompression)
	if err != nil {
		log.Fatal(err)
	}
	if _, err := w.Write(raw); err != nil {
		log.Fatal(err)
	}
	if err := w.Close(); err != nil {
		log.Fatal(err)
	}
	if err := os.WriteFile(os.Args[2], out.Bytes(), 0o644); err != nil {
		log.Fatal(err)
	}
	log.Printf("%d rings, %d points, %d bytes", rings, points, out.Len())
}
