package pipeline_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A damage does to a file what a bad copy, an editor or a script does.
type damage struct {
	name string
	do   func(r *rand.Rand, b []byte) []byte
	// loud damage leaves no exchange file, or one that its reader must complain of: it is never silent.
	loud bool
}

func lines(b []byte) [][]byte { return bytes.SplitAfter(b, []byte("\n")) }
func join(l [][]byte) []byte  { return bytes.Join(l, nil) }

// data gives the number of the first data line and of END_DATA, from 0.
func dataLines(l [][]byte) (from, to int) {
	to = len(l)
	for i := range l {
		if bytes.HasPrefix(l[i], []byte("DBAR")) {
			from = i + 1
		}
		if bytes.HasPrefix(l[i], []byte("END_DATA")) {
			to = i
		}
	}
	return from, to
}

// pick chooses a data line.
func pick(r *rand.Rand, l [][]byte) int {
	from, to := dataLines(l)
	return from + r.IntN(max(1, to-from))
}

var damages = []damage{
	{"the end is lost", func(r *rand.Rand, b []byte) []byte { return b[:r.IntN(len(b)-10)] }, true},
	{"a line is cut", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		l[i] = append(l[i][:r.IntN(len(l[i])-1):len(l[i])-1], '\n')
		return join(l)
	}, false},
	{"a line is lost", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		return join(append(l[:i:i], l[i+1:]...))
	}, false},
	{"a header is lost", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := 1 + r.IntN(8)
		return join(append(l[:i:i], l[i+1:]...))
	}, false},
	{"a line is doubled", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		return join(append(l[:i+1:i+1], l[i:]...))
	}, true},
	{"two lines are joined", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		l[i] = bytes.TrimRight(l[i], "\r\n")
		return join(l)
	}, true},
	{"two lines are swapped", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		from, to := dataLines(l)
		i := from + r.IntN(to-from-1)
		l[i], l[i+1] = l[i+1], l[i]
		return join(l)
	}, true},
	{"bytes are zeroed", func(r *rand.Rand, b []byte) []byte {
		at := r.IntN(len(b) - 20)
		for i := range 1 + r.IntN(16) {
			b[at+i] = 0
		}
		return b
	}, true},
	{"a block is zeroed", func(r *rand.Rand, b []byte) []byte {
		at := r.IntN(len(b) - 600)
		clear(b[at : at+512])
		return b
	}, true},
	{"bits are turned", func(r *rand.Rand, b []byte) []byte {
		for range 1 + r.IntN(3) {
			b[r.IntN(len(b))] ^= 1 << r.IntN(8)
		}
		return b
	}, false},
	{"a digit is another", func(r *rand.Rand, b []byte) []byte {
		for {
			if i := r.IntN(len(b)); b[i] >= '0' && b[i] <= '9' {
				b[i] = '0' + (b[i]-'0'+byte(1+r.IntN(9)))%10
				return b
			}
		}
	}, false},
	{"columns are shifted to the left", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		_, rest, _ := bytes.Cut(l[i], []byte(","))
		l[i] = append(bytes.TrimRight(bytes.Clone(rest), "\r\n"), ",2\n"...)
		return join(l)
	}, false},
	{"columns are shifted to the right", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		from, to := dataLines(l)
		for i := from; i < to; i++ {
			l[i] = append([]byte("1,"), l[i]...)
		}
		return join(l)
	}, true},
	{"a column name is lost", func(_ *rand.Rand, b []byte) []byte {
		return bytes.Replace(b, []byte("CTDSAL,"), nil,
			1)
	}, true},
	{"two units are swapped", func(_ *rand.Rand, b []byte) []byte {
		return bytes.Replace(b, []byte("DBAR,,ITS-90,,PSS-78"), []byte("DBAR,,PSS-78,,ITS-90"), 1)
	}, false},
	{"decimal commas", func(_ *rand.Rand, b []byte) []byte {
		l := lines(b)
		from, to := dataLines(l)
		for i := from; i < to; i++ {
			l[i] = bytes.ReplaceAll(l[i], []byte("."), []byte(","))
		}
		return join(l)
	}, true},
	{"UTF-16", func(_ *rand.Rand, b []byte) []byte {
		out := []byte{0xff, 0xfe}
		for _, c := range b {
			out = append(out, c, 0)
		}
		return out
	}, false},
	{"a byte of Latin-1", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		l[i] = append([]byte{0xe6}, l[i]...)
		return join(l)
	}, true},
	{"CRLF", func(_ *rand.Rand, b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n")) }, false},
	{"CR", func(_ *rand.Rand, b []byte) []byte { return bytes.ReplaceAll(b, []byte("\n"), []byte("\r")) }, false},
	{"byte-order mark", func(_ *rand.Rand, b []byte) []byte { return append([]byte("\xef\xbb\xbf"), b...) }, false},
	{"tabs for commas", func(_ *rand.Rand, b []byte) []byte {
		l := lines(b)
		from, to := dataLines(l)
		for i := from; i < to; i++ {
			l[i] = bytes.ReplaceAll(l[i], []byte(","), []byte("\t"))
		}
		return join(l)
	}, true},
	{"another file behind it", func(_ *rand.Rand, b []byte) []byte { return append(bytes.Clone(b), b...) }, true},
	{"quotes around fields", func(r *rand.Rand, b []byte) []byte {
		l := lines(b)
		i := pick(r, l)
		l[i] = append([]byte("\""+strings.ReplaceAll(strings.TrimRight(string(l[i]), "\r\n"), ",", "\",\"")+"\""), '\n')
		return join(l)
	}, false},
}

// 1 000 randomly damaged copies of the demo casts. Each gives an error with its place, or findings with theirs, or the
// same cast as before. What stays grammatical changes the cast and cannot be seen in the file alone: there check names
// the file by inputs.sha256.
func TestDamagedCasts(t *testing.T) {
	demo := filepath.Join("..", "..", "..", "testdata", "cruise", "casts")
	entries, err := os.ReadDir(demo)
	if err != nil {
		t.Fatal(err)
	}
	options := ingest.Options{Aliases: []ingest.Alias{{Column: "CTDTMP2", Means: "temp2"},
		{Column: "CTDSAL2", Means: "psal2"}}}
	type original struct {
		name  string
		data  []byte
		cast  section.Cast
		found map[string]int
	}
	var files []original
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(demo, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		casts, found, err := ingest.Parse(data, e.Name(), options)
		if err != nil { // the one that the demo leaves out
			continue
		}
		files = append(files, original{e.Name(), data, casts[0], kinds(found)})
	}
	if len(files) < 15 {
		t.Fatalf("%d files", len(files))
	}
	r := rand.New(rand.NewPCG(3, 1000))
	outcome := map[string]map[string]int{}
	type silent struct {
		original
		damaged []byte
		how     string
	}
	var unseen []silent
	for i := range 1000 {
		f, d := &files[r.IntN(len(files))], damages[i%len(damages)]
		damaged := d.do(r, bytes.Clone(f.data))
		if bytes.Equal(damaged, f.data) {
			continue
		}
		casts, found, err := ingest.Parse(damaged, f.name, options)
		what := "silent"
		switch {
		case err != nil:
			what = "error"
			if casts != nil {
				t.Errorf("%d, %s, %s: casts in spite of an error", i, d.name, f.name)
			}
			sayWhere(t, fmt.Sprintf("%d, %s, %s", i, d.name, f.name), err)
		case sameCast(&f.cast, &casts[0]):
			what = "same cast"
		case more(f.found, found):
			what = "finding"
		}
		if what == "silent" {
			unseen = append(unseen, silent{*f, damaged, d.name})
			if d.loud {
				t.Errorf("%d: %s in %s changed the cast, and nothing was said", i, d.name, f.name)
			}
		}
		if outcome[d.name] == nil {
			outcome[d.name] = map[string]int{}
		}
		outcome[d.name][what]++
		outcome["all"] = add(outcome["all"], what)
	}
	for _, d := range damages {
		t.Logf("%-32s %v", d.name, outcome[d.name])
	}
	t.Logf("%-32s %v", "all", outcome["all"])
	if len(unseen) == 0 {
		t.Fatal("no damage stayed grammatical: the record of inputs was not tried")
	}
	for _, s := range unseen {
		namedByRecord(t, s.name, s.data, s.damaged, s.how)
	}
}

// namedByRecord checks a file before and after a damage that is silent in the file alone, with a record of the inputs
// made before: check names the changed file and no other time.
func namedByRecord(t *testing.T, name string, good, damaged []byte, how string) {
	t.Helper()
	dir := t.TempDir()
	file, cast := filepath.Join(dir, "cruise.yaml"), filepath.Join(dir, name)
	aliases := ""
	if bytes.Contains(good, []byte("CTDTMP2")) { // an alias of a column that no cast has is an error
		aliases = "  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]\n"
	}
	for path, b := range map[string][]byte{cast: good, file: []byte("cruise: {id: d}\ncasts:\n  sources: [" + name +
		"]\n" + aliases)} {
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := pipeline.Check(context.Background(), pipeline.Plan{CruiseFile: file, Record: true}); err != nil {
		t.Fatal(err)
	}
	for _, changed := range []bool{false, true} {
		if changed {
			if err := os.WriteFile(cast, damaged, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		p, err := pipeline.Check(context.Background(), pipeline.Plan{CruiseFile: file})
		if err != nil {
			t.Fatal(err)
		}
		named := false
		for _, f := range p.Findings {
			named = named || f.Check == "inputs.changed" && f.File == name && f.Advice() != ""
		}
		if named != changed {
			t.Errorf("%s in %s: changed %v, named %v", how, name, changed, named)
		}
	}
}

func add(m map[string]int, what string) map[string]int {
	if m == nil {
		m = map[string]int{}
	}
	m[what]++
	return m
}

func kinds(found []metadata.Finding) map[string]int {
	m := map[string]int{}
	for _, f := range found {
		m[f.Check+" "+f.Message]++
	}
	return m
}

// more reports whether something was found in the damaged file, with its place, that was not in the whole one.
func more(before map[string]int, found []metadata.Finding) bool {
	for _, f := range found {
		if before[f.Check+" "+f.Message] == 0 && f.File != "" {
			return true
		}
	}
	return false
}

// sameCast compares what casts hold, not where it came from.
func sameCast(a, b *section.Cast) bool {
	x, y := *a, *b
	x.Source, y.Source = metadata.Digest{}, metadata.Digest{}
	if len(x.Columns) != len(y.Columns) {
		return false
	}
	for i := range x.Columns {
		p, q := &x.Columns[i], &y.Columns[i]
		if p.Name != q.Name || p.Units != q.Units || !sameNumbers(p.Values, q.Values) ||
			!reflect.DeepEqual(p.Flags, q.Flags) || !reflect.DeepEqual(p.Text, q.Text) {
			return false
		}
	}
	if !sameNumbers([]float64{x.BottomM, x.At[0], x.At[1]}, []float64{y.BottomM, y.At[0], y.At[1]}) {
		return false
	}
	return x.Expocode == y.Expocode && x.Station == y.Station && x.Number == y.Number && x.Time.Equal(y.Time) &&
		x.DateOnly == y.DateOnly && x.SectionID == y.SectionID
}

func sameNumbers(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] && !(math.IsNaN(a[i]) && math.IsNaN(b[i])) {
			return false
		}
	}
	return true
}

// sayWhere checks that each part of an error names the file and, but for what is about the whole file, the line.
func sayWhere(t *testing.T, what string, err error) {
	t.Helper()
	n := 0
	for _, e := range metadata.Parts(err) {
		n++
		var in *metadata.InputError
		switch {
		case !errors.As(e, &in):
			t.Errorf("%s: an error of no place: %v", what, e)
		case in.File == "" || in.Line == 0 && !wholeFile(in):
			t.Errorf("%s: without a line: %v", what, in)
		case in.Advice() == "":
			t.Errorf("%s: nothing to do: %v", what, in)
		}
	}
	if n > 21 {
		t.Errorf("%s: %d errors", what, n)
	}
}

// wholeFile says that an error is about a file that is no text at all.
func wholeFile(e *metadata.InputError) bool {
	for _, s := range []string{"empty", "UTF-16", "binary", "zip"} {
		if strings.Contains(e.Err.Error(), s) {
			return true
		}
	}
	return false
}
