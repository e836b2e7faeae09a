//go:build cgo

package verify

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/metadata"
)

// demo builds the demo archive once for all tests of this package; TestMain removes it. Figures are drawn in one format
// only: to verify they are bytes like others, and drawing them three times, twice over, would be half the time of the
// tests. The story verify.txtar has the demo cruise as it is.
var demo = sync.OnceValues(func() (string, error) {
	dir := filepath.Join(scratch, "demo")
	file, err := demoCruise(dir, "figures: {formats: [svg]}")
	if err != nil {
		return "", err
	}
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: dir})
	if err == nil && p.Path == "" {
		err = fmt.Errorf("the demo cruise is rejected: %v", p.Findings)
	}
	return p.Path, err
})

// demoCruise lays out the demo cruise in dir with lines added to its cruise file, and returns that file.
func demoCruise(dir string, more ...string) (string, error) {
	const from = "../../../testdata/cruise"
	if err := os.MkdirAll(filepath.Join(dir, "casts"), 0o755); err != nil {
		return "", err
	}
	names, err := os.ReadDir(from + "/casts")
	if err != nil {
		return "", err
	}
	for _, n := range names {
		b, err := os.ReadFile(filepath.Join(from, "casts", n.Name()))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, "casts", n.Name()), b, 0o644)
		}
		if err != nil {
			return "", err
		}
	}
	b, err := os.ReadFile(from + "/cruise.yaml")
	if err != nil {
		return "", err
	}
	file := filepath.Join(dir, "cruise.yaml")
	return file, os.WriteFile(file, []byte(string(b)+strings.Join(more, "\n")+"\n"), 0o644)
}

func demoArchive(t *testing.T) string {
	t.Helper()
	p, err := demo()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// copyOf makes a copy of an archive of hard links; who changes a file writes it anew.
func copyOf(archive, to string) error {
	return filepath.WalkDir(archive, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(archive, p)
		if err != nil {
			return err
		}
		if d.IsDir() {
			return os.MkdirAll(filepath.Join(to, rel), 0o755)
		}
		return os.Link(p, filepath.Join(to, rel))
	})
}

// rewrite replaces a file without touching the other names of it.
func rewrite(file string, data []byte) error {
	if err := os.Remove(file); err != nil && !os.IsNotExist(err) {
		return err
	}
	return os.WriteFile(file, data, 0o644)
}

func files(dir string) []string {
	var out []string
	_ = filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(dir, p)
			out = append(out, filepath.ToSlash(rel))
		}
		return nil
	})
	slices.Sort(out)
	return out
}

// repair makes the checksums of the bag, and those in the provenance, right for what the archive holds now.
func repair(dir string) error {
	prov := filepath.Join(dir, "data/provenance/prov.json")
	data, err := os.ReadFile(prov)
	if err != nil {
		return err
	}
	var doc map[string]any
	if err := json.Unmarshal(data, &doc); err == nil {
		now, err := bag.Check(context.Background(), dir)
		if err != nil {
			return err
		}
		sums := map[string][32]byte{}
		for _, f := range now.Files {
			sums[f.Path] = f.SHA256
		}
		text := string(data)
		for key, e := range doc["entity"].(map[string]any) {
			v := e.(map[string]any)
			sum, ok := sums["data/"+fmt.Sprint(v["prov:location"])]
			if old, is := v["ex:sha256"].(string); is && ok && strings.HasPrefix(key, "ex:out-") {
				text = strings.ReplaceAll(text, old, hex.EncodeToString(sum[:]))
			}
		}
		if text != string(data) {
			if err := rewrite(prov, []byte(text)); err != nil {
				return err
			}
		}
	}
	info, err := bag.ReadInfo(dir)
	if err != nil {
		return err
	}
	info = slices.DeleteFunc(info, func(f bag.Field) bool { return f.Label == "Payload-Oxum" })
	for _, n := range files(dir) {
		if !strings.HasPrefix(n, "data/") {
			if err := os.Remove(filepath.Join(dir, n)); err != nil {
				return err
			}
		}
	}
	return bag.Write(context.Background(), dir, info)
}

// editor is a Python process that edits NetCDF files with a library that is not ours.
type editor struct {
	mu  sync.Mutex
	in  io.Writer
	out *bufio.Scanner
}

// Each line of the request is JSON: path, seed, what (value, variable, variable NAME, total... (an
// attribute of transport), attribute). The answer says what
// was done, or "error: ...".
const editorProgram = `
import sys, json, random
import numpy as np, netCDF4
for line in sys.stdin:
    q = json.loads(line)
    r = random.Random(q["seed"])
    try:
        with netCDF4.Dataset(q["path"], "r+") as d:
            d.set_auto_mask(False)
            d.set_auto_chartostring(False)
            names = list(d.variables)
            if q["what"] == "value":
                v = d.variables[r.choice(names)]
                x = v[...]
                flat = np.array(x).reshape(-1)
                k = r.randrange(flat.size)
                if v.dtype.kind == "S":
                    flat[k] = b"x" if flat[k] != b"x" else b"y"
                elif v.dtype.kind == "f":
                    good = np.flatnonzero(flat != -9999.0)
                    k = int(r.choice(list(good))) if good.size else k
                    flat[k] = flat[k] * (1 + 1e-6) + (1e-6 if abs(flat[k]) < 1e-6 else 0)
                else:
                    flat[k] = flat[k] + 1
                v[...] = flat.reshape(np.shape(x))
                done = "%s[%d]" % (v.name, k)
            elif q["what"].startswith("total"):
                v = d.variables["transport"]
                v.setncattr(q["what"], v.getncattr(q["what"]) * 1.01)
                done = "transport:" + q["what"]
            elif q["what"].startswith("variable"):
                v = d.variables[q["what"][9:] or r.choice(names)]
                x = np.array(v[...])
                if v.dtype.kind == "S":
                    x[...] = b"x"
                elif v.dtype.kind == "f":
                    x[x != -9999.0] = x[x != -9999.0] * 1.001 + 1e-3
                else:
                    x[...] = x + 1
                v[...] = x
                done = "all of %s" % v.name
            else:
                holders = [d] + [d.variables[n] for n in names]
                holders = [h for h in holders if [a for a in h.ncattrs() if a != "_FillValue"]]
                h = r.choice(holders)
                a = r.choice([a for a in h.ncattrs() if a != "_FillValue"])
                old = h.getncattr(a)
                if r.random() < 0.2:
                    h.delncattr(a)
                elif isinstance(old, str):
                    h.setncattr(a, old[:-1] + ("x" if old[-1:] != "x" else "y"))
                else:
                    h.setncattr(a, old + old.dtype.type(1))
                done = "%s:%s" % (getattr(h, "name", ""), a)
        print(done, flush=True)
    except Exception as e:
        print("error: %s" % e, flush=True)
`

func startEditor(t *testing.T) *editor {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "-c", editorProgram)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatalf("python3 (packages python3-netcdf4, python3-numpy): %v", err)
	}
	t.Cleanup(func() {
		in.Close()
		if err := cmd.Wait(); err != nil {
			t.Errorf("python3 with netCDF4: %v", err)
		}
	})
	return &editor{in: in, out: bufio.NewScanner(out)}
}

func (e *editor) edit(file string, seed uint64, what string) (string, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	if err := rewrite(file, data); err != nil { // a file of its own, not the link
		return "", err
	}
	q, err := json.Marshal(map[string]any{"path": file, "seed": seed % (1 << 31), "what": what})
	if err != nil {
		return "", err
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	if _, err := fmt.Fprintf(e.in, "%s\n", q); err != nil {
		return "", err
	}
	if !e.out.Scan() {
		return "", fmt.Errorf("python3 with netCDF4 gave no answer: %v", e.out.Err())
	}
	if s := e.out.Text(); strings.HasPrefix(s, "error: ") {
		return "", fmt.Errorf("%s: %s", file, s)
	}
	after, err := os.ReadFile(file)
	if err == nil && bytes.Equal(after, data) {
		err = fmt.Errorf("%s is as it was", file)
	}
	return e.out.Text(), err
}

// A corruption changes an archive and says what it did.
type corruption struct {
	name     string
	n        int
	repaired bool // checksums are made right again: only --all can see it
	do       func(r *rand.Rand, dir string) (string, error)
}

func pick(r *rand.Rand, list []string) string { return list[r.IntN(len(list))] }

func corruptions(e *editor) []corruption {
	read := func(dir, name string) []byte {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			panic(err)
		}
		return b
	}
	with := func(dir string, ends ...string) []string {
		return slices.DeleteFunc(files(dir), func(n string) bool {
			return !slices.ContainsFunc(ends, func(end string) bool { return strings.HasSuffix(n, end) })
		})
	}
	digit := func(r *rand.Rand, b []byte) []byte {
		var at []int
		for i, c := range b {
			if c >= '0' && c <= '9' {
				at = append(at, i)
			}
		}
		if len(at) == 0 {
			return append(b, '1')
		}
		out := bytes.Clone(b)
		i := at[r.IntN(len(at))]
		out[i] = '0' + (out[i]-'0'+1+byte(r.IntN(9)))%10
		return out
	}
	return []corruption{
		{"bit flipped", 150, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, files(dir))
			b := bytes.Clone(read(dir, n))
			i := r.IntN(len(b))
			b[i] ^= 1 << r.IntN(8)
			return fmt.Sprintf("%s byte %d", n, i), rewrite(filepath.Join(dir, n), b)
		}},
		{"truncated", 60, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, files(dir))
			b := read(dir, n)
			i := r.IntN(len(b))
			return fmt.Sprintf("%s to %d", n, i), rewrite(filepath.Join(dir, n), bytes.Clone(b[:i]))
		}},
		{"swapped", 50, false, func(r *rand.Rand, dir string) (string, error) {
			list := files(dir)
			n, m := pick(r, list), pick(r, list)
			for bytes.Equal(read(dir, n), read(dir, m)) {
				m = pick(r, list)
			}
			x, y := bytes.Clone(read(dir, n)), bytes.Clone(read(dir, m))
			if err := rewrite(filepath.Join(dir, n), y); err != nil {
				return "", err
			}
			return n + " and " + m, rewrite(filepath.Join(dir, m), x)
		}},
		{"added", 40, false, func(r *rand.Rand, dir string) (string, error) {
			n := path.Join(path.Dir(pick(r, files(dir))),
				pick(r, []string{"new.txt", ".hidden", "copy.nc", "Thumbs.db", "x~"}))
			return n, os.WriteFile(filepath.Join(dir, n), bytes.Repeat([]byte("x"), r.IntN(3)), 0o644)
		}},
		{"removed", 50, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, files(dir))
			return n, os.Remove(filepath.Join(dir, n))
		}},
		{"renamed", 25, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, files(dir))
			return n, os.Rename(filepath.Join(dir, n), filepath.Join(dir, n+"2"))
		}},
		{"bytes put in", 25, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, files(dir))
			b := read(dir, n)
			i := r.IntN(len(b) + 1)
			return fmt.Sprintf("%s at %d", n, i),
				rewrite(filepath.Join(dir, n), slices.Concat(b[:i], []byte{byte(r.IntN(256))}, b[i:]))
		}},
		{"NetCDF attribute edited", 25, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, with(dir, ".nc"))
			s, err := e.edit(filepath.Join(dir, n), r.Uint64(), "attribute")
			return n + " " + s, err
		}},
		{"NetCDF value changed", 15, false, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, with(dir, ".nc"))
			s, err := e.edit(filepath.Join(dir, n), r.Uint64(), "value")
			return n + " " + s, err
		}},
		{"NetCDF value changed", 26, true, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, with(dir, ".nc"))
			s, err := e.edit(filepath.Join(dir, n), r.Uint64(), "value")
			return n + " " + s, err
		}},
		{"NetCDF attribute edited", 12, true, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, with(dir, ".nc"))
			s, err := e.edit(filepath.Join(dir, n), r.Uint64(), "attribute")
			return n + " " + s, err
		}},
		{"digit changed", 12, true, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, with(dir, ".csv", ".geojson", ".txt", ".json", ".svg", ".yaml"))
			for !strings.HasPrefix(n, "data/") {
				n = pick(r, with(dir, ".csv", ".geojson", ".txt", ".json", ".svg", ".yaml"))
			}
			return n, rewrite(filepath.Join(dir, n), digit(r, read(dir, n)))
		}},
		{"digit of an exchange file changed", 6, true, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, with(dir, "_ct1.zip"))
			z, err := zip.NewReader(bytes.NewReader(read(dir, n)), int64(len(read(dir, n))))
			if err != nil {
				return "", err
			}
			var members []export.ZipMember
			var p export.Packer
			k := r.IntN(len(z.File))
			for i, f := range z.File {
				in, err := f.Open()
				if err != nil {
					return "", err
				}
				text, err := io.ReadAll(in)
				if err != nil {
					return "", err
				}
				if i == k {
					text = digit(r, text)
				}
				m, err := p.Bytes(text, f.Name, f.Modified)
				if err != nil {
					return "", err
				}
				members = append(members, m)
			}
			var b bytes.Buffer
			if err := export.WriteZip(&b, members); err != nil {
				return "", err
			}
			return n + " " + z.File[k].Name, rewrite(filepath.Join(dir, n), b.Bytes())
		}},
		{"added", 3, true, func(r *rand.Rand, dir string) (string, error) {
			n := path.Join("data", pick(r, []string{"casts", "tables", "sections", "."}), "more.txt")
			return n, os.WriteFile(filepath.Join(dir, n), []byte("more\n"), 0o644)
		}},
		{"removed", 3, true, func(r *rand.Rand, dir string) (string, error) {
			n := pick(r, slices.DeleteFunc(files(dir), func(n string) bool {
				return !strings.HasPrefix(n, "data/") ||
					n == "data/provenance/prov.json"
			}))
			return n, os.Remove(filepath.Join(dir, n))
		}},
	}
}

// remakeOnce makes the archive again really, once for each set of inputs and time stamp: what else a corruption does
// cannot change what comes out of them.
func remakeOnce(t *testing.T) func(context.Context, string, string, int, *pipeline.Compared) (string, error) {
	again := &archive{plan: &Plan{Program: pipeline.DefaultProgram}}
	type key struct{ zip, table, info string }
	var mu sync.Mutex
	type made struct {
		path string
		err  error
	}
	have := map[key]made{}
	keep := t.TempDir()
	return func(ctx context.Context, archive, _ string, workers int, _ *pipeline.Compared) (string, error) {
		read := func(n string) string {
			b, err := os.ReadFile(filepath.Join(archive, n))
			if err != nil {
				return err.Error()
			}
			return string(b)
		}
		info, err := bag.ReadInfo(archive)
		if err != nil {
			return "", err
		}
		stamp, _ := bag.Value(info, "Time-Stamp")
		k := key{read("data/inputs/inputs.zip"), read("data/inputs/inputs.csv"), stamp}
		mu.Lock()
		defer mu.Unlock()
		if m, ok := have[k]; ok {
			return m.path, m.err
		}
		out, err := os.MkdirTemp(keep, "again-")
		if err != nil {
			return "", err
		}
		p, err := again.remake(ctx, archive, out, workers, nil)
		have[k] = made{p, err}
		return p, err
	}
}

func TestEveryCorruptionIsFoundAndTheUntouchedIsNotAccused(t *testing.T) {
	demo := demoArchive(t)
	remake := remakeOnce(t)
	var known sync.Map
	full := Plan{Path: demo, All: true, remake: remake, known: &known}
	for _, p := range []Plan{full, {Path: demo}, {Path: demo, Checksums: true}} {
		r, err := Archive(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range r.Findings {
			t.Errorf("untouched: %s %s %s: %s", f.Position, f.Check, f.Variable, f.Message)
		}
	}
	list := corruptions(startEditor(t))
	total := 0
	var wg sync.WaitGroup
	slots := make(chan struct{}, 2)
	for c := range list {
		k := &list[c]
		for i := range k.n {
			total++
			nth := total
			if testing.Short() && nth%10 != 0 { // under the race detector, which is slow
				continue
			}
			wg.Add(1)
			slots <- struct{}{}
			go func() {
				defer wg.Done()
				defer func() { <-slots }()
				r := rand.New(rand.NewPCG(uint64(c), uint64(i))) //nolint:gosec // the same corruptions in every run
				dir := filepath.Join(t.TempDir(), "saltmarten-2026-05")
				if err := copyOf(demo, dir); err != nil {
					t.Error(err)
					return
				}
				defer os.RemoveAll(dir)
				did, err := k.do(r, dir)
				if err == nil && k.repaired {
					err = repair(dir)
				}
				if err != nil {
					t.Errorf("%s %d: %s: %v", k.name, i, did, err)
					return
				}
				plan := Plan{Path: dir, Checksums: nth%30 != 0, known: &known}
				if k.repaired {
					plan = full
					plan.Path = dir
				}
				report, err := Archive(t.Context(), plan)
				if err != nil {
					t.Errorf("%s %d: %s: %v", k.name, i, did, err)
					return
				}
				// A file more at the top of the bag is no part of the archive: a note.
				noted := slices.ContainsFunc(report.Findings, func(f metadata.Finding) bool {
					return f.Check == "bag.unlisted" && f.File == did
				})
				if report.Faults() == 0 && !(k.name == "added" && noted) {
					t.Errorf("%s %d (checksums repaired: %v): not found: %s", k.name, i, k.repaired, did)
				}
			}()
		}
	}
	wg.Wait()
	if total < 500 {
		t.Errorf("%d corruptions, want at least 500", total)
	}
}
