package ingest

import (
	"strings"
	"testing"
	"time"
)

// TestManyColumns reads files with far more columns than any cast has: refused at once with the limit.
func TestManyColumns(t *testing.T) {
	for _, n := range []int{mostColumns + 1, 200_000} {
		data := "CTD,20260501ZZTE\nNUMBER_HEADERS = 1\nCTDPRS" + strings.Repeat(",X", n-1) + "\nDBAR" +
			strings.Repeat(",M", n-1) + "\n1" + strings.Repeat(",1", n-1) + "\nEND_DATA\n"
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

// TestManyLines reads cast, bottle and table files with more lines than a cruise has: refused at once with the limit.
func TestManyLines(t *testing.T) {
	head :=
		"CTD,20260501ZZTE\nNUMBER_HEADERS = 8\nEXPOCODE = ZZTE20260501\nSTNNBR = 1\nCASTNO = 1\nDATE = 20260501\nTIME = 0400\nLATITUDE = 60.0\n" +
			"LONGITUDE = -20.0\nCTDPRS,CTDTMP\nDBAR,ITS-90\n"
	bottles := "BOTTLE,20260501ZZTE\nEXPOCODE,STNNBR,CASTNO,SAMPNO,DATE,TIME,LATITUDE,LONGITUDE,CTDPRS\n,,,,,,,,DBAR\n"
	for _, n := range []int{maxLines + 2, 3_000_000} {
		for _, c := range []struct {
			kind string
			read func() error
			said string
		}{
			{"cast", func() error {
				_, _, err := Parse([]byte(head+strings.Repeat("1,2\n", n)+"END_DATA\n"), "many_ct1.csv", Options{})
				return err
			}, "lines of data; the limit is 120000"},
			{"bottles", func() error {
				_, _,
					err := ParseBottles([]byte(bottles+strings.Repeat("ZZTE20260501,1,1,1,20260501,0400,60.0,-20.0,5\n",
					n)), "many_hy1.csv", Options{})
				return err
			}, "lines of data; the limit is 120000"},
			{"station table", func() error {
				_, _, err := ReadStationTable([]byte("station,cast,depth\n"+strings.Repeat(",,\n", n)), "many.csv", nil)
				return err
			}, "more than 100000 lines"},
		} {
			begin := time.Now()
			if err := c.read(); err == nil || !strings.Contains(err.Error(), c.said) {
				t.Errorf("%s of %d lines: %v", c.kind, n, err)
			}
			if took := time.Since(begin); took > 5*time.Second {
				t.Errorf("%s of %d lines: refused in %v", c.kind, n, took)
			}
		}
	}
}
