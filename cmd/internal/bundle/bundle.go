// Package bundle makes small parcels of an archive for a slow link and opens them again. A parcel to look at holds a
// page, documents, tables and as much of the figures as the byte budget allows. A parcel of changes holds what a
// receiver who has an earlier archive needs to build the new one. Either is sent in parts, each with its checksum.
package bundle

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/cmd/internal/compare"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// A Plan says what to pack.
type Plan struct {
	Archive string
	Since   string    // the archive that the receiver has: a parcel of changes; "": a parcel to look at
	Look    bool      // with Since: a parcel to look at, of what changed
	Out     string    // folder for the parts
	Max     int64     // most bytes of all parts together of a parcel to look at; 0: no limit
	Part    int64     // most bytes of a part; 0: one part
	To      string    // who receives the parcel
	Now     time.Time // for an embargo
}

// A Kind says what a parcel is for.
type Kind string

// The kinds of parcel.
const (
	Look    Kind = "look"
	Changes Kind = "changes"
)

// A Label is the description that a parcel carries, in parcel.json.
type Label struct {
	Kind    Kind      `json:"kind"`
	Cruise  string    `json:"cruise"`
	Program string    `json:"program"`
	Stamp   string    `json:"time_stamp"`
	To      string    `json:"to,omitempty"`
	Embargo string    `json:"embargo_until,omitempty"`
	Archive string    `json:"archive"`               // SHA-256 of the list of checksums of the archive
	Base    string    `json:"base,omitempty"`        // the same of the archive that the receiver must have
	Since   string    `json:"since,omitempty"`       // a parcel to look at: time stamp of the archive that it compares with
	Plan    string    `json:"cruise_file,omitempty"` // name of the cruise file among the inputs
	Inputs  []Input   `json:"inputs,omitempty"`      // of the new archive, in order
	LeftOut []LeftOut `json:"left_out,omitempty"`
}

// Input is an input of the new archive. Member is "" where the receiver has it.
type Input struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
	Member string `json:"member,omitempty"`
}

// LeftOut is a file of the archive that a parcel does not hold, or holds in another form.
type LeftOut struct {
	File  string `json:"file"`
	Why   string `json:"why"`
	Width int    `json:"pixels_wide,omitempty"` // of a figure that is there, but narrower; 0: it is not there
}

// A Result is a parcel that was packed.
type Result struct {
	Kind    Kind      `json:"kind"`
	Parts   []string  `json:"parts"` // paths
	Bytes   int64     `json:"bytes"` // of all parts
	LeftOut []LeftOut `json:"left_out"`
}

const labelName = "parcel.json"

// Run packs a parcel.
func Run(ctx context.Context, plan Plan) (*Result, error) {
	a, err := archive.Open(ctx, plan.Archive)
	if err != nil {
		return nil, err
	}
	c, err := a.Cruise()
	if err != nil {
		return nil, err
	}
	l := &Label{Cruise: a.ID, Program: a.Program, Stamp: a.Stamp, To: plan.To, Embargo: c.Release.Embargo}
	if err := embargo(a, c, plan); err != nil {
		return nil, err
	}
	if l.Archive, err = identity(a); err != nil {
		return nil, err
	}
	var data []byte
	name := a.ID + "_" + string(Look)
	switch {
	case plan.Since == "":
		l.Kind = Look
		data, err = (&looker{a: a, cruise: c, label: l}).look(ctx, plan.Max, plan.Part)
	case plan.Look:
		l.Kind = Look
		name += "_changes"
		data, err = lookSince(ctx, a, c, l, plan)
	default:
		name = a.ID + "_" + string(Changes)
		l.Kind = Changes
		data, err = changes(ctx, a, l, plan.Since)
	}
	if err != nil {
		return nil, err
	}
	r := &Result{Kind: l.Kind, LeftOut: l.LeftOut}
	if r.LeftOut == nil {
		r.LeftOut = []LeftOut{}
	}
	r.Parts, r.Bytes, err = writeParts(ctx, plan.Out, name, data, plan.Part)
	return r, err
}

// changesFile lists what changed, in a parcel to look at.
const changesFile = "changes.txt"

// lookSince packs a page with what changed since an archive that the receiver has seen: the files that are other ones
// now, and a list of every difference.
func lookSince(ctx context.Context, a *archive.Archive, c *cruisefile.Cruise, l *Label, plan Plan) ([]byte, error) {
	old, err := archive.Open(ctx, plan.Since)
	if err != nil {
		return nil, err
	}
	report, err := compare.Run(ctx, compare.Plan{Old: plan.Since, New: plan.Archive})
	if err != nil {
		return nil, err
	}
	report.Old.Path, report.New.Path = old.ID, a.ID // folders of the sender say nothing to the receiver
	k := &looker{a: a, cruise: c, label: l, seen: map[string]string{}}
	for _, f := range old.Files {
		k.seen[f.Path] = f.SHA256
	}
	var text bytes.Buffer
	if err := report.Write(&text); err != nil {
		return nil, err
	}
	k.changes, l.Since = text.Bytes(), old.Stamp
	return k.look(ctx, plan.Max, plan.Part)
}

// embargo refuses data under an embargo that no one named is to receive.
func embargo(a *archive.Archive, c *cruisefile.Cruise, plan Plan) error {
	day := c.Release.Embargo
	if day == "" || plan.To != "" || plan.Now.UTC().Format(time.DateOnly) >= day {
		return nil
	}
	return &metadata.InputError{Position: metadata.Position{File: a.Name},
		Err:    fmt.Errorf("the data are under embargo until %s; nothing was packed", day),
		Remedy: "name who receives the parcel with --to; the parcel then says so"}
}

// identity returns the SHA-256 of the list of checksums of an archive, which depends on all its bytes.
func identity(a *archive.Archive) (string, error) {
	data, err := regular.ReadFile(filepath.Join(a.Dir, "manifest-sha256.txt"))
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

// member is one file of a parcel.
type member struct {
	name string
	data []byte
}

// pack makes the zip of a parcel: the label first, then the members in order. The same content gives the same bytes.
func pack(l *Label, members []member) ([]byte, error) {
	text, err := json.MarshalIndent(l, "", " ")
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) {
		return flate.NewWriter(w, flate.BestCompression)
	})
	for _, m := range append([]member{{labelName, append(text, '\n')}}, members...) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: m.name, Method: zip.Deflate})
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(m.data); err != nil {
			return nil, err
		}
	}
	err = z.Close()
	return b.Bytes(), err
}

// changes packs the inputs that the receiver does not have.
func changes(ctx context.Context, a *archive.Archive, l *Label, since string) ([]byte, error) {
	old, err := archive.Open(ctx, since)
	if err != nil {
		return nil, err
	}
	if l.Base, err = identity(old); err != nil {
		return nil, err
	}
	has := map[string]string{}
	was, err := inputsOf(old)
	if err != nil {
		return nil, err
	}
	for _, x := range was {
		has[x.Name] = x.SHA256
	}
	if l.Inputs, err = inputsOf(a); err != nil {
		return nil, err
	}
	l.Plan = l.Inputs[0].Name
	var members []member
	for i := range l.Inputs {
		x := &l.Inputs[i]
		from := x.Member
		if x.Member = ""; has[x.Name] == x.SHA256 {
			continue
		}
		data, err := inputOf(a, from)
		if err != nil {
			return nil, err
		}
		x.Member = fmt.Sprintf("inputs/%d", i)
		members = append(members, member{x.Member, data})
	}
	return pack(l, members)
}

// inputsOf returns the inputs that an archive carries, the cruise file first.
func inputsOf(a *archive.Archive) ([]Input, error) {
	t, err := a.Table("inputs/inputs.csv")
	if err != nil {
		return nil, err
	}
	var out []Input
	for _, row := range t.Rows {
		x := Input{Name: t.Get(row, "name"), SHA256: t.Get(row, "sha256"), Member: t.Get(row, "member")}
		if _, err := fmt.Sscan(t.Get(row, "bytes"), &x.Bytes); err != nil || x.Member == "" {
			return nil, &metadata.InputError{Position: metadata.Position{File: a.Name},
				Err:    errors.New("the archive holds no inputs (inputs: omit); changes cannot be packed"),
				Remedy: "pack a parcel to look at, without --since"}
		}
		out = append(out, x)
	}
	if len(out) == 0 {
		return nil, errors.New("the table of inputs is empty")
	}
	return out, nil
}

// inputOf returns an input that an archive carries.
func inputOf(a *archive.Archive, name string) ([]byte, error) {
	data, err := a.Read("inputs/inputs.zip")
	if err != nil {
		return nil, err
	}
	b, err := fromZip(data, name)
	if err != nil {
		return nil, fmt.Errorf("inputs/inputs.zip: %w", err)
	}
	return b, nil
}

// largestMember is the most bytes of a member of a parcel or of the inputs that is unpacked.
const largestMember = 2 << 30

// fromZip returns a member of a zip.
func fromZip(data []byte, name string) ([]byte, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) { // members are taken by their names
		return nil, err
	}
	for _, f := range z.File {
		if f.Name != name {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, err
		}
		defer r.Close()
		b, err := io.ReadAll(io.LimitReader(r, largestMember+1))
		if err == nil && len(b) > largestMember {
			err = fmt.Errorf("%s is larger than is unpacked", name)
		}
		return b, err
	}
	return nil, fmt.Errorf("there is no %s", name)
}
