package nc

import (
	"bytes"
	"compress/zlib"
	"io"
	"math"
	"math/rand/v2"
	"testing"
)

// What deflate writes must be read back by another reader of zlib streams, whichever planes are stored and whichever
// are coded.
func TestDeflate(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	noise := func(b []byte) {
		for i := range b {
			b[i] = byte(rng.Uint32())
		}
	}
	flat := func(b []byte) { clear(b) }
	for _, n := range []int{1, 100, 1003, 70001} {
		for name, kinds := range map[string][]func([]byte){
			"flat": {flat}, "noise": {noise}, "noise first": {noise, noise, noise, flat}, "flat first": {flat, noise},
			"in turn": {flat, noise, flat, noise, flat},
		} {
			b := make([]byte, n*len(kinds))
			for k, fill := range kinds {
				fill(b[k*n : (k+1)*n])
			}
			for _, level := range []int{1, 9} {
				s := getSqueezer(level)
				var out bytes.Buffer
				for range 2 { // once more with what is left from before
					out.Reset()
					if err := s.deflate(&out, b, n); err != nil {
						t.Fatal(err)
					}
				}
				s.release()
				r, err := zlib.NewReader(&out)
				if err != nil {
					t.Fatal(err)
				}
				got, err := io.ReadAll(r) // checks the sum at the end too
				if err != nil || !bytes.Equal(got, b) {
					t.Errorf("%s, planes of %d, level %d: %v", name, n, level, err)
				}
			}
		}
	}
}

func TestIsNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	b := make([]byte, 5500)
	for i := range b {
		b[i] = byte(rng.Uint32())
	}
	if !isNoise(b) {
		t.Error("evenly spread bytes are not noise")
	}
	for i := range b {
		b[i] = byte(rng.Uint32()) & 0x7f
	}
	if isNoise(b) {
		t.Error("bytes of seven bits are noise")
	}
	for i := range b {
		b[i] = byte(128 + 20*rng.NormFloat64())
	}
	if isNoise(b) {
		t.Error("normal bytes are noise")
	}
	if isNoise(b[:100]) {
		t.Error("too few bytes to tell are noise")
	}
}

func BenchmarkDeflate(b *testing.B) {
	raw := make([]byte, 8*5500)
	values := make([]float64, 5500)
	for i := range values {
		values[i] = 20*math.Exp(-float64(i)/900) + 1e-3*math.Sin(float64(i)/7)
	}
	c := Chunk{typ: Double, n: 5500, raw: make([]uint64, 5500)}
	copy(Values[float64](&c), values)
	shuffle(raw, c.bytes(), 8)
	s := getSqueezer(4)
	var out bytes.Buffer
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		out.Reset()
		if err := s.deflate(&out, raw, 5500); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(out.Len())/float64(len(raw)), "size")
}
