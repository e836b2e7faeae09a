package verify

import (
	"os"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// Whatever the bytes, each finding names the file, a rule and something to say; nothing panics.
func FuzzCheckExchange(f *testing.F) {
	for _, name := range []string{"example_ct1.csv", "example_hy1.csv"} {
		b, err := os.ReadFile("../../../testdata/" + name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, strings.HasPrefix(name, "example_hy1"))
	}
	f.Add([]byte("CTD\nNUMBER_HEADERS = 1\nCTDPRS\nDBAR"), false)
	f.Add([]byte("BOTTLE\n,\n,\n,\nEND_DATA"), true)
	f.Fuzz(func(t *testing.T, data []byte, bottle bool) {
		name := "x_ct1.csv"
		if bottle {
			name = "x_hy1.csv"
		}
		found, casts := checkExchange(data, name)
		faults := 0
		for _, x := range found {
			if x.File != name || x.Check == "" || x.Message == "" {
				t.Errorf("finding %+v", x)
			}
			if x.Severity == metadata.Failure {
				faults++
			}
		}
		if !bottle && len(casts) == 0 && faults == 0 {
			t.Error("neither a cast nor a fault")
		}
	})
}
