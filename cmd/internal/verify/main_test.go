package verify

import (
	"os"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// scratch is a folder for what several tests share.
var scratch string

// The test binary is its own child: NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == ChildArgument {
		os.Exit(Child(os.Stdin, os.Stdout))
	}
	if len(os.Args) > 1 && os.Args[1] == pipeline.DepthGridArgument {
		os.Exit(pipeline.ServeDepthGrid(os.Stdin, os.Stdout))
	}
	if len(os.Args) > 1 && os.Args[1] == ArchiveArgument {
		os.Exit(RecomputeChild(os.Stdin, os.Stdout))
	}
	dir, err := os.MkdirTemp("", "castwright-verify-test-")
	if err != nil {
		panic(err)
	}
	scratch = dir
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}
