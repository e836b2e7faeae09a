package verify

import (
	"math"
	"testing"

	"github.com/castwright/castwright/section/derived"
)

// Verification compares each derived variable of the registry to the precision given there: a value within it is
// the same, one beyond it is not.
func TestToleranceOfDerivedVariables(t *testing.T) {
	for _, v := range derived.Variables() {
		if differ(v.Name, 0.5*v.Precision, 0) || !differ(v.Name, 2*v.Precision, 0) || !differ(v.Name, math.NaN(), 0) {
			t.Errorf("%s is not held to %g", v.Name, v.Precision)
		}
		if tolerances[v.Name] != 0 {
			t.Errorf("%s has a second tolerance", v.Name)
		}
	}
}
