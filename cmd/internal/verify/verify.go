package verify

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"golang.org/x/sync/errgroup"
)

// A Plan is what Archive and File need to know.
type Plan struct {
	Program   string // as in pipeline.Plan
	Path      string
	All       bool // compute everything again, not a sample; from the inputs where the archive has them
	Checksums bool // the bag alone: look into no file
	Workers   int  // of what is computed again; 0: one for each processor
	Progress  func(done, total int)
	File      func(what, name string) // told each file that was checked; nil: nobody
	Seed      uint64                  // of the sample of grid columns
	Self      string                  // program that reads NetCDF in a child process; "": this one

	// remake makes the archive again in a test's own way, in this process; nil: rebuild, in a child.
	remake func(ctx context.Context, archive, out string, workers int, c *pipeline.Compared) (string, error)
	known  *sync.Map // what was found in files by name and SHA-256, so that tests look once; nil: not kept
}

// A Report is what was found. Findings of severity error are faults; the others are for a person to know.
type Report struct {
	Path     string
	Kind     string // archive, netcdf, exchange CTD, exchange bottles, exchange bundle
	Files    int    // looked at
	Again    string // what was computed again, in words; "" for a single file
	Findings []metadata.Finding
}

// Faults counts findings of severity error.
func (r *Report) Faults() int {
	n := 0
	for i := range r.Findings {
		if r.Findings[i].Severity == metadata.Failure {
			n++
		}
	}
	return n
}

// sort sorts the findings, removes duplicates and joins what several files or members of a bundle have in common.
func (r *Report) sort() {
	r.Findings = metadata.JoinFindings(r.Findings)
	r.Findings = slices.CompactFunc(r.Findings, func(a, b metadata.Finding) bool {
		return a.Position == b.Position && a.Check == b.Check && a.Variable == b.Variable && a.Message == b.Message &&
			a.Severity == b.Severity
	})
}

// archive is an archive that is checked.
type archive struct {
	plan   *Plan
	dir    string // absolute
	report *Report
	bag    *bag.Report
	trust  map[string]bool // files whose every checksum holds
	sums   map[string][32]byte
	nc     map[string]*nc.File // open files whose checksums hold; nil for one that cannot be opened
	opened func(rel string)    // is called before a NetCDF file is opened; nil: nobody
	// unreadable waits until every NetCDF file was checked, and returns those that cannot be read
	unreadable func() []string
	bad        map[string]bool  // files of which the check of the bag reports a fault
	unlisted   map[string]bool  // tag files that are no part of the archive
	picked     map[string][]int // columns of a grid that are mapped again, by file and number of columns
	casts      *ncprofile.Collection
	cruiseRead bool // the cruise file that the archive keeps was read, into kept; nil when it cannot be
	kept       *cruisefile.Cruise
}

// Archive checks the archive at plan.Path. The error is for a path that is no folder, and for ctx.
func Archive(ctx context.Context, plan Plan) (*Report, error) {
	plan.Program = cmp.Or(plan.Program, pipeline.DefaultProgram)
	abs, err := filepath.Abs(plan.Path)
	if err != nil {
		return nil, err
	}
	a := &archive{plan: &plan, dir: abs, report: &Report{Path: plan.Path, Kind: "archive"}, trust: map[string]bool{},
		sums: map[string][32]byte{},
		nc:   map[string]*nc.File{}, unlisted: map[string]bool{}, bad: map[string]bool{}}
	defer a.close()
	if a.bag, err = bag.Check(ctx, abs); err != nil {
		return nil, &metadata.InputError{Position: metadata.Position{File: plan.Path}, Err: err,
			Remedy: "name the folder of an archive, or a single file"}
	}
	if err := notAnArchive(plan.Path, abs); err != nil {
		return nil, err
	}
	a.report.Files = len(a.bag.Files)
	a.file("checked", fmt.Sprintf("checksums of %d files", len(a.bag.Files)))
	a.takeBag()
	if !plan.Checksums {
		if err := a.content(ctx); err != nil {
			return nil, err
		}
	}
	a.report.sort()
	return a.report, nil
}

// content checks what is in the files: each against its standard, and all against what comes out when they are computed
// again. The two go on at the same time; a file is not compared before it was checked.
func (a *archive) content(ctx context.Context) error {
	var done atomic.Int32
	step := func() {
		if n := done.Add(1); a.plan.Progress != nil {
			a.plan.Progress(int(n), 2)
		}
	}
	checked := make(chan []string, 1)
	g, ctx := errgroup.WithContext(ctx)
	unreadable := sync.OnceValue(func() []string {
		select {
		case names := <-checked:
			return names
		case <-ctx.Done():
			return nil
		}
	})
	g.Go(func() error {
		names, err := a.netcdf(ctx)
		if err != nil {
			return err
		}
		checked <- names
		err = a.exchange(ctx)
		step()
		return err
	})
	var reply *recomputeReply
	g.Go(func() (err error) {
		reply, err = a.recomputeInChild(ctx, unreadable)
		a.file("computed again", "the archive")
		step()
		return err
	})
	if err := g.Wait(); err != nil {
		return err
	}
	a.report.Findings = append(a.report.Findings, reply.Findings...)
	a.report.Again = reply.Again
	return nil
}

// close closes the NetCDF files that are open.
func (a *archive) close() {
	for _, f := range a.nc {
		if f != nil {
			f.Close()
		}
	}
}

// notAnArchive is an error for a folder with nothing of a bag in it, which was named by mistake: a list of all that it
// lacks would hide that. Where archives lie in the folder, the remedy names one.
func notAnArchive(name, dir string) error {
	for _, f := range []string{"bagit.txt", "bag-info.txt", "data", "manifest-sha256.txt", "manifest-sha512.txt"} {
		if _, err := os.Lstat(filepath.Join(dir, f)); err == nil {
			return nil
		}
	}
	remedy := "name the folder of an archive, or a single file"
	if below, err := filepath.Glob(filepath.Join(dir, "*", "bagit.txt")); err == nil && len(below) > 0 {
		remedy = "did you mean " + filepath.Join(name, filepath.Base(filepath.Dir(below[0])))
	}
	return &metadata.InputError{Position: metadata.Position{File: name},
		Err: errors.New("no archive: a folder without bagit.txt and data"), Remedy: remedy}
}

// file reports a file to the plan.
func (a *archive) file(what, name string) {
	if a.plan.File != nil {
		a.plan.File(what, name)
	}
}

// found adds a finding.
func (a *archive) found(f metadata.Finding, format string, args []any) {
	f.Message = fmt.Sprintf(format, args...)
	a.report.Findings = append(a.report.Findings, f)
}

// fault adds a finding of severity error.
func (a *archive) fault(check, file, variable, format string, args ...any) {
	a.found(metadata.Finding{Position: metadata.Position{File: file}, Severity: metadata.Failure, Check: check,
		Variable: variable}, format, args)
}

// note adds something to know.
func (a *archive) note(check, file, format string, args ...any) {
	a.found(metadata.Finding{Position: metadata.Position{File: file}, Check: check}, format, args)
}

// takeBag reports the faults of the bag, and notes which files are proved unchanged: those without a
// fault, as long as no list of checksums has one.
func (a *archive) takeBag() {
	lists := true
	for _, f := range a.bag.Faults {
		if f.Kind == bag.Unlisted {
			a.note("bag.unlisted", f.File, "a file at the top of the bag that is not part of the archive: %s", f.Detail)
			a.unlisted[f.File] = true
			continue
		}
		a.found(metadata.Finding{Position: metadata.Position{File: f.File, Line: f.Line}, Severity: metadata.Failure,
			Check: "bag." + f.Kind.String()}, "%s", []any{f.Detail})
		a.bad[f.File] = true
		if strings.HasPrefix(f.File, "manifest-") || strings.HasPrefix(f.File, "tagmanifest-") ||
			f.File == "bagit.txt" {
			lists = false
		}
	}
	for _, f := range a.bag.Files {
		if a.unlisted[f.Path] {
			continue
		}
		a.trust[f.Path] = lists && !a.bad[f.Path]
		a.sums[f.Path] = f.SHA256
	}
}

// path returns where a file of the archive is.
func (a *archive) path(rel string) string { return filepath.Join(a.dir, filepath.FromSlash(rel)) }

// with returns the files below a folder of the archive that end so, sorted.
func (a *archive) with(folder, end string) []string {
	var out []string
	for _, f := range a.bag.Files {
		if strings.HasPrefix(f.Path, folder) && strings.HasSuffix(f.Path, end) {
			out = append(out, f.Path)
		}
	}
	slices.Sort(out)
	return out
}

// readable reports whether the checksums of a NetCDF file hold and its content can be read.
func (a *archive) readable(rel string) bool {
	return a.trust[rel] && !slices.Contains(a.unreadable(), rel)
}

// open returns a NetCDF file that a verified checksum covers, and keeps it open; nil when none does, or when it cannot
// be read.
func (a *archive) open(rel string) *nc.File {
	if f, ok := a.nc[rel]; ok || !a.readable(rel) {
		return f
	}
	if a.opened != nil {
		a.opened(rel)
	}
	f, err := nc.OpenFile(a.path(rel))
	if err != nil {
		a.fault("netcdf.read", rel, "", "cannot be opened: %s", strings.ReplaceAll(err.Error(), a.path(rel),
			path.Base(rel)))
	}
	a.nc[rel] = f
	return f
}

// netcdf checks every NetCDF file against the rules of CF, and returns the files that cannot be read.
func (a *archive) netcdf(ctx context.Context) (unreadable []string, err error) {
	names := a.with("", ".nc")
	if len(names) > 0 && !nc.Available() {
		return nil, nc.ErrNoCgo
	}
	type key struct {
		name string
		sum  [32]byte
	}
	found := map[string][]metadata.Finding{}
	var look []string
	for _, rel := range names {
		if a.plan.known != nil {
			if x, ok := a.plan.known.Load(key{rel, a.sums[rel]}); ok {
				found[rel] = x.([]metadata.Finding)
				continue
			}
		}
		look = append(look, rel)
	}
	groups := a.share(look)
	answers := make([][][]metadata.Finding, len(groups))
	g, ctx := errgroup.WithContext(ctx)
	for i, group := range groups {
		g.Go(func() (err error) {
			var q childRequest
			for _, rel := range group {
				q.Files = append(q.Files, childFile{Path: a.path(rel), Name: rel, Ours: true})
			}
			answers[i], err = checkInChild(ctx, a.plan.Self, q)
			for _, rel := range group {
				a.file("checked", rel)
			}
			return err
		})
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	for i, group := range groups {
		for k, rel := range group {
			found[rel] = answers[i][k]
			if a.plan.known != nil {
				a.plan.known.Store(key{rel, a.sums[rel]}, answers[i][k])
			}
		}
	}
	for _, rel := range names {
		for _, f := range found[rel] {
			if f.Check == "netcdf.read" {
				unreadable = append(unreadable, rel)
			}
		}
		a.report.Findings = append(a.report.Findings, found[rel]...)
	}
	return unreadable, nil
}

// processBytes is the size of files for which one process more is started.
const processBytes = 16 << 20

// share divides files among the workers, by size: the next largest goes to whom has least. Few small files are all for
// one: the start of a process takes longer than they do.
func (a *archive) share(names []string) [][]string {
	n := a.plan.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	size, all := map[string]int64{}, int64(0)
	for _, f := range a.bag.Files {
		size[f.Path] = f.Bytes
	}
	for _, rel := range names {
		all += size[rel]
	}
	n = min(n, 1+int(all/processBytes))
	names = slices.Clone(names)
	slices.SortStableFunc(names, func(x, y string) int { return cmp.Compare(size[y], size[x]) })
	groups := make([][]string, min(n, len(names)))
	load := make([]int64, len(groups))
	for _, rel := range names {
		k := slices.Index(load, slices.Min(load))
		groups[k] = append(groups[k], rel)
		load[k] += size[rel] + 1
	}
	return groups
}

// exchange checks every exchange file against the rules of the format. What is no fault of a file is in the table of
// findings.
func (a *archive) exchange(ctx context.Context) error {
	for _, rel := range slices.Concat(a.with("data/casts/", "_ct1.zip"), a.with("data/casts/", "_ct1.csv"),
		a.with("data/casts/", "_hy1.csv")) {
		if err := ctx.Err(); err != nil {
			return err
		}
		found, err := a.exchangeFile(rel)
		if err != nil {
			a.fault("exchange.read", rel, "", "cannot be read: %v", errors.Unwrap(err))
			continue
		}
		a.file("checked", rel)
		a.report.Findings = append(a.report.Findings, slices.DeleteFunc(found, func(f metadata.Finding) bool {
			return f.Severity != metadata.Failure
		})...)
	}
	return nil
}

// exchangeFile checks an exchange file or a bundle, of which one member at a time is in memory.
func (a *archive) exchangeFile(rel string) ([]metadata.Finding, error) {
	if !strings.HasSuffix(rel, ".zip") {
		data, err := regular.ReadFile(a.path(rel))
		if err != nil {
			return nil, err
		}
		return checkText(data, rel), nil
	}
	f, err := regular.Open(a.path(rel))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	return checkBundle(f, info.Size(), rel, nil), nil
}
