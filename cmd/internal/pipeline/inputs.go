package pipeline

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
)

// RecordName is the file beside the cruise file that keeps the checksums of the inputs, in the form of sha256sum.
const RecordName = "inputs.sha256"

// recordInputs writes the checksum of every input beside the cruise file.
func (w *inputs) recordInputs(ctx context.Context) error {
	return WriteRecord(ctx, w.dir, w.inputDigests())
}

// WriteRecord writes checksums of files into a folder, in the order given.
func WriteRecord(ctx context.Context, dir string, files []metadata.Digest) error {
	return inputError(place.WriteFile(ctx, filepath.Join(dir, RecordName), func(out io.Writer) error {
		for _, d := range files {
			if d.Name == RecordName {
				continue
			}
			if _, err := fmt.Fprintf(out, "%s  %s\n", d.Hex(), escapeName(d.Name)); err != nil {
				return err
			}
		}
		return nil
	}))
}

// escapeName keeps a name on one line.
func escapeName(s string) string {
	return strings.NewReplacer("%", "%25", "\n", "%0A", "\r", "%0D").Replace(s)
}

func unescapeName(s string) string {
	return strings.NewReplacer("%0A", "\n", "%0D", "\r", "%25", "%").Replace(s)
}

// compareRecord names every input that changed, went or came since the record was made. Without a record it says
// nothing.
func (w *inputs) compareRecord() error {
	path := filepath.Join(w.dir, RecordName)
	info, err := os.Stat(path)
	if os.IsNotExist(err) {
		return nil
	}
	if err == nil && info.Size() > maxTable {
		return &metadata.InputError{Position: metadata.Position{File: RecordName},
			Err:    fmt.Errorf("%d bytes; the limit is %d", info.Size(), maxTable),
			Remedy: "move it away; castwright check --record writes it anew"}
	}
	data, err := regular.ReadFile(path)
	if err != nil {
		return err
	}
	w.sources = append(w.sources, metadata.Digest{Name: RecordName, SHA256: sumBytes(data), Bytes: int64(len(data))})
	w.onDisk = append(w.onDisk, path)
	recorded := map[string][32]byte{}
	lines := bufio.NewScanner(bytes.NewReader(data))
	lines.Buffer(nil, len(data)+1)
	bad, first := 0, 0
	for n := 1; lines.Scan(); n++ {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		raw, err := hex.DecodeString(sum)
		if !ok || err != nil || len(raw) != sha256.Size {
			if bad++; bad == 1 {
				first = n
			}
			continue
		}
		recorded[unescapeName(name)] = [32]byte(raw)
	}
	if bad > 0 {
		w.find(metadata.Finding{Position: metadata.Position{File: RecordName, Line: first}, Severity: metadata.Warning,
			Check: "inputs.record", Count: bad,
			Message: map[bool]string{true: "not a checksum and a name",
				false: fmt.Sprintf("%d lines are not a checksum and a name", bad)}[bad == 1],
			Remedy: "castwright check --record writes the file anew"})
	}
	const remedy = "if the change is meant, castwright check --record accepts it; else bring the recorded file back"
	seen := map[string]bool{}
	for _, d := range w.inputDigests() {
		if d.Name == RecordName {
			continue
		}
		seen[d.Name] = true
		was, ok := recorded[d.Name]
		switch {
		case !ok && d.Name == w.plan0.Name: // a record of a draft is older than the cruise file that a person finished
		case !ok:
			w.find(metadata.Finding{Position: metadata.Position{File: d.Name}, Severity: metadata.Warning,
				Check:   "inputs.new",
				Message: "input is not in " + RecordName, Remedy: remedy})
		case was != d.SHA256:
			w.find(metadata.Finding{Position: metadata.Position{File: d.Name}, Severity: metadata.Warning,
				Check:   "inputs.changed",
				Message: "input changed since " + RecordName + " was written", Remedy: remedy})
		}
	}
	var gone []string
	for name := range recorded {
		if !seen[name] {
			gone = append(gone, name)
		}
	}
	slices.Sort(gone)
	for i, name := range gone {
		if i == maxGone {
			w.find(metadata.Finding{Position: metadata.Position{File: RecordName}, Severity: metadata.Warning,
				Check: "inputs.gone", Count: len(gone) - i,
				Message: fmt.Sprintf("%d more inputs are in it and were not read", len(gone)-i), Remedy: remedy})
			break
		}
		w.find(metadata.Finding{Position: metadata.Position{File: name}, Severity: metadata.Warning,
			Check:   "inputs.gone",
			Message: "input is in " + RecordName + " and was not read", Remedy: remedy})
	}
	return nil
}

// maxGone is how many inputs that are gone are named.
const maxGone = 100
