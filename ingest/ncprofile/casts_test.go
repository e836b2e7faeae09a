//go:build cgo

package ncprofile

import (
	"path/filepath"
	"slices"
	"testing"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// A variable that only has the name of flags has none, and a flag outside its set is a fault of the file (cf.23), not
// the end of the program.
func TestFlagsThatAreNone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.nc")
	s := nc.Schema{Dims: []nc.Dim{{Name: "profile", Len: 1}, {Name: "pres", Len: 3}}, Vars: []nc.Var{
		{Name: "cast", Type: nc.Int, Dims: []int{0}}, {Name: "pres", Type: nc.Double, Dims: []int{1}},
		{Name: "temp", Type: nc.Double, Dims: []int{0, 1}, Fill: -9999.0},
		{Name: "pres_flag_woce", Type: nc.Double, Dims: []int{0, 1}, Fill: -9999.0},
		{Name: "temp_flag_woce", Type: nc.Byte, Dims: []int{0, 1},
			Attrs: []nc.Attr{{Name: "flag_values", Value: []int8{2, 9}}}},
		{Name: "profile_id", Type: nc.Char, Dims: []int{0, 0}}}}
	w, err := nc.Create(path, &s)
	if err != nil {
		t.Fatal(err)
	}
	for i, data := range []any{[]int32{1}, []float64{1, 2, 3}, []float64{5, 6, 7}, []float64{241, -1, 3.5},
		[]int8{2, 42, -7}, []byte("a")} {
		if err := w.Write(i, data); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := nc.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	c, err := ReadCasts(f)
	if err != nil || len(c.Casts) != 1 {
		t.Fatal(c, err)
	}
	if got := c.Casts[0].Columns[0].Flags; got != nil {
		t.Errorf("flags of pressure: %v", got)
	}
	if got, want := c.Casts[0].Column("temp").Flags, []metadata.Flag{metadata.Acceptable, metadata.NotEvaluated,
		metadata.NotEvaluated}; !slices.Equal(got, want) {
		t.Errorf("flags of temp: %v", got)
	}
}
