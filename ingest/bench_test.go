package ingest

import (
	"fmt"
	"strings"
	"testing"
)

// One cast of 5 000 levels, 7 columns of numbers and 6 of flags. The standard bench cruise has 150 of them.
func BenchmarkParse(b *testing.B) {
	var s strings.Builder
	s.WriteString(
		"CTD,20260420SKNTOS\nNUMBER_HEADERS = 8\nEXPOCODE = ZZTS20260301\nSTNNBR = 1\nCASTNO = 1\nDATE = 20260301\nTIME = 1130\nLATITUDE = -26.5091\nLONGITUDE = -46.0079\n" +
			"CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W,CTDXMISS,CTDXMISS_FLAG_W,CTDFLUOR,CTDFLUOR_FLAG_W,CTDNOBS\n" +
			"DBAR,,ITS-90,,PSS-78,,UMOL/KG,,%TRANS,,MG/M^3,,\n")
	for i := 1; i <= 5000; i++ {
		x := float64(i)
		fmt.Fprintf(&s, "%8.1f,2,%9.4f,2,%9.4f,2,%9.2f,2,%9.3f,2,%9.4f,2,%6d\n", x, 20-x/300, 34+x/9000, 230-x/100,
			96+x/5000, x/9000, i%60)
	}
	s.WriteString("END_DATA\n")
	data := []byte(s.String())
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Parse(data, "x_ct1.csv", Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
