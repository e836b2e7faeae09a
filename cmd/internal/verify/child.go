package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/metadata"
)

// ChildArgument is the hidden first argument by which the program starts itself to hold one NetCDF file to the rules of CF.
const ChildArgument = "--judge-one-netcdf-file"

// childAnswer bounds the child's answer, in bytes.
const childAnswer = 64 << 20

// A childRequest is what the parent asks on the child's standard input.
type childRequest struct {
	Path, Name string
	Ours       bool
	Seconds    int   `json:",omitempty"` // limits, when not those above
	Memory     int64 `json:",omitempty"`
}

// A childAnswer comes back on its standard output.
type childReply struct {
	Findings []childFinding
	Error    string // the file cannot be opened
}

type childFinding struct {
	Severity                 uint8
	Check, Variable, Message string
}

// Child is the whole of the child process: it reads a request, limits itself, judges the file and answers. It gives the exit code.
func Child(in io.Reader, out io.Writer) int {
	var q childRequest
	if err := json.NewDecoder(in).Decode(&q); err != nil {
		return 2
	}
	seconds, memory := child.Seconds, int64(child.Memory)
	if q.Seconds > 0 {
		seconds = q.Seconds
	}
	if q.Memory > 0 {
		memory = q.Memory
	}
	if err := child.Limit(memory, seconds); err != nil {
		return 3
	}
	var a childReply
	f, err := openNC(q.Path)
	if err != nil {
		a.Error = err.Error()
	} else {
		for _, x := range checkCF(f, q.Name, q.Ours) {
			a.Findings = append(a.Findings, childFinding{uint8(x.Severity), x.Check, x.Variable, x.Message})
		}
		for i := range f.s.Vars { // what is compared later is read once within the limits
			if err := f.read(i); err != nil && a.Error == "" {
				a.Findings = append(a.Findings, childFinding{uint8(metadata.Failure), "netcdf.read", f.s.Vars[i].Name,
					"cannot be read: " + strings.ReplaceAll(err.Error(), q.Path, q.Name)})
			}
		}
		f.close()
	}
	if err := json.NewEncoder(out).Encode(&a); err != nil {
		return 1
	}
	return 0
}

// judgeInChild holds a file to the rules of CF, in a process of its own.
func judgeInChild(ctx context.Context, self string, q childRequest) ([]metadata.Finding, error) {
	request, err := json.Marshal(&q)
	if err != nil {
		return nil, err
	}
	answer, trouble, err := child.Run(ctx, child.Job{Self: self, Argument: ChildArgument, Request: request, Most: childAnswer})
	if err != nil {
		return nil, err
	}
	crash := func(format string, a ...any) []metadata.Finding {
		return []metadata.Finding{{Position: metadata.Position{File: q.Name}, Severity: metadata.Failure, Check: "netcdf.read", Message: fmt.Sprintf(format, a...),
			Remedy: "do not open this file with other programs; take a good copy of it"}}
	}
	if trouble != "" {
		return crash("%s", trouble), nil
	}
	var a childReply
	if err := json.Unmarshal(answer, &a); err != nil {
		return crash("the process that read it gave no answer: %v", err), nil
	}
	if a.Error != "" {
		return []metadata.Finding{{Position: metadata.Position{File: q.Name}, Severity: metadata.Failure, Check: "netcdf.read", Message: "cannot be opened: " +
			strings.ReplaceAll(a.Error, q.Path, q.Name), Remedy: "is it NetCDF at all, and whole?"}}, nil
	}
	var out []metadata.Finding
	for _, x := range a.Findings {
		out = append(out, metadata.Finding{Position: metadata.Position{File: q.Name}, Severity: metadata.Severity(min(x.Severity, uint8(metadata.Failure))),
			Check: x.Check, Variable: x.Variable, Message: x.Message})
	}
	return out, nil
}
