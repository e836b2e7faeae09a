package pipeline_test

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
)

// inFile opens a NetCDF file for f.
func inFile(t *testing.T, path string, f func(nc.Reader, *nc.Schema)) {
	t.Helper()
	r, err := nc.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	f(r, r.Schema())
}

// texts reads a variable of words.
func texts(t *testing.T, path, name string) (words []string) {
	t.Helper()
	inFile(t, path, func(r nc.Reader, s *nc.Schema) {
		i := s.Var(name)
		if i < 0 {
			t.Fatalf("%s has no variable %s", path, name)
		}
		var err error
		if words, err = r.ReadText(i); err != nil {
			t.Fatal(err)
		}
		for k, w := range words {
			words[k] = strings.TrimRight(w, " ")
		}
	})
	return words
}

// text returns a text attribute of a variable, or of the file when name is empty.
func text(t *testing.T, path, name, attr string) (words string) {
	t.Helper()
	inFile(t, path, func(_ nc.Reader, s *nc.Schema) {
		if name == "" {
			words = s.Text(attr)
			return
		}
		i := s.Var(name)
		if i < 0 {
			t.Fatalf("%s has no variable %s", path, name)
		}
		words = s.Vars[i].Text(attr)
	})
	return words
}

// has reports whether a file has a variable.
func has(t *testing.T, path, name string) (yes bool) {
	t.Helper()
	inFile(t, path, func(_ nc.Reader, s *nc.Schema) { yes = s.Var(name) >= 0 })
	return yes
}

// A ncFile is the numbers of a file, read in one go: variables whole with fill values as NaN, and their totals.
type ncFile struct {
	values map[string][]float64
	shape  map[string][]int
	total  map[string]float64 // attribute of the variable
}

func readAll(t *testing.T, path string) ncFile {
	t.Helper()
	f := ncFile{map[string][]float64{}, map[string][]int{}, map[string]float64{}}
	inFile(t, path, func(r nc.Reader, s *nc.Schema) {
		for i := range s.Vars {
			if s.Vars[i].Type != nc.Double {
				continue
			}
			name, shape := s.Vars[i].Name, s.Shape(i)
			x := make([]float64, s.Len(i))
			if err := r.ReadFloat64(i, make([]int, len(shape)), shape, x); err != nil {
				t.Fatal(err)
			}
			for k, v := range x {
				if v == -9999 {
					x[k] = math.NaN()
				}
			}
			f.values[name], f.shape[name] = x, shape
			if v, ok := s.Vars[i].Attr("total").([]float64); ok && len(v) == 1 {
				f.total[name] = v[0]
			} else if v, ok := s.Vars[i].Attr("total").(float64); ok {
				f.total[name] = v
			}
		}
	})
	return f
}

// of returns a variable, which must be there.
func (f *ncFile) of(t *testing.T, name string) ([]float64, []int) {
	t.Helper()
	if f.values[name] == nil {
		t.Fatalf("no variable %s", name)
	}
	return f.values[name], f.shape[name]
}
