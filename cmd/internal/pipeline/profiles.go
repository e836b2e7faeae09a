package pipeline

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"io"
	"path/filepath"
	"strings"

	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// profilesArgument is the hidden first argument by which the program starts itself to read the casts of a NetCDF file.
const profilesArgument = "--read-profiles"

// profilesAnswer bounds the child's answer, in bytes.
const profilesAnswer = 1 << 30

type profilesRequest struct {
	Path    string
	Options ncprofile.Options
}

type profilesReply struct {
	Casts []section.Cast
	Found []metadata.Finding
	Error string
}

// serveProfiles is the whole of the child: it reads a request, limits itself, reads the casts and answers. It returns
// the exit code.
func serveProfiles(in io.Reader, out io.Writer) int {
	var q profilesRequest
	if err := gob.NewDecoder(in).Decode(&q); err != nil {
		return 2
	}
	if err := child.Limit(child.Memory, child.Seconds); err != nil {
		return 3
	}
	var a profilesReply
	var err error
	if a.Casts, a.Found, err = ncprofile.ReadProfiles(q.Path, q.Options); err != nil {
		a.Error = err.Error()
	}
	if err := gob.NewEncoder(out).Encode(&a); err != nil {
		return 1
	}
	return 0
}

// isProfiles reports whether an input is NetCDF, by its ending.
func isProfiles(in *ingest.Input) bool { return strings.EqualFold(filepath.Ext(in.Name), ".nc") }

// profiles reads the casts of a NetCDF file in a child.
func (w *inputs) profiles(ctx context.Context, in *ingest.Input) ([]section.Cast, []metadata.Finding, error) {
	fail := func(err error) ([]section.Cast, []metadata.Finding, error) {
		return nil, nil, &metadata.InputError{Position: metadata.Position{File: in.Name}, Err: err,
			Remedy:  "give a CF file of profiles",
			Options: []metadata.Option{{Text: "leave the file out", Paste: metadata.LeaveOutFile(in.Name, "...")}}}
	}
	path := w.at(in.Name)
	sum, n, err := regular.Sum(ctx, path)
	if err != nil {
		return fail(err)
	}
	casts, found, err := ReadProfiles(ctx, path, ncprofile.Options{Name: in.Name, Legs: declaredLegs(w.cruise)})
	switch {
	case ctx.Err() != nil:
		return nil, nil, ctx.Err()
	case err != nil:
		return fail(err)
	}
	for i := range casts {
		casts[i].Source = metadata.Digest{Name: in.Name, SHA256: sum, Bytes: n}
	}
	return casts, found, nil
}

// ReadProfiles reads the casts of a NetCDF file in a child. path is absolute and cleaned.
func ReadProfiles(ctx context.Context, path string, o ncprofile.Options) ([]section.Cast, []metadata.Finding, error) {
	var q bytes.Buffer
	if err := gob.NewEncoder(&q).Encode(profilesRequest{path, o}); err != nil {
		return nil, nil, err
	}
	answer, trouble, err := child.Run(ctx, child.Job{Argument: profilesArgument, Request: &q, Most: profilesAnswer})
	if err != nil {
		return nil, nil, err
	}
	if trouble != "" {
		return nil, nil, errors.New(trouble)
	}
	var a profilesReply
	if err := gob.NewDecoder(bytes.NewReader(answer)).Decode(&a); err != nil {
		return nil, nil, errors.New("the process that read it gave no answer")
	}
	if a.Error != "" {
		return nil, nil, errors.New(strings.ReplaceAll(a.Error, path, o.Name))
	}
	for i := range a.Casts {
		c := &a.Casts[i]
		if pres := c.Column("pres"); pres != nil {
			c.PressureDbar = pres.Values
		}
		if err := c.Validate(); err != nil {
			return nil, nil, err
		}
	}
	return a.Casts, a.Found, nil
}
