// Package interpolate puts a profile on other levels: linear, monotone (pchip), Akima, Reiniger-Ross, and the
// multiply-rotated monotone form for pairs of Absolute Salinity and Conservative Temperature. It never extrapolates
// (outside the nodes the result is NaN), takes no account of gaps, flags or units, and imports nothing of ours.
//
//	var w interpolate.Workspace                          // reused from cast to cast; one for each goroutine
//	w.Values(dst, interpolate.Pchip, p, oxygen, levels)  // dst[i] belongs to levels[i]
//	w.Pair(sa2, ct2, interpolate.Rotated, p, sa, ct, levels)
//
// Nodes must increase strictly and hold no NaN in x, which is the caller's to see to: anything else panics. A NaN among
// the y makes NaN near it. Results have the same bits on every processor: each product is rounded before it is added.
package interpolate

import (
	"fmt"
)

// Method is a way to interpolate. The zero value is Pchip.
type Method uint8

// The methods, named as in the cruise file.
const (
	Pchip        Method = iota // monotone cubics: Fritsch and Carlson 1980, slopes of Fritsch and Butland 1984
	Linear                     // straight lines
	Akima                      // cubics of Akima 1970, J. ACM 17, 589
	ReinigerRoss               // blended parabolas of Reiniger and Ross 1968, Deep-Sea Res. 15, 185
	Rotated                    // multiply-rotated pchip of Barker and McDougall 2020, JTECH 37, 605; pairs only
	Methods      = 5
)

var methodNames = [Methods]string{"pchip", "linear", "akima", "reiniger-ross", "rotated"}

// String returns the name of the cruise file.
func (m Method) String() string {
	if int(m) < len(methodNames) {
		return methodNames[m]
	}
	return fmt.Sprintf("Method(%d)", uint8(m))
}
