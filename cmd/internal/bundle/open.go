package bundle

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/metadata"
)

// An OpenPlan says what to open.
type OpenPlan struct {
	Program  string // as in pipeline.Plan
	Parts    []string
	Base     string // the archive that the receiver has, for a parcel of changes
	Out      string
	Workers  int
	Progress func(done, total int)
	File     func(what, name string) // as in pipeline.Plan
}

// Opened is what a parcel became.
type Opened struct {
	Label Label  `json:"parcel"`
	Path  string `json:"folder"` // of the parcel to look at, or of the archive that was built
	Same  bool   `json:"same"`   // the archive that was built has the bytes of the sender's
}

// Open opens a parcel: lays out one to look at, or builds the archive from one of changes and an earlier archive.
func Open(ctx context.Context, plan OpenPlan) (*Opened, error) {
	data, err := join(plan.Parts)
	if err != nil {
		return nil, err
	}
	text, err := fromZip(data, labelName)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", plan.Parts[0], err)
	}
	o := &Opened{}
	if err := json.Unmarshal(text, &o.Label); err != nil {
		return nil, fmt.Errorf("%s: %s: %w", plan.Parts[0], labelName, err)
	}
	switch o.Label.Kind {
	case Look:
		return o, o.layOut(ctx, plan, data)
	case Changes:
		return o, o.build(ctx, plan, data)
	}
	return nil, &metadata.InputError{Position: metadata.Position{File: plan.Parts[0]},
		Err:    fmt.Errorf("a parcel of the unknown kind %q", o.Label.Kind),
		Remedy: "open it with the program that packed it, " + o.Label.Program}
}

// layOut writes the files of a parcel to look at into a folder of their own.
func (o *Opened) layOut(ctx context.Context, plan OpenPlan, data []byte) error {
	if err := os.MkdirAll(plan.Out, 0o755); err != nil {
		return err
	}
	name := o.Label.Cruise + "_look"
	folder, err := place.Begin(ctx, plan.Out, name, nil)
	if errors.Is(err, place.ErrExists) {
		return &metadata.InputError{Position: metadata.Position{File: filepath.Join(plan.Out, name)},
			Err: errors.New("is there already; nothing was changed"), Remedy: "move it away, or give another --out"}
	}
	if err != nil {
		return err
	}
	defer folder.Abort() //nolint:errcheck // after Commit there is nothing to abort
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return err
	}
	for _, f := range z.File {
		if !filepath.IsLocal(filepath.FromSlash(f.Name)) || strings.HasSuffix(f.Name, "/") {
			return fmt.Errorf("the parcel has a member %q, which leads out of it; nothing was opened", f.Name)
		}
		b, err := fromZip(data, f.Name)
		if err != nil {
			return err
		}
		to := filepath.Join(folder.Path(), filepath.FromSlash(f.Name))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(to, b, 0o644); err != nil {
			return err
		}
	}
	if err := folder.Commit(ctx); err != nil {
		return err
	}
	o.Path, o.Same = filepath.Join(plan.Out, name), true
	return nil
}

// build puts the inputs of the new archive together from the parcel and the archive that is there, and builds.
func (o *Opened) build(ctx context.Context, plan OpenPlan, data []byte) error {
	if plan.Base == "" {
		return &metadata.InputError{Position: metadata.Position{File: plan.Parts[0]},
			Err:    errors.New("a parcel of changes, which needs the archive that it was packed against"),
			Remedy: "name that archive with --base"}
	}
	base, err := archive.Open(ctx, plan.Base)
	if err != nil {
		return err
	}
	id, err := identity(base)
	if err != nil {
		return err
	}
	if id != o.Label.Base {
		return &metadata.InputError{Position: metadata.Position{File: plan.Base},
			Err:    errors.New("is not the archive that the parcel was packed against; nothing was built"),
			Remedy: "name the archive whose manifest-sha256.txt has the SHA-256 " + o.Label.Base}
	}
	temp, remove, err := place.Temp("castwright-unbundle-")
	if err != nil {
		return err
	}
	defer remove()
	inputs, err := o.together(base, data)
	if err != nil {
		return err
	}
	if err := o.asArchive(temp, inputs); err != nil {
		return err
	}
	r, err := rebuild.Run(ctx, rebuild.Plan{Program: plan.Program, Archive: temp, Out: plan.Out, Workers: plan.Workers,
		Progress: plan.Progress, File: plan.File})
	if err != nil {
		return err
	}
	if r.Product.Path == "" {
		return errors.New("the inputs of the parcel do not give an archive: castwright check names what is wrong")
	}
	o.Path = r.Product.Path
	made, err := archive.Open(ctx, r.Product.Path)
	if err != nil {
		return err
	}
	id, err = identity(made)
	o.Same = id == o.Label.Archive
	return err
}

// together returns the bytes of every input of the new archive, checked.
func (o *Opened) together(base *archive.Archive, data []byte) ([][]byte, error) {
	had, err := inputsOf(base)
	if err != nil {
		return nil, err
	}
	members := map[string]string{}
	for _, x := range had {
		members[x.Name] = x.Member
	}
	out := make([][]byte, len(o.Label.Inputs))
	for i, x := range o.Label.Inputs {
		if x.Member != "" {
			out[i], err = fromZip(data, x.Member)
		} else {
			out[i], err = inputOf(base, members[x.Name])
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", x.Name, err)
		}
		if sum := sha256.Sum256(out[i]); hex.EncodeToString(sum[:]) != x.SHA256 {
			return nil, fmt.Errorf("%s: is not the input that the parcel states; nothing was built", x.Name)
		}
	}
	return out, nil
}

// asArchive lays inputs out as an archive carries them, with as much around them as building them again needs.
func (o *Opened) asArchive(dir string, inputs [][]byte) error {
	folder := filepath.Join(dir, "data", "inputs")
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	var table, packed bytes.Buffer
	rows := csv.NewWriter(&table)
	z := zip.NewWriter(&packed)
	records := [][]string{{"name", "member", "bytes", "sha256"}}
	for i, x := range o.Label.Inputs {
		name := path.Join("i", strconv.Itoa(i))
		records = append(records, []string{x.Name, name, strconv.Itoa(len(inputs[i])), x.SHA256})
		w, err := z.Create(name)
		if err != nil {
			return err
		}
		if _, err := w.Write(inputs[i]); err != nil {
			return err
		}
	}
	if err := errors.Join(rows.WriteAll(records), z.Close()); err != nil {
		return err
	}
	info := fmt.Sprintf("Internal-Sender-Identifier: %s\nTime-Stamp: %s\nBag-Software-Agent: %s\n", o.Label.Cruise,
		o.Label.Stamp, o.Label.Program)
	for name, b := range map[string][]byte{filepath.Join(folder, "inputs.csv"): table.Bytes(),
		filepath.Join(folder, "inputs.zip"): packed.Bytes(), filepath.Join(dir, "bag-info.txt"): []byte(info),
		filepath.Join(dir, "bagit.txt"): []byte("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")} {
		if err := os.WriteFile(name, b, 0o644); err != nil {
			return err
		}
	}
	return nil
}
