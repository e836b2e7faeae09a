package main

import (
	"context"
	"errors"
	"slices"

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

// exitHelp returns the end of a help text: the exit codes that the command can return; of all commands together when
// name is "".
func exitHelp(name string) string {
	codes := "0 done   1 failed   2 wrong usage"
	if !slices.Contains([]string{"version", "help", "completion", "man"}, name) {
		codes += "   3 input rejected"
		switch name {
		case "":
			codes += "   4 verify, rebuild, compare or unbundle found a difference"
		case "verify":
			codes += "   4 faults found"
		case "unbundle":
			codes += "   4 not the same bytes as the sender's"
		case "compare":
			codes += "   4 the archives differ"
		case "rebuild":
			codes += "   4 not the same bytes"
		}
		codes += "   130 interrupted"
	}
	return "EXIT STATUS\n   " + codes + "\n"
}

// A usageError is a command line that cannot be taken; hint is the corrected line or the next act.
type usageError struct{ msg, hint string }

func (e *usageError) Error() string { return e.msg }

// errRejected says that findings of severity error were printed and nothing was made.
var errRejected = errors.New("input rejected")

// errDifference says that faults or differences were printed.
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
	case errors.Is(err, pipeline.ErrWrite), pipeline.OfThisMachine(err):
		return exitFailed
	case errors.Is(err, errRejected), errors.As(err, &input):
		return exitRejected
	}
	return exitFailed
}
