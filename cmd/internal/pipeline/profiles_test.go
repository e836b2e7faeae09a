package pipeline

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// The NetCDF file of casts of an archive is an input like the files that it was made from: station, time, place, water
// depth, values and flags.
func TestArchiveAsProfiles(t *testing.T) {
	want, _ := surveyed(t, "../../../testdata/layouts/exchange.yaml")
	out := t.TempDir()
	p, err := Build(context.Background(), Plan{CruiseFile: "../../../testdata/layouts/exchange.yaml", Out: out})
	if err != nil || p.Path == "" {
		t.Fatalf("%v %v", err, p.Findings)
	}
	dir := t.TempDir()
	data, err := os.ReadFile(filepath.Join(p.Path, "data/casts/layouts-exchange_ctd.nc"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "all.nc"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "cruise.yaml"),
		[]byte("cruise: {id: again, legs: [{expocode: ZZSD20260812}]}\ncasts: {sources: [all.nc]}\n"),
		0o644); err != nil {
		t.Fatal(err)
	}
	got, _ := surveyed(t, filepath.Join(dir, "cruise.yaml"))
	if len(got) != len(want) {
		t.Fatalf("%d casts", len(got))
	}
	for station, a := range want {
		b := got[station]
		if b == nil || !b.Time.Equal(a.Time) || b.At != a.At || b.BottomM != a.BottomM || b.Expocode != a.Expocode ||
			b.Number != a.Number ||
			!slices.Equal(a.PressureDbar, b.PressureDbar) || len(b.Source.Name) == 0 ||
			b.Source.Bytes != int64(len(data)) {
			t.Errorf("station %s: %+v", station, b)
			continue
		}
		for _, name := range []string{"temp", "psal", "oxy"} {
			x, y := a.Column(name), b.Column(name)
			for i := range x.Values {
				if math.Abs(x.Values[i]-y.Values[i]) > 1e-9 || math.IsNaN(x.Values[i]) != math.IsNaN(y.Values[i]) {
					t.Errorf("station %s: %s[%d] is %v, want %v", station, name, i, y.Values[i], x.Values[i])
					break
				}
			}
			if !slices.Equal(x.Flags, y.Flags) {
				t.Errorf("station %s: flags of %s are %v, want %v", station, name, y.Flags, x.Flags)
			}
		}
	}
}
