package bundle

import (
	"bytes"
	"context"
	"os"
	"testing"
)

// Whatever bytes are read as a part: no panic, and a part that is taken states its own checksum.
func FuzzPart(f *testing.F) {
	paths, _, err := writeParts(context.Background(), f.TempDir(), "x", bytes.Repeat([]byte("data "), 200), 600)
	if err != nil {
		f.Fatal(err)
	}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
		f.Add(data[:len(data)-3])
	}
	f.Add([]byte("castwright-parcel a 1 2 b\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := parsePart(data)
		if err == nil && (p.number < 1 || p.number > p.of || !bytes.HasSuffix(data, p.body)) {
			t.Errorf("%+v", p)
		}
	})
}
