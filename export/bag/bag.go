// Package bag writes and checks bags: folders whose every file can be proved unchanged (BagIt 1.0, RFC 8493, October
// 2018). It does not depend on what the files hold and imports nothing of ours.
//
//	// dir holds data/ and becomes a bag.
//	err := bag.Write(ctx, dir, []bag.Field{{Label: "Bagging-Date", Value: "2024-05-02"}})
//	report, err := bag.Check(ctx, dir)
//	for _, f := range report.Faults { fmt.Println(f) }                                   // every fault, not the first
//
// It writes manifests and tag manifests of SHA-256 and of SHA-512, so that both "sha256sum -c manifest-sha256.txt" and
// the tools of archives can check the bag without us. Serialised bags (zip, tar) and fetch.txt are not its business.
package bag

import (
	"context"
	"crypto/md5"
	"crypto/sha1"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/castwright/castwright/internal/regular"
	"golang.org/x/sync/errgroup"
)

// declaration is the whole of bagit.txt (RFC 8493 section 2.1.1).
const declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

// An algorithm of checksums, by its name in file names (RFC 8493 section 2.4).
type algorithm struct {
	name string
	make func() hash.Hash
}

// written are the algorithms of Write.
var written = []algorithm{{"sha256", sha256.New}, {"sha512", sha512.New}}

// known are those of Check: RFC 8493 section 2.4 asks that the two old ones still be read.
var known = []algorithm{{"md5", md5.New}, {"sha1", sha1.New}, {"sha256", sha256.New}, {"sha512", sha512.New}}

// ErrNotBaggable says that a folder cannot be made a bag: it is one already, has no data folder, or holds what no
// manifest can name.
var ErrNotBaggable = errors.New("cannot be made a bag")

// Write makes a bag of dir, which holds the payload in dir/data and maybe further tag files beside it. It adds
// bagit.txt, bag-info.txt, the manifests and the tag manifests. The bytes depend on nothing but the files and info: no
// clock is asked. info must hold one Bagging-Date (YYYY-MM-DD) and no Payload-Oxum, which Write counts and puts last;
// its order is kept. On error some of these files may be there already; nothing is synced, which is for whoever places
// the folder.
func Write(ctx context.Context, dir string, info []Field) error {
	files, err := WriteInfo(dir, info)
	if err != nil {
		return err
	}
	if err := writeManifests(ctx, dir, "manifest-", slices.DeleteFunc(files,
		func(f File) bool { return !f.payload() })); err != nil {
		return err
	}
	files, _, err = scan(dir)
	if err != nil {
		return err
	}
	return writeManifests(ctx, dir, "tagmanifest-", slices.DeleteFunc(files, func(f File) bool { return f.payload() }))
}

// WriteInfo writes what Write does except for the manifests, and returns the files that were in dir.
func WriteInfo(dir string, info []Field) ([]File, error) {
	if err := checkInfo(info); err != nil {
		return nil, err
	}
	files, err := baggable(dir)
	if err != nil {
		return nil, err
	}
	var size int64
	n := 0
	for _, f := range files {
		if f.payload() {
			n++
			size += f.Bytes
		}
	}
	oxum := Field{Label: "Payload-Oxum", Value: fmt.Sprintf("%d.%d", size, n)}
	text, err := formatInfo(append(append([]Field(nil), info...), oxum))
	if err != nil {
		return nil, err
	}
	if err := os.WriteFile(filepath.Join(dir, "bagit.txt"), []byte(declaration), 0o644); err != nil {
		return nil, err
	}
	return files, os.WriteFile(filepath.Join(dir, "bag-info.txt"), text, 0o644)
}

// Sums returns the regular files below dir, sorted by path, with their SHA-256.
func Sums(ctx context.Context, dir string) ([]File, error) {
	files, _, err := scan(dir)
	if err != nil {
		return nil, err
	}
	all, err := hashAll(ctx, dir, files, []algorithm{{"sha256", sha256.New}})
	if err != nil {
		return nil, err
	}
	for i := range files {
		if all[i].err != nil {
			return nil, all[i].err
		}
		if _, err := hex.Decode(files[i].SHA256[:], []byte(all[i].hex[0])); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// baggable lists the files of dir, sorted, and fails if they cannot be a bag.
func baggable(dir string) ([]File, error) {
	if info, err := os.Lstat(filepath.Join(dir, "data")); err != nil || !info.IsDir() {
		return nil, fmt.Errorf("%s: %w: it has no folder data", dir, ErrNotBaggable)
	}
	files, faults, err := scan(dir)
	if err != nil {
		return nil, err
	}
	for _, f := range faults {
		return nil, fmt.Errorf("%s: %w: %s", dir, ErrNotBaggable, f)
	}
	for _, f := range files {
		why := ""
		_, _, manifest := manifestName(f.Path)
		_, unsafe := unsafePath(f.Path)
		switch {
		case manifest || f.Path == "bagit.txt" || f.Path == "bag-info.txt" || f.Path == "fetch.txt":
			why = "it is there already"
		case !utf8.ValidString(f.Path):
			why = "its name is not UTF-8"
		case unsafe != "":
			why = unsafe
		case strings.TrimLeft(f.Path, " \t") != f.Path:
			why = "its name begins with a blank"
		}
		if why != "" {
			return nil, fmt.Errorf("%s: %w: %q: %s", dir, ErrNotBaggable, f.Path, why)
		}
	}
	return files, nil
}

func writeManifests(ctx context.Context, dir, prefix string, files []File) error {
	sums, err := hashAll(ctx, dir, files, written)
	if err != nil {
		return err
	}
	for i, a := range written {
		entries := make([]entry, len(files))
		for k, f := range files {
			if sums[k].err != nil {
				return sums[k].err
			}
			entries[k] = entry{path: f.Path, sum: sums[k].hex[i]}
		}
		if err := os.WriteFile(filepath.Join(dir, prefix+a.name+".txt"), formatManifest(entries), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// A File is one file of a bag.
type File struct {
	Path   string // from the bag's folder, with slashes
	Bytes  int64
	SHA256 [32]byte // set by Check and Sums; zero when Check could not read the file
}

func (f *File) payload() bool { return strings.HasPrefix(f.Path, "data/") }

// scan lists the regular files under dir, sorted by path bytes, and as faults all else that is no folder or cannot be
// looked at. It follows no symbolic link but dir itself.
func scan(dir string) ([]File, []Fault, error) {
	root, err := filepath.EvalSymlinks(dir)
	if err != nil {
		return nil, nil, err
	}
	if info, err := os.Stat(root); err != nil {
		return nil, nil, err
	} else if !info.IsDir() {
		return nil, nil, &fs.PathError{Op: "bag", Path: dir, Err: errors.New("not a folder")}
	}
	var files []File
	var faults []Fault
	err = filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		rel, relErr := filepath.Rel(root, p)
		if relErr != nil {
			return relErr
		}
		rel = filepath.ToSlash(rel)
		if err == nil && d.IsDir() {
			return nil
		}
		var info fs.FileInfo
		if err == nil {
			info, err = d.Info()
		}
		switch {
		case err != nil && rel == ".":
			return err
		case err != nil:
			faults = append(faults, Fault{Kind: Unreadable, File: rel, Detail: reason(err)})
		case d.Type()&fs.ModeSymlink != 0:
			faults = append(faults, Fault{Kind: Special, File: rel, Detail: "a symbolic link"})
		case !d.Type().IsRegular():
			faults = append(faults, Fault{Kind: Special, File: rel, Detail: "neither file nor folder"})
		default:
			files = append(files, File{Path: rel, Bytes: info.Size()})
		}
		return nil
	})
	sort.Slice(files, func(i, j int) bool { return files[i].Path < files[j].Path })
	return files, faults, err
}

// sums are the checksums of one file, one for each algorithm asked.
type sums struct {
	hex []string
	err error
}

// hashAll reads each file once and feeds every algorithm from that one reading. Slot i of the result belongs to
// files[i], however many files are read at once. The error is of ctx alone.
func hashAll(ctx context.Context, dir string, files []File, algorithms []algorithm) ([]sums, error) {
	out := make([]sums, len(files))
	var g errgroup.Group
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range files {
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			out[i] = hashFile(filepath.Join(dir, filepath.FromSlash(files[i].Path)), algorithms)
			return nil
		})
	}
	return out, g.Wait()
}

// buffers are what files are read through: an archive has hundreds of files.
var buffers = sync.Pool{New: func() any {
	b := make([]byte, 1<<18)
	return &b
}}

func hashFile(path string, algorithms []algorithm) sums {
	f, err := regular.Open(path)
	if err != nil {
		return sums{err: err}
	}
	defer f.Close()
	hashes := make([]hash.Hash, len(algorithms))
	all := make([]io.Writer, len(algorithms))
	for i, a := range algorithms {
		hashes[i] = a.make()
		all[i] = hashes[i]
	}
	buffer := buffers.Get().(*[]byte)
	defer buffers.Put(buffer)
	if _, err := io.CopyBuffer(io.MultiWriter(all...), struct{ io.Reader }{f}, *buffer); err != nil {
		return sums{err: err}
	}
	s := sums{hex: make([]string, len(algorithms))}
	for i, h := range hashes {
		s.hex[i] = hex.EncodeToString(h.Sum(nil))
	}
	return s
}

// reason takes the operation and path off an error of package os: the fault names the path itself.
func reason(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return err.Error()
}
