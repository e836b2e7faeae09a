package pipeline_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// An original is a cast file before it is damaged, with the casts of its cruise.
type original struct {
	name   string
	data   []byte
	cast   section.Cast
	cruise []*section.Cast
}

var demoAliases = []ingest.Alias{{Column: "CTDTMP2", Means: "temp2"}, {Column: "CTDSAL2", Means: "psal2"}}

// originals returns the readable cast files of the demo and of the small cruises.
func originals(t *testing.T) (files []original) {
	t.Helper()
	top := filepath.Join("..", "..", "..", "testdata")
	folders, err := filepath.Glob(filepath.Join(top, "cruises", "*", "casts"))
	if err != nil || len(folders) < 5 {
		t.Fatal("no small cruises", err)
	}
	for _, dir := range append([]string{filepath.Join(top, "cruise", "casts")}, folders...) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		first := len(files)
		for _, e := range entries {
			data, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			if casts, _, err := ingest.Parse(data, e.Name(), ingest.Options{Aliases: demoAliases}); err == nil {
				files = append(files, original{name: e.Name(), data: data, cast: casts[0]})
			}
		}
		var cruise []*section.Cast
		for i := first; i < len(files); i++ {
			cruise = append(cruise, &files[i].cast)
		}
		slices.SortStableFunc(cruise, section.CompareCasts)
		for i := first; i < len(files); i++ {
			files[i].cruise = cruise
		}
	}
	return files
}

// around returns up to two casts before and after a cast of the cruise, and c in its place.
func (o *original) around(c *section.Cast) (casts []*section.Cast) {
	i := slices.Index(o.cruise,
		o.cruise[slices.IndexFunc(o.cruise, func(k *section.Cast) bool { return k.Source.Name == o.name })])
	casts = slices.Clone(o.cruise[max(0, i-2):min(len(o.cruise), i+3)])
	casts[min(i, 2)] = c
	return casts
}

// judge returns what check says of a cast among its neighbours.
func (o *original) judge(c *section.Cast, found []metadata.Finding) ([]metadata.Finding, error) {
	casts := o.around(c)
	cruise, err := ingest.CheckCruise(casts, nil)
	found = append(slices.Clone(found), cruise...)
	checks, wrong := qc.New(nil)
	if wrong != nil {
		return nil, wrong
	}
	for _, k := range casts {
		found = append(found, checks.Cast(k, qc.Settings{})...)
	}
	return append(found, checks.Cruise(&qc.Cruise{Casts: casts}).Findings...), err
}

// sameText reports whether comments, headers and stamp of two casts are the same.
func sameText(a, b *section.Cast) bool {
	return a.Stamp == b.Stamp && slices.Equal(a.Comments, b.Comments) && slices.Equal(a.Headers, b.Headers)
}

// grammatical reports whether two casts have the same columns and levels, so that only characters of their values
// differ: no reader can see that.
func grammatical(a, b *section.Cast) bool {
	if len(a.Columns) != len(b.Columns) || a.Levels() != b.Levels() || len(a.Headers) != len(b.Headers) ||
		len(a.Comments) != len(b.Comments) {
		return false
	}
	for i := range a.Columns {
		p, q := &a.Columns[i], &b.Columns[i]
		if !reflect.DeepEqual(p.Variable, q.Variable) || (p.Text == nil) != (q.Text == nil) ||
			(p.Flags == nil) != (q.Flags == nil) {
			return false
		}
	}
	return true
}

// lostAtEnd reports whether b is a without some of its first or of its last levels.
func lostAtEnd(a, b *section.Cast) bool {
	n := b.Levels()
	return n > 0 && n < a.Levels() && len(a.Columns) == len(b.Columns) &&
		(sameNumbers(a.PressureDbar[:n], b.PressureDbar) || sameNumbers(a.PressureDbar[a.Levels()-n:], b.PressureDbar))
}

var (
	damagedCasts = flag.Int("casts", 1000,
		"how many casts TestCorruptedCasts damages; TestCorruptedBundles a quarter as many bundles")
	damageSeed = flag.Uint64("seed", 1, "seed of their random numbers")
)

// TestCorruptedCasts damages casts in the ways of corruptions, each alone in its file among the casts of its cruise,
// and asks that check refuses it or names something that it does not name of the whole file. Only characters that stay
// grammatical (a digit for another, a letter of a comment) and levels lost at the very end of a cast may pass; those
// are named where the inputs were recorded. "make corrupt" damages more of them.
func TestCorruptedCasts(t *testing.T) {
	n, seed := *damagedCasts, *damageSeed
	files := originals(t)
	outcome := map[string]map[string]int{}
	done := 0
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		o, other, d := &files[r.IntN(len(files))], &files[r.IntN(len(files))], corruptions[i%len(corruptions)]
		damaged := d.do(r, bytes.Clone(o.data), other.data)
		if damaged == nil || bytes.Equal(damaged, o.data) {
			continue
		}
		done++
		where := fmt.Sprintf("%d, %s, %s", i, d.name, o.name)
		what := o.outcome(t, where, damaged)
		if what == "digits" || what == "end" {
			namedByRecord(t, o.name, o.data, damaged, d.name)
		}
		outcome[d.name] = add(outcome[d.name], what)
		outcome["all"] = add(outcome["all"], what)
	}
	for _, d := range corruptions {
		t.Logf("%-36s %v", d.name, outcome[d.name])
	}
	t.Logf("%-36s %v of %d", "all", outcome["all"], done)
	if done < n*8/10 {
		t.Errorf("only %d of %d casts were changed", done, n)
	}
}

// outcome returns how a damaged file is received: error, finding, same, digits or end; what is silent beyond that
// is an error of the test.
func (o *original) outcome(t *testing.T, where string, damaged []byte) string {
	t.Helper()
	options := ingest.Options{Aliases: demoAliases}
	_, first, _ := ingest.Parse(o.data, o.name, options)
	before, _ := o.judge(&o.cast, first)
	casts, found, err := ingest.Parse(damaged, o.name, options)
	if err != nil {
		sayWhere(t, where, err)
		return "error"
	}
	found, err = o.judge(&casts[0], found)
	switch {
	case err != nil: // of two files that cannot both be right
		for _, e := range metadata.Parts(err) {
			if in := (*metadata.InputError)(nil); !errors.As(e, &in) || in.File == "" || in.Advice() == "" {
				t.Errorf("%s: an error without a file or a remedy: %v", where, e)
			}
		}
		return "error"
	case sameCast(&o.cast, &casts[0]) && sameText(&o.cast, &casts[0]):
		return "same"
	case more(kinds(before), found):
		return "finding"
	case grammatical(&o.cast, &casts[0]):
		return "digits"
	case lostAtEnd(&o.cast, &casts[0]):
		return "end"
	}
	i := 0
	for i < len(damaged) && i < len(o.data) && damaged[i] == o.data[i] {
		i++
	}
	t.Errorf("%s passes in silence: from byte %d %q", where, i, damaged[max(0, i-40):min(len(damaged), i+60)])
	return "silent"
}

// TestCorruptedBundles damages zip bundles of casts: each gives an error, a finding, or the same casts.
func TestCorruptedBundles(t *testing.T) {
	n, seed := *damagedCasts/4, *damageSeed
	files := originals(t)
	outcome := map[string]int{}
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		from := r.IntN(len(files) - 3)
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		for _, o := range files[from : from+3] {
			w, err := z.Create(o.name)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := w.Write(o.data); err != nil {
				t.Fatal(err)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		good := b.Bytes()
		d := bundleCorruptions[i%len(bundleCorruptions)]
		bad := d.do(r, bytes.Clone(good), nil)
		was, before, err := ingest.ReadZip(good, "a_ct1.zip", ingest.Options{Aliases: demoAliases})
		if err != nil {
			t.Fatal(err)
		}
		now, after, err := ingest.ReadZip(bad, "a_ct1.zip", ingest.Options{Aliases: demoAliases})
		switch same := len(was) == len(now) && !slices.ContainsFunc(was, func(c section.Cast) bool {
			return !slices.ContainsFunc(now, func(k section.Cast) bool { return sameCast(&c, &k) && sameText(&c, &k) })
		}); {
		case err != nil:
			outcome["error"]++
			for _, e := range metadata.Parts(err) {
				if in := (*metadata.InputError)(nil); !errors.As(e, &in) || in.File == "" || in.Advice() == "" {
					t.Errorf("%d, %s: an error without a place or a remedy: %v", i, d.name, e)
				}
			}
		case same:
			outcome["same"]++
		case more(kinds(before), after):
			outcome["finding"]++
		default:
			t.Errorf("%d, %s passes in silence: %d casts, then %d", i, d.name, len(was), len(now))
		}
	}
	t.Logf("%v", outcome)
}

// bundleCorruptions damage zip archives.
var bundleCorruptions = []corruption{
	{"bits flipped", func(r *rand.Rand, b, _ []byte) []byte { return flip(r, b, 1+r.IntN(8)) }},
	{"cut off", func(r *rand.Rand, b, _ []byte) []byte { return b[:r.IntN(len(b))] }},
	{"a block of zeros", func(r *rand.Rand, b, _ []byte) []byte {
		at := r.IntN(len(b))
		clear(b[at:min(len(b), at+512)])
		return b
	}},
	{"blocks exchanged", func(r *rand.Rand, b, _ []byte) []byte {
		i, j := r.IntN(len(b)/1024)*512, len(b)/2+r.IntN(len(b)/1024)*512
		x := bytes.Clone(b[i : i+256])
		copy(b[i:], b[j:min(len(b), j+256)])
		copy(b[j:], x)
		return b
	}},
	{"text as of another system", func(_ *rand.Rand, b, _ []byte) []byte {
		return bytes.ReplaceAll(b, []byte("\n"),
			[]byte("\r\n"))
	}},
	{"a checksum changed", func(r *rand.Rand, b, _ []byte) []byte {
		at := bytes.Index(b, []byte("PK\x01\x02"))
		b[at+16+r.IntN(4)] ^= 1 << r.IntN(8)
		return b
	}},
	{"a name changed", func(r *rand.Rand, b, _ []byte) []byte {
		at := bytes.LastIndex(b, []byte("_ct1.csv"))
		b[at+r.IntN(8)] ^= 1 << r.IntN(5)
		return b
	}},
	{"doubled", func(_ *rand.Rand, b, _ []byte) []byte { return append(bytes.Clone(b), b...) }},
	{"members cut, with good checksums", func(r *rand.Rand, b, _ []byte) []byte {
		return remade(b, func(text []byte) []byte { return text[:len(text)/2] })
	}},
}

// remade returns a zip archive with its members changed.
func remade(b []byte, change func([]byte) []byte) []byte {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, m := range z.File {
		r, err := m.Open()
		if err != nil {
			return nil
		}
		text, _ := io.ReadAll(r)
		to, err := w.Create(m.Name)
		if err != nil {
			return nil
		}
		to.Write(change(text)) //nolint:errcheck // into memory
	}
	w.Close() //nolint:errcheck // into memory
	return out.Bytes()
}

// flip flips n bits.
func flip(r *rand.Rand, b []byte, n int) []byte {
	for range n {
		b[r.IntN(len(b))] ^= 1 << r.IntN(8)
	}
	return b
}
