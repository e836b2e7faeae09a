//go:build cgo

package verify

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
)

// The sample of columns holds columns with data of each variable, also of one that has data at one place of forty, for
// every seed. A seed gives the same columns each time, and not those of every other seed.
func TestSampleHasDataOfEachVariable(t *testing.T) {
	const n, only = 40, 17
	full, sparse := make([]string, 2*n), make([]string, 2*n)
	for k := range full {
		full[k], sparse[k] = "1", "-9999"
	}
	sparse[n+only] = "2"
	file := compile(t, fmt.Sprintf(`netcdf x {
dimensions: pres = 2 ; distance = %d ;
variables:
	double pres(pres) ;
	double ctemp(pres, distance) ; ctemp:_FillValue = -9999. ;
	double oxy(pres, distance) ; oxy:_FillValue = -9999. ;
data: pres = 1, 2 ; ctemp = %s ; oxy = %s ;
}`, n, strings.Join(full, ", "), strings.Join(sparse, ", ")), "x.nc")
	f, err := nc.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	seen := map[int]bool{}
	for seed := range uint64(50) {
		a := &archive{plan: &Plan{Seed: seed}, nc: map[string]*nc.File{"x.nc": f}}
		got := a.choose("x.nc", n)
		if again := a.choose("x.nc", n); !slices.Equal(got, again) {
			t.Errorf("seed %d gives %v, then %v", seed, got, again)
		}
		if !slices.Contains(got, only) || len(got) < sampleColumns || len(got) > sampleColumns+1 {
			t.Errorf("seed %d: columns %v, want column %d among about %d", seed, got, only, sampleColumns)
		}
		slices.Sort(got)
		if len(slices.Compact(slices.Clone(got))) != len(got) {
			t.Errorf("seed %d: a column is there twice: %v", seed, got)
		}
		for _, k := range got {
			seen[k] = true
		}
	}
	if len(seen) < n {
		t.Errorf("50 seeds reach %d of %d columns", len(seen), n)
	}
}
