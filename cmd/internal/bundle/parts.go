package bundle

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// A part begins with one line: castwright-parcel, the SHA-256 of the whole parcel, number and count of the part, and
// the SHA-256 of what follows in it. The same archive gives the same parts, so that one that was lost or damaged can be
// packed and sent again by itself.
const (
	partWord  = "castwright-parcel"
	headBytes = 256 // more than the line of a part can have
	mostParts = 9999
)

// writeParts writes a parcel in parts of at most most bytes (0: one part), each whole or not at all.
func writeParts(ctx context.Context, out, name string, data []byte, most int64) (paths []string, total int64,
	err error) {
	size := len(data)
	if most > 0 {
		size = int(most) - headBytes
	}
	n := max(1, (len(data)+size-1)/max(size, 1))
	if size < 1 || n > mostParts {
		return nil, 0, &metadata.InputError{Position: metadata.Position{File: name},
			Err: fmt.Errorf("a parcel of %d bytes would need more than %d parts of %d bytes; nothing was written",
				len(data), mostParts, most),
			Remedy: "give a larger --part"}
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return nil, 0, err
	}
	whole := sha256.Sum256(data)
	for i := range n {
		body := data[i*size : min((i+1)*size, len(data))]
		own := sha256.Sum256(body)
		head := fmt.Sprintf("%s %x %d %d %x\n", partWord, whole, i+1, n, own)
		path := filepath.Join(out, fmt.Sprintf("%s.%04d-of-%04d.parcel", name, i+1, n))
		if err := place.WriteFile(ctx, path, func(w io.Writer) error {
			if _, err := io.WriteString(w, head); err != nil {
				return err
			}
			_, err := w.Write(body)
			return err
		}); err != nil {
			return nil, 0, err
		}
		paths, total = append(paths, path), total+int64(len(head)+len(body))
	}
	return paths, total, nil
}

// part is a part that was read.
type part struct {
	file   string
	whole  string
	number int
	of     int
	body   []byte
}

// readPart reads one part and checks it.
func readPart(file string) (*part, error) {
	refuse := func(format string, a ...any) error {
		return &metadata.InputError{Position: metadata.Position{File: file}, Err: fmt.Errorf(format, a...),
			Remedy: "name the .parcel files only; ask the sender for this part again if it is one"}
	}
	data, err := regular.ReadFile(file)
	if err != nil {
		return nil, err
	}
	p, err := parsePart(data)
	if err != nil {
		return nil, refuse("%w", err)
	}
	p.file = file
	return p, nil
}

// errPart is the error for bytes that are no part, or a damaged one.
var errPart = errors.New("not a part of a parcel")

// parsePart parses the bytes of a part.
func parsePart(data []byte) (*part, error) {
	head, _, ok := bytes.Cut(data[:min(len(data), headBytes)], []byte("\n"))
	words := strings.Split(string(head), " ")
	if !ok || len(words) != 5 || words[0] != partWord || !isSum(words[1]) || !isSum(words[4]) {
		return nil, errPart
	}
	n, err := strconv.Atoi(words[2])
	of, err2 := strconv.Atoi(words[3])
	if err != nil || err2 != nil || n < 1 || of < n || of > mostParts {
		return nil, fmt.Errorf("%w: it says part %s of %s", errPart, words[2], words[3])
	}
	p := &part{whole: words[1], number: n, of: of, body: data[len(head)+1:]}
	if sum := sha256.Sum256(p.body); hex.EncodeToString(sum[:]) != words[4] {
		return nil, fmt.Errorf("part %d of %d is damaged: its checksum is not the one it states", n, of)
	}
	return p, nil
}

func isSum(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && len(b) == sha256.Size
}

// join puts parts together, in whatever order they are named.
func join(files []string) ([]byte, error) {
	var errs []error
	var parts []*part
	for _, f := range files {
		p, err := readPart(f)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		parts = append(parts, p)
	}
	if len(parts) == 0 {
		return nil, errors.Join(errs...)
	}
	slices.SortStableFunc(parts, func(a, b *part) int { return a.number - b.number })
	first := parts[0]
	var data bytes.Buffer
	next := 1
	var missing []string
	for _, p := range parts {
		if p.whole != first.whole || p.of != first.of {
			errs = append(errs, &metadata.InputError{Position: metadata.Position{File: p.file},
				Err:    errors.New("belongs to another parcel than " + first.file),
				Remedy: "name the parts of one parcel"})
			continue
		}
		if p.number < next {
			continue // sent twice
		}
		for ; next < p.number; next++ {
			missing = append(missing, strconv.Itoa(next))
		}
		data.Write(p.body)
		next++
	}
	for ; next <= first.of; next++ {
		missing = append(missing, strconv.Itoa(next))
	}
	if len(missing) > 0 {
		errs = append(errs, &metadata.InputError{Position: metadata.Position{File: first.file},
			Err:    fmt.Errorf("%d of %d parts are missing: %s", len(missing), first.of, strings.Join(missing, ", ")),
			Remedy: "have these parts sent; the others can stay"})
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if sum := sha256.Sum256(data.Bytes()); hex.EncodeToString(sum[:]) != first.whole {
		return nil, &metadata.InputError{Position: metadata.Position{File: first.file},
			Err: errors.New("the parts do not give the parcel that they state"), Remedy: "have all parts sent again"}
	}
	return data.Bytes(), nil
}
