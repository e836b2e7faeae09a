//go:build cgo

package netcdf

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// BenchmarkWriteCasts writes 150 casts of 5500 levels with ten derived variables, the size of a long cruise.
func BenchmarkWriteCasts(b *testing.B) {
	var casts []*section.Cast
	for i := range 150 {
		c := makeCast("ZZFU20240501", fmt.Sprint(i+1), "1", i%90, 1, 1, 5500-i*7)
		c.Columns = append(c.Columns[:4:4], c.Columns[4]) // without the text column
		for k := range 10 {
			col := c.Columns[1+k%2]
			col.Variable = metadata.Variable{Name: fmt.Sprintf("derived%d", k), Units: "1", Comment: "made up"}
			values := make([]float64, len(col.Values))
			for j, x := range col.Values {
				values[j] = x*1.00001 + float64(k)
			}
			col.Values, col.Derived, col.Flags, col.Proposed = values, true, nil, nil
			c.Columns = append(c.Columns, col)
		}
		casts = append(casts, c)
	}
	x := common()
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprintf("workers%d", workers), func(b *testing.B) {
			x.Workers = workers
			path := filepath.Join(b.TempDir(), "x.nc")
			b.ReportAllocs()
			for b.Loop() {
				if err := WriteCasts(context.Background(), path, x, casts); err != nil {
					b.Fatal(err)
				}
				if fi, err := os.Stat(path); err == nil {
					b.ReportMetric(float64(fi.Size())/1e6, "MB")
				}
				os.Remove(path)
			}
		})
	}
}

func BenchmarkWriteGeostrophy(b *testing.B) {
	r := invented(true)
	path := filepath.Join(b.TempDir(), "x.nc")
	b.ReportAllocs()
	for b.Loop() {
		if err := WriteGeostrophy(context.Background(), path, common(), r, ""); err != nil {
			b.Fatal(err)
		}
		os.Remove(path)
	}
}
