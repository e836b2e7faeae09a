package draft

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
)

// FuzzDraft drafts a folder of one file: no panic, and what is written is YAML that the reader of cruise files accepts,
// but for what is to be filled in.
func FuzzDraft(f *testing.F) {
	files, err := filepath.Glob("../../testdata/layouts/*/*")
	if err != nil || len(files) < 20 {
		f.Fatalf("%v, %d files", err, len(files))
	}
	for i, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		if i%3 == 0 && filepath.Ext(name) != ".go" {
			f.Add(data[:min(len(data), 1200)])
		}
	}
	marked := regexp.MustCompile(`  # fill in: .*`)
	f.Fuzz(func(t *testing.T, data []byte) {
		d := &drafter{dir: ".", reasons: map[string]string{}}
		text, used, err := ingest.DecodeText(data, ingest.EncodingFound)
		if err != nil {
			return
		}
		x := &file{name: "x1.txt", data: data, used: used, table: findTable(string(text))}
		if x.table == nil {
			return
		}
		x.table.decide()
		if x.table.axis() < 0 {
			return
		}
		x.readHead()
		d.group([]*file{x})
		d.readAll()
		if len(d.casts) == 0 {
			return
		}
		d.write()
		_, _, err = cruisefile.Read(marked.ReplaceAll(d.out.Text, nil), "cruise.yaml")
		if err != nil && regexp.MustCompile(`not valid YAML|has no key|means`).MatchString(err.Error()) {
			t.Errorf("%v\n%s", err, d.out.Text)
		}
	})
}
