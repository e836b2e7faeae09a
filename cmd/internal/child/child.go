// Package child runs this program in a process of its own to read NetCDF that this program has not just written. A
// crash of the C library, endless work or a file made to fill the memory ends that process and becomes a message about
// the file. The caller decides what is read there: it sends a request, and in the child calls Limit before it opens
// anything.
package child

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"time"
)

// Limits of a child. A file of a few GB from elsewhere is still read; one made to fill the memory or to take for ever
// is not. Memory, the bytes of address space, is in a file of its own.
const (
	Seconds = 60 // of processor time
	wait    = 120 * time.Second
	words   = 4 << 10 // bytes of what it says on stderr
)

// A Job is one request to a child.
type Job struct {
	Self     string    // program to start; "": this one
	Argument string    // its one argument
	Request  io.Reader // its standard input
	Most     int       // bytes of its answer
	Whole    bool      // the work of a whole command: no limit of time, and the environment of this process
	Temp     string    // folder for its temporary files, of a whole command
}

// Run starts a child and waits for its answer. trouble says how a child ended that did not answer; what it wrote before
// is returned with it. That is a fault of the file, not of this program. The error is for a child that cannot be
// started, and for ctx.
func Run(ctx context.Context, j Job) (answer []byte, trouble string, err error) {
	self := j.Self
	if self == "" {
		if self, err = os.Executable(); err != nil { // there is no /proc
			if self, err = exec.LookPath(os.Args[0]); err != nil {
				return nil, "",
					fmt.Errorf("the process that reads NetCDF cannot be started, and /proc is not mounted: %w", err)
			}
		}
	}
	limited, cancel := context.WithTimeout(ctx, wait)
	env := []string{"GOMAXPROCS=1", "GOTRACEBACK=none"}
	if j.Whole {
		cancel()
		limited, cancel = context.WithCancel(ctx)
		env = append(os.Environ(), "GOTRACEBACK=none", "TMPDIR="+j.Temp)
	}
	defer cancel()
	cmd := exec.CommandContext(limited, self)
	cmd.Args = []string{os.Args[0], j.Argument} // a program that is called by several names starts under the same one
	cmd.Stdin = j.Request
	cmd.Env = env
	dieWithParent(cmd)
	out, said := &cut{most: j.Most}, &cut{most: words}
	cmd.Stdout, cmd.Stderr = out, said
	cmd.WaitDelay = 5 * time.Second
	runtime.LockOSThread() // the child ends with the thread that started it
	err = cmd.Run()
	runtime.UnlockOSThread()
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return nil, "", ctx.Err()
	case limited.Err() != nil:
		return nil, fmt.Sprintf("reading it took longer than %v; stopped", wait), nil
	case errors.As(err, &exit):
		first, _, _ := strings.Cut(strings.TrimSpace(said.String()), "\n")
		if first != "" {
			first = ": " + first
		}
		return out.Bytes(), fmt.Sprintf("the process that read it ended by %s%s", exit.ProcessState, first), nil
	case err != nil:
		return nil, "", fmt.Errorf("the process that reads NetCDF cannot be started: %w", err)
	case out.over:
		return nil, fmt.Sprintf("the process that read it answered with more than %d bytes", j.Most), nil
	}
	return out.Bytes(), "", nil
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
