package verify

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
)

// ChildArgument is the hidden first argument by which the program starts itself to look at a NetCDF file that nothing vouches for.
const ChildArgument = "--judge-one-netcdf-file"

// Limits of the child. A strange file of a few GB is still judged; one made to fill a memory or to turn for ever is not.
const (
	childSeconds = 60 // of processor time
	childWait    = 120 * time.Second
	childAnswer  = 64 << 20 // bytes of its answer
	childWords   = 4 << 10  // bytes of what it says on stderr
)

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
	seconds, memory := childSeconds, int64(childMemory)
	if q.Seconds > 0 {
		seconds = q.Seconds
	}
	if q.Memory > 0 {
		memory = q.Memory
	}
	if err := limit(memory, seconds); err != nil {
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
		f.close()
	}
	if err := json.NewEncoder(out).Encode(&a); err != nil {
		return 1
	}
	return 0
}

// judgeInChild holds a file that nothing vouches for to the rules of CF, in a process of its own.
func judgeInChild(ctx context.Context, self string, q childRequest) ([]metadata.Finding, error) {
	if self == "" {
		var err error
		if self, err = os.Executable(); err != nil {
			return nil, err
		}
	}
	request, err := json.Marshal(&q)
	if err != nil {
		return nil, err
	}
	wait, cancel := context.WithTimeout(ctx, childWait)
	defer cancel()
	cmd := exec.CommandContext(wait, self)
	cmd.Args = []string{os.Args[0], ChildArgument} // a program that goes by several names is to know itself
	cmd.Stdin = bytes.NewReader(request)
	cmd.Env = []string{"GOMAXPROCS=1", "GOTRACEBACK=none"}
	answer, words := &cut{most: childAnswer}, &cut{most: childWords}
	cmd.Stdout, cmd.Stderr = answer, words
	cmd.WaitDelay = 5 * time.Second
	runErr := cmd.Run()
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	crash := func(format string, a ...any) []metadata.Finding {
		return []metadata.Finding{{Position: metadata.Position{File: q.Name}, Severity: metadata.Failure, Check: "netcdf.read", Message: fmt.Sprintf(format, a...),
			Remedy: "do not open this file with other programs; take a good copy of it"}}
	}
	var a childReply
	switch {
	case wait.Err() != nil:
		return crash("reading it took longer than %v; stopped", childWait), nil
	case runErr != nil:
		var exit *exec.ExitError
		if !errors.As(runErr, &exit) {
			return nil, fmt.Errorf("the child process that reads NetCDF cannot be started: %w", runErr)
		}
		said, _, _ := strings.Cut(strings.TrimSpace(words.String()), "\n")
		if said != "" {
			said = ": " + said
		}
		return crash("the process that read it ended by %s%s", exit.ProcessState, said), nil
	case answer.over:
		return crash("it has more faults than are taken"), nil
	}
	if err := json.Unmarshal(answer.Bytes(), &a); err != nil {
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

// cut keeps the first most bytes of what is written to it.
type cut struct {
	bytes.Buffer
	most int
	over bool
}

func (c *cut) Write(b []byte) (int, error) {
	if room := c.most - c.Len(); len(b) > room {
		c.over = true
		c.Buffer.Write(b[:max(room, 0)])
		return len(b), nil
	}
	return c.Buffer.Write(b)
}
