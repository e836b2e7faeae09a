// Package child runs this program in a process of its own to read NetCDF that nothing vouches for. A crash of the C library, endless work or a
// file made to fill the memory ends that process and becomes words about the file. What is read there is the caller's business: it sends a
// request, and in the child calls Limit before it opens anything.
package child

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"time"
)

// Limits of a child. A strange file of a few GB is still read; one made to fill a memory or to turn for ever is not. Memory, the bytes of address
// space, is in a file of its own.
const (
	Seconds = 60 // of processor time
	wait    = 120 * time.Second
	words   = 4 << 10 // bytes of what it says on stderr
)

// Run starts self ("": this program) with the one argument, gives it the request on its standard input, and waits for its answer of at most most
// bytes. trouble says what became of a child that did not answer well: that is a fault of the file, not of this program. The error is for a child
// that cannot be started, and for ctx.
func Run(ctx context.Context, self, argument string, request []byte, most int) (answer []byte, trouble string, err error) {
	if self == "" {
		if self, err = os.Executable(); err != nil {
			return nil, "", err
		}
	}
	limited, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	cmd := exec.CommandContext(limited, self)
	cmd.Args = []string{os.Args[0], argument} // a program that goes by several names is to know itself
	cmd.Stdin = bytes.NewReader(request)
	cmd.Env = []string{"GOMAXPROCS=1", "GOTRACEBACK=none"}
	out, said := &cut{most: most}, &cut{most: words}
	cmd.Stdout, cmd.Stderr = out, said
	cmd.WaitDelay = 5 * time.Second
	err = cmd.Run()
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
		return nil, fmt.Sprintf("the process that read it ended by %s%s", exit.ProcessState, first), nil
	case err != nil:
		return nil, "", fmt.Errorf("the process that reads NetCDF cannot be started: %w", err)
	case out.over:
		return nil, fmt.Sprintf("the process that read it answered with more than %d bytes", most), nil
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
