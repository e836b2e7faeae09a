package ingest

import (
	"strings"
	"testing"
	"time"
)

// TestManyColumns reads files with far more columns than any cast has: refused at once with the limit.
func TestManyColumns(t *testing.T) {
	for _, n := range []int{mostColumns + 1, 200_000} {
		data := "CTD,20260501ZZTE\nNUMBER_HEADERS = 1\nCTDPRS" + strings.Repeat(",X", n-1) + "\nDBAR" + strings.Repeat(",M", n-1) + "\n1" + strings.Repeat(",1", n-1) + "\nEND_DATA\n"
		begin := time.Now()
		_, _, err := Parse([]byte(data), "many_ct1.csv", Options{})
		if err == nil || !strings.Contains(err.Error(), "columns; the limit is 2000") {
			t.Errorf("%d columns: %v", n, err)
		}
		if took := time.Since(begin); took > 5*time.Second {
			t.Errorf("%d columns: refused in %v", n, took)
		}
	}
}
