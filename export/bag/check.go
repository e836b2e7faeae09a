package bag

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"syscall"

	"github.com/castwright/castwright/internal/regular"
)

// Kind says what is wrong.
type Kind uint8

// Kinds of fault.
const (
	Missing     Kind = iota // a manifest lists it, or the RFC requires it, and it is not there
	Extra                   // it is there and a manifest that must list it doesn't
	Changed                 // its checksum is not the listed one
	Malformed               // a line or a name that the RFC does not allow
	Escape                  // a path that could lead out of the bag
	Duplicate               // listed twice, or a label that may occur once occurs twice
	Oxum                    // number of bytes or files of the payload is not the stated one
	Declaration             // version or encoding in bagit.txt
	Special                 // a symbolic link, a pipe, a device
	Unreadable              // there, but cannot be read
	Unsupported             // a manifest of an algorithm that we do not know
	Form                    // allowed by the RFC, but not the bytes that Write gives to this content
	Unlisted                // a tag file that no tag manifest lists, which the RFC allows: no fault
)

var kindWords = [...]string{"missing", "extra", "changed", "malformed", "escape", "duplicate", "oxum", "declaration",
	"special",
	"unreadable", "unsupported", "form", "unlisted"}

// String returns the word used in tables and JSON.
func (k Kind) String() string {
	if int(k) < len(kindWords) {
		return kindWords[k]
	}
	return "unknown"
}

// MarshalText writes the word.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// A Fault is one thing wrong with a bag.
type Fault struct {
	Kind Kind
	// from the bag's folder, with slashes: the file that is missing or changed, or the one with the wrong line
	File   string
	Line   int    // from 1; 0 when the fault is not of a line
	Detail string // lower case, no full stop
}

// String returns the fault on one line.
func (f Fault) String() string {
	at := f.File
	if strings.ContainsFunc(at, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\uFFFD' }) {
		at = strconv.Quote(at)
	}
	if f.Line > 0 {
		at += ":" + strconv.Itoa(f.Line)
	}
	return at + ": " + f.Kind.String() + ": " + f.Detail
}

// A Report is the outcome of Check.
type Report struct {
	Faults  []Fault // sorted by file, line and kind; empty for a bag that is complete and valid
	Files   []File  // every regular file that is there, sorted by path
	Payload int     // how many of them are payload
	Bytes   int64   // size of the payload
	Info    []Field // bag-info.txt, what could be read of it
}

// A manifest as Check sees it.
type manifest struct {
	name    string
	alg     int // index into known
	tag     bool
	entries map[string]entry
}

// Check reads every file of the bag in dir once and reports every fault, not the first. Besides the RFC it holds the
// bag to what Write does, so that no byte of a bag can change unseen: each tag file is in each tag manifest, each
// algorithm with a manifest has a tag manifest, and manifests are in the form that Write gives them (Form). The error
// is for a dir that is no folder and for ctx.
func Check(ctx context.Context, dir string) (*Report, error) {
	files, faults, err := scan(dir)
	if err != nil {
		return nil, err
	}
	c := checker{dir: dir, report: &Report{Files: files, Faults: faults}, there: map[string]int{},
		odd: map[string]bool{}}
	for i := range files {
		c.there[files[i].Path] = i
		if files[i].payload() {
			c.report.Payload++
			c.report.Bytes += files[i].Bytes
		}
	}
	for _, f := range faults {
		c.odd[f.File] = true
	}
	c.declaration()
	c.info()
	c.manifests()
	if err := c.compare(ctx); err != nil {
		return nil, err
	}
	sort.SliceStable(c.report.Faults, func(i, j int) bool {
		a, b := c.report.Faults[i], c.report.Faults[j]
		if a.File != b.File {
			return a.File < b.File
		}
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		if a.Kind != b.Kind {
			return a.Kind < b.Kind
		}
		return a.Detail < b.Detail
	})
	return c.report, nil
}

type checker struct {
	dir    string
	report *Report
	there  map[string]int  // path to index into report.Files
	odd    map[string]bool // paths that have a fault already and are no files that can be compared
	lists  []manifest
}

func (c *checker) fault(kind Kind, file string, line int, format string, a ...any) {
	c.report.Faults = append(c.report.Faults, Fault{Kind: kind, File: file, Line: line,
		Detail: fmt.Sprintf(format, a...)})
}

// largest is the most bytes that a tag file may have for us to take it into memory: some millions of lines.
const largest = 1 << 28

// read returns the bytes of a tag file, or says by a fault why it cannot.
func (c *checker) read(path string) ([]byte, bool) {
	i, ok := c.there[path]
	if !ok {
		return nil, false
	}
	if c.report.Files[i].Bytes > largest {
		c.fault(Malformed, path, 0, "%d bytes are too many for a list", c.report.Files[i].Bytes)
		return nil, false
	}
	b, err := regular.ReadFile(filepath.Join(c.dir, filepath.FromSlash(path)))
	return b, err == nil // compare reports that it cannot be read
}

func (c *checker) declaration() {
	text, ok := c.read("bagit.txt")
	if !ok {
		c.missing("bagit.txt", "required in every bag")
		return
	}
	c.report.Faults = append(c.report.Faults, checkDeclaration(text)...)
}

// missing reports a file that the RFC requires, unless something else has been said about it.
func (c *checker) missing(path, why string) {
	if _, ok := c.there[path]; !ok && !c.odd[path] {
		c.fault(Missing, path, 0, "%s", why)
		c.odd[path] = true
	}
}

func checkDeclaration(text []byte) []Fault {
	if string(text) == declaration {
		return nil
	}
	var faults []Fault
	fault := func(kind Kind, line int, format string, a ...any) {
		faults = append(faults, Fault{Kind: kind, File: "bagit.txt", Line: line, Detail: fmt.Sprintf(format, a...)})
	}
	if bytes.HasPrefix(text, []byte("\xEF\xBB\xBF")) {
		fault(Declaration, 1, "begins with a byte-order mark")
		text = text[3:]
	}
	got, want := lines(text), lines([]byte(declaration))
	for i, w := range want {
		label, value, _ := strings.Cut(w, ": ")
		switch {
		case i >= len(got):
			fault(Declaration, i+1, "%q is missing", w)
		case got[i] == w:
		case strings.HasPrefix(got[i], label+": "):
			fault(Declaration, i+1, "%s is %s, we know %s", label, short(got[i][len(label)+2:]), value)
		default:
			fault(Declaration, i+1, "%s should be %q", short(got[i]), w)
		}
	}
	if len(got) > len(want) {
		fault(Declaration, len(want)+1, "more than two lines")
	}
	if len(faults) == 0 {
		fault(Form, 0, "ends of lines are not single line feeds")
	}
	return faults
}

func (c *checker) info() {
	text, ok := c.read("bag-info.txt")
	if !ok {
		return // optional; a tag manifest that lists it misses it
	}
	info, faults := parseInfo(text)
	c.report.Info = info
	c.report.Faults = append(c.report.Faults, faults...)
	seen := map[string]bool{}
	for _, f := range info {
		label := strings.ToLower(f.Label)
		switch label {
		case "payload-oxum":
			if want := fmt.Sprintf("%d.%d", c.report.Bytes, c.report.Payload); f.Value != want {
				c.fault(Oxum, "bag-info.txt", 0, "Payload-Oxum is %s, the payload has %s (bytes.files)", short(f.Value),
					want)
			}
		case "bagging-date":
			if !isDate(f.Value) {
				c.fault(Malformed, "bag-info.txt", 0, "Bagging-Date %s is not a date YYYY-MM-DD", short(f.Value))
			}
		default:
			continue
		}
		if seen[label] {
			c.fault(Duplicate, "bag-info.txt", 0, "%s occurs twice", f.Label)
		}
		seen[label] = true
	}
}

// manifests reads all lists of checksums and looks at which there are.
func (c *checker) manifests() {
	has := map[string]bool{}
	payload := 0
	for _, f := range c.report.Files {
		name, tag, ok := manifestName(f.Path)
		if !ok {
			continue
		}
		has[f.Path] = true
		alg := -1
		for i, a := range known {
			if a.name == name {
				alg = i
			}
		}
		if alg < 0 {
			c.fault(Unsupported, f.Path, 0, "checksums by %s cannot be checked", short(name))
			continue
		}
		if !tag {
			payload++
		}
		text, ok := c.read(f.Path)
		if !ok {
			continue
		}
		entries, faults := parseManifest(f.Path, known[alg].make().Size(), tag, text)
		c.report.Faults = append(c.report.Faults, faults...)
		if len(faults) == 0 {
			c.form(f.Path, entries, text)
		}
		m := manifest{name: f.Path, alg: alg, tag: tag, entries: make(map[string]entry, len(entries))}
		for _, e := range entries {
			m.entries[e.path] = e
		}
		c.lists = append(c.lists, m)
	}
	if payload == 0 {
		c.missing("manifest-sha512.txt", "no manifest of a known algorithm; one is required")
	}
	for _, a := range known {
		if m, t := "manifest-"+a.name+".txt", "tagmanifest-"+a.name+".txt"; has[m] && !has[t] {
			c.missing(t, "no checksum covers the manifests and bag-info.txt: "+a.name)
		}
	}
	if info, err := os.Lstat(filepath.Join(c.dir, "data")); err != nil {
		c.missing("data", "the payload folder is required")
	} else if !info.IsDir() && !c.odd["data"] {
		c.fault(Malformed, "data", 0, "not a folder")
	}
}

// form compares a faultless manifest with what Write would have made of its entries.
func (c *checker) form(name string, entries []entry, text []byte) {
	sorted := append([]entry(nil), entries...)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].path < sorted[j].path })
	want := formatManifest(sorted)
	if bytes.Equal(want, text) {
		return
	}
	at := 0
	for at < len(want) && at < len(text) && want[at] == text[at] {
		at++
	}
	c.fault(Form, name, 1+bytes.Count(text[:at], []byte{'\n'}),
		"from here on not sorted by path, or not lower-case digits, two blanks, path and a line feed")
}

// compare hashes each file and holds it against the lists.
func (c *checker) compare(ctx context.Context) error {
	algorithms := append([]algorithm(nil), known[2]) // SHA-256 always, for the report
	slot := map[int]int{2: 0}
	for _, m := range c.lists {
		if _, ok := slot[m.alg]; !ok {
			slot[m.alg] = len(algorithms)
			algorithms = append(algorithms, known[m.alg])
		}
	}
	all, err := hashAll(ctx, c.dir, c.report.Files, algorithms)
	if err != nil {
		return err
	}
	for i := range c.report.Files {
		f := &c.report.Files[i]
		if err := all[i].err; errors.Is(err, syscall.EMFILE) || errors.Is(err, syscall.ENFILE) {
			return err // no fault of the bag
		}
		if all[i].err != nil {
			c.fault(Unreadable, f.Path, 0, "%s", reason(all[i].err))
			continue
		}
		b, err := hex.DecodeString(all[i].hex[0])
		if err != nil {
			return err
		}
		copy(f.SHA256[:], b)
		var differs, holds, unlisted []string
		for _, m := range c.lists {
			e, ok := m.entries[f.Path]
			switch {
			case !ok && m.tag != f.payload() && !isTagManifest(f.Path):
				unlisted = append(unlisted, m.name)
			case ok && e.sum != all[i].hex[slot[m.alg]]:
				differs = append(differs, fmt.Sprintf("%s:%d", m.name, e.line))
			case ok:
				holds = append(holds, fmt.Sprintf("%s:%d", m.name, e.line))
			}
		}
		if len(unlisted) > 0 {
			kind := Extra
			if !f.payload() && f.Path != "bagit.txt" && f.Path != "bag-info.txt" &&
				!strings.HasPrefix(f.Path, "manifest-") {
				kind = Unlisted
			}
			c.fault(kind, f.Path, 0, "not listed in %s", strings.Join(unlisted, ", "))
		}
		if len(differs) > 0 {
			detail := "differs from the checksum in " + strings.Join(differs, ", ")
			if len(holds) > 0 {
				detail += ", agrees with " + strings.Join(holds, ", ")
			}
			c.fault(Changed, f.Path, 0, "%s", detail)
		}
	}
	listed := map[string][]string{}
	for _, m := range c.lists {
		for path, e := range m.entries {
			if _, ok := c.there[path]; !ok && !c.odd[path] {
				listed[path] = append(listed[path], fmt.Sprintf("%s:%d", m.name, e.line))
			}
		}
	}
	for path, where := range listed {
		c.fault(Missing, path, 0, "listed in %s", strings.Join(where, ", "))
	}
	return nil
}
