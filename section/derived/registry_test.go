package derived

import (
	"slices"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// Every row is complete: a described variable, needs that stand above it or are measured, one way to compute it, a
// precision and its sources.
func TestRegistryIsComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, v := range Variables() {
		m, ok := metadata.ByName(v.Name)
		if !ok || m.LongName == "" || m.Units == "" {
			t.Errorf("%s: not described in metadata", v.Name)
		}
		if seen[v.Name] || len(v.Needs) == 0 || !(v.Precision > 0) || v.References == "" || v.Comment == "" &&
			v.comment == nil || (v.values == nil) == (v.pass == nil) {
			t.Errorf("%s: %+v", v.Name, v)
		}
		for _, need := range append(slices.Clone(v.Needs), v.Flags...) {
			if _, ok := metadata.ByName(need); !ok || Of(need) != nil && !seen[need] {
				t.Errorf("%s needs %s, which is unknown or below it", v.Name, need)
			}
		}
		seen[v.Name] = true
	}
}
