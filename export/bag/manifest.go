package bag

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"strings"
	"unicode/utf8"
)

// An entry is one line of a manifest.
type entry struct {
	path string // decoded
	sum  string // lower-case hexadecimal
	line int    // from 1
}

// manifestName takes the name of a manifest apart: manifest-ALG.txt or tagmanifest-ALG.txt in the bag's own folder.
func manifestName(path string) (alg string, tag, ok bool) {
	body, ok := strings.CutSuffix(path, ".txt")
	if !ok {
		return "", false, false
	}
	if alg, ok = strings.CutPrefix(body, "manifest-"); ok {
		return alg, false, true
	}
	alg, ok = strings.CutPrefix(body, "tagmanifest-")
	return alg, ok, ok
}

// RFC 8493 section 2.1.3: CR, LF and % in a path are percent-encoded, nothing else is.
var (
	encodePath = strings.NewReplacer("%", "%25", "\n", "%0A", "\r", "%0D")
	decodePath = strings.NewReplacer("%25", "%", "%0A", "\n", "%0a", "\n", "%0D", "\r", "%0d", "\r")
)

// formatManifest returns the manifest's bytes: checksum, two blanks (as sha256sum does), path, line feed.
func formatManifest(entries []entry) []byte {
	var b bytes.Buffer
	for _, e := range entries {
		b.WriteString(e.sum)
		b.WriteString("  ")
		b.WriteString(encodePath.Replace(e.path))
		b.WriteByte('\n')
	}
	return b.Bytes()
}

// parseManifest reads a manifest of checksums of n bytes. Lines that cannot be used are faults of the manifest called
// name; the others are the entries. Paths come out decoded and stay inside the bag.
func parseManifest(name string, n int, tag bool, text []byte) ([]entry, []Fault) {
	var entries []entry
	var faults []Fault
	first := map[string]int{}
	for i, line := range lines(text) {
		fault := func(kind Kind, format string, a ...any) {
			faults = append(faults, Fault{Kind: kind, File: name, Line: i + 1, Detail: fmt.Sprintf(format, a...)})
		}
		sum, rest, ok := strings.Cut(strings.ReplaceAll(line, "\t", " "), " ")
		if !ok {
			fault(Malformed, "%s is not a checksum and a path", short(line))
			continue
		}
		path := strings.TrimLeft(line[len(line)-len(rest):], " \t")
		if _, err := hex.DecodeString(sum); err != nil || len(sum) != 2*n {
			fault(Malformed, "%s is not a checksum of %d hexadecimal digits", short(sum), 2*n)
			continue
		}
		if at := badPercent(path); at >= 0 {
			fault(Malformed, "%s: a %% that begins none of %%0A, %%0D, %%25", short(path[at:]))
			continue
		}
		path = decodePath.Replace(path)
		switch kind, why := unsafePath(path); {
		case path == "":
			fault(Malformed, "no path follows the checksum")
		case !utf8.ValidString(path) || strings.ContainsRune(path, 0):
			fault(Malformed, "%s is not a path in UTF-8", short(path))
		case why != "":
			fault(kind, "%s: %s", short(path), why)
		case !tag && !strings.HasPrefix(path, "data/"):
			fault(Malformed, "%s is not under data/", short(path))
		case tag && strings.HasPrefix(path, "data/"):
			fault(Malformed, "%s is payload, which a tag manifest does not list", short(path))
		case tag && isTagManifest(path):
			fault(Malformed, "%s is a tag manifest, which no tag manifest lists", short(path))
		case first[path] > 0:
			fault(Duplicate, "%s is listed in line %d already", short(path), first[path])
		default:
			first[path] = i + 1
			entries = append(entries, entry{path: path, sum: strings.ToLower(sum), line: i + 1})
		}
	}
	return entries, faults
}

func isTagManifest(path string) bool {
	_, tag, ok := manifestName(path)
	return ok && tag
}

// unsafePath says why a path could lead out of the bag (Escape) or names a file in a second way (Malformed); "" if it
// does neither.
func unsafePath(path string) (Kind, string) {
	switch {
	case path == "":
		return 0, ""
	case strings.HasPrefix(path, "/"):
		return Escape, "begins with /"
	case strings.HasPrefix(path, "~"):
		return Escape, "begins with ~"
	}
	parts := strings.Split(path, "/")
	for _, part := range parts {
		if part == ".." {
			return Escape, "leads upwards"
		}
	}
	for _, part := range parts {
		if part == "." || part == "" {
			return Malformed, "has an empty part"
		}
	}
	return 0, ""
}

// badPercent returns the place of the first % that does not begin %0A, %0D or %25; -1 if there is none.
func badPercent(path string) int {
	for i := 0; i < len(path); i++ {
		if path[i] != '%' {
			continue
		}
		switch strings.ToUpper(path[i:min(i+3, len(path))]) {
		case "%0A", "%0D", "%25":
		default:
			return i
		}
	}
	return -1
}

// lines splits text at LF, CR or CRLF (RFC 8493 section 2.1.3). What follows the last end of line is a line if it isn't
// empty.
func lines(text []byte) []string {
	s := strings.ReplaceAll(strings.ReplaceAll(string(text), "\r\n", "\n"), "\r", "\n")
	if s == "" {
		return nil
	}
	return strings.Split(strings.TrimSuffix(s, "\n"), "\n")
}

// short quotes text of unknown kind so that it can stand in a message.
func short(s string) string {
	const most = 100
	if len(s) > most {
		return fmt.Sprintf("%q…", s[:most])
	}
	return fmt.Sprintf("%q", s)
}
