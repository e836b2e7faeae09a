package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// damages are what copying, editing and bad disks do to a file. grammatical says that the result may be another valid
// file, which no reader can tell from a true one: that is what the recorded checksums of the inputs are for.
var damages = []struct {
	name        string
	grammatical bool
	damage      func(r *rand.Rand, b []byte) []byte
}{
	{"cut off", false, func(r *rand.Rand, b []byte) []byte { return b[:r.IntN(len(b))] }},
	{"bytes zeroed", false, func(r *rand.Rand, b []byte) []byte {
		i := r.IntN(len(b))
		clear(b[i:min(len(b), i+1+r.IntN(512))])
		return b
	}},
	{"lines joined", false, func(r *rand.Rand, b []byte) []byte {
		i := lineEnd(r, b)
		return append(b[:i], b[i+1:]...)
	}},
	{"a comma put in", false, func(r *rand.Rand, b []byte) []byte {
		i := bytes.Index(b, []byte("\nDBAR")) + r.IntN(len(b)/2)
		return append(b[:i:i], append([]byte{','}, b[i:]...)...)
	}},
	{"utf-16", false, func(r *rand.Rand, b []byte) []byte {
		out := []byte{0xff, 0xfe}
		for _, c := range b {
			out = append(out, c, 0)
		}
		return out
	}},
	{"a byte above 127", false, func(r *rand.Rand, b []byte) []byte { b[r.IntN(len(b))] |= 0x80; return b }},
	{"line ends changed", false, func(r *rand.Rand, b []byte) []byte {
		return bytes.ReplaceAll(b, []byte("\n"),
			[]byte("\r\n"))
	}},
	{"lines swapped", true, func(r *rand.Rand, b []byte) []byte {
		l := bytes.SplitAfter(b, []byte("\n"))
		i, j := r.IntN(len(l)), r.IntN(len(l))
		l[i], l[j] = l[j], l[i]
		return bytes.Join(l, nil)
	}},
	{"lines left out", true, func(r *rand.Rand, b []byte) []byte {
		l := bytes.SplitAfter(b, []byte("\n"))
		i := r.IntN(len(l))
		return bytes.Join(append(l[:i:i], l[min(len(l), i+1+r.IntN(5)):]...), nil)
	}},
	{"a digit changed", true, func(r *rand.Rand, b []byte) []byte {
		for {
			if i := r.IntN(len(b)); b[i] >= '0' && b[i] <= '9' {
				b[i] = byte('0' + r.IntN(10))
				return b
			}
		}
	}},
}

// lineEnd returns the end of a line among the data: comments joined are a comment still.
func lineEnd(r *rand.Rand, b []byte) int {
	from := bytes.Index(b, []byte("\nDBAR")) + 1
	i := from + r.IntN(len(b)-from-1)
	return i + bytes.IndexByte(b[i:], '\n')
}

// whole returns all of a cast but its source and the widths of its columns.
func whole(c section.Cast) string {
	c.Source = metadata.Digest{}
	c.Columns = slices.Clone(c.Columns)
	for i := range c.Columns {
		c.Columns[i].Width = 0
	}
	return fmt.Sprintf("%+v", c)
}

// Of 1 000 damaged copies of demo casts each is refused with a place in the file, has a finding that the whole copy has
// not, or reads as the whole copy does; only grammatical changes may pass unseen.
func TestDamagedCopies(t *testing.T) {
	files, err := filepath.Glob("../testdata/cruise/casts/*_ct1.csv")
	if err != nil || len(files) == 0 {
		t.Fatal("no demo casts", err)
	}
	r := rand.New(rand.NewPCG(5, 6))
	refused, found, same, unseen := 0, 0, 0, 0
	for range 1000 {
		name := files[r.IntN(len(files))]
		good, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		was, before, err := Parse(good, name, Options{})
		if err != nil {
			continue // the demo's own damaged file
		}
		d := damages[r.IntN(len(damages))]
		bad := d.damage(r, bytes.Clone(good))
		now, after, err := Parse(bad, name, Options{})
		switch {
		case err != nil:
			refused++
			for _, e := range metadata.Parts(err) {
				var in *metadata.InputError
				if !errors.As(e, &in) || in.File != name || in.Line == 0 && len(bad) > 0 &&
					!bytes.Contains([]byte(in.Error()), []byte("no line but")) || in.Advice() == "" {
					t.Errorf("%s: error without a place or a remedy: %v", d.name, e)
				}
			}
			if now != nil {
				t.Errorf("%s: casts in spite of an error", d.name)
			}
		case describe(after, nil) != describe(before, nil):
			found++
		case whole(was[0]) == whole(now[0]):
			same++
		default:
			unseen++
			if !d.grammatical {
				i := 0
				for i < len(bad) && i < len(good) && bad[i] == good[i] {
					i++
				}
				t.Errorf("%s at byte %d of %s passes unseen: %q", d.name, i, name,
					bad[max(0, i-40):min(len(bad), i+40)])
			}
		}
	}
	t.Logf("%d refused, %d with findings, %d unchanged, %d grammatical", refused, found, same, unseen)
}
