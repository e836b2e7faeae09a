package verify

import (
	"archive/zip"
	"io"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// maxBundle is the largest bundle that is taken into memory, in bytes.
const maxBundle = 2 << 30

// checkBundle checks a bundle of size bytes and each of its members against the rules, and hands the cast of each
// member to take, unless that is nil.
func checkBundle(data io.ReaderAt, size int64, name string, take func(member string,
	c *section.Cast)) []metadata.Finding {
	x := &exchangeCheck{name: name, said: map[string]int{}}
	z, err := zip.NewReader(data, size)
	if err != nil {
		x.fault("3.2", 0, 0, "", "cannot be read as a zip archive: %v", err)
		return x.found
	}
	seen := map[string]bool{}
	total := uint64(0)
	for _, m := range z.File {
		total += m.UncompressedSize64
		switch {
		case strings.ContainsAny(m.Name, `/\`):
			x.fault("3.1", 0, 0, "", "member %q has a folder in its name", m.Name)
		case !strings.HasSuffix(m.Name, "_ct1.csv"):
			x.fault("3.1", 0, 0, "", "member %q does not end in _ct1.csv", m.Name)
		}
		if seen[m.Name] {
			x.fault("3.3", 0, 0, "", "two members are called %s", m.Name)
		}
		seen[m.Name] = true
		if m.Flags&1 != 0 || m.Method != zip.Store && m.Method != zip.Deflate {
			x.fault("3.2", 0, 0, "", "member %s is encrypted or packed by method %d", m.Name, m.Method)
			continue
		}
		if m.UncompressedSize64 > maxBundle || total > 4*maxBundle {
			x.fault("3.2", 0, 0, "", "member %s unpacks to %d bytes, more than is read", m.Name, m.UncompressedSize64)
			continue
		}
		r, err := m.Open()
		var text []byte
		if err == nil {
			text, err = io.ReadAll(io.LimitReader(r, int64(m.UncompressedSize64)+1))
			r.Close()
		}
		if err != nil {
			x.fault("3.2", 0, 0, "", "member %s cannot be unpacked: %v", m.Name, err)
			continue
		}
		found, c := checkExchange(text, name+"/"+m.Name)
		x.found = append(x.found, found...)
		if len(c) == 1 && take != nil {
			take(m.Name, &c[0])
		}
	}
	return x.found
}
