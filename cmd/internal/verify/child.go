package verify

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/castwright/castwright/cmd/internal/cf"
	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// childArgument is the hidden first argument by which the program starts itself to check NetCDF files against the
// rules of CF.
const childArgument = "--check-netcdf-files"

// ServeChild answers in a process that the program started itself, under a hidden first argument, to read NetCDF or
// to compute again; is says whether it was one.
func ServeChild(args []string, in io.Reader, out io.Writer) (code int, is bool) {
	if len(args) > 1 {
		switch args[1] {
		case childArgument:
			return checkChild(in, out), true
		case archiveArgument:
			return recomputeChild(in, out), true
		}
	}
	return pipeline.ServeChild(args, in, out)
}

// childAnswer bounds the child's answer, in bytes.
const childAnswer = 64 << 20

// A childRequest is what the parent asks on the child's standard input.
type childRequest struct {
	Files   []childFile
	Seconds int   `json:",omitempty"` // limits, when not those of package child
	Memory  int64 `json:",omitempty"`
}

type childFile struct {
	Path, Name string
	Ours       bool
}

// A childReply comes back on its standard output, one for each file in their order.
type childReply struct {
	Findings []childFinding
	Error    string // the file cannot be opened
}

type childFinding struct {
	Severity                 uint8
	Check, Variable, Message string
}

// checkChild is the whole of the child process: it reads a request, limits itself, checks the files and answers. It
// returns the exit code.
func checkChild(in io.Reader, out io.Writer) int {
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
	answers := json.NewEncoder(out)
	for _, x := range q.Files {
		if err := answers.Encode(x.check()); err != nil {
			return 1
		}
	}
	return 0
}

// check opens a file and checks it against the rules of CF.
func (x *childFile) check() *childReply {
	var a childReply
	f, err := nc.OpenFile(x.Path)
	if err != nil {
		a.Error = err.Error()
		return &a
	}
	defer f.Close()
	for _, c := range cf.Check(f, x.Name, x.Ours) {
		a.Findings = append(a.Findings, childFinding{uint8(c.Severity), c.Check, c.Variable, c.Message})
	}
	for i := range f.Vars { // what is compared later is read once within the limits
		if err := f.Try(i); err != nil && a.Error == "" {
			a.Findings = append(a.Findings, childFinding{uint8(metadata.Failure), "netcdf.read", f.Vars[i].Name,
				"cannot be read: " + strings.ReplaceAll(err.Error(), x.Path, x.Name)})
		}
	}
	return &a
}

// checkInChild checks files against the rules of CF in a process of its own, and returns the findings of each. Files
// that got no answer since that process ended before, which another file may have caused, are each given a process of
// their own.
func checkInChild(ctx context.Context, self string, q childRequest) ([][]metadata.Finding, error) {
	request, err := json.Marshal(&q)
	if err != nil {
		return nil, err
	}
	answer, trouble,
		err := child.Run(ctx, child.Job{Self: self, Argument: childArgument, Request: bytes.NewReader(request),
		Most: childAnswer})
	if err != nil {
		return nil, err
	}
	out := make([][]metadata.Finding, 0, len(q.Files))
	answers := json.NewDecoder(bytes.NewReader(answer))
	for len(out) < len(q.Files) {
		var a childReply
		if err = answers.Decode(&a); err != nil {
			break
		}
		out = append(out, a.findings(&q.Files[len(out)]))
	}
	if len(out) == len(q.Files) && trouble == "" {
		return out, nil
	}
	if len(q.Files) == 1 {
		if trouble == "" {
			trouble = fmt.Sprintf("the process that read it gave no answer: %v", err)
		}
		return [][]metadata.Finding{{{Position: metadata.Position{File: q.Files[0].Name}, Severity: metadata.Failure,
			Check: "netcdf.read", Message: trouble,
			Remedy: "do not open this file with other programs; take a good copy of it"}}}, nil
	}
	for _, x := range q.Files[len(out):] {
		alone := q
		alone.Files = []childFile{x}
		found, err := checkInChild(ctx, self, alone)
		if err != nil {
			return nil, err
		}
		out = append(out, found...)
	}
	return out, nil
}

// findings returns the answer about a file as findings.
func (a *childReply) findings(x *childFile) []metadata.Finding {
	at := metadata.Position{File: x.Name}
	if a.Error != "" {
		return []metadata.Finding{{Position: at, Severity: metadata.Failure, Check: "netcdf.read",
			Message: "cannot be opened: " +
				strings.ReplaceAll(a.Error, x.Path, x.Name), Remedy: "is it NetCDF at all, and whole?"}}
	}
	var out []metadata.Finding
	for _, c := range a.Findings {
		out = append(out,
			metadata.Finding{Position: at, Severity: metadata.Severity(min(c.Severity, uint8(metadata.Failure))),
				Check: c.Check, Variable: c.Variable, Message: c.Message})
	}
	return out
}
