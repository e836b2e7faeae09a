//go:build cgo

package nc

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
)

// everyType has a variable and an attribute of each type that is written.
func everyType() (*Schema, []any) {
	s := &Schema{Dims: []Dim{{"x", 3}, {"len", 5}}}
	values := []any{
		[]int8{-128, 0, 127}, []byte("a\x00\x00\x00\x00Grün\x00\x00\x00\x00\x00"),
		[]int16{math.MinInt16, 0, math.MaxInt16},
		[]int32{math.MinInt32, 1, math.MaxInt32}, []float32{-1.5, float32(math.Inf(1)), math.SmallestNonzeroFloat32},
		[]float64{-0.1, math.MaxFloat64, 5e-324}, []uint8{0, 128, 255}, []uint16{0, 1, math.MaxUint16},
		[]uint32{0, 1, math.MaxUint32},
		[]int64{math.MinInt64, 0, math.MaxInt64}, []uint64{0, 1, math.MaxUint64},
	}
	for i, v := range values {
		t := Type(i + 1)
		x := Var{Name: "v_" + t.String(), Type: t, Dims: []int{0}}
		if t == Char {
			x.Dims = []int{0, 1}
		} else {
			x.Attrs = append(x.Attrs, Attr{"values", v})
		}
		x.Attrs = append(x.Attrs, Attr{"long_name", "Größe in °C, „" + t.String() + "“"}, Attr{"empty", ""})
		s.Vars = append(s.Vars, x)
	}
	s.Vars[5].Fill = -9999.0
	s.Vars[3].Fill = int32(-1)
	s.Vars[0].Chunks, s.Vars[0].Deflate = []int{2}, 1
	s.Vars[5].Chunks, s.Vars[5].Deflate, s.Vars[5].Shuffle = []int{3}, 4, true
	s.Vars = append(s.Vars, Var{Name: "scalar", Type: Int})
	values = append(values, []int32{42})
	s.Attrs = []Attr{{"Conventions", "CF-1.11 ACDD-1.3"}, {"count", []int32{7}}, {"edges", []float64{1, 2.5}}}
	return s, values
}

func writeAll(t *testing.T, path string, s *Schema, values []any) {
	t.Helper()
	w, err := Create(path, s)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range values {
		if err := w.Write(i, v); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatalf("second Close: %v", err)
	}
}

func TestEveryTypeComesBack(t *testing.T) {
	path := filepath.Join(t.TempDir(), "every.nc")
	s, values := everyType()
	writeAll(t, path, s, values)
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if got := r.Schema(); !reflect.DeepEqual(got, s) {
		t.Errorf("schema read back differs:\n got %+v\nwant %+v", got, s)
	}
	for i, want := range values {
		got := reflect.MakeSlice(reflect.TypeOf(want), reflect.ValueOf(want).Len(),
			reflect.ValueOf(want).Len()).Interface()
		if err := r.Read(i, nil, nil, got); err != nil {
			t.Error(err)
		} else if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: got %v, want %v", s.Vars[i].Name, got, want)
		}
	}
	words, err := r.ReadText(s.Var("v_char"))
	if err != nil || !reflect.DeepEqual(words, []string{"a", "Grün", ""}) {
		t.Errorf("text: %q, %v", words, err)
	}
	f := make([]float64, 2)
	if err := r.ReadFloat64(s.Var("v_short"), []int{1}, []int{2}, f); err != nil || f[0] != 0 || f[1] != math.MaxInt16 {
		t.Errorf("part of shorts as doubles: %v, %v", f, err)
	}
	if r.Groups() != 0 {
		t.Errorf("%d groups", r.Groups())
	}
}

// chunked is a file with variables of several types, ranks and chunk shapes, edges that do not fit among them, and what
// is in it.
func chunked(deflate int) *Schema {
	s := &Schema{Dims: []Dim{{"profile", 7}, {"pres", 1003}, {"obs", 9001}}}
	s.Vars = []Var{
		{Name: "temp", Type: Double, Dims: []int{0, 1}, Fill: -9999.0, Chunks: []int{1, 1003}, Deflate: deflate,
			Shuffle: deflate > 0},
		{Name: "psal", Type: Double, Dims: []int{0, 1}, Fill: -9999.0, Chunks: []int{3, 400}, Deflate: deflate,
			Shuffle: deflate > 0},
		{Name: "flag", Type: Byte, Dims: []int{0, 1}, Chunks: []int{1, 1003}, Deflate: deflate, Shuffle: deflate > 0},
		{Name: "nobs", Type: Int, Dims: []int{2}, Chunks: []int{4096}, Deflate: deflate, Shuffle: deflate > 0},
		{Name: "flt", Type: Float, Dims: []int{2}, Chunks: []int{4096}, Deflate: deflate},
		{Name: "pres", Type: Double, Dims: []int{1}}, // coordinate variable
		// named as a dimension that it does not have
		{Name: "obs", Type: Double, Dims: []int{0}},
		{Name: "profile", Type: Short, Dims: []int{1}, Chunks: []int{1003}, Deflate: deflate}, // the same, compressed
	}
	return s
}

func value(v, i int) float64 {
	if (i+v)%11 == 0 {
		return -9999
	}
	return float64(v) + math.Sin(float64(i)/300)
}

func writeChunked(t *testing.T, path string, workers, deflate int, plain bool) {
	t.Helper()
	s := chunked(deflate)
	w, err := create(path, s, plain)
	if err != nil {
		t.Fatal(err)
	}
	var fillings []Filling
	for v := range s.Vars {
		shape := s.Shape(v)
		fillings = append(fillings, Filling{v, func(c *Chunk) {
			n := 1
			if len(c.Shape) == 2 {
				n = c.Count[0]
			}
			last := len(c.Shape) - 1
			for r := range n {
				for k := range c.Count[last] {
					i, at := c.Start[last]+k, r*c.Shape[last]+k
					if len(shape) == 2 {
						i += (c.Start[0] + r) * shape[1]
					}
					switch x := value(v, i); s.Vars[v].Type {
					case Double:
						Values[float64](c)[at] = x
					case Float:
						Values[float32](c)[at] = float32(x)
					case Byte:
						Values[int8](c)[at] = int8(i % 9)
					case Short:
						Values[int16](c)[at] = int16(i)
					case Int:
						Values[int32](c)[at] = int32(i)
					}
				}
			}
		}})
	}
	if err := w.WriteChunks(context.Background(), workers, fillings...); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func checkChunked(t *testing.T, path string, deflate int) {
	t.Helper()
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	s := r.Schema()
	if want := chunked(deflate); !reflect.DeepEqual(s, want) {
		t.Errorf("%s: schema read back differs:\n got %+v\nwant %+v", path, s, want)
	}
	for v := range s.Vars {
		got := make([]float64, s.Len(v))
		if err := r.ReadFloat64(v, nil, nil, got); err != nil {
			t.Fatal(err)
		}
		for i, g := range got {
			want := value(v, i)
			switch s.Vars[v].Type {
			case Float:
				want = float64(float32(want))
			case Byte:
				want = float64(i % 9)
			case Short, Int:
				want = float64(i)
			}
			if math.Float64bits(g) != math.Float64bits(want) {
				t.Fatalf("%s: %s[%d] = %v, want %v", path, s.Vars[v].Name, i, g, want)
			}
		}
	}
}

func TestChunks(t *testing.T) {
	dir := t.TempDir()
	for _, deflate := range []int{0, 1, 4, 9} {
		var first []byte
		for _, workers := range []int{1, 2, 8} {
			path := filepath.Join(dir, fmt.Sprintf("d%d_w%d.nc", deflate, workers))
			writeChunked(t, path, workers, deflate, false)
			checkChunked(t, path, deflate)
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = b
			} else if !bytes.Equal(first, b) {
				t.Errorf("deflate %d: bytes with %d workers differ from those with 1", deflate, workers)
			}
		}
		// The library compressing by itself must give the same values.
		plain := filepath.Join(dir, fmt.Sprintf("plain%d.nc", deflate))
		writeChunked(t, plain, 2, deflate, true)
		checkChunked(t, plain, deflate)
	}
}

// A write through the library after chunks went by HDF5 has to find the file again.
func TestWriteAfterChunks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.nc")
	s := &Schema{Dims: []Dim{{"x", 4}}, Vars: []Var{
		{Name: "a", Type: Double, Dims: []int{0}, Chunks: []int{4}, Deflate: 1, Shuffle: true, Fill: -1.0},
		{Name: "b", Type: Double, Dims: []int{0}},
	}}
	w, err := Create(path, s)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // to and fro, and each chunk twice
		if err := w.WriteChunks(context.Background(), 1,
			Filling{0, func(c *Chunk) { copy(Values[float64](c), []float64{1, 2, 3}) }}); err != nil {
			t.Fatal(err)
		}
		if err := w.Write(1, []float64{5, 6, 7, 8}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	got := make([]float64, 4)
	for v, want := range [][]float64{{1, 2, 3, -1}, {5, 6, 7, 8}} { // -1: the chunk came prefilled
		if err := r.Read(v, nil, nil, got); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("variable %d: %v, %v; want %v", v, got, err, want)
		}
	}
}

// TestOtherReaders asks Debian's ncdump and xarray whether they see what was written.
func TestOtherReaders(t *testing.T) {
	dir := t.TempDir()
	direct, plain, every := filepath.Join(dir, "direct.nc"), filepath.Join(dir, "plain.nc"),
		filepath.Join(dir, "every.nc")
	writeChunked(t, direct, 2, 4, false)
	writeChunked(t, plain, 2, 4, true)
	s, values := everyType()
	writeAll(t, every, s, values)

	dump := func(path string, args ...string) string {
		out, err := exec.Command("ncdump", append(args, path)...).CombinedOutput()
		if err != nil {
			t.Fatalf("ncdump: %v\n%s", err, out)
		}
		_, body, _ := strings.Cut(string(out), "\n") // the first line is the file's name
		return body
	}
	if a, b := dump(direct, "-s"), dump(plain, "-s"); a != b {
		t.Error("ncdump -s sees a difference between chunks compressed here and by the library")
	}
	if out := dump(every); !strings.Contains(out, `"Gr\303\274n"`) || !strings.Contains(out, "Größe in °C") {
		t.Errorf("ncdump does not show the text:\n%s", out)
	}
	script := `
import sys, warnings
warnings.simplefilter("error")
import numpy as np, xarray as xr, netCDF4
a = xr.open_dataset(sys.argv[1]).load(); b = xr.open_dataset(sys.argv[2]).load()
assert a.identical(b)
i = np.arange(7 * 1003)
want = np.where((i % 11) == 0, np.nan, np.sin(i / 300.)).reshape(7, 1003)
np.testing.assert_allclose(a.temp.values, want, rtol=0, atol=1e-15)
h = netCDF4.Dataset(sys.argv[1])["temp"]
f = h.filters()
assert f["zlib"] and f["shuffle"] and f["complevel"] == 4 and h.chunking() == [1, 1003], (f, h.chunking())
c = xr.open_dataset(sys.argv[3]).load()
assert c.v_double.attrs["long_name"].startswith("Größe in °C"), c.v_double.attrs
assert c.attrs["edges"].tolist() == [1, 2.5]
print("read")
`
	cmd := exec.Command("/usr/bin/python3", "-W", "error", "-c", script, direct, plain, every)
	if out, err := cmd.CombinedOutput(); err != nil || strings.TrimSpace(string(out)) != "read" {
		t.Fatalf("xarray: %v\n%s", err, out)
	}
}

func TestHostilePaths(t *testing.T) {
	dir := t.TempDir()
	good := filepath.Join(dir, "good.nc")
	s, values := everyType()
	writeAll(t, good, s, values)
	link, fifo, empty := filepath.Join(dir, "link.nc"), filepath.Join(dir, "fifo.nc"), filepath.Join(dir, "empty.nc")
	if err := errors.Join(os.Symlink(good, link), syscall.Mkfifo(fifo, 0o600),
		os.WriteFile(empty, nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	// A file that exists under the name of an address, as seen from its folder.
	if err := os.MkdirAll(filepath.Join(dir, "http:", "127.0.0.1:9"), 0o700); err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(good); err != nil {
		t.Fatal(err)
	} else if err := os.WriteFile(filepath.Join(dir, "http:", "127.0.0.1:9", "n.nc"), b, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	for _, path := range []string{"", "good.nc", "./good.nc", "http://127.0.0.1:9/n.nc", "file://" + good,
		"s3://bucket/n.nc",
		link, fifo, dir, dir + "/../" + filepath.Base(dir) + "/good.nc", dir + "//good.nc", good + "\x00.nc",
		dir + `/back\slash.nc`} {
		if r, err := Open(path); !errors.Is(err, ErrPath) || r != nil {
			t.Errorf("Open(%q): %v, want ErrPath", path, err)
		}
		if w, err := Create(path, s); err == nil || w != nil {
			t.Errorf("Create(%q) succeeded", path)
		}
	}
	if _, err := Open(filepath.Join(dir, "none.nc")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
	var e *Error
	if _, err := Open(empty); !errors.As(err, &e) || e.Path != empty || e.Op != "open" || e.Status == 0 {
		t.Errorf("empty file: %v", err)
	}
	if _, err := Create(good, s); !errors.Is(err, os.ErrExist) {
		t.Errorf("Create over a file: %v", err)
	}
	// Absolute names with signs that mean something in addresses, on other systems or to the library are only names.
	for _, name := range []string{"a#mode=zarr.nc", "a b.nc", "c:d.nc", "%41.nc", "Größe.nc", "[x]y.nc", "q?x=1&y.nc"} {
		path := filepath.Join(dir, name)
		writeChunked(t, path, 1, 1, false)
		checkChunked(t, path, 1)
		if fi, err := os.Lstat(path); err != nil || !fi.Mode().IsRegular() {
			t.Errorf("%q did not become that file: %v", name, err)
		}
	}
}

func TestMistakes(t *testing.T) {
	dir := t.TempDir()
	n := 0
	path := func() string { n++; return filepath.Join(dir, fmt.Sprintf("%d.nc", n)) }
	for name, s := range map[string]*Schema{
		"length 0":     {Dims: []Dim{{"x", 0}}},
		"twice":        {Dims: []Dim{{"x", 1}, {"x", 2}}},
		"no dimension": {Vars: []Var{{Name: "a", Type: Double, Dims: []int{0}}}},
		"string":       {Vars: []Var{{Name: "a", Type: String}}},
		"type":         {Vars: []Var{{Name: "a"}}},
		"fill":         {Vars: []Var{{Name: "a", Type: Double, Fill: float32(1)}}},
		"attribute":    {Attrs: []Attr{{"a", struct{}{}}}},
		"strings":      {Attrs: []Attr{{"a", []string{"x"}}}},
		"no values":    {Attrs: []Attr{{"a", []float64{}}}},
		"chunk rank": {Dims: []Dim{{"x", 4}},
			Vars: []Var{{Name: "a", Type: Int, Dims: []int{0}, Chunks: []int{1, 1}}}},
		"chunk length": {Dims: []Dim{{"x", 4}},
			Vars: []Var{{Name: "a", Type: Int, Dims: []int{0}, Chunks: []int{5}}}},
		"level": {Dims: []Dim{{"x", 4}},
			Vars: []Var{{Name: "a", Type: Int, Dims: []int{0}, Chunks: []int{4}, Deflate: 10}}},
		"deflate":         {Dims: []Dim{{"x", 4}}, Vars: []Var{{Name: "a", Type: Int, Dims: []int{0}, Deflate: 4}}},
		"name with slash": {Vars: []Var{{Name: "a/b", Type: Int}}},
	} {
		p := path()
		if w, err := Create(p, s); err == nil || w != nil {
			t.Errorf("%s: no error", name)
		}
		if _, err := os.Lstat(p); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: a file was left: %v", name, err)
		}
	}
	s := &Schema{Dims: []Dim{{"x", 4}}, Vars: []Var{{Name: "a", Type: Int, Dims: []int{0}}}}
	p := path()
	w, err := Create(p, s)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(0, []float64{1, 2, 3, 4}); !errors.Is(err, ErrType) {
		t.Errorf("doubles into int: %v", err)
	}
	if err := w.Write(0, []int32{1}); !errors.Is(err, ErrLength) {
		t.Errorf("too few: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := Open(p)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for _, w := range [][2][]int{{{0}, {5}}, {{-1}, {2}}, {{4}, {1}}, {{0, 0}, {1, 1}}, {{1}, {math.MaxInt}}} {
		if err := r.Read(0, w[0], w[1], make([]int32, 2)); !errors.Is(err, ErrLength) {
			t.Errorf("window %v: %v", w, err)
		}
	}
	if _, err := r.ReadText(0); !errors.Is(err, ErrType) {
		t.Errorf("text of int: %v", err)
	}
}

// Files of others hold strings, groups, unlimited dimensions and types of their own.
func TestOtherWriters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "other.nc")
	script := `
import sys, netCDF4, numpy as np
d = netCDF4.Dataset(sys.argv[1], "w")
d.createDimension("n", None); d.createDimension("m", 2)
v = d.createVariable("name", str, ("m",)); v[0] = "Grün"; v[1] = ""
d.setncattr_string("who", ["one", "two"])
c = d.createCompoundType(np.dtype([("a", "i4"), ("b", "f8")]), "pair_t")
d.createVariable("odd", c, ("m",))
x = d.createVariable("x", "f4", ("n",), fill_value=-1); x[:] = [1, 2, 3]
d.createGroup("inner")
`
	if out, err := exec.Command("/usr/bin/python3", "-c", script, path).CombinedOutput(); err != nil {
		t.Fatalf("netCDF4: %v\n%s", err, out)
	}
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	s := r.Schema()
	names, err := r.ReadText(s.Var("name"))
	if err != nil || !reflect.DeepEqual(names, []string{"Grün", ""}) {
		t.Errorf("strings: %q, %v", names, err)
	}
	if got := s.Attr("who"); !reflect.DeepEqual(got, []string{"one", "two"}) {
		t.Errorf("string attribute: %v", got)
	}
	if v := s.Vars[s.Var("odd")]; v.Type.Size() != 0 || v.Type.String() != "user-defined" {
		t.Errorf("compound: %v", v.Type)
	}
	if err := r.ReadFloat64(s.Var("odd"), nil, nil, make([]float64, 2)); !errors.Is(err, ErrType) {
		t.Errorf("numbers of a compound: %v", err)
	}
	if r.Groups() != 1 {
		t.Errorf("%d groups, want 1", r.Groups())
	}
	x := s.Var("x")
	got := make([]float64, s.Len(x))
	if err := r.ReadFloat64(x, nil, nil, got); err != nil || !reflect.DeepEqual(got, []float64{1, 2, 3}) ||
		s.Vars[x].Fill != float32(-1) {
		t.Errorf("x: %v, %v, fill %v", got, err, s.Vars[x].Fill)
	}
}

// No bytes, however spoilt, may do more than give an error. Opened here in the test itself: a crash would end it.
func TestSpoiltFiles(t *testing.T) {
	dir := t.TempDir()
	good := filepath.Join(dir, "good.nc")
	writeChunked(t, good, 1, 4, false)
	b, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{1, 8, 96, 512, 2048, len(b) / 2, len(b) - 1} {
		path := filepath.Join(dir, fmt.Sprintf("cut%d.nc", n))
		if err := os.WriteFile(path, b[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		if r, err := Open(path); err == nil {
			r.Close()
			t.Errorf("cut to %d of %d bytes: opened", n, len(b))
		}
	}
}

// A cancelled write ends without waiting for the rest, and none of its goroutines goes on.
func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s := chunked(1)
	w, err := Create(filepath.Join(t.TempDir(), "x.nc"), s)
	if err != nil {
		t.Fatal(err)
	}
	var calls atomic.Int64
	err = w.WriteChunks(ctx, 4, Filling{0, func(*Chunk) { calls.Add(1); cancel() }},
		Filling{1, func(*Chunk) { calls.Add(1) }})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if n := calls.Load(); n == 0 || n > 16 {
		t.Errorf("%d chunks were made after all", n)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestManyAtOnce(t *testing.T) {
	dir := t.TempDir()
	var wg sync.WaitGroup
	for i := range 6 {
		wg.Go(func() {
			path := filepath.Join(dir, fmt.Sprintf("%d.nc", i))
			writeChunked(t, path, 2, 1+i%2*3, i%3 == 0)
			checkChunked(t, path, 1+i%2*3)
		})
	}
	wg.Wait()
}

// BenchmarkCastFile writes what the cast file of a large cruise holds: 150 casts, 5500 levels, 18 variables.
func BenchmarkCastFile(b *testing.B) {
	const casts, levels, variables = 150, 5500, 18
	data := make([]float64, levels*2)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range data {
		data[i] = math.Round((20*math.Exp(-float64(i)/900)+0.01*rng.NormFloat64())*1e4) / 1e4
	}
	for _, level := range []int{1, 2, 4, 5} {
		for _, workers := range []int{1, 2} {
			b.Run(fmt.Sprintf("deflate%d/workers%d", level, workers), func(b *testing.B) {
				s := &Schema{Dims: []Dim{{"profile", casts}, {"pres", levels}}}
				for v := range variables {
					s.Vars = append(s.Vars, Var{Name: fmt.Sprintf("v%d", v), Type: Double, Dims: []int{0, 1},
						Fill:   -9999.0,
						Chunks: []int{1, levels}, Deflate: level, Shuffle: true})
				}
				b.ReportAllocs()
				b.SetBytes(casts * levels * variables * 8)
				dir := b.TempDir()
				for b.Loop() {
					path := filepath.Join(dir, "x.nc")
					w, err := Create(path, s)
					if err != nil {
						b.Fatal(err)
					}
					var fillings []Filling
					for v := range variables {
						fillings = append(fillings, Filling{v, func(c *Chunk) {
							k := (c.Start[0]*31 + v*7) % levels
							copy(Values[float64](c), data[k:k+levels-c.Start[0]])
						}})
					}
					if err := w.WriteChunks(context.Background(), workers, fillings...); err != nil {
						b.Fatal(err)
					}
					if err := w.Close(); err != nil {
						b.Fatal(err)
					}
					fi, err := os.Stat(path)
					if err != nil {
						b.Fatal(err)
					}
					b.ReportMetric(float64(fi.Size())/1e6, "MB")
					os.Remove(path)
				}
			})
		}
	}
}
