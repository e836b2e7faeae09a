package ingest

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/klauspost/compress/flate"
)

// Limits of a zip bundle. A cruise of 2 000 full-depth casts at 1 dbar is 800 MB unpacked and packs about 3:1; what
// goes beyond these was made to fill a memory.
const (
	maxArchive = 2 << 30 // bytes of the archive
	maxMembers = 100_000 // entries of the archive
	maxTotal   = 8 << 30 // bytes of all members unpacked
	maxRatio   = 200     // bytes unpacked for each byte packed, of a member above 1 MiB and of the whole
)

// member is one file of a zip bundle.
type member struct {
	file *zip.File
}

// ReadZip reads every cast of a bundle _ct1.zip that is in memory. A bad member does not stop the others: its error is
// joined to err, and the casts of the others are given all the same.
func ReadZip(data []byte, name string, o Options) ([]section.Cast, []metadata.Finding, error) {
	inputs, found, _, err := listZip(data, name, CTD)
	if err != nil {
		return nil, found, err
	}
	r := Reader{Options: o}
	var casts []section.Cast
	var errs []error
	for i := range inputs {
		c, f, err := r.Casts(&inputs[i])
		found = append(found, f...)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		casts = append(casts, c...)
	}
	return casts, found, errors.Join(errs...)
}

// zipRemedies says what a person can do about what an archive holds.
var zipRemedies = map[string]string{
	"exchange.zip_folder": "make the archive again without folders: all members side by side",
	"exchange.zip_escape": "look at where the archive comes from, and make it again from its files",
	"exchange.zip_other":  "look whether one of them is a cast: its name must end in _ct1.csv (bottles: _hy1.csv)",
	"exchange.zip64":      "make the archive again with a program that writes PKZIP 2.0 when archives are small",
}

// A bundleList is what listZip finds in a bundle.
type bundleList struct {
	name   string
	kind   Kind
	ending string // of the names of members that hold casts
	inputs []Input
	found  []metadata.Finding
	first  map[string]string // full name of the first member of each base name
	total  uint64            // bytes of the members, unpacked
}

// listZip lists the members of a bundle that hold casts, and says what else is in it.
func listZip(data []byte, name string, kind Kind) (inputs []Input, found []metadata.Finding, digest metadata.Digest,
	err error) {
	b := &bundleList{name: name, kind: kind, first: map[string]string{}}
	b.ending, _, _ = kind.words()
	digest = metadata.Digest{Name: name, SHA256: sha256.Sum256(data), Bytes: int64(len(data))}
	fail := func(remedy, format string, args ...any) ([]Input, []metadata.Finding, metadata.Digest, error) {
		return nil, b.found, digest, &metadata.InputError{Position: metadata.Position{File: name},
			Err: fmt.Errorf(format, args...), Remedy: remedy, Options: []metadata.Option{leaveOut("the archive", name)}}
	}
	if !bytes.HasPrefix(data, []byte("PK")) {
		return fail("give a zip archive, or a name that says what it is", "not a zip archive: first bytes %s",
			firstBytes(data))
	}
	if n, ok := entries(data); ok && n > maxMembers {
		return fail("split the archive", "the archive has %d entries, the limit is %d", n, maxMembers)
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return fail("make the archive again from its files", "not a zip archive that can be read: %w", err)
	}
	if len(z.File) > maxMembers {
		return fail("split the archive", "the archive has %d entries, the limit is %d", len(z.File), maxMembers)
	}
	z.RegisterDecompressor(zip.Deflate, flate.NewReader)
	for _, f := range z.File {
		b.member(f)
	}
	switch total := b.total; {
	case total > maxTotal:
		return fail("split the archive", "the members are %d bytes unpacked, the limit is %d", total, uint64(maxTotal))
	case total > 1<<20 && total > maxRatio*uint64(len(data)):
		return fail("look at what it holds before reading it", "%d bytes would become %d, more than %d times as many",
			len(data), total, maxRatio)
	case len(b.inputs) == 0:
		return fail("name the members ..."+b.ending, "the archive holds no file that ends in %s", b.ending)
	}
	for i := range b.found {
		if n := b.found[i].Count; n > 1 {
			b.found[i].Message += fmt.Sprintf(" (%d in this archive)", n)
		}
	}
	metadata.SortFindings(b.found)
	return b.inputs, b.found, digest, nil
}

// warn notes a finding about the bundle once for each kind, with how often it was seen.
func (b *bundleList) warn(s metadata.Severity, check, format string, args ...any) {
	for i := range b.found {
		if b.found[i].Check == check {
			b.found[i].Count++
			return
		}
	}
	b.found = append(b.found, metadata.Finding{Position: metadata.Position{File: b.name}, Severity: s, Check: check,
		Message: fmt.Sprintf(format, args...), Remedy: zipRemedies[check], Count: 1})
}

// member lists one member, with the reason where it cannot be read.
func (b *bundleList) member(f *zip.File) {
	parts := strings.FieldsFunc(f.Name, func(r rune) bool { return r == '/' || r == '\\' })
	if strings.HasSuffix(f.Name, "/") || len(parts) == 0 {
		b.warn(metadata.Warning, "exchange.zip_folder",
			"the archive holds folders, first %q; only the last part of a name counts", f.Name)
		return
	}
	base := parts[len(parts)-1]
	in := Input{Name: b.name + "/" + base, Kind: b.kind, member: &member{file: f}}
	refuse := func(remedy, format string, args ...any) {
		in.err = &metadata.InputError{Position: metadata.Position{File: in.Name}, Err: fmt.Errorf(format, args...),
			Remedy: remedy, Options: []metadata.Option{leaveOut("the file", in.Name)}}
	}
	low := strings.ToLower(base)
	if strings.HasSuffix(low, ".zip") {
		refuse("take the inner archive out and list it as a source of its own",
			"a zip archive inside the archive is not read")
		b.inputs = append(b.inputs, in)
		return
	}
	if !strings.HasSuffix(low, b.ending) || strings.HasPrefix(base, "._") || !f.Mode().IsRegular() {
		b.warn(metadata.Warning, "exchange.zip_other", "the archive holds what is no %s file, first %q; not read",
			b.ending, f.Name)
		return
	}
	b.nameOf(f, parts)
	other, there := b.first[base]
	if !there {
		b.first[base] = f.Name
		b.total += f.UncompressedSize64
	}
	switch {
	case there:
		in.Name = b.name + "/" + strings.Join(parts, "/")
		refuse("keep one of the two in the archive", "two members of the archive have this name: %q and %q", other,
			f.Name)
	case f.Flags&1 != 0:
		refuse("make the archive again without a password", "the member is encrypted")
	case f.Method != zip.Store && f.Method != zip.Deflate:
		refuse("make the archive again with the usual deflate",
			"the member is packed by method %d; stored (0) and deflate (8) are read", f.Method)
	case f.UncompressedSize64 > maxFile:
		refuse("split it", "too large unpacked: %d bytes, the limit is %d", f.UncompressedSize64, maxFile)
	case f.UncompressedSize64 > 1<<20 && f.UncompressedSize64 > maxRatio*f.CompressedSize64:
		refuse("look at what it holds before reading it", "%d bytes packed would become %d, more than %d times as many",
			f.CompressedSize64, f.UncompressedSize64, maxRatio)
	}
	b.inputs = append(b.inputs, in)
}

// nameOf notes what is unusual about the name of a member and the form of its entry.
func (b *bundleList) nameOf(f *zip.File, parts []string) {
	base := parts[len(parts)-1]
	if len(parts) > 1 || f.Name != base {
		if escapes(f.Name, parts) {
			b.warn(metadata.Warning, "exchange.zip_escape",
				"member %q has a name that leads out of the archive; only the last part counts", f.Name)
		} else {
			b.warn(metadata.Warning, "exchange.zip_folder",
				"member %q has a folder in its name; only the last part counts", f.Name)
		}
	}
	if !strings.HasSuffix(base, b.ending) {
		b.warn(metadata.Note, "exchange.zip_case", "member %q ends in other letters than %s; read all the same", base,
			b.ending)
	}
	if zip64(f) {
		b.warn(metadata.Warning, "exchange.zip64",
			"the archive uses zip64, first for %q; the format asks for PKZIP 2.0; read all the same", base)
	}
}

// entries returns the number of entries that the end record of an archive claims, before anything is allocated for
// them.
func entries(data []byte) (int, bool) {
	i := bytes.LastIndex(data, []byte("PK\x05\x06"))
	if i < 0 || len(data) < i+12 {
		return 0, false
	}
	return int(binary.LittleEndian.Uint16(data[i+10:])), true
}

func escapes(name string, parts []string) bool {
	if name[0] == '/' || name[0] == '\\' || strings.HasSuffix(parts[0], ":") {
		return true
	}
	for _, p := range parts {
		if p == ".." {
			return true
		}
	}
	return false
}

// zip64 reports whether an entry has the extra field of zip64 (id 1) or asks for version 4.5.
func zip64(f *zip.File) bool {
	for e := f.Extra; len(e) >= 4; {
		id, n := binary.LittleEndian.Uint16(e), int(binary.LittleEndian.Uint16(e[2:]))
		if id == 1 {
			return true
		}
		if len(e) < 4+n {
			break
		}
		e = e[4+n:]
	}
	return f.ReaderVersion&0xff == 45
}

// unpack returns the bytes of a member in buf, never more than it claims to have.
func (m *member) unpack(buf []byte, name string) ([]byte, error) {
	fail := func(err error) ([]byte, error) {
		return nil, &metadata.InputError{Position: metadata.Position{File: name}, Err: err,
			Remedy: "make the archive again from its files", Options: []metadata.Option{leaveOut("the file", name)}}
	}
	r, err := m.file.Open()
	if err != nil {
		return fail(fmt.Errorf("the member cannot be opened: %w", err))
	}
	defer r.Close()
	// The size claimed is not trusted with memory before the bytes are there.
	want := int64(m.file.UncompressedSize64)
	b := bytes.NewBuffer(buf[:0])
	if want <= 8<<20 {
		b.Grow(int(want) + 1)
	}
	n, err := io.Copy(b, io.LimitReader(r, want+1))
	if err != nil {
		return fail(fmt.Errorf("the member is damaged: %w", err))
	}
	if n != want {
		return fail(fmt.Errorf("the member holds %d bytes, its head says %d", n, want))
	}
	return b.Bytes(), nil
}
