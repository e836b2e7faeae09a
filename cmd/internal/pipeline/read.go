package pipeline

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// work is one run: what was read and what has been made of it.
type work struct {
	plan   *Plan
	dir    string // folder of the cruise file
	cruise *cruisefile.Cruise
	plan0  metadata.Digest // the cruise file

	inputs     []ingest.Input    // to be read, a cast each
	sources    []metadata.Digest // every file read from disk, the cruise file first
	onDisk     []string          // where each of sources lies
	casts      []*section.Cast   // in the order of the archive
	out        []leftOut
	findings   []metadata.Finding
	records    []metadata.Record
	dates      []time.Time // further dates written inside inputs
	sections   []sectionWork
	fields     []fieldWork
	depths     *ncprofile.DepthGrid       // bathymetry as read; nil: none
	depthAt    func(at orb.Point) float64 // of the bathymetry; nil: none
	bottles    []*section.Bottles
	edits      []editFile
	listed     []string                      // every input that sources name
	unlisted   bool                          // a source of casts is not there: none was read
	leftOutHit map[int]bool                  // entries of leave_out that took a file out
	remarks    map[*section.Cast]string      // of the station table
	known      map[string][]geostrophy.Known // of each section that has a table of levels or velocities
	knownAt    map[string][]metadata.Position

	stamp time.Time // of the archive
	data  string    // its data folder while it is made
	ids   map[*section.Cast]string
	notes []export.FileNote
	path  string // where the archive stands in the end
	files int
	bytes int64

	machine error // why inputs could not be read that are not at fault
}

// maxCruiseFile is the largest cruise file that is read, in bytes.
const maxCruiseFile = 4 << 20

// prepare reads the cruise file and every input and puts the casts in their place. What is wrong with inputs is among the findings; the
// error is for the cruise file, which nothing can be done without, and for ctx.
func prepare(ctx context.Context, plan *Plan) (*work, error) {
	plan.Program = cmp.Or(plan.Program, DefaultProgram)
	abs, err := filepath.Abs(plan.CruiseFile)
	if err != nil {
		return nil, err
	}
	w := &work{plan: plan, dir: filepath.Dir(abs), leftOutHit: map[int]bool{}}
	defer w.stage("parse")()
	data, err := readCruiseFile(plan.CruiseFile)
	if err != nil {
		return nil, err
	}
	// Places in the archive's tables are named from the cruise file's folder, as inputs are; an error that goes to the terminal names the
	// path as it was typed.
	cruise, found, err := cruisefile.Read(data, filepath.Base(abs))
	if err != nil {
		_, _, err = cruisefile.Read(data, plan.CruiseFile)
		return nil, err
	}
	w.cruise = cruise
	w.plan0 = metadata.Digest{Name: filepath.Base(abs), SHA256: sha256.Sum256(data), Bytes: int64(len(data))}
	w.sources, w.onDisk = []metadata.Digest{w.plan0}, []string{abs}
	w.findings = append(w.findings, found...)
	if err := w.enclosed(); err != nil {
		return nil, err
	}
	casts, err := w.readCasts(ctx)
	if err != nil {
		return nil, err
	}
	if err := w.readBottles(ctx); err != nil {
		return nil, err
	}
	w.leftOutAbsent()
	if err := w.noteBathymetry(ctx); err != nil {
		return nil, err
	}
	w.readKnown()
	t := w.readTables()
	if err := w.compareRecord(); err != nil {
		return nil, err
	}
	kept, out, found, done := assemble(cruise, casts, t.entries)
	if w.unlisted { // of what no file holds nothing can be said; that a source is not there comes first
		found = slices.DeleteFunc(found, func(f metadata.Finding) bool {
			return f.Severity == metadata.Warning && slices.Contains([]string{"cruise.renumber", "cruise.leave_out", "cruise.stations", "station_table.station"}, f.Check)
		})
	}
	nameCarried(kept)
	w.casts = kept
	w.out = append(w.out, out...)
	w.findings = append(w.findings, found...)
	found, err = ingest.CheckCruise(kept, declaredLegs(cruise))
	w.findings = append(w.findings, found...)
	if err != nil {
		w.fault(err, "input.cast")
	}
	w.findings = append(w.findings, ingest.CheckComplete(kept, func(k *section.Cast) float64 {
		if i := slices.IndexFunc(cruise.Systems, func(s cruisefile.System) bool { return s.Label == k.System }); i >= 0 {
			return cruise.Systems[i].Bin.WidthDbar
		}
		return 0
	})...)
	if len(kept) == 0 && !w.failed() {
		w.find(metadata.Finding{Position: cruise.File, Severity: metadata.Failure, Check: "cruise.casts", Message: "no cast is left to work on",
			Remedy: "name files or folders under casts: sources"})
	}
	w.remarks = done.stations.remarks
	w.matchBottles()
	w.recordRead(&done)
	w.edits = t.edits
	w.applyEdits(t.edits)
	if err := w.readBathymetry(ctx); err != nil {
		return nil, err
	}
	if w.machine != nil {
		return nil, w.machine
	}
	return w, nil
}

// at returns where an input lies that the cruise file names.
func (w *work) at(name string) string {
	if filepath.IsAbs(filepath.FromSlash(name)) {
		return filepath.Join(w.plan.Root, filepath.FromSlash(name))
	}
	return filepath.Join(w.dir, filepath.FromSlash(name))
}

// enclosed returns an error for each input whose name leads out of the folder that holds the inputs of an archive. The cruise file of an
// archive comes from somebody else: what it names is taken from the archive or not at all.
func (w *work) enclosed() error {
	if w.plan.Root == "" {
		return nil
	}
	var errs []error
	for _, s := range w.cruise.Named() {
		rel, err := filepath.Rel(filepath.Dir(w.plan.Root), w.at(s.Path))
		if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			errs = append(errs, &metadata.InputError{Position: s.At, Err: fmt.Errorf("%s leads out of the inputs of the archive: not read", s.Path),
				Remedy: "the archive was changed after it was made, or not made by castwright; take a good copy of it"})
		}
	}
	return errors.Join(errs...)
}

func readCruiseFile(name string) ([]byte, error) {
	fail := func(err error, remedy string) ([]byte, error) {
		return nil, &metadata.InputError{Position: metadata.Position{File: name}, Err: err, Remedy: remedy}
	}
	info, err := os.Stat(name)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return fail(errors.New("there is no such cruise file"), "castwright help cruise-file shows how to write one")
	case err != nil:
		return fail(err, "make it readable (chmod u+r)")
	case info.IsDir():
		return fail(errors.New("a folder, not a cruise file"), "name the file in it: "+path.Join(filepath.ToSlash(name), "cruise.yaml"))
	case !info.Mode().IsRegular():
		return fail(errors.New("not a regular file"), "name the cruise file")
	case info.Size() > maxCruiseFile:
		return fail(fmt.Errorf("%d bytes are too many for a cruise file; the limit is %d", info.Size(), maxCruiseFile), "name the cruise file")
	}
	data, err := regular.ReadFile(name)
	if err != nil {
		return fail(err, "make it readable (chmod u+r)")
	}
	return data, nil
}

func declaredLegs(c *cruisefile.Cruise) []ingest.Leg {
	var out []ingest.Leg
	for _, l := range c.Legs {
		if l.Expocode != "" {
			out = append(out, ingest.Leg{Expocode: l.Expocode, At: l.At})
		}
	}
	return out
}

// list gives the inputs of some sources, with absolute names as the cruise file says them wherever they lie.
func (w *work) list(sources []ingest.Source, kind ingest.Kind) *ingest.Listing {
	root := w.plan.Root
	from := slices.Clone(sources)
	for i, s := range sources {
		if root != "" && filepath.IsAbs(filepath.FromSlash(s.Path)) {
			from[i].Path = filepath.ToSlash(root) + s.Path
		}
	}
	others := []string{recordName}
	for _, s := range w.cruise.Named() {
		others = append(others, s.Path)
	}
	l, err := ingest.List(w.dir, from, kind, others...)
	if err != nil {
		w.fault(err, "input.source")
		w.unlisted = w.unlisted || kind == ingest.CTD
		return &ingest.Listing{}
	}
	if root != "" {
		r := filepath.ToSlash(root)
		for i := range l.Inputs {
			l.Inputs[i].Name = strings.TrimPrefix(l.Inputs[i].Name, r)
		}
		for i := range l.Files {
			l.Files[i].Name = strings.TrimPrefix(l.Files[i].Name, r)
			l.Files[i].Digest.Name = strings.TrimPrefix(l.Files[i].Digest.Name, r)
		}
		for i := range l.Findings {
			l.Findings[i].File = strings.TrimPrefix(l.Findings[i].File, r)
		}
	}
	w.findings = append(w.findings, l.Findings...)
	return l
}

// fault makes findings of severity error of an error about inputs.
func (w *work) fault(err error, check string) {
	for _, e := range metadata.Parts(err) {
		if OfThisMachine(e) {
			var in *metadata.InputError
			if errors.As(e, &in) { // what it advises is for a fault of the file
				e = fmt.Errorf("%s: %w", in.Position, in.Err)
			}
			w.machine = errors.Join(w.machine, e)
			continue
		}
		f := metadata.Finding{Severity: metadata.Failure, Check: check, Message: e.Error()}
		var input *metadata.InputError
		if errors.As(e, &input) {
			f.Position, f.Message, f.Remedy, f.Options = input.Position, input.Err.Error(), input.Remedy, input.Options
		}
		w.find(f)
	}
}

// readCasts reads every input that is not left out, side by side; slots keep the order.
func (w *work) readCasts(ctx context.Context) ([]*section.Cast, error) {
	l := w.list(w.cruise.Casts.Sources, ingest.CTD)
	w.inputs = w.leaveOutFiles(l.Inputs)
	o := w.readerOptions()
	type result struct {
		casts []section.Cast
		found []metadata.Finding
		err   error
	}
	results := make([]result, len(w.inputs))
	readers := sync.Pool{New: func() any { return &ingest.Reader{Options: o} }}
	var mu sync.Mutex
	done := 0
	err := each(ctx, w.plan.Workers, len(w.inputs), func(i int) error {
		r := readers.Get().(*ingest.Reader)
		defer readers.Put(r)
		in := w.inputs[i] // a copy: the reader may keep nothing of it
		results[i].casts, results[i].found, results[i].err = r.Casts(&in)
		if w.plan.Progress != nil {
			mu.Lock()
			done++
			w.plan.Progress(done, len(w.inputs)+8)
			mu.Unlock()
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	sums := map[string]metadata.Digest{}
	var casts []*section.Cast
	for i := range results {
		w.findings = append(w.findings, results[i].found...)
		if results[i].err != nil {
			w.fault(results[i].err, "input.cast")
		}
		for k := range results[i].casts {
			c := &results[i].casts[k]
			sums[c.Source.Name] = whole(c.Source)
			casts = append(casts, c)
		}
	}
	return casts, w.digestFiles(ctx, l.Files, sums)
}

// digestFiles notes every file and its checksum; those that no cast came from are read for it.
func (w *work) digestFiles(ctx context.Context, files []ingest.File, known map[string]metadata.Digest) error {
	for _, f := range files {
		d := f.Digest
		if d.Bytes == 0 {
			var ok bool
			if d, ok = known[f.Name]; !ok {
				sum, n, err := regular.Sum(ctx, f.Path)
				if ctx.Err() != nil {
					return ctx.Err()
				}
				if err != nil {
					continue // named already as an input that cannot be read
				}
				d = metadata.Digest{Name: f.Name, SHA256: sum, Bytes: n}
			}
		}
		w.sources = append(w.sources, d)
		w.onDisk = append(w.onDisk, f.Path)
	}
	return nil
}

// leaveOutFiles takes the files that the cruise file leaves out off a list.
func (w *work) leaveOutFiles(inputs []ingest.Input) []ingest.Input {
	var kept []ingest.Input
	for _, in := range inputs {
		w.listed = append(w.listed, in.Name)
		reason, drop := "", false
		for i, o := range w.cruise.Casts.LeaveOut {
			file := path.Clean(o.File)
			if o.File != "" && (in.Name == file || strings.HasPrefix(in.Name, file+"/") && strings.HasSuffix(strings.ToLower(file), ".zip")) {
				reason, drop = o.Reason, true
				w.leftOutHit[i] = true
			}
		}
		if drop {
			w.out = append(w.out, leftOut{file: in.Name, reason: reason})
			continue
		}
		kept = append(kept, in)
	}
	return kept
}

// leftOutAbsent says which of the files that the cruise file leaves out are not there.
func (w *work) leftOutAbsent() {
	for i, o := range w.cruise.Casts.LeaveOut {
		if o.File == "" || w.leftOutHit[i] {
			continue
		}
		f := metadata.Finding{Position: o.At, Severity: metadata.Warning, Check: "cruise.leave_out",
			Message: fmt.Sprintf("leave_out names %s, which no source holds", o.File), Remedy: "take the line out when it is no longer needed"}
		if near, ok := metadata.Nearest(path.Clean(o.File), w.listed); ok {
			f.Remedy = "did you mean " + near
		}
		w.find(f)
	}
}

// inputDigests gives every file read, by name.
func (w *work) inputDigests() []metadata.Digest {
	all := slices.Clone(w.sources)
	slices.SortFunc(all, func(a, b metadata.Digest) int { return strings.Compare(a.Name, b.Name) })
	return all
}

// judgeDates says which casts lie in the future of the clock. Judged by check alone: what build makes does not depend on the day.
func (w *work) judgeDates(now time.Time) {
	if !now.IsZero() {
		w.findings = append(w.findings, ingest.FutureDates(w.casts, now)...)
	}
}

// judgeLayout says why the file of casts has no pressure axis.
func (w *work) judgeLayout() {
	if f := netcdf.Layout(w.casts); f != nil {
		w.find(*f)
	}
}

// castIDs gives each cast its identity in the archive.
func (w *work) castIDs() map[*section.Cast]string {
	ids := section.IDs(w.casts)
	m := make(map[*section.Cast]string, len(ids))
	for i, k := range w.casts {
		m[k] = ids[i]
	}
	for i := range w.sections { // the mean of several casts goes by the first of them
		for _, p := range w.sections[i].section.Places {
			if p.Mean != nil && len(p.Others) > 0 {
				m[p.Chosen] = m[p.Others[0]]
			}
		}
	}
	return m
}

func sumBytes(b []byte) [32]byte { return sha256.Sum256(b) }
