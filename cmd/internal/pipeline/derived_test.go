package pipeline_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/cruisefile"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
)

// What the cruise file takes under derived is what can be derived, neither more nor less: nothing that check accepts may stop a build.
func TestDerivedOfCruiseFile(t *testing.T) {
	cast := func() *section.Cast {
		col := func(name string, v float64) section.Column {
			return section.Column{Variable: metadata.MustVariable(name), Values: []float64{v}}
		}
		return &section.Cast{At: [2]float64{-20, 60}, BottomM: math.NaN(), PressureDbar: []float64{10},
			Columns: []section.Column{col("pres", 10), col("temp", 5), col("psal", 35), col("oxy_ml", 6)}}
	}
	taken := 0
	for _, v := range metadata.Variables() {
		c, _, err := cruisefile.Read([]byte("cruise: {id: a}\ncasts: {sources: casts}\nderived: ["+v.Name+"]\n"), "cruise.yaml")
		if can := slices.Contains(slices.Concat(derived.Extras(), derived.Default()), v.Name); (err == nil) != can {
			t.Errorf("%s can be derived: %v; the cruise file says: %v", v.Name, can, err)
		}
		if err != nil {
			if !strings.HasPrefix(err.Error(), "cruise.yaml:3:11: derived is ") {
				t.Errorf("%s: %v", v.Name, err)
			}
			continue
		}
		taken++
		k := cast()
		if _, err := derived.Columns(k, derived.Options{Extra: c.Derived}, nil); err != nil {
			t.Errorf("%s: %v", v.Name, err)
		}
		if x := k.Column(v.Name); v.Name != "n2" && (x == nil || math.IsNaN(x.Values[0])) { // n2 needs more than one level
			t.Errorf("%s was asked for and has no value", v.Name)
		}
	}
	if taken != 17 {
		t.Errorf("%d names taken", taken)
	}
}
