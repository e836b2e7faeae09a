package pipeline

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/castwright/castwright/internal/filebacked"
	"github.com/castwright/castwright/metadata"
)

// run is what every step of a run has: the plan, and what is found on the way.
type run struct {
	plan     *Plan
	findings []metadata.Finding
	machine  error            // why inputs could not be read that are not at fault
	values   *filebacked.File // of casts, velocities and grids; nil: in the heap
}

func (w *run) find(f ...metadata.Finding) { w.findings = append(w.findings, f...) }

// fault makes findings of severity error of an error about inputs.
func (w *run) fault(err error, check string) {
	for _, e := range metadata.Parts(err) {
		if OfThisMachine(e) {
			var in *metadata.InputError
			if errors.As(e, &in) { // what it advises is for a fault of the file
				e = fmt.Errorf("%s: %w", in.Position, in.Err)
			}
			w.machine = errors.Join(w.machine, e)
			continue
		}
		f := metadata.Finding{Severity: metadata.Failure, Check: check, Message: e.Error()}
		var input *metadata.InputError
		if errors.As(e, &input) {
			f.Position, f.Message, f.Remedy, f.Options = input.Position, input.Err.Error(), input.Remedy, input.Options
		}
		w.find(f)
	}
}

// stage measures a stage of the run: the function that it returns ends the stage and reports its time to the plan.
func (w *run) stage(name string) func() {
	if w.plan.Stage == nil {
		return func() {}
	}
	began := time.Now()
	return func() { w.plan.Stage(name, time.Since(began)) }
}

// file reports a file to the plan.
func (w *run) file(what, name string) {
	if w.plan.File != nil {
		w.plan.File(what, name)
	}
}

func (w *run) failed() bool {
	return slices.ContainsFunc(w.findings, func(f metadata.Finding) bool { return f.Severity == metadata.Failure })
}
