package ncprofile

import (
	"fmt"
	"os"

	"github.com/castwright/castwright/internal/nc"
)

// A file whose variables hold more than anyBytes has at least a byte for every mostDeflated of them: deflate makes a
// thousandth of what is the same throughout, and no less.
const (
	anyBytes     = 64 << 20
	mostDeflated = 1100
)

// plausible refuses a file that declares far more values than it can hold, which would be read as fill values for
// minutes.
func plausible(f *nc.File, path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	most := max(anyBytes, mostDeflated*float64(info.Size()))
	sum := 0.0
	for i := range f.Vars {
		bytes := float64(max(f.Vars[i].Type.Size(), 1))
		for _, d := range f.Vars[i].Dims {
			bytes *= float64(f.Dims[d].Len)
		}
		sum += bytes
	}
	if sum > most {
		return fmt.Errorf("it declares variables of %.3g bytes, but has only %d bytes", sum, info.Size())
	}
	return nil
}
