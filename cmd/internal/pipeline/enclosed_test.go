package pipeline

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// TestNamesStayInTheArchive gives the pipeline a cruise file as an archive may hold it, with names that lead out of the
// inputs in every key that names a file: nothing outside is read, and each is an error with its place. Names inside,
// and absolute ones below the root, are read.
func TestNamesStayInTheArchive(t *testing.T) {
	temp := t.TempDir()
	box := filepath.Join(temp, "box")
	here, root := filepath.Join(box, "here", "d"), filepath.Join(box, "root")
	cast, err := os.ReadFile("../../../testdata/example_ct1.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{filepath.Join(temp, "secret_ct1.csv"), filepath.Join(here, "casts", "a_ct1.csv"),
		filepath.Join(root, "data", "b_ct1.csv"),
		filepath.Join(box, "here", "c_ct1.csv")} {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, cast, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	try := func(text string) error {
		file := filepath.Join(here, "cruise.yaml")
		if err := os.WriteFile(file, []byte("cruise: {id: a}\n"+text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := Check(t.Context(), Plan{CruiseFile: file, Root: root})
		return err
	}
	for _, inside := range []string{"casts", "casts/*", "../c_ct1.csv", "/data/b_ct1.csv", "casts/../casts"} {
		if err := try("casts: {sources: [" + inside + "]}\n"); err != nil {
			t.Errorf("%s: %v", inside, err)
		}
	}
	for _, out := range []string{"../../..", "../../../secret_ct1.csv", "../../../*", "/../../secret_ct1.csv",
		"casts/../../../../secret_ct1.csv",
		`" ../../../"`, `"\t../../../secret_ct1.csv"`, `"\u00a0../../../secret_ct1.csv"`,
		`"[c]asts/../../../../secret_ct1.csv"`, `"../../../ "`} {
		for _, text := range []string{"casts: {sources: [" + out + "]}\n", "casts: {sources: [casts], bottles: [" +
			out + "]}\n",
			"casts: {sources: [casts], edits: [" + out + "]}\n", "casts: {sources: [casts], station_table: " + out +
				"}\n",
			"casts: {sources: [casts], bathymetry: " + out + "}\n",
			"casts: {sources: [casts]}\nsections: [{name: s, stations: 1, reference: {levels: " + out + "}}]\n"} {
			var in *metadata.InputError
			if err := try(text); !errors.As(err, &in) ||
				!strings.Contains(err.Error(), "leads out of the inputs of the archive") || in.Line == 0 {
				t.Errorf("%s: %v", text, err)
			}
		}
	}
}
