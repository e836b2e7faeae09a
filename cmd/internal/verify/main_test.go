package verify

import (
	"os"
	"testing"
)

// The test binary is its own child: strange NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == ChildArgument {
		os.Exit(Child(os.Stdin, os.Stdout))
	}
	os.Exit(m.Run())
}
