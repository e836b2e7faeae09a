package metadata

import "strings"

// LongestName is the most characters of an expocode, station or cast number. The exchange format asks for 14, 8 and 3;
// a file name holds 255.
const LongestName = 64

// InFileName reports whether a name can be part of a file name on every system: visible ASCII without what some system
// forbids. Expocodes, stations and cast numbers become parts of file names.
func InFileName(s string) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c <= ' ' || c > '~' || strings.IndexByte(`/\:*?"<>|,=`, c) >= 0 {
			return false
		}
	}
	return s != "" && s[0] != '.'
}
