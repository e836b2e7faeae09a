// Package handover lays out of an archive exactly the files that one recipient asks for, and says what is missing.
package handover

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// A Recipient is a kind of organisation that takes data.
type Recipient string

// The recipients.
const (
	DataCentre      Recipient = "data-centre"      // a hydrographic data office
	Repository      Recipient = "repository"       // one that gives a DOI
	NationalArchive Recipient = "national-archive" // the national oceanographic data centre
)

// Recipients returns all recipients.
func Recipients() []Recipient { return []Recipient{DataCentre, Repository, NationalArchive} }

// A Plan says what to lay out.
type Plan struct {
	Archive    string
	To         Recipient
	Out        string // folder in which the set appears
	Incomplete bool   // lay out a set although something is missing
}

// A Result is the set that was laid out.
type Result struct {
	Recipient Recipient `json:"recipient"`
	Path      string    `json:"folder"` // "" when none was laid out
	Files     []string  `json:"files"`  // with slashes, sorted
	Missing   []Missing `json:"missing"`
}

// Run lays out the set for a recipient. When something is missing and the plan does not allow it, nothing is made and
// Result.Path is empty.
func Run(ctx context.Context, plan Plan) (*Result, error) {
	a, err := archive.Open(ctx, plan.Archive)
	if err != nil {
		return nil, err
	}
	c, err := a.Cruise()
	if err != nil {
		return nil, err
	}
	r := &Result{Recipient: plan.To, Files: []string{}}
	if r.Missing, err = missing(plan.To, a, c); err != nil {
		return nil, err
	}
	s := &set{archive: a, cruise: c, result: r}
	s.choose(plan.To)
	if len(r.Missing) > 0 && !plan.Incomplete {
		return r, nil
	}
	if err := os.MkdirAll(plan.Out, 0o755); err != nil {
		return nil, err
	}
	folder, err := place.Begin(ctx, plan.Out, a.ID+"_"+string(plan.To), nil)
	if errors.Is(err, place.ErrExists) {
		return nil, &metadata.InputError{Position: metadata.Position{File: filepath.Join(plan.Out,
			a.ID+"_"+string(plan.To))}, Err: errors.New("is there already; nothing was changed"),
			Remedy: "move it away, or give another folder with --out"}
	}
	if err != nil {
		return nil, err
	}
	defer folder.Abort() //nolint:errcheck // after Commit there is nothing to abort
	if err := s.write(ctx, folder.Path()); err != nil {
		return nil, err
	}
	if err := folder.Commit(ctx); err != nil {
		return nil, err
	}
	r.Path = filepath.Join(plan.Out, a.ID+"_"+string(plan.To))
	return r, nil
}

// set is what is laid out: files of the archive under the names that the recipient uses, and texts.
type set struct {
	archive *archive.Archive
	cruise  *cruisefile.Cruise
	result  *Result
	copies  []copied
	whole   bool // the archive itself, as a folder
}

type copied struct{ from, to, what string }

// add takes a file of the archive into the set.
func (s *set) add(from, to, what string) {
	if s.archive.Has(from) {
		s.copies = append(s.copies, copied{from, to, what})
	}
}

// choose takes what a recipient asks for.
func (s *set) choose(to Recipient) {
	casts := s.archive.Matching("casts/*_ct1.zip")
	switch to {
	case DataCentre:
		s.bundles(casts)
		for _, f := range casts {
			code := strings.TrimSuffix(path.Base(f), "_ct1.zip")
			s.add("documents/processing_statement.md", code+"do.txt", "processing statement, for the cruise report")
			s.add("documents/station_summary.md", code+"su.txt", "station summary")
		}
		s.add("documents/submission_sheet.md", "submission_sheet.txt", "who submits what, under which licence")
	case Repository:
		s.whole = true
		s.add("provenance/datacite.json", "datacite.json", "description for the DOI (DataCite JSON 4.5)")
		s.add("README.txt", "archive_README.txt", "what each file of the archive is")
	case NationalArchive:
		for _, f := range s.archive.Matching("casts/*_ctd.nc") {
			s.add(f, path.Base(f), "all casts, CF NetCDF profiles")
		}
		s.bundles(casts)
		s.add("tables/stations.csv", "stations.csv", "index of the casts: where, when, how deep")
		s.add("documents/processing_statement.html", "processing_statement.html",
			"instruments, calibration, processing and quality control")
		s.add("documents/submission_sheet.html", "submission_sheet.html", "who submits what, under which licence")
		s.add("provenance/history.txt", "history.txt", "every processing step")
		for _, f := range s.archive.Matching("provenance/flag_edits*.csv") {
			s.add(f, path.Base(f), "edits of quality flags")
		}
	}
}

func (s *set) bundles(casts []string) {
	for _, f := range casts {
		s.add(f, path.Base(f), "casts in exchange format, one file a cast")
	}
	for _, f := range s.archive.Matching("casts/*_hy1.csv") {
		s.add(f, path.Base(f), "bottles in exchange format")
	}
}

// write writes the set into an empty folder.
func (s *set) write(ctx context.Context, dir string) error {
	if s.whole {
		if err := copyFolder(ctx, s.archive.Dir, filepath.Join(dir, s.archive.ID)); err != nil {
			return err
		}
	}
	for _, f := range s.copies {
		data, err := s.archive.Read(f.from)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, f.to), data, 0o644); err != nil {
			return err
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "README.txt"), s.readme(), 0o644); err != nil {
		return err
	}
	if l := s.cruise.Release.Licence; l != "" {
		if err := os.WriteFile(filepath.Join(dir, "LICENCE.txt"), licenceText(l), 0o644); err != nil {
			return err
		}
	}
	return s.sums(ctx, dir)
}

// sums writes the checksum of every file of the set, in the form of sha256sum.
func (s *set) sums(ctx context.Context, dir string) error {
	var b bytes.Buffer
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || ctx.Err() != nil {
			return errors.Join(err, ctx.Err())
		}
		rel, err := filepath.Rel(dir, p)
		if err != nil {
			return err
		}
		data, err := regular.ReadFile(p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		s.result.Files = append(s.result.Files, rel)
		fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(data), rel)
		return nil
	})
	if err != nil {
		return err
	}
	s.result.Files = append(s.result.Files, "sha256sums.txt")
	slices.Sort(s.result.Files)
	return os.WriteFile(filepath.Join(dir, "sha256sums.txt"), b.Bytes(), 0o644)
}

// readme says what is in the set and what is missing.
func (s *set) readme() []byte {
	var b bytes.Buffer
	words := map[Recipient]string{DataCentre: "a hydrographic data centre", Repository: "a repository that gives a DOI",
		NationalArchive: "a national archive"}
	fmt.Fprintf(&b, "Set of files for %s\n\nFrom the archive %s: release status %s, time stamp %s, made by %s.\n",
		words[s.result.Recipient], s.archive.ID, s.archive.Status, s.archive.Stamp, s.archive.Program)
	if n := len(s.result.Missing); n > 0 {
		fmt.Fprintf(&b, "\nTHIS SET IS INCOMPLETE. The sender has not stated:\n")
		for _, m := range s.result.Missing {
			fmt.Fprintf(&b, "- %s (%s)\n", m.What, m.Key)
		}
		b.WriteString("In brackets, for the sender: the key of the cruise file that states it.\n")
	}
	if e := s.cruise.Release.Embargo; e != "" {
		fmt.Fprintf(&b, "\nEmbargo: not to be passed on before %s.\n", e)
	}
	fmt.Fprintf(&b, "\n%s\n\nFiles\n", export.Cautions)
	if s.whole {
		fmt.Fprintf(&b,
			"  %s/: the archive itself, a BagIt bag (RFC 8493); its data/README.txt says what each file is\n",
			s.archive.ID)
	}
	for _, f := range s.copies {
		fmt.Fprintf(&b, "  %s: %s\n", f.to, f.what)
	}
	if s.cruise.Release.Licence != "" {
		fmt.Fprintf(&b, "  LICENCE.txt: terms of use\n")
	}
	fmt.Fprintf(&b, "  sha256sums.txt: checksum of every file (check with: sha256sum -c sha256sums.txt)\n")
	if products := s.products(); !s.whole && products != nil {
		fmt.Fprintf(&b, "\nNot in this set, since they are computed from the casts: %s. The archive %s has them.\n",
			strings.Join(products, ", "), s.archive.ID)
	}
	return b.Bytes()
}

// products names the products of the archive that are computed from the casts: sets of casts do not hold them.
func (s *set) products() (out []string) {
	for _, p := range []struct{ files, what string }{{"sections/*_grid.nc", "mapped sections"},
		{"sections/*_geostrophy.nc", "velocities and transports"},
		{"sections/*_anomaly.nc", "differences of sections from a reference"},
		{"sections/*_time_series.nc", "time series"}, {"fields/*.nc", "mapped fields"}, {"figures/*", "figures"}} {
		if len(s.archive.Matching(p.files)) > 0 {
			out = append(out, p.what)
		}
	}
	return out
}

func licenceText(l string) []byte {
	link := ""
	switch {
	case strings.HasPrefix(l, "https://"):
	case strings.HasPrefix(l, "LicenseRef-"):
		link = "\nThis is no licence of the SPDX list; ask the contact in the submission for its text."
	default:
		link = "\nThe text of the licence: https://spdx.org/licenses/" + l + ".html"
	}
	return []byte("The data are made available under " + l + "." + link + "\n")
}

func copyFolder(ctx context.Context, from, to string) error {
	return filepath.WalkDir(from, func(p string, d fs.DirEntry, err error) error {
		if err != nil || ctx.Err() != nil {
			return errors.Join(err, ctx.Err())
		}
		rel, err := filepath.Rel(from, p)
		if err != nil {
			return err
		}
		target := filepath.Join(to, rel)
		if d.IsDir() {
			return os.MkdirAll(target, 0o755)
		}
		in, err := regular.Open(p)
		if err != nil {
			return err
		}
		defer in.Close()
		out, err := os.OpenFile(target, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err != nil {
			return err
		}
		_, err = io.Copy(out, in)
		return errors.Join(err, out.Close())
	})
}
