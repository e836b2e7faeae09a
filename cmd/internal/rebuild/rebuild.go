// Package rebuild makes an archive again from the inputs that it holds and compares the two byte by byte.
package rebuild

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// A Plan is what Run needs to know.
type Plan struct {
	Program  string // as in pipeline.Plan
	Archive  string // folder of the archive
	Out      string // folder in which the new one appears
	Workers  int
	Progress func(done, total int)
	Stage    func(string, time.Duration)
	File     func(what, name string)
	Compared *pipeline.Compared // what is taken from the old archive instead of being made; nil: nothing
}

// A Result is the new archive and what differs between it and the old one.
type Result struct {
	Product     pipeline.Product
	Made        string   // program that made the old archive
	Differences []string // a line a file, in order; empty: the same bytes
}

// Limits of what is unpacked, against an archive made to fill a disk.
const (
	maxInput  = 2 << 30
	maxInputs = 16 << 30
)

// Run makes the archive again. When an input in the archive is not what it was, the error joins one
// *metadata.InputError for each, and nothing is made.
func Run(ctx context.Context, plan Plan) (Result, error) {
	old, err := filepath.Abs(plan.Archive)
	if err != nil {
		return Result{}, err
	}
	out, err := filepath.Abs(plan.Out)
	if err != nil {
		return Result{}, err
	}
	info, err := bag.ReadInfo(old)
	if err != nil {
		return Result{}, &metadata.InputError{Position: metadata.Position{File: plan.Archive},
			Err:    fmt.Errorf("not an archive: %w", err),
			Remedy: "name the folder that castwright build made"}
	}
	id, _ := bag.Value(info, "Internal-Sender-Identifier")
	if real, err := filepath.EvalSymlinks(old); err == nil && id != "" {
		if target, err := filepath.EvalSymlinks(filepath.Join(out, id)); err == nil && target == real {
			return Result{}, &metadata.InputError{Position: metadata.Position{File: plan.Archive},
				Err:    errors.New("the new archive would take the place of the old one"),
				Remedy: "give another folder with --out"}
		}
	}
	var res Result
	res.Made, _ = bag.Value(info, "Bag-Software-Agent")
	stampText, _ := bag.Value(info, "Time-Stamp")
	stamp, err := time.Parse(time.RFC3339, stampText)
	if err != nil {
		return res, &metadata.InputError{Position: metadata.Position{File: "bag-info.txt"},
			Err:    fmt.Errorf("Time-Stamp is %q", stampText),
			Remedy: "castwright verify says what else is wrong with the archive"}
	}
	temp, remove, err := place.Temp("castwright-rebuild-")
	if err != nil {
		return res, err
	}
	defer remove()
	cruiseFile, root, err := unpack(ctx, old, temp)
	if err != nil {
		return res, err
	}
	res.Product, err = pipeline.Build(ctx, pipeline.Plan{Program: plan.Program, CruiseFile: cruiseFile, Out: plan.Out,
		Workers: plan.Workers, Epoch: stamp,
		Progress: plan.Progress, Stage: plan.Stage, File: plan.File, Root: root, Compared: plan.Compared})
	if err != nil || res.Product.Path == "" || plan.Compared != nil {
		return res, err
	}
	res.Differences, err = compare(ctx, old, res.Product.Path)
	return res, err
}

// row is one line of the table of inputs.
type row struct {
	name, member string
	bytes        int64
	sum          string
}

func readTable(file string) ([]row, error) {
	fail := func(line int, format string, a ...any) ([]row, error) {
		return nil, &metadata.InputError{Position: metadata.Position{File: "data/inputs/inputs.csv", Line: line},
			Err:    fmt.Errorf(format, a...),
			Remedy: "castwright verify says what changed in the archive; take a good copy of it"}
	}
	data, err := regular.ReadFile(file)
	if err != nil {
		return fail(0, "the table of inputs cannot be read: %w", err)
	}
	recs, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		return fail(0, "%w", err)
	}
	if len(recs) < 2 || !slices.Equal(recs[0], []string{"name", "member", "bytes", "sha256"}) {
		return fail(1, "not the table of inputs")
	}
	var rows []row
	for i, r := range recs[1:] {
		n, err := strconv.ParseInt(r[2], 10, 64)
		if err != nil || n < 0 {
			return fail(i+2, "bytes is %q", r[2])
		}
		if b, err := hex.DecodeString(r[3]); err != nil || len(b) != sha256.Size {
			return fail(i+2, "sha256 is %q", r[3])
		}
		rows = append(rows, row{r[0], r[1], n, r[3]})
	}
	return rows, nil
}

// unpack lays the inputs out below temp as the cruise file names them, and gives the cruise file and the root for
// absolute names.
func unpack(ctx context.Context, archive, temp string) (cruiseFile, root string, err error) {
	folder := filepath.Join(archive, "data", "inputs")
	rows, err := readTable(filepath.Join(folder, "inputs.csv"))
	if err != nil {
		return "", "", err
	}
	if rows[0].member == "" {
		return "", "", &metadata.InputError{Position: metadata.Position{File: "data/inputs/inputs.csv"},
			Err:    errors.New("the archive holds no inputs (inputs: omit)"),
			Remedy: "ask whoever made it for the inputs, and build"}
	}
	packed, err := regular.Open(filepath.Join(folder, "inputs.zip"))
	if err == nil {
		defer packed.Close()
	}
	z, err := zipIn(packed, err)
	if err != nil {
		return "", "", &metadata.InputError{Position: metadata.Position{File: "data/inputs/inputs.zip"}, Err: err,
			Remedy: "take a good copy of the archive"}
	}
	members := map[string]*zip.File{}
	for _, f := range z.File {
		members[f.Name] = f
	}
	base, root := filepath.Join(temp, "here"), filepath.Join(temp, "root")
	for range upward(rows) {
		base = filepath.Join(base, "d")
	}
	var errs []error
	total := int64(0)
	for _, r := range rows {
		if err := ctx.Err(); err != nil {
			return "", "", err
		}
		changed := func(format string, a ...any) {
			errs = append(errs, &metadata.InputError{Position: metadata.Position{File: r.name},
				Err:    fmt.Errorf(format, a...),
				Remedy: "this input in the archive is not what it was when the archive was made; take a good copy of the archive"})
		}
		f := members[r.member]
		if f == nil {
			changed("not in inputs.zip as %s", r.member)
			continue
		}
		total += r.bytes
		if r.bytes > maxInput || total > maxInputs || f.UncompressedSize64 != uint64(r.bytes) {
			changed("%d bytes in inputs.zip, %d in the table of inputs", f.UncompressedSize64, r.bytes)
			continue
		}
		to := filepath.Join(base, filepath.FromSlash(r.name))
		if path.IsAbs(r.name) {
			to = filepath.Join(root, filepath.FromSlash(r.name))
		}
		if rel, err := filepath.Rel(temp, to); err != nil || strings.HasPrefix(rel, "..") {
			changed("its name leads out of the archive")
			continue
		}
		sum, err := extract(f, to, r.bytes)
		switch {
		case pipeline.OfThisMachine(err):
			return "", "", fmt.Errorf("the inputs cannot be unpacked: %w", err)
		case err != nil:
			changed("cannot be unpacked: %w", err)
		case sum != r.sum:
			changed("SHA-256 is %s, was %s", sum, r.sum)
		}
	}
	if err := errors.Join(errs...); err != nil {
		return "", "", err
	}
	return filepath.Join(base, filepath.FromSlash(rows[0].name)), root, nil
}

// zipIn returns the zip archive in a file that was opened with err.
func zipIn(f *os.File, err error) (*zip.Reader, error) {
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	z, err := zip.NewReader(f, info.Size())
	if errors.Is(err, zip.ErrInsecurePath) { // members are taken by the names in the table
		err = nil
	}
	return z, err
}

// upward returns how many folders the names of inputs climb above the cruise file at most.
func upward(rows []row) int {
	most := 0
	for _, r := range rows {
		n, rest := 0, r.name
		for strings.HasPrefix(rest, "../") {
			n, rest = n+1, rest[3:]
		}
		most = max(most, n)
	}
	return most
}

func extract(f *zip.File, to string, size int64) (string, error) {
	r, err := f.Open()
	if err != nil {
		return "", err
	}
	defer r.Close()
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return "", err
	}
	w, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	_, err = io.Copy(io.MultiWriter(w, h), io.LimitReader(r, size+1))
	if e := w.Close(); err == nil {
		err = e
	}
	return hex.EncodeToString(h.Sum(nil)), err
}

// compare lists every file that differs between two archives.
func compare(ctx context.Context, old, made string) ([]string, error) {
	files := map[string]int{} // 1: in the old one, 2: in the new one, 3: both
	for i, dir := range []string{old, made} {
		err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			rel, err := filepath.Rel(dir, p)
			files[filepath.ToSlash(rel)] |= i + 1
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	var out []string
	for _, n := range names {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		switch files[n] {
		case 1:
			out = append(out, n+": only in the old archive")
		case 2:
			out = append(out, n+": only in the new archive")
		default:
			same, err := equal(ctx, filepath.Join(old, filepath.FromSlash(n)),
				filepath.Join(made, filepath.FromSlash(n)))
			if err != nil {
				return nil, err
			}
			if !same {
				out = append(out, n+": differs")
			}
		}
	}
	return out, nil
}

func equal(ctx context.Context, a, b string) (bool, error) {
	x, _, err := regular.Sum(ctx, a)
	if errors.Is(err, regular.ErrNotRegular) { // a pipe, say, where the old archive had a file
		return false, nil
	}
	if err != nil {
		return false, err
	}
	y, _, err := regular.Sum(ctx, b)
	return x == y, err
}
