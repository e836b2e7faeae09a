package metadata

import (
	"strings"
	"testing"
)

// TestNearestName proposes names whose numbers are the same, whatever else is near.
func TestNearestName(t *testing.T) {
	for _, c := range []struct{ word, among, want string }{
		{"99", "19 1 9 98", ""},
		{"001", "1 10", "1"},
		{"T2", "2 T1 12", ""},
		{"T-1", "T1 T10", "T1"},
		{"ZZMS20260504", "ZZSM20260504 ZZSM20260505", "ZZSM20260504"},
		{"ZZSM20260540", "ZZSM20260504", ""},
		{"casts/ZZSM_00099_ct1.csv", "casts/ZZSM_00019_ct1.csv", ""},
		{"cast/ZZSM_00019_ct1.csv", "casts/ZZSM_00019_ct1.csv", "casts/ZZSM_00019_ct1.csv"},
	} {
		if got, _ := NearestName(c.word, strings.Fields(c.among)); got != c.want {
			t.Errorf("%s among %s: %q, want %q", c.word, c.among, got, c.want)
		}
	}
}
