package verify

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"path"
	"slices"
	"strconv"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
)

// Where an archive keeps its inputs.
const (
	inputsZip  = "data/inputs/inputs.zip"
	cruiseFile = "data/provenance/cruise.yaml"
)

// inputs compares the table of inputs with the inputs, and returns the checksum of each by name.
func (a *archive) inputs() map[string]string {
	t := a.readTable("data/inputs/inputs.csv", []string{"name", "member", "bytes", "sha256"})
	if t == nil || len(t.rows) == 0 {
		return nil
	}
	sums := map[string]string{}
	for _, r := range t.rows {
		sums[r[0]] = r[3]
	}
	if sum := a.sums[cruiseFile]; a.trust[cruiseFile] && hex.EncodeToString(sum[:]) != t.rows[0][3] {
		a.fault("table.inputs", cruiseFile, "", "is not the cruise file of the table of inputs")
	}
	if !slices.ContainsFunc(t.rows, func(r []string) bool { return r[1] != "" }) {
		return sums // the archive keeps no inputs
	}
	if !a.trust[inputsZip] {
		if _, there := a.sums[inputsZip]; !there {
			a.fault("table.missing", inputsZip, "", "the table of inputs names it")
		}
		return sums
	}
	z, err := zip.OpenReader(a.path(inputsZip))
	if err != nil {
		a.fault("table.inputs", inputsZip, "", "cannot be read as a zip archive: %v", err)
		return sums
	}
	defer z.Close()
	members := map[string]*zip.File{}
	for _, f := range z.File {
		members[f.Name] = f
	}
	for _, r := range t.rows {
		if f := members[r[1]]; f != nil {
			a.input(f, r)
			delete(members, r[1])
		} else {
			a.fault("table.inputs", inputsZip, "", "has no member %s, the input %s", r[1], r[0])
		}
	}
	for _, f := range z.File {
		if members[f.Name] != nil {
			a.fault("table.inputs", inputsZip+"/"+f.Name, "", "is in no line of the table of inputs")
		}
	}
	return sums
}

// input compares an input with its row of the table.
func (a *archive) input(f *zip.File, row []string) {
	rel := inputsZip + "/" + f.Name
	n, err := strconv.ParseInt(row[2], 10, 64)
	if err != nil || n < 0 || uint64(n) != f.UncompressedSize64 {
		a.fault("table.inputs", rel, "", "has %d bytes, the table says %s", f.UncompressedSize64, row[2])
		return
	}
	h := sha256.New()
	in, err := f.Open()
	if err == nil {
		_, err = io.Copy(h, io.LimitReader(in, n+1))
		in.Close()
	}
	if err != nil {
		a.fault("table.inputs", rel, "", "cannot be unpacked: %v", err)
	} else if hex.EncodeToString(h.Sum(nil)) != row[3] {
		a.fault("table.inputs", rel, "", "is not what the table of inputs says")
	}
}

// cruise returns the cruise file that the archive keeps, read once; nil when no verified checksum covers it or it is
// none.
func (a *archive) cruise() *cruisefile.Cruise {
	if a.cruiseRead || !a.trust[cruiseFile] {
		return a.kept
	}
	a.cruiseRead = true
	data, err := regular.ReadFile(a.path(cruiseFile))
	if err != nil {
		return nil
	}
	c, _, err := cruisefile.Read(data, path.Base(cruiseFile))
	if err != nil {
		a.fault("table.read", cruiseFile, "", "is not a cruise file: %v", err)
		return nil
	}
	a.kept = c
	return c
}
