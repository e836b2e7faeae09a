//go:build cgo && unix

package rebuild_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/rebuild"
)

// TestPipesInArchive puts a pipe that nobody writes to in the place of files of an archive: those that the archive is
// made from are refused, another differs, and none is waited for.
func TestPipesInArchive(t *testing.T) {
	archive := built(t)
	for _, c := range []struct {
		file   string
		differ bool
	}{{"bagit.txt", false}, {"bag-info.txt", false}, {"data/inputs/inputs.csv", false},
		{"data/inputs/inputs.zip", false},
		{"manifest-sha256.txt", true}, {"data/tables/stations.csv", true}, {"data/provenance/prov.json", true}} {
		a := moved(t, archive)
		pipe := filepath.Join(a, filepath.FromSlash(c.file))
		if err := os.Remove(pipe); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mkfifo(pipe, 0o644); err != nil {
			t.Fatal(err)
		}
		type result struct {
			r   rebuild.Result
			err error
		}
		done := make(chan result, 1)
		go func() {
			r, err := rebuild.Run(context.Background(), rebuild.Plan{Archive: a, Out: t.TempDir()})
			done <- result{r, err}
		}()
		select {
		case got := <-done:
			said := strings.Join(got.r.Differences, "\n")
			if got.err != nil {
				said = got.err.Error()
			}
			if c.differ != (got.err == nil) || c.differ != strings.Contains(said, c.file+": differs") {
				t.Errorf("%s: error %v, differences %v", c.file, got.err, got.r.Differences)
			}
		case <-time.After(60 * time.Second):
			t.Errorf("%s: still waiting", c.file)
			if f, err := os.OpenFile(pipe, os.O_RDWR, 0); err == nil { // lets go whoever waits
				f.Close()
			}
			<-done
		}
	}
}
