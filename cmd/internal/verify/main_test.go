package verify

import (
	"os"
	"testing"
)

// scratch is a folder for what several tests share.
var scratch string

// The test binary is its own child: NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if code, is := ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
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
