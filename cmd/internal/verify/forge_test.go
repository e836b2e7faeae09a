//go:build cgo

package verify

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/metadata"
)

var (
	forgeries   = flag.Int("forgeries", 20, "how many archives TestForgedArchives forges")
	forgerySeed = flag.Uint64("seed", 1, "seed of their random numbers")
)

// TestForgedArchives changes archives as a forger would, who makes every checksum right again, in the manifests and in
// the provenance, and asks that verify finds at least 95 of 100 by default and all with --all. "make forge" forges more
// of them.
func TestForgedArchives(t *testing.T) {
	n, seed := *forgeries, *forgerySeed
	const more = "figures: {only: [section, map], formats: [svg]}\n"
	archives := []string{smallArchive(t, "shelf", more), smallArchive(t, "two-legs", more)}
	for _, a := range archives {
		for _, all := range []bool{false, true} {
			if r, err := Archive(t.Context(), Plan{Path: a, All: all, Seed: seed}); err != nil || r.Faults() > 0 {
				t.Fatalf("untouched, all %v: %v %v", all, r.Findings, err)
			}
		}
	}
	e := startEditor(t)
	found := 0
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		from := archives[i%len(archives)]
		dir := filepath.Join(t.TempDir(), filepath.Base(from))
		if err := copyOf(from, dir); err != nil {
			t.Fatal(err)
		}
		what, err := forge(r, e, dir)
		if err != nil {
			t.Fatalf("forgery %d: %v", i, err)
		}
		if err := repair(dir); err != nil {
			t.Fatal(err)
		}
		report, err := Archive(t.Context(), Plan{Path: dir, Seed: uint64(i)})
		if err != nil {
			t.Fatalf("forgery %d, %s: %v", i, what, err)
		}
		if report.Faults() > 0 {
			found++
			continue
		}
		t.Logf("forgery %d is not found by default: %s", i, what)
		if report, err = Archive(t.Context(), Plan{Path: dir, All: true}); err != nil || report.Faults() == 0 {
			t.Errorf("forgery %d is not found with all: %s %v", i, what, err)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
	}
	for i := range max(n/10, 4) { // what only --all must find: one node of a grid, and a picture
		r := rand.New(rand.NewPCG(seed, uint64(n+i)))
		from := archives[i/2%len(archives)]
		dir := filepath.Join(t.TempDir(), filepath.Base(from))
		if err := copyOf(from, dir); err != nil {
			t.Fatal(err)
		}
		end := []string{"_grid.nc", ".svg"}[i%2]
		name := pick(r, slices.DeleteFunc(files(dir), func(n string) bool { return !strings.HasSuffix(n, end) }))
		what, err := forgeFile(r, e, dir, name, "value")
		if err == nil {
			err = repair(dir)
		}
		if err != nil {
			t.Fatal(err)
		}
		if report, err := Archive(t.Context(), Plan{Path: dir, All: true}); err != nil || report.Faults() == 0 {
			t.Errorf("%s is not found with all: %v", what, err)
		}
	}
	t.Logf("%d of %d forgeries found by default", found, n)
	if 100*found < 95*n {
		t.Errorf("only %d of %d forgeries found by default", found, n)
	}
}

// TestForgedGridsWithoutInputs changes every variable of a section grid of an archive that holds no inputs, one at a
// time: values, errors, masks and flags are found by default, since each is computed again at some columns.
func TestForgedGridsWithoutInputs(t *testing.T) {
	from := smallArchive(t, "shelf", "figures: none\ninputs: omit\n")
	r, err := Archive(t.Context(), Plan{Path: from, Seed: 1})
	if err != nil || r.Faults() > 0 || !strings.Contains(r.Again, "not computed again: ") ||
		!strings.Contains(r.Again, "(seed 1)") {
		t.Fatalf("untouched: %v %q %v", r.Findings, r.Again, err)
	}
	e := startEditor(t)
	for _, kind := range []string{"", "_err", "_relerr", "_mask", "_extrapolated"} {
		for _, v := range []string{"ctemp", "asal"} {
			const rel = "data/sections/south_grid.nc"
			dir := filepath.Join(t.TempDir(), filepath.Base(from))
			if err := copyOf(from, dir); err != nil {
				t.Fatal(err)
			}
			if _, err := e.edit(filepath.Join(dir, rel), 1, "variable "+v+kind); err != nil {
				t.Fatal(err)
			}
			if err := repair(dir); err != nil {
				t.Fatal(err)
			}
			r, err := Archive(t.Context(), Plan{Path: dir, Seed: 2})
			if err != nil || !slices.ContainsFunc(r.Findings, func(f metadata.Finding) bool {
				return f.File == rel &&
					f.Check == "recompute."+v+kind
			}) {
				t.Errorf("%s is not found: %v %v", v+kind, r.Findings, err)
			}
		}
	}
}

// smallArchive builds one of the committed small cruises, with more lines in its cruise file.
func smallArchive(t *testing.T, cruise, more string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../testdata/cruises/"+cruise)); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "cruise.yaml")
	f, err := os.OpenFile(file, os.O_APPEND|os.O_WRONLY, 0)
	if err == nil {
		_, err = f.WriteString(more)
	}
	if err == nil {
		err = f.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		t.Fatal(p.Findings, err)
	}
	return p.Path
}

// forge makes one forgery and says what it did. The file is drawn evenly from data files, tables, documents and
// captions; half of the forgeries change a whole variable, column or text, half one value of a table or of a file of
// casts.
func forge(r *rand.Rand, e *editor, dir string) (string, error) {
	kinds := map[string][]string{}
	for _, n := range files(dir) {
		switch ext := filepath.Ext(n); {
		case strings.HasPrefix(n, "data/inputs/"), ext == ".svg", !strings.HasPrefix(n, "data/"),
			n == "data/provenance/prov.json":
		case strings.HasPrefix(n, "data/tables/"):
			kinds["table"] = append(kinds["table"], n)
		case strings.HasPrefix(n, "data/figures/"):
			kinds["caption"] = append(kinds["caption"], n)
		case ext == ".nc", ext == ".zip", ext == ".csv":
			kinds["data"] = append(kinds["data"], n)
			if strings.HasPrefix(n, "data/casts/") {
				kinds["casts"] = append(kinds["casts"], n)
			}
		default:
			kinds["document"] = append(kinds["document"], n)
		}
	}
	if r.IntN(2) == 0 {
		name := pick(r, kinds[pick(r, []string{"table", "casts"})])
		return forgeFile(r, e, dir, name, "value")
	}
	name := pick(r, kinds[pick(r, []string{"data", "table", "document", "caption"})])
	return forgeFile(r, e, dir, name, pick(r, []string{"variable", "variable", "attribute"}))
}

// forgeFile changes one value, or a whole variable, column, member or text, of one file.
func forgeFile(r *rand.Rand, e *editor, dir, name, what string) (string, error) {
	file := filepath.Join(dir, filepath.FromSlash(name))
	if strings.HasSuffix(name, ".nc") {
		done, err := e.edit(file, r.Uint64(), what)
		return name + " " + done, err
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	var out []byte
	var done string
	switch path.Ext(name) {
	case ".csv":
		out, done, err = forgeCSV(r, data, what == "value")
	case ".zip":
		out, done, err = forgeZip(r, data)
	default:
		out, done = forgeText(r, data)
	}
	if err != nil || bytes.Equal(out, data) {
		return "", fmt.Errorf("%s: %s: nothing changed: %w", name, done, err)
	}
	return name + " " + done, rewrite(file, out)
}

// forgeCSV changes the cell of one row, or of all rows, in a column. Lines before the table and after it stay.
func forgeCSV(r *rand.Rand, data []byte, one bool) ([]byte, string, error) {
	lines := strings.SplitAfter(string(data), "\n")
	from := 0
	for from < len(lines) && (!strings.Contains(lines[from], ",") || strings.HasPrefix(lines[from], "#") ||
		strings.HasPrefix(lines[from], "BOTTLE")) {
		from++
	}
	rows, err := csv.NewReader(strings.NewReader(strings.Join(lines[from:], ""))).ReadAll()
	if err != nil { // END_DATA has one field
		end := slices.IndexFunc(lines, func(l string) bool { return strings.HasPrefix(l, "END_DATA") })
		if end < 0 {
			return nil, "", err
		}
		if rows, err = csv.NewReader(strings.NewReader(strings.Join(lines[from:end], ""))).ReadAll(); err != nil {
			return nil, "", err
		}
		lines = append(lines[:from:from], lines[end:]...)
	} else {
		lines = lines[:from]
	}
	if len(rows) < 2 {
		rows = append(rows, slices.Clone(rows[0])) // a table without rows gets one
	}
	col := r.IntN(len(rows[0]))
	at := 1 + r.IntN(len(rows)-1)
	for i := range rows {
		if i > 0 && (!one || i == at) {
			rows[i][col] = forgeCell(rows[i][col])
		}
	}
	var b bytes.Buffer
	for i, l := range lines {
		if i == from {
			if err := writeRows(&b, rows); err != nil {
				return nil, "", err
			}
		}
		b.WriteString(l)
	}
	if len(lines) == from {
		err = writeRows(&b, rows)
	}
	return b.Bytes(), fmt.Sprintf("column %s, row %d, one %v", rows[0][col], at, one), err
}

func writeRows(w io.Writer, rows [][]string) error {
	c := csv.NewWriter(w)
	return c.WriteAll(rows)
}

// forgeCell changes the last digit or letter of a cell.
func forgeCell(s string) string {
	if s == "" {
		return "1"
	}
	last := s[len(s)-1]
	switch {
	case last >= '0' && last < '9' || last >= 'a' && last < 'z':
		last++
	default:
		last = '0'
	}
	return s[:len(s)-1] + string(last)
}

// forgeZip changes one digit of one member of a bundle.
func forgeZip(r *rand.Rand, data []byte) ([]byte, string, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, "", err
	}
	k := r.IntN(len(z.File))
	var p export.Packer
	var members []export.ZipMember
	for i, f := range z.File {
		in, err := f.Open()
		if err != nil {
			return nil, "", err
		}
		b, err := io.ReadAll(in)
		in.Close()
		if err != nil {
			return nil, "", err
		}
		if i == k {
			b, _ = forgeText(r, b)
		}
		m, err := p.Bytes(b, f.Name, f.Modified)
		if err != nil {
			return nil, "", err
		}
		members = append(members, m)
	}
	var b bytes.Buffer
	err = export.WriteZip(&b, members)
	return b.Bytes(), z.File[k].Name, err
}

// forgeText changes one digit, or one letter in a text without digits.
func forgeText(r *rand.Rand, data []byte) ([]byte, string) {
	out := slices.Clone(data)
	for _, set := range []string{"0123456789", "abcdefghijklmnopqrstuvwxyz"} {
		var at []int
		for i, c := range out {
			if strings.IndexByte(set, c) >= 0 {
				at = append(at, i)
			}
		}
		if len(at) > 0 {
			i := at[r.IntN(len(at))]
			out[i] = set[(strings.IndexByte(set, out[i])+1)%len(set)]
			return out, fmt.Sprintf("byte %d", i)
		}
	}
	return append(out, 'x'), "end"
}
