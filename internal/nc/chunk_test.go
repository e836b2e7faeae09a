package nc

import (
	"math/rand/v2"
	"testing"
)

// TestShuffle needs no C: byte b of value i must lie at b*n+i (HDF5 file format, shuffle filter).
func TestShuffle(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, size := range []int{1, 2, 4, 8} {
		for _, n := range []int{0, 1, 7, 8, 9, 64, 1003} {
			src, dst := make([]byte, n*size), make([]byte, n*size)
			for i := range src {
				src[i] = byte(rng.Uint32())
			}
			shuffle(dst, src, size)
			for i := range n {
				for b := range size {
					if dst[b*n+i] != src[i*size+b] {
						t.Fatalf("%d values of %d bytes: byte %d of value %d", n, size, b, i)
					}
				}
			}
		}
	}
}

func BenchmarkShuffle(b *testing.B) {
	src, dst := make([]byte, 44000), make([]byte, 44000)
	b.SetBytes(44000)
	b.ReportAllocs()
	for b.Loop() {
		shuffle(dst, src, 8)
	}
}
