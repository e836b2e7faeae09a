package verify

import (
	"math"
	"testing"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/section/derived"
)

// Verification compares each derived variable of the registry to the precision given there: a value within it is
// the same, one beyond it is not.
func TestToleranceOfDerivedVariables(t *testing.T) {
	for _, v := range derived.Variables() {
		if differ(v.Name, 0, 0.5*v.Precision, 0) || !differ(v.Name, 0, 2*v.Precision, 0) ||
			!differ(v.Name, 0, math.NaN(), 0) {
			t.Errorf("%s is not held to %g", v.Name, v.Precision)
		}
		if tolerances[v.Name] != 0 {
			t.Errorf("%s has a second tolerance", v.Name)
		}
	}
}

// A value rounded to some bits is the same as the one computed again when rounding any value within the tolerance gives
// it, and its neighbours of as many bits are not.
func TestToleranceOfRoundedValues(t *testing.T) {
	const bits = 23
	computed := 35.16504
	stored := netcdf.Round(computed, bits)
	step := math.Ldexp(1, 5-bits)
	if differ("asal", bits, stored, computed) || !differ("asal", 0, stored, computed) ||
		!differ("asal", bits, stored+step, computed) || !differ("asal", bits, stored-step, computed) {
		t.Errorf("%v is not the rounded %v, or its neighbours are", stored, computed)
	}
	half := stored + step/2 // where a difference within the tolerance decides to which side it is rounded
	if differ("asal", bits, stored, half) || differ("asal", bits, stored+step, half) {
		t.Errorf("%v is neither of its neighbours", half)
	}
}
