package main

import (
	"io"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/verify"
)

// readChild answers when the program was started by itself, under a hidden first argument, to read NetCDF files.
func readChild(args []string, in io.Reader, out io.Writer) (code int, is bool) {
	if len(args) < 2 {
		return 0, false
	}
	switch args[1] {
	case verify.ChildArgument:
		return verify.Child(in, out), true
	case verify.ArchiveArgument:
		return verify.RecomputeChild(in, out), true
	case pipeline.ProfilesArgument:
		return pipeline.ServeProfiles(in, out), true
	case pipeline.DepthGridArgument:
		return pipeline.ServeDepthGrid(in, out), true
	}
	return 0, false
}
