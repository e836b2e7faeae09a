// Package compare lists what differs between two archives: casts, positions, flags, values, metadata and settings.
package compare

import (
	"context"
	"slices"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
)

// A Plan names the two archives.
type Plan struct{ Old, New string }

// A Report is every difference between two archives. Lists are in a fixed order and nil when nothing differs.
type Report struct {
	Old         Side              `json:"old"`
	New         Side              `json:"new"`
	Same        bool              `json:"same"`
	Casts       Casts             `json:"casts"`
	Positions   []Moved           `json:"positions,omitempty"`
	Ledger      []Entry           `json:"cast_entries,omitempty"` // what else tables/stations.csv says of a cast
	Flags       []FlagChange      `json:"flags,omitempty"`
	Values      []Change          `json:"values,omitempty"`
	Variables   []Presence        `json:"variables,omitempty"`
	Metadata    []Metadata        `json:"metadata,omitempty"`
	Settings    []Setting         `json:"settings,omitempty"`
	Steps       []StepChange      `json:"steps,omitempty"`
	Inputs      []FileChange      `json:"inputs,omitempty"`
	Tables      []TableRows       `json:"table_rows,omitempty"`
	Files       []FileChange      `json:"files,omitempty"`
	renumbering map[string]string // identity of a cast in the old archive to that in the new one, where they differ
}

// Side is one of the two archives.
type Side struct {
	Path    string `json:"path"`
	Cruise  string `json:"cruise"`
	Program string `json:"program"`
	Stamp   string `json:"time_stamp"`
	Status  string `json:"release_status"`
	Casts   int    `json:"casts"`
	LeftOut int    `json:"left_out"`
}

// A FileChange is a file that is in one archive only or has other bytes.
type FileChange struct {
	File string `json:"file"`
	What What   `json:"what"`
}

// What says how something differs.
type What string

// The ways in which something differs.
const (
	Added   What = "only in the new one"
	Removed What = "only in the old one"
	Differs What = "differs"
	History What = "differs only in its history, the list of processing steps"
)

// Run compares two archives. Both must be complete and unchanged.
func Run(ctx context.Context, plan Plan) (*Report, error) {
	a, err := archive.Open(ctx, plan.Old)
	if err != nil {
		return nil, err
	}
	b, err := archive.Open(ctx, plan.New)
	if err != nil {
		return nil, err
	}
	r := &Report{Old: side(a), New: side(b), renumbering: map[string]string{}}
	for _, step := range []func(a, b *archive.Archive) error{r.casts, r.settings, r.inputs} {
		if err := step(a, b); err != nil {
			return nil, err
		}
	}
	if err := r.files(ctx, a, b); err != nil {
		return nil, err
	}
	r.Same = len(r.Files) == 0
	return r, nil
}

func side(a *archive.Archive) Side {
	return Side{Path: a.Name, Cruise: a.ID, Program: a.Program, Stamp: a.Stamp, Status: a.Status}
}

// partner is a file of the old archive and what it is called in the new one.
type partner struct{ old, new string }

// pairs returns the files of both archives, sorted by name. Names that hold the cruise identifier are matched without
// it.
func pairs(a, b *archive.Archive) []partner {
	plain := func(id, p string) string { return strings.Replace(p, "/"+id+"_", "/ID_", 1) }
	m := map[string]*partner{}
	var names []string
	for _, f := range a.Files {
		n := plain(a.ID, f.Path)
		m[n] = &partner{old: f.Path}
		names = append(names, n)
	}
	for _, f := range b.Files {
		n := plain(b.ID, f.Path)
		if m[n] == nil {
			m[n] = &partner{}
			names = append(names, n)
		}
		m[n].new = f.Path
	}
	slices.Sort(names)
	out := make([]partner, len(names))
	for i, n := range names {
		out[i] = *m[n]
	}
	return out
}

// files compares the files of the payload: values and attributes of NetCDF files, cells of tables, bytes of the rest.
func (r *Report) files(ctx context.Context, a, b *archive.Archive) error {
	for _, p := range pairs(a, b) {
		if err := ctx.Err(); err != nil {
			return err
		}
		switch {
		case p.new == "":
			r.Files = append(r.Files, FileChange{p.old, Removed})
			continue
		case p.old == "":
			r.Files = append(r.Files, FileChange{p.new, Added})
			continue
		case a.File(p.old).SHA256 == b.File(p.new).SHA256:
			continue
		}
		r.Files = append(r.Files, FileChange{p.new, Differs})
		before := r.found()
		var err error
		switch {
		case strings.HasSuffix(p.new, ".nc"):
			err = r.netcdf(a, b, p)
		case strings.HasPrefix(p.new, "tables/") && strings.HasSuffix(p.new, ".csv") && p.new != stationsTable:
			err = r.table(a, b, p)
		}
		if err != nil {
			return err
		}
		if strings.HasSuffix(p.new, ".nc") && r.found() == before {
			r.Files[len(r.Files)-1].What = History
		}
	}
	r.joinMetadata()
	return nil
}

// found counts the differences inside files.
func (r *Report) found() int {
	return len(r.Flags) + len(r.Values) + len(r.Variables) + len(r.Metadata) + len(r.Tables)
}
