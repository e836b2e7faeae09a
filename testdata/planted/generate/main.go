// Command generate writes the invented cruise with the faults of testdata/planted/faults.csv, or its clean twin:
//
//	go run ./testdata/planted/generate -out DIR [-clean]
package main

import (
	"flag"
	"log"
	"os"
	"path/filepath"

	"github.com/castwright/castwright/internal/planted"
)

func main() {
	out := flag.String("out", "", "folder of the cruise")
	clean := flag.Bool("clean", false, "without faults")
	table := flag.String("faults", "testdata/planted/faults.csv", "table of faults")
	flag.Parse()
	var faults []planted.Fault
	if !*clean {
		f, err := os.Open(*table)
		if err != nil {
			log.Fatal(err)
		}
		faults, err = planted.Read(f)
		f.Close()
		if err != nil {
			log.Fatal(err)
		}
	}
	c := planted.Make(faults, 1)
	for _, name := range c.Names() {
		path := filepath.Join(*out, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			log.Fatal(err)
		}
		if err := os.WriteFile(path, c.Files[name], 0o644); err != nil {
			log.Fatal(err)
		}
	}
}
