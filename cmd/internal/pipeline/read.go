package pipeline

import (
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
	"sync/atomic"
	"time"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// inputs is what a cruise file names, as read.
type inputs struct {
	*run
	dir    string // folder of the cruise file
	cruise *cruisefile.Cruise
	plan0  metadata.Digest // the cruise file

	toRead     []ingest.Input    // with a cast each
	sources    []metadata.Digest // every file read from disk, the cruise file first
	onDisk     []string          // where each of sources lies
	listed     []string          // every input that sources name
	unlisted   bool              // a source of casts is not there: none was read
	out        []leftOut
	leftOutHit map[int]bool // entries of leave_out that took a file out

	used    []atomic.Bool   // of the aliases: a column was explained
	read    []*section.Cast // in the order of the files
	bottles []*section.Bottles
	tables  tables
	dates   []time.Time                   // further dates written inside inputs
	known   map[string][]geostrophy.Known // of each section that has a table of levels or velocities
	knownAt map[string][]metadata.Position
}

// maxCruiseFile is the largest cruise file that is read, in bytes.
const maxCruiseFile = 4 << 20

// readInputs reads the cruise file and every input. What is wrong with inputs is among the findings; the error is for
// the cruise file, which nothing can be done without, and for ctx.
func readInputs(ctx context.Context, r *run) (*inputs, error) {
	abs, err := filepath.Abs(r.plan.CruiseFile)
	if err != nil {
		return nil, err
	}
	w := &inputs{run: r, dir: filepath.Dir(abs), leftOutHit: map[int]bool{}}
	data, err := readCruiseFile(w.plan.CruiseFile)
	if err != nil {
		return nil, err
	}
	// Places in the archive's tables are named from the cruise file's folder, as inputs are; an error that goes to the
	// terminal names the path as it was typed.
	cruise, found, err := cruisefile.Read(data, filepath.Base(abs))
	if err != nil {
		_, _, err = cruisefile.Read(data, w.plan.CruiseFile)
		return nil, err
	}
	w.cruise = cruise
	if v := w.plan.Watched; v != nil {
		v.Places = w.outside()
	}
	w.plan0 = metadata.Digest{Name: filepath.Base(abs), SHA256: sha256.Sum256(data), Bytes: int64(len(data))}
	w.sources, w.onDisk = []metadata.Digest{w.plan0}, []string{abs}
	w.find(found...)
	if err := w.enclosed(); err != nil {
		return nil, err
	}
	w.used = make([]atomic.Bool, len(cruise.Casts.Aliases))
	w.tables = w.readTables() // before the casts: layouts take positions from the station table
	if err := w.readCasts(ctx); err != nil {
		return nil, err
	}
	if err := w.readBottles(ctx); err != nil {
		return nil, err
	}
	w.leftOutAbsent()
	w.unusedAliases()
	if err := w.noteGrids(ctx); err != nil {
		return nil, err
	}
	w.readKnown()
	return w, w.compareRecord()
}

// at returns where an input lies that the cruise file names.
func (w *inputs) at(name string) string {
	if filepath.IsAbs(filepath.FromSlash(name)) {
		return filepath.Join(w.plan.Root, filepath.FromSlash(name))
	}
	return filepath.Join(w.dir, filepath.FromSlash(name))
}

// enclosed returns an error for each input whose name leads out of the folder that holds the inputs of an archive. The
// cruise file of an archive comes from somebody else: what it names is taken from the archive or not at all.
func (w *inputs) enclosed() error {
	if w.plan.Root == "" {
		return nil
	}
	var errs []error
	for _, s := range w.cruise.Named() {
		rel, err := filepath.Rel(filepath.Dir(w.plan.Root), w.at(s.Path))
		if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
			errs = append(errs, &metadata.InputError{Position: s.At,
				Err:    fmt.Errorf("%s leads out of the inputs of the archive: not read", s.Path),
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
		return fail(errors.New("a folder, not a cruise file"), "name the file in it: "+path.Join(filepath.ToSlash(name),
			"cruise.yaml"))
	case !info.Mode().IsRegular():
		return fail(errors.New("not a regular file"), "name the cruise file")
	case info.Size() > maxCruiseFile:
		return fail(fmt.Errorf("%d bytes are too many for a cruise file; the limit is %d", info.Size(), maxCruiseFile),
			"name the cruise file")
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
			start, _ := time.Parse(time.DateOnly, l.Start) // a day that is not stated is zero
			end, _ := time.Parse(time.DateOnly, l.End)
			out = append(out, ingest.Leg{Expocode: l.Expocode, Start: start, End: end, At: l.At})
		}
	}
	return out
}

// list returns the inputs of some sources, with absolute names as the cruise file says them wherever they lie.
func (w *inputs) list(sources []ingest.Source, kind ingest.Kind) *ingest.Listing {
	root := w.plan.Root
	from := slices.Clone(sources)
	for i, s := range sources {
		if root != "" && filepath.IsAbs(filepath.FromSlash(s.Path)) {
			from[i].Path = filepath.ToSlash(root) + s.Path
		}
	}
	others := []string{RecordName}
	for _, s := range w.cruise.Named() {
		others = append(others, s.Path)
	}
	if w.underway() {
		from = w.thereYet(from, kind)
	}
	l, err := ingest.List(w.dir, from, kind, w.cruise.Casts.Layouts, others...)
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
	w.find(l.Findings...)
	return l
}

// thereYet returns the sources that hold files; while the cruise is underway the files of the others are still to come,
// which is a note for each.
func (w *inputs) thereYet(sources []ingest.Source, kind ingest.Kind) []ingest.Source {
	return slices.DeleteFunc(sources, func(s ingest.Source) bool {
		_, err := ingest.List(w.dir, []ingest.Source{s}, kind, w.cruise.Casts.Layouts)
		if !errors.Is(err, ingest.ErrNothingThere) {
			return false
		}
		w.find(metadata.Finding{Position: s.At, Severity: metadata.Note, Check: "input.source",
			Message: fmt.Sprintf("nothing is there yet under %s", s.Path)})
		return true
	})
}

// readCasts reads every input that is not left out, side by side; slots keep the order.
func (w *inputs) readCasts(ctx context.Context) error {
	l := w.list(w.cruise.Casts.Sources, ingest.CTD)
	w.toRead = w.leaveOutFiles(l.Inputs)
	o := w.readerOptions()
	type result struct {
		casts []section.Cast
		found []metadata.Finding
		err   error
	}
	results := make([]result, len(w.toRead))
	readers := sync.Pool{New: func() any { return &ingest.Reader{Options: o} }}
	var mu sync.Mutex
	done := 0
	err := each(ctx, w.plan.Workers, len(w.toRead), func(i int) error {
		r := readers.Get().(*ingest.Reader)
		defer readers.Put(r)
		in := w.toRead[i] // a copy: the reader may keep nothing of it
		if isProfiles(&in) {
			results[i].casts, results[i].found, results[i].err = w.profiles(ctx, &in)
		} else {
			results[i].casts, results[i].found, results[i].err = r.Casts(&in)
		}
		for k := range results[i].casts {
			w.moveCast(&results[i].casts[k])
		}
		mu.Lock()
		defer mu.Unlock()
		w.file("read", in.Name)
		if done++; w.plan.Progress != nil {
			w.plan.Progress(done, len(w.toRead)+8)
		}
		return nil
	})
	if err != nil {
		return err
	}
	sums := map[string]metadata.Digest{}
	for i := range results {
		w.find(slices.DeleteFunc(results[i].found, saidByChecks)...)
		if results[i].err != nil {
			n := len(w.findings)
			w.fault(results[i].err, "input.cast")
			w.withoutBroken(w.toRead[i].Name, n)
		}
		for k := range results[i].casts {
			c := &results[i].casts[k]
			sums[c.Source.Name] = whole(c.Source)
			w.read = append(w.read, c)
		}
	}
	return w.digestFiles(ctx, l.Files, sums)
}

// saidByChecks reports whether a finding of a reader is one that the checks make of every level: the order of
// pressures, and values of the quantities that have checks of their own.
func saidByChecks(f metadata.Finding) bool {
	checked := []string{"temp", "temp2", "psal", "psal2", "oxy", "oxy2"}
	return f.Check == "exchange.pressure_order" || f.Check == "exchange.range" && slices.Contains(checked, f.Variable)
}

// digestFiles notes every file and its checksum; those that no cast came from are read for it.
func (w *inputs) digestFiles(ctx context.Context, files []ingest.File, known map[string]metadata.Digest) error {
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
func (w *inputs) leaveOutFiles(inputs []ingest.Input) []ingest.Input {
	var kept []ingest.Input
	for _, in := range inputs {
		w.listed = append(w.listed, in.Name)
		reason, drop := "", false
		for i, o := range w.cruise.Casts.LeaveOut {
			file := path.Clean(o.File)
			if o.File != "" && (in.Name == file || strings.HasPrefix(in.Name, file+"/") &&
				strings.HasSuffix(strings.ToLower(file), ".zip")) {
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
func (w *inputs) leftOutAbsent() {
	for i, o := range w.cruise.Casts.LeaveOut {
		if o.File == "" || w.leftOutHit[i] {
			continue
		}
		f := metadata.Finding{Position: o.At, Severity: metadata.Warning, Check: "cruise.leave_out",
			Message: fmt.Sprintf("leave_out names %s, which no source holds", o.File),
			Remedy:  "take the line out when it is no longer needed"}
		if near, ok := metadata.Nearest(path.Clean(o.File), w.listed); ok {
			f.Remedy = "did you mean " + near
		}
		w.find(f)
	}
}

// inputDigests returns every file read, by name.
func (w *inputs) inputDigests() []metadata.Digest {
	all := slices.Clone(w.sources)
	slices.SortFunc(all, func(a, b metadata.Digest) int { return strings.Compare(a.Name, b.Name) })
	return all
}

// explainLayout says why the file of casts has no pressure axis.
func (w *survey) explainLayout() {
	if f := netcdf.Layout(w.casts); f != nil {
		w.find(*f)
	}
}

func sumBytes(b []byte) [32]byte { return sha256.Sum256(b) }
