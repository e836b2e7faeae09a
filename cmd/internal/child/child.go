// Package child reads NetCDF that nothing vouches for in a process of its own: the program itself under a hidden argument. A crash of the C
// library, endless work or a file made to fill the memory ends that process and becomes an error that says so.
package child

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"time"

	"github.com/castwright/castwright/ingest/ncprofile"
)

// Argument is the hidden first argument of the child.
const Argument = "--read-one-depth-grid"

// Limits of the child.
const (
	seconds = 60      // of processor time
	memory  = 4 << 30 // bytes of address space
	wait    = 120 * time.Second
	answer  = 512 << 20 // bytes of its answer
)

type request struct {
	Path                     string
	West, East, South, North float64
}

type reply struct {
	Grid  *ncprofile.DepthGrid
	Error string
}

// Serve is the whole of the child: it reads a request, limits itself, reads the grid and answers. It gives the exit code.
func Serve(in io.Reader, out io.Writer) int {
	var q request
	if err := gob.NewDecoder(in).Decode(&q); err != nil {
		return 2
	}
	if err := limit(memory, seconds); err != nil {
		return 3
	}
	var a reply
	var err error
	if a.Grid, err = ncprofile.ReadDepthGrid(q.Path, q.West, q.East, q.South, q.North); err != nil {
		a.Error = err.Error()
	}
	if err := gob.NewEncoder(out).Encode(&a); err != nil {
		return 1
	}
	return 0
}

// DepthGrid reads a grid of water depth in a child, see ncprofile.ReadDepthGrid. path is absolute and cleaned.
func DepthGrid(ctx context.Context, path string, west, east, south, north float64) (*ncprofile.DepthGrid, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	var q bytes.Buffer
	if err := gob.NewEncoder(&q).Encode(request{path, west, east, south, north}); err != nil {
		return nil, err
	}
	limited, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	cmd := exec.CommandContext(limited, self)
	cmd.Args = []string{os.Args[0], Argument}
	cmd.Stdin = &q
	cmd.Env = []string{"GOMAXPROCS=1", "GOTRACEBACK=none"}
	cmd.WaitDelay = 5 * time.Second
	out := &cut{most: answer}
	cmd.Stdout = out
	err = cmd.Run()
	var exit *exec.ExitError
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case limited.Err() != nil:
		return nil, fmt.Errorf("reading it took longer than %v; stopped", wait)
	case errors.As(err, &exit):
		return nil, fmt.Errorf("the process that read it ended by %s", exit.ProcessState)
	case err != nil:
		return nil, fmt.Errorf("the process that reads it cannot be started: %w", err)
	}
	var a reply
	if err := gob.NewDecoder(&out.Buffer).Decode(&a); err != nil {
		return nil, errors.New("the process that read it gave no answer")
	}
	if a.Error != "" {
		return nil, errors.New(a.Error)
	}
	if g := a.Grid; g == nil || len(g.Lon) < 2 || len(g.Lat) < 2 || len(g.DepthM) != len(g.Lon)*len(g.Lat) {
		return nil, errors.New("the process that read it gave no grid")
	}
	return a.Grid, nil
}

// cut keeps the first most bytes of what is written to it.
type cut struct {
	bytes.Buffer
	most int
}

func (c *cut) Write(b []byte) (int, error) {
	c.Buffer.Write(b[:max(0, min(len(b), c.most-c.Len()))])
	return len(b), nil
}
