// Package checkvalues reads the published numbers in testdata/checkvalues; its README there names the source of each
// table. It is imported by tests only.
//
//	for _, row := range checkvalues.Table(t, "rossby_checks.csv") { ... row["lat"] ... }
package checkvalues

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"
)

// Table returns the rows of a table by the names of its columns. A table that is not there, cannot be read or is empty
// fails the test.
func Table(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(root(t), "testdata", "checkvalues", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%s: no rows", name)
	}
	rows := make([]map[string]string, 0, len(all)-1)
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, head := range all[0] {
			row[head] = r[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// root is the repository: the nearest folder above the package under test that holds go.mod.
func root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the package under test")
		}
		dir = up
	}
}
