package pipeline_test

import (
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

// text gives a text attribute of a variable, or of the file when name is empty.
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

// has says whether a file has a variable.
func has(t *testing.T, path, name string) (yes bool) {
	t.Helper()
	inFile(t, path, func(_ nc.Reader, s *nc.Schema) { yes = s.Var(name) >= 0 })
	return yes
}
