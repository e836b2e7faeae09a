package main

import (
	"context"
	"errors"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// Exit codes of every command.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitRejected    = 3
	exitDifference  = 4
	exitInterrupted = 130
)

// exitHelp is the end of each help text.
const exitHelp = `EXIT STATUS
   0 done   1 failed   2 wrong usage   3 input rejected   4 verify found a difference   130 interrupted`

// A usageError is a command line that cannot be taken; hint is the corrected line or the next act.
type usageError struct{ msg, hint string }

func (e *usageError) Error() string { return e.msg }

// errRejected says that findings of severity error were printed and nothing was made.
var errRejected = errors.New("input rejected")

// errDifference says that verify printed faults.
var errDifference = errors.New("faults found")

// exitCode is the one place that turns an error into a code.
func exitCode(err error) int {
	var usage *usageError
	var input *metadata.InputError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &usage):
		return exitUsage
	case errors.Is(err, errDifference):
		return exitDifference
	case errors.Is(err, pipeline.ErrWrite):
		return exitFailed
	case errors.Is(err, errRejected), errors.As(err, &input):
		return exitRejected
	}
	return exitFailed
}
