package filebacked

import (
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"
	"unsafe"
)

func address[T any](x []T) uintptr { return uintptr(unsafe.Pointer(unsafe.SliceData(x))) }

// Values are the same after they were moved, while pages are given back, and changes of them stay.
func TestMove(t *testing.T) {
	f := New()
	if f == nil {
		t.Fatal("no file is made")
	}
	defer f.Close()
	var wg sync.WaitGroup
	for worker := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(1, uint64(worker)))
			for range 100 {
				values, flags := make([]float64, 1000+r.IntN(100_000)), make([]uint8, 2000)
				for i := range values {
					values[i] = r.Float64()
				}
				want := slices.Clone(values)
				was, wasFlags := address(values), address(flags)
				Move(f, &values)
				Move(f, &flags)
				if address(values) == was || address(flags) == wasFlags {
					t.Error("numbers stay in the heap")
					return
				}
				values[7], want[7], flags[3] = 1, 1, 9
				if r.IntN(10) == 0 {
					time.Sleep(2 * giveBack)
				}
				if !slices.Equal(values, want) || flags[3] != 9 {
					t.Error("numbers differ from those that were moved")
				}
				if values = append(values, 2); values[len(values)-1] != 2 || values[7] != 1 {
					t.Error("a slice that was moved cannot be extended")
				}
			}
		})
	}
	wg.Wait()
}

// What is moved already, small or without a file stays where it is; a slice longer than a segment is moved too.
func TestStays(t *testing.T) {
	f := New()
	if f == nil {
		t.Fatal("no file is made")
	}
	defer f.Close()
	small, large := make([]float64, smallest/8-1), make([]float64, segment/8+1)
	large[0], large[segment/8] = 1, 2
	for _, c := range []struct {
		f     *File
		x     *[]float64
		moves bool
	}{{f, &small, false}, {nil, &large, false}, {f, &large, true}, {f, &large, false}} {
		before := address(*c.x)
		if Move(c.f, c.x); (address(*c.x) != before) != c.moves {
			t.Errorf("%d numbers: moved %v, want %v", len(*c.x), !c.moves, c.moves)
		}
	}
	if large[0] != 1 || large[segment/8] != 2 {
		t.Error("numbers differ from those that were moved")
	}
}

// A file that cannot be written leaves numbers in the heap.
func TestFullDisk(t *testing.T) {
	f := New()
	if f == nil {
		t.Fatal("no file is made")
	}
	first, x, large := make([]float64, 1000), make([]float64, 1000), make([]float64, segment/8)
	Move(f, &first)
	f.file.Close() // it can neither be written nor mapped any more
	before, beforeLarge := address(x), address(large)
	Move(f, &x, &large)
	if address(x) != before || address(large) != beforeLarge {
		t.Error("numbers were moved to a file that is closed")
	}
	f.Close()
}
