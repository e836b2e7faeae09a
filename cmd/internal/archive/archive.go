// Package archive reads a finished archive for the commands that look into one: its files, tables, records and cruise
// file. It opens no archive that was changed after it was made.
package archive

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// An Archive is a complete and unchanged archive in a folder.
type Archive struct {
	Name    string // as the person named it
	Dir     string // absolute
	ID      string // of the cruise
	Program string // that made it, with its version
	Stamp   string // its time stamp, RFC 3339
	Status  string // release status
	Files   []File // of the payload, sorted by path
}

// A File is one payload file.
type File struct {
	Path   string // below data, with slashes
	Bytes  int64
	SHA256 string // 64 hexadecimal digits
}

// Open checks every checksum of the archive in a folder and describes it. An archive with a fault gives an
// *metadata.InputError.
func Open(ctx context.Context, name string) (*Archive, error) {
	dir, err := filepath.Abs(name)
	if err != nil {
		return nil, err
	}
	refuse := func(err error, remedy string) error {
		return &metadata.InputError{Position: metadata.Position{File: name}, Err: err, Remedy: remedy}
	}
	if _, err := os.Stat(filepath.Join(dir, "bagit.txt")); err != nil {
		return nil, refuse(errors.New("no archive: a folder without bagit.txt"),
			"name the folder that castwright build made")
	}
	report, err := bag.Check(ctx, dir)
	if err != nil {
		return nil, refuse(err, "name the folder that castwright build made")
	}
	if len(report.Faults) > 0 {
		f := report.Faults[0]
		for _, other := range report.Faults {
			if f.Kind == bag.Oxum { // a count that follows from another fault
				f = other
			}
		}
		return nil, refuse(fmt.Errorf("the archive was changed after it was made (%s: %s, %d in all); it was not read",
			f.File, f.Detail, len(report.Faults)),
			"castwright verify lists every fault; take a good copy of the archive")
	}
	a := &Archive{Name: name, Dir: dir}
	for _, f := range report.Files {
		if rel, ok := strings.CutPrefix(f.Path, "data/"); ok {
			a.Files = append(a.Files, File{Path: rel, Bytes: f.Bytes, SHA256: hex.EncodeToString(f.SHA256[:])})
		}
	}
	value := func(label string) string { v, _ := bag.Value(report.Info, label); return v }
	a.ID, a.Program, a.Stamp, a.Status = value("Internal-Sender-Identifier"), value("Bag-Software-Agent"),
		value("Time-Stamp"), value("Release-Status")
	if a.ID == "" {
		return nil, refuse(errors.New("a bag of another program: bag-info.txt names no cruise"),
			"name the folder that castwright build made")
	}
	return a, nil
}

// Has reports whether the archive holds a file.
func (a *Archive) Has(rel string) bool { return a.File(rel) != nil }

// File returns a file of the payload; nil when there is none of that path.
func (a *Archive) File(rel string) *File {
	if i := slices.IndexFunc(a.Files, func(f File) bool { return f.Path == rel }); i >= 0 {
		return &a.Files[i]
	}
	return nil
}

// Matching returns the paths of the files that match a pattern of path.Match, sorted.
func (a *Archive) Matching(pattern string) []string {
	var out []string
	for _, f := range a.Files {
		if ok, _ := path.Match(pattern, f.Path); ok {
			out = append(out, f.Path)
		}
	}
	return out
}

// Path returns where a file of the payload lies.
func (a *Archive) Path(rel string) string {
	return filepath.Join(a.Dir, "data", filepath.FromSlash(rel))
}

// Read returns the bytes of a file.
func (a *Archive) Read(rel string) ([]byte, error) {
	data, err := regular.ReadFile(a.Path(rel))
	if err != nil {
		return nil, a.fault(rel, err)
	}
	return data, nil
}

func (a *Archive) fault(rel string, err error) error {
	return &metadata.InputError{Position: metadata.Position{File: path.Join(a.Name, "data", rel)},
		Err: err, Remedy: "castwright verify says what else is wrong with the archive"}
}

// NetCDF opens a NetCDF file; its checksum held when the archive was opened.
func (a *Archive) NetCDF(rel string) (*nc.File, error) {
	f, err := nc.OpenFile(a.Path(rel))
	if err != nil {
		return nil, a.fault(rel, err)
	}
	return f, nil
}

// A Table is a CSV file with a head line.
type Table struct {
	Head []string
	Rows [][]string
}

// Column returns the place of a column; -1 when there is none.
func (t *Table) Column(name string) int { return slices.Index(t.Head, name) }

// Get returns a cell by the name of its column; "" when there is no such column.
func (t *Table) Get(row []string, column string) string {
	if i := t.Column(column); i >= 0 && i < len(row) {
		return row[i]
	}
	return ""
}

// Table reads a CSV file.
func (a *Archive) Table(rel string) (*Table, error) {
	data, err := a.Read(rel)
	if err != nil {
		return nil, err
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return nil, a.fault(rel, err)
	}
	if len(rows) == 0 {
		return &Table{}, nil
	}
	return &Table{Head: rows[0], Rows: rows[1:]}, nil
}

// Cruise reads the cruise file that the archive keeps.
func (a *Archive) Cruise() (*cruisefile.Cruise, error) {
	const rel = "provenance/cruise.yaml"
	data, err := a.Read(rel)
	if err != nil {
		return nil, err
	}
	c, _, err := cruisefile.Read(data, rel)
	if err != nil {
		return nil, a.fault(rel, err)
	}
	return c, nil
}
