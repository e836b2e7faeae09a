//go:build unix

package pipeline_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// TestPipesAsInputs puts a named pipe, at whose other end nobody writes, in the place of every kind of input: each is
// refused, none is waited for.
func TestPipesAsInputs(t *testing.T) {
	const plan = "cruise: {id: p}\nfigures: none\nsections: [{name: line, stations: 1-2, grid: none, reference: {levels: l.csv}}]\n" +
		"casts: {sources: [casts/1_ct1.csv, casts/2_ct1.csv], bottles: [b_hy1.csv], station_table: s.csv, bathymetry: d.nc}\n"
	for _, pipe := range []string{"cruise.yaml", "casts/2_ct1.csv", "b_hy1.csv", "s.csv", "d.nc", "l.csv",
		"inputs.sha256"} {
		files := map[string]string{"cruise.yaml": plan, "s.csv": "station,cast,remark\n",
			"l.csv":           "station_a,station_b,pressure\n",
			"casts/1_ct1.csv": ctd("ZZTE20260501", "1", "1", "20260501", "0400", "60.0", "-20.0", "400", 40),
			"casts/2_ct1.csv": ctd("ZZTE20260501", "2", "1", "20260502", "0400", "60.1", "-20.0", "400", 40)}
		delete(files, pipe)
		dir := lay(t, files)
		if err := syscall.Mkfifo(filepath.Join(dir, filepath.FromSlash(pipe)), 0o600); err != nil {
			t.Fatal(err)
		}
		type answer struct {
			p   pipeline.Product
			err error
		}
		done := make(chan answer, 1)
		go func() {
			p, err := pipeline.Check(context.Background(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml")})
			done <- answer{p, err}
		}()
		select {
		case a := <-done:
			said := ""
			if a.err != nil {
				said = a.err.Error()
			}
			for _, f := range a.p.Findings {
				said += "\n" + f.Position.String() + ": " + f.Message
			}
			if !strings.Contains(said, "regular file") && !strings.Contains(said, "neither a file nor a folder") {
				t.Errorf("%s: %s", pipe, said)
			}
		case <-time.After(20 * time.Second):
			t.Errorf("%s: still waiting", pipe)
			// Whoever waits for the pipe is let go.
			if f, err := os.OpenFile(filepath.Join(dir, pipe), os.O_RDWR, 0); err == nil {
				f.Close()
			}
		}
	}
}
