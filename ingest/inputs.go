package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A Source is a file, folder or glob as the cruise file says it: slash-separated, relative to the cruise file's folder.
type Source struct {
	Path string
	At   metadata.Position
}

// Kind says what an input holds.
type Kind uint8

// Kinds of input.
const (
	CTD     Kind = iota // exchange CTD files, one cast each
	Bottles             // exchange bottle files
)

// words returns the ending, the first bytes and the cruise-file key of a kind.
func (k Kind) words() (ending, stamp, key string) {
	if k == Bottles {
		return "_hy1.csv", "BOTTLE", "bottles"
	}
	return "_ct1.csv", "CTD", "sources"
}

// An Input is one file, or one member of a zip bundle, to be read.
type Input struct {
	Name string // as the cruise file says it, slash-separated; a member is ARCHIVE/MEMBER
	Kind Kind

	path   string  // the file on disk; of a member: its archive
	member *member // nil for a file
	err    error   // what is wrong with it already, told when it is read
}

// A File is one file on disk that inputs come from. The digest of a zip bundle is that of the whole archive; that of
// other files is in the casts read from them, and zero here.
type File struct {
	Name   string
	Path   string
	Digest metadata.Digest
}

// A Listing is what sources name, in a fixed order: as written, folders and globs by name, members as they stand in
// their archive.
type Listing struct {
	Inputs   []Input
	Files    []File
	Findings []metadata.Finding

	named   map[string]bool // on disk: what the cruise file names elsewhere
	layouts []Layout        // of files that are not exchange files
}

// maxFile is the largest exchange file that is read, in bytes.
const maxFile = 256 << 20

// List finds the files that sources name below dir; of the files of a folder those that a layout is for are taken too.
// others are further files that the cruise file names, which are not missed where a folder holds them. A file named
// twice is listed once. A source that names nothing is an error. What is wrong with one file, archive or member is told
// when that is read, so that it can be left out.
func List(dir string, sources []Source, kind Kind, layouts []Layout, others ...string) (*Listing, error) {
	l := &Listing{named: map[string]bool{}, layouts: layouts}
	for _, o := range others {
		l.named[within(dir, path.Clean(o))] = true
	}
	var errs []error
	seen := map[string]bool{}
	for _, s := range sources {
		paths, err := l.expand(dir, s, kind)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		for _, p := range paths {
			onDisk := within(dir, p)
			if seen[onDisk] {
				continue
			}
			seen[onDisk] = true
			l.add(p, onDisk, kind)
		}
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return l, nil
}

// within returns the path on disk of a slash-separated name relative to dir.
func within(dir, name string) string {
	if p := filepath.FromSlash(name); filepath.IsAbs(p) {
		return filepath.Clean(p)
	}
	return filepath.Join(dir, filepath.FromSlash(name))
}

// ErrNothingThere is the fault of a source that names no file: the files may be still to come.
var ErrNothingThere = errors.New("nothing is there")

// nothingThere is such a fault in words of its own.
type nothingThere struct{ error }

func (nothingThere) Is(target error) bool { return target == ErrNothingThere }

// nothing returns the error of a source that names no file.
func nothing(s Source, remedy, format string, args ...any) error {
	return &metadata.InputError{Position: s.At, Err: nothingThere{fmt.Errorf(format, args...)}, Remedy: remedy}
}

func sourceError(s Source, remedy, format string, args ...any) error {
	return &metadata.InputError{Position: s.At, Err: fmt.Errorf(format, args...), Remedy: remedy}
}

// expand returns the files of one source, named as the source names them.
func (l *Listing) expand(dir string, s Source, kind Kind) ([]string, error) {
	ending, _, key := kind.words()
	name := path.Clean(strings.TrimSpace(s.Path))
	if strings.TrimSpace(s.Path) == "" {
		return nil, sourceError(s, "write a file, a folder or a pattern such as leg1/*"+ending, "empty name under %s",
			key)
	}
	info, err := os.Stat(within(dir, name))
	switch {
	case err == nil && info.IsDir():
		return l.folder(dir, s, name, kind)
	case err == nil && !info.Mode().IsRegular():
		return nil, sourceError(s, "name a file or a folder", "%s is neither a file nor a folder", s.Path)
	case err == nil:
		return []string{name}, nil
	case strings.ContainsAny(name, "*?["):
		return glob(dir, s, name)
	case errors.Is(err, fs.ErrNotExist):
		return nil, nothing(s, "write the path relative to the folder of the cruise file", "%s does not exist",
			s.Path)
	}
	return nil, sourceError(s, "make it readable (chmod u+r)", "%s: %w", s.Path, cause(err))
}

func glob(dir string, s Source, name string) ([]string, error) {
	if strings.Contains(name, "**") {
		return nil, sourceError(s, "list each folder", "%s: ** has no meaning; * is any part of one name", s.Path)
	}
	pattern := filepath.FromSlash(name)
	lead := ""
	if !filepath.IsAbs(pattern) {
		pattern = strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(filepath.Clean(dir)) + string(
			filepath.Separator) + pattern
		lead = filepath.Clean(dir) + string(filepath.Separator)
	}
	found, err := filepath.Glob(pattern)
	if err != nil {
		return nil, sourceError(s, "close each [ with ]", "%s: %w", s.Path, err)
	}
	var names []string
	for _, f := range found {
		if info, err := os.Stat(f); err == nil && info.Mode().IsRegular() && !strings.HasPrefix(filepath.Base(f), ".") {
			rel := f
			if lead != "" {
				if r, err := filepath.Rel(lead, f); err == nil { // the pattern may lead out of the folder
					rel = r
				}
			}
			names = append(names, path.Clean(filepath.ToSlash(rel)))
		}
	}
	if len(names) == 0 {
		return nil, nothing(s, "write the pattern relative to the folder of the cruise file", "no file matches %s",
			s.Path)
	}
	slices.Sort(names)
	return names, nil
}

// folder lists what a folder holds of the kind wanted: by its ending, else by its first bytes.
func (l *Listing) folder(dir string, s Source, name string, kind Kind) ([]string, error) {
	ending, stamp, _ := kind.words()
	entries, err := os.ReadDir(within(dir, name))
	if err != nil {
		return nil, sourceError(s, "make it readable (chmod u+r)", "%s: %w", s.Path, cause(err))
	}
	var names, others []string
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") { // hidden: left by editors and file managers
			continue
		}
		n := path.Join(name, e.Name())
		low := strings.ToLower(e.Name())
		info, err := os.Stat(within(dir, n))
		switch {
		case l.named[within(dir, n)]:
		case err != nil && strings.HasSuffix(low, ending): // a link to a file that is away, for one: reading it says so
			names = append(names, n)
		case err != nil || !info.Mode().IsRegular():
			others = append(others, e.Name())
		case strings.HasSuffix(low, ending), kind == CTD && (strings.HasSuffix(low, "_ct1.zip") ||
			strings.HasSuffix(low, ".nc")):
			names = append(names, n)
		case strings.HasSuffix(low, ".csv") && beginsWith(within(dir, n), stamp):
			names = append(names, n)
		case kind == CTD && LayoutFor(l.layouts, n) != nil && !otherKind(low) && !beginsWith(within(dir, n), "BOTTLE"):
			names = append(names, n)
		default:
			others = append(others, e.Name())
		}
	}
	if len(names) == 0 {
		return nil, nothing(s, "name the folder that holds them, or the files",
			"folder %s holds no file that ends in %s or begins with %s", s.Path, ending, stamp)
	}
	l.unread(name, others, stamp)
	slices.Sort(names)
	return names, nil
}

// otherKind reports whether a file is of a kind that no layout is for, by its ending: archives, pictures, documents,
// NetCDF.
func otherKind(name string) bool {
	switch path.Ext(name) {
	case ".zip", ".gz", ".nc", ".png", ".jpg", ".pdf", ".svg", ".xls", ".xlsx", ".ods", ".doc", ".docx", ".md", ".yaml",
		".yml", ".json", ".sha256":
		return true
	}
	return strings.HasSuffix(name, "_hy1.csv")
}

// dataEndings are endings of files that may hold casts in a form that is not read.
var dataEndings = []string{".csv", ".txt", ".dat", ".asc", ".tsv", ".nc", ".zip", ".gz", ".xls", ".xlsx", ".ods",
	".json"}

// unread lists what a folder holds that is not read: a warning for each ending that data may have, one note for the
// rest.
func (l *Listing) unread(folder string, names []string, stamp string) {
	byEnding := map[string][]string{}
	for _, n := range names {
		ending := strings.ToLower(path.Ext(n))
		if !slices.Contains(dataEndings, ending) || strings.HasSuffix(strings.ToLower(n), "_hy1.csv") ||
			strings.HasSuffix(strings.ToLower(n), "_ct1.csv") {
			ending = ""
		}
		byEnding[ending] = append(byEnding[ending], n)
	}
	for _, ending := range slices.Sorted(maps.Keys(byEnding)) {
		list := byEnding[ending]
		slices.Sort(list)
		shown := strings.Join(list[:min(5, len(list))], " ")
		if len(list) > 5 {
			shown += " ..."
		}
		f := metadata.Finding{Position: metadata.Position{File: folder}, Severity: metadata.Note,
			Check: "exchange.other_files", Count: len(list),
			Message: fmt.Sprintf("%d other %s in the folder %s not read: %s", len(list),
				plural(len(list), "entry", "entries"), plural(len(list), "is", "are"), shown)}
		if ending != "" {
			f.Severity, f.Message = metadata.Warning,
				fmt.Sprintf(
					"%d %s that %s in %s %s not read, since the first line is not that of an exchange file (%s): %s",
					len(list), plural(len(list), "file", "files"), plural(len(list), "ends", "end"), ending,
					plural(len(list), "was", "were"), stamp, shown)
			f.Remedy =
				"if they hold casts, describe them under casts: layouts (castwright draft FOLDER proposes how); " +
					"else name the files or a pattern under sources instead of the folder"
		}
		l.Findings = append(l.Findings, f)
	}
}

// beginsWith reports whether the first line of a file that is neither blank nor a comment begins with stamp. A file in
// UTF-16 counts: reading it says what to do about it.
func beginsWith(file, stamp string) bool {
	f, err := regular.Open(file)
	if err != nil {
		return false
	}
	defer f.Close()
	b := make([]byte, 64<<10)
	n, _ := io.ReadFull(f, b)
	return stamped(b[:n], stamp)
}

// stamped is beginsWith for the bytes of a file.
func stamped(b []byte, stamp string) bool {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	if bytes.HasPrefix(b, []byte("\xff\xfe")) || bytes.HasPrefix(b, []byte("\xfe\xff")) {
		b = bytes.ReplaceAll(b[2:], []byte{0}, nil)
	}
	for len(b) > 0 {
		line := b
		if i := bytes.IndexAny(b, "\r\n"); i >= 0 {
			line, b = b[:i], b[i+1:]
		} else {
			b = nil
		}
		if line = trim(line); len(line) == 0 || line[0] == '#' {
			continue
		}
		if line[0] == '"' || line[0] == '\'' {
			line = line[1:]
		}
		rest := line[min(len(stamp), len(line)):]
		return len(line) >= len(stamp) && strings.EqualFold(string(line[:len(stamp)]), stamp) &&
			(len(rest) == 0 || rest[0] == ',' || isBlank(rest[0]))
	}
	return false
}

// add lists one file. An archive that cannot be opened is one input with its error, so that it can be left out.
func (l *Listing) add(name, onDisk string, kind Kind) {
	file := File{Name: name, Path: onDisk}
	inputs := []Input{{Name: name, Kind: kind, path: onDisk}}
	if strings.HasSuffix(strings.ToLower(name), ".zip") {
		data, err := readFile(nil, name, onDisk, maxArchive)
		if err == nil {
			var members []Input
			var found []metadata.Finding
			members, found, file.Digest, err = listZip(data, name, kind)
			l.Findings = append(l.Findings, found...)
			if err == nil {
				inputs = members
			}
		}
		if err != nil {
			inputs[0].err = err
		}
		for i := range inputs {
			inputs[i].path = onDisk
		}
	}
	l.Files = append(l.Files, file)
	l.Inputs = append(l.Inputs, inputs...)
}

// readFile reads a file into buf, which grows as needed.
func readFile(buf []byte, name, onDisk string, limit int64) ([]byte, error) {
	fail := func(remedy, format string, args ...any) ([]byte, error) {
		return nil, &metadata.InputError{Position: metadata.Position{File: name}, Err: fmt.Errorf(format, args...),
			Remedy:  remedy,
			Options: []metadata.Option{leaveOut("the file", name)}}
	}
	f, err := regular.Open(onDisk)
	if errors.Is(err, regular.ErrNotRegular) {
		return fail("name a file", "%w", regular.ErrNotRegular)
	}
	if err != nil {
		remedy := "make it readable (chmod u+r)"
		if errors.Is(err, fs.ErrNotExist) {
			remedy = "copy the file again from where it was made"
		}
		return fail(remedy, "%w", cause(err))
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fail("", "%w", cause(err))
	}
	if info.Size() > limit {
		return fail("", "too large: %d bytes, the limit is %d", info.Size(), limit)
	}
	need := int(info.Size()) + 1 // one more for a line feed at the end
	if cap(buf) < need {
		buf = make([]byte, need+need/4)
	}
	buf = buf[:info.Size()]
	if n, err := io.ReadFull(f, buf); err != nil {
		return fail("copy the file again from where it was made", "read %d of %d bytes: %w", n, len(buf), cause(err))
	}
	return buf, nil
}

// cause takes the path off an error of the file system: the position says it.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

// A Reader reads inputs one after another in the same memory. Each goroutine has its own.
type Reader struct {
	Options
	buf []byte
}

// Bytes returns the bytes of an input; they are good until the next call.
func (r *Reader) Bytes(in *Input) ([]byte, error) {
	if in.err != nil {
		return nil, in.err
	}
	read := func() ([]byte, error) { return readFile(r.buf, in.Name, in.path, maxFile) }
	if in.member != nil {
		read = func() ([]byte, error) { return in.member.unpack(r.buf, in.Name) }
	}
	b, err := read()
	if err != nil {
		return nil, err
	}
	r.buf = b
	return b, nil
}

// Casts reads the casts of an input of kind CTD, as ParseLayout does where a layout is for the file and it does not
// begin as exchange files do, else as Parse does. The SHA-256 in their Source is of the very bytes read.
func (r *Reader) Casts(in *Input) ([]section.Cast, []metadata.Finding, error) {
	data, err := r.Bytes(in)
	if err != nil {
		return nil, nil, err
	}
	if l := LayoutFor(r.Layouts, in.Name); l != nil && !stamped(data[:min(len(data), 64<<10)], "CTD") {
		return ParseLayout(data, in.Name, l, r.Options)
	}
	return Parse(data, in.Name, r.Options)
}

// Bottles reads an input of kind Bottles, as ParseBottles does.
func (r *Reader) Bottles(in *Input) (*section.Bottles, []metadata.Finding, error) {
	data, err := r.Bytes(in)
	if err != nil {
		return nil, nil, err
	}
	return ParseBottles(data, in.Name, r.Options)
}
