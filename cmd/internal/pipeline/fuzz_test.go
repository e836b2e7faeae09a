//go:build cgo

package pipeline_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/ncprofile"
)

// Whatever the bytes of a NetCDF file, the reading ends with casts or with a reason. The C library reads it in a child
// process: a crash of the library is such a reason and ends neither this process nor the fuzzing.
func FuzzProfileBytes(f *testing.F) {
	dir := f.TempDir()
	for _, name := range []string{"profiles_orthogonal", "profiles_incomplete", "profiles_ragged"} {
		for _, kind := range []string{"classic", "nc4"} {
			out := filepath.Join(dir, "seed.nc")
			if b, err := exec.Command("ncgen", "-k", kind, "-o", out, "../cf/testdata/examples/"+name+
				".cdl").CombinedOutput(); err != nil {
				if kind == "classic" { // an example with types that the classic format lacks
					continue
				}
				f.Fatalf("ncgen (package netcdf-bin): %v\n%s", err, b)
			}
			data, err := os.ReadFile(out)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data, uint16(0), byte(0))
			f.Add(data, uint16(len(data)/3), byte(0xff))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, at uint16, change byte) {
		path := filepath.Join(t.TempDir(), "x.nc")
		if len(data) > 0 { // one byte more is changed, so that small inputs of the fuzzer keep most of a file
			data = append([]byte(nil), data...)
			data[int(at)%len(data)] ^= change
		}
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		// A file may take as long as the child may work: that is an end with a reason
		// too, and the fuzzer takes an input of 10 s for one that hangs.
		ctx, cancel := context.WithTimeout(context.Background(), 4*time.Second)
		defer cancel()
		casts, found, err := pipeline.ReadProfiles(ctx, path, ncprofile.Options{Name: "x.nc",
			Legs: []ingest.Leg{{Expocode: "ZZSM20260504"}}})
		switch {
		case err != nil && (len(casts) > 0 || err.Error() == "" || strings.Contains(err.Error(), path)):
			t.Errorf("%d casts beside %v", len(casts), err)
		case err == nil && len(casts) == 0 && len(found) == 0:
			t.Error("neither a cast nor a reason")
		}
	})
}
