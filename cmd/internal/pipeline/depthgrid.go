package pipeline

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"io"

	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/metadata"
)

// depthGridArgument is the hidden first argument by which the program starts itself to read a depth grid or what a
// section is compared with.
const depthGridArgument = "--read-one-depth-grid"

// depthGridAnswer bounds the child's answer, in bytes.
const depthGridAnswer = 512 << 20

type depthGridRequest struct {
	Path                     string
	West, East, South, North float64
	Reference                bool // not a grid of water depth but what a section is compared with
	Month                    int
	Others                   []metadata.Variable // further variables of what a section is compared with
}

type depthGridReply struct {
	Grid      *ncprofile.DepthGrid
	Reference *ncprofile.ReferenceField
	Error     string
}

// ServeChild answers in a process that the program started itself, under a hidden first argument, to read NetCDF; is
// says whether it was one.
func ServeChild(args []string, in io.Reader, out io.Writer) (code int, is bool) {
	if len(args) < 2 {
		return 0, false
	}
	switch args[1] {
	case profilesArgument:
		return serveProfiles(in, out), true
	case depthGridArgument:
		return serveDepthGrid(in, out), true
	}
	return 0, false
}

// serveDepthGrid is the whole of the child: it reads a request, limits itself, reads the grid and answers. It gives the
// exit code.
func serveDepthGrid(in io.Reader, out io.Writer) int {
	var q depthGridRequest
	if err := gob.NewDecoder(in).Decode(&q); err != nil {
		return 2
	}
	if err := child.Limit(child.Memory, child.Seconds); err != nil {
		return 3
	}
	var a depthGridReply
	var err error
	if q.Reference {
		a.Reference, err = ncprofile.ReadReference(q.Path, q.West, q.East, q.South, q.North, q.Month,
			q.Others)
	} else {
		a.Grid, err = ncprofile.ReadDepthGrid(q.Path, q.West, q.East, q.South, q.North)
	}
	if err != nil {
		a.Error = err.Error()
	}
	if err := gob.NewEncoder(out).Encode(&a); err != nil {
		return 1
	}
	return 0
}

// depthGrid reads a grid of water depth in a child, see ncprofile.ReadDepthGrid. path is absolute and cleaned.
func depthGrid(ctx context.Context, path string, west, east, south, north float64) (*ncprofile.DepthGrid, error) {
	a, err := askForGrid(ctx, depthGridRequest{Path: path, West: west, East: east, South: south, North: north})
	if err != nil {
		return nil, err
	}
	if g := a.Grid; g == nil || len(g.Lon) < 2 || len(g.Lat) < 2 || len(g.DepthM) != len(g.Lon)*len(g.Lat) {
		return nil, errors.New("the child process that read it returned no grid")
	}
	return a.Grid, nil
}

// askForGrid starts a child and returns its answer.
func askForGrid(ctx context.Context, request depthGridRequest) (*depthGridReply, error) {
	var q bytes.Buffer
	if err := gob.NewEncoder(&q).Encode(request); err != nil {
		return nil, err
	}
	answer, trouble, err := child.Run(ctx, child.Job{Argument: depthGridArgument, Request: &q, Most: depthGridAnswer})
	if err != nil {
		return nil, err
	}
	if trouble != "" {
		return nil, errors.New(trouble)
	}
	a := &depthGridReply{}
	if err := gob.NewDecoder(bytes.NewReader(answer)).Decode(a); err != nil {
		return nil, errors.New("the process that read it gave no answer")
	}
	if a.Error != "" {
		return nil, errors.New(a.Error)
	}
	return a, nil
}
