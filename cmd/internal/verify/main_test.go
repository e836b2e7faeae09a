package verify

import (
	"os"
	"testing"
)

// scratch is a folder for what several tests share.
var scratch string

// The test binary is its own child: strange NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == ChildArgument {
		os.Exit(Child(os.Stdin, os.Stdout))
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
