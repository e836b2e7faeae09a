package pipeline

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// Watched is what builds of a cruise whose casts still arrive have in common, where a plan has it: an archive to look
// at, not one to keep. A file of a cast that cannot be read, such as one that is being written, is left out; stations
// that no cast has are still to come, whatever the state of the release. What a build made of a section is kept for the
// next one, which takes it when the section is as it was.
type Watched struct {
	// Read is called when all inputs are read and checked, before sections are mapped and anything is written: with
	// what castwright check finds, and the state of the inputs. When it returns false the build ends with ErrNotNeeded.
	Read func(p Product, state string) bool

	// Places are the files and folders outside the folder of the cruise file that it names, set by each build.
	Places []string
	// Kept are the sections that the last build took from the one before.
	Kept []string

	state    string
	sections map[string]keptSection // by name
	figures  string                 // folder of the figures of the last archive; "" for none
}

// keptSection is what a build made of a section that any input may have changed since.
type keptSection struct {
	key   [sha256.Size]byte
	casts []*section.Cast
	grid  *gridding.Grid
	found []metadata.Finding
}

// ErrNotNeeded ends a build whose plan said that it is not needed.
var ErrNotNeeded = errors.New("the build is not needed")

// read reports to the plan what is found so far.
func (w *survey) read() error {
	v := w.plan.Watched
	if v == nil {
		return nil
	}
	v.state, v.Kept = w.inputState(), nil
	saved := slices.Clone(w.findings)
	w.judged()
	p := w.product()
	w.findings = saved // the findings to come are judged together with these
	if !v.Read(p, v.state) {
		return ErrNotNeeded
	}
	return nil
}

// inputState names the contents of all inputs.
func (w *inputs) inputState() string {
	h := sha256.New()
	for _, d := range w.inputDigests() {
		fmt.Fprintf(h, "%q %x\n", d.Name, d.SHA256)
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// withoutBroken leaves out an input that could not be read: the errors among the findings from the n-th are warnings
// of a build to look at.
func (w *inputs) withoutBroken(name string, n int) {
	if w.plan.Watched == nil {
		return
	}
	for i := n; i < len(w.findings); i++ {
		if f := &w.findings[i]; f.Severity == metadata.Failure {
			f.Severity = metadata.Warning
			f.Message += "; this page leaves the file out, but castwright build makes no archive until it can be read"
		}
	}
	w.out = append(w.out, leftOut{file: name, reason: "cannot be read at present"})
}

// keptGrid returns the grid that the build before made of a section that is as it was, and its findings; nil when
// there is none.
func (w *survey) keptGrid(s *sectionWork, key [sha256.Size]byte) (*gridding.Grid, []metadata.Finding) {
	if w.plan.Watched == nil {
		return nil, nil
	}
	k, ok := w.plan.Watched.sections[s.settings.Name]
	if !ok || k.key != key || len(k.casts) != len(s.section.Casts) {
		return nil, nil
	}
	g := *k.grid
	g.LeftOut = slices.Clone(g.LeftOut)
	for i := range g.LeftOut { // the casts were read again
		at := slices.Index(k.casts, g.LeftOut[i].Cast)
		if at < 0 {
			return nil, nil
		}
		g.LeftOut[i].Cast = s.section.Casts[at]
	}
	w.plan.Watched.Kept = append(w.plan.Watched.Kept, s.settings.Name)
	return &g, k.found
}

// keepGrid keeps the grid of a section for the next build.
func (w *survey) keepGrid(s *sectionWork, key [sha256.Size]byte, g *gridding.Grid, found []metadata.Finding) {
	v := w.plan.Watched
	if v == nil {
		return
	}
	if v.sections == nil {
		v.sections = map[string]keptSection{}
	}
	v.sections[s.settings.Name] = keptSection{key, s.section.Casts, g, found}
}

// sectionKey names all that a grid and the figures of a section are made from: the casts of the section with their
// values and flags, and every input that is no cast. The zero key is that of a build that keeps nothing.
func (w *survey) sectionKey(s *sectionWork) (key [sha256.Size]byte) {
	if w.plan.Watched == nil {
		return key
	}
	ofCasts := map[string]bool{}
	for _, in := range w.toRead {
		ofCasts[in.Name] = true
	}
	h := sha256.New()
	fmt.Fprintf(h, "%s\n", w.plan.Program)
	for _, d := range w.inputDigests() {
		if !ofCasts[d.Name] {
			fmt.Fprintf(h, "%q %x\n", d.Name, d.SHA256)
		}
	}
	fmt.Fprintf(h, "%v\n", s.section.DistanceKm)
	for _, k := range s.section.Casts {
		c := *k
		c.PressureDbar, c.Columns = nil, nil
		fmt.Fprintf(h, "%+v\n", c)
		hashNumbers(h, k.PressureDbar)
		for i := range k.Columns {
			col := &k.Columns[i]
			fmt.Fprintf(h, "%s %s\n", col.Name, col.Units)
			hashNumbers(h, col.Values)
			for _, f := range col.Flags {
				h.Write([]byte{byte(f)})
			}
		}
	}
	h.Sum(key[:0])
	return key
}

func hashNumbers(h hash.Hash, values []float64) {
	b := make([]byte, 0, 8*len(values)+8)
	b = binary.LittleEndian.AppendUint64(b, uint64(len(values)))
	for _, v := range values {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	h.Write(b)
}

// keptFigures returns a function that reports whether a picture is one of a section that is as it was; it copies the
// picture from the archive of the build before into dir. It returns nil when nothing is kept. Other pictures, and those
// with levels that sections share, are drawn again.
func (w *archive) keptFigures(figs []figure.Figure, dir string) func(name string) bool {
	v := w.plan.Watched
	if v == nil || v.figures == "" || w.cruise.Figures.Share {
		return nil
	}
	same := map[string]bool{} // by stem
	for _, f := range figs {
		var of *section.Section
		switch f := f.(type) {
		case *figure.Section:
			of = f.Section
		case *figure.Overview:
			if len(f.Sections) > 0 {
				of = f.Sections[0].Section
			}
		}
		same[f.Stem()] = slices.ContainsFunc(w.sections, func(s sectionWork) bool { return s.kept && s.section == of })
	}
	return func(name string) bool {
		if !same[strings.TrimSuffix(strings.TrimSuffix(name, filepath.Ext(name)), "_one_column")] {
			return false
		}
		data, err := regular.ReadFile(filepath.Join(v.figures, name))
		return err == nil && os.WriteFile(filepath.Join(dir, name), data, 0o644) == nil
	}
}

// outside lists the inputs that lie outside the folder of the cruise file.
func (w *inputs) outside() []string {
	var out []string
	for _, s := range w.cruise.Named() {
		if rel, err := filepath.Rel(w.dir, w.at(s.Path)); err != nil || !filepath.IsLocal(rel) {
			out = append(out, w.at(s.Path))
		}
	}
	return out
}
