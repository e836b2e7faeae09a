package export_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
)

// digitText returns a plain decimal number of a random form: mostly with the decimals of its column, else with others,
// no digit before or behind the point, zeros in front, a minus, or more digits than a number keeps.
func digitText(r *rand.Rand, decimals int) string {
	n := r.IntN(30)
	switch k := r.IntN(20); {
	case k == 0:
		return fmt.Sprintf("%d", n)
	case k == 1:
		return fmt.Sprintf("%d.", n)
	case k == 2:
		return fmt.Sprintf(".%0*d", decimals+1, n)
	case k == 3:
		return fmt.Sprintf("00%d.%d", n, r.IntN(1000))
	case k == 4:
		return fmt.Sprintf("%d.%017d", n, r.Uint64N(1e17))
	case k == 5:
		return "-0.0"
	case k == 6:
		return "-999"
	case k < 9:
		return fmt.Sprintf("%d.%0*d", n, 1+r.IntN(6), r.IntN(10))
	}
	return fmt.Sprintf("%d.%0*d", n, decimals, r.IntN(10))
}

// positionText returns a plain decimal number of a random form between -89 and 89: also with zeros in front, a point at
// either end, a minus before zero, or more digits than a number keeps.
func positionText(r *rand.Rand) string {
	n := r.IntN(89)
	switch r.IntN(10) {
	case 0:
		return fmt.Sprintf("0%d.%d", n, r.IntN(1000))
	case 1:
		return fmt.Sprintf(".%03d", 1+r.IntN(999))
	case 2:
		return fmt.Sprintf("%d.", n+1)
	case 3:
		return "-0.0"
	case 4:
		return fmt.Sprintf("-%d.%017d", n, r.Uint64N(1e17))
	case 5:
		return fmt.Sprintf("-00%d", n+1)
	}
	return fmt.Sprintf("%d.%0*d", n, 1+r.IntN(6), r.IntN(10))
}

// TestPlainNumbersComeBack writes exchange files of random plain decimal numbers, reads them and writes them again:
// every value, position and depth comes back character for character, blanks apart, in CTD and bottle files.
func TestPlainNumbersComeBack(t *testing.T) {
	for seed := range uint64(500) {
		r := rand.New(rand.NewPCG(4, seed))
		at := func() string { return positionText(r) }
		rows := func(head string, n int, columns func(i int) []string) string {
			var b strings.Builder
			b.WriteString(head)
			for i := range n {
				b.WriteString(strings.Join(columns(i), ",") + "\n")
			}
			return b.String() + "END_DATA\n"
		}
		n := 1 + r.IntN(40)
		ctd := rows(
			fmt.Sprintf(
				"CTD,20260101ZZZ\nNUMBER_HEADERS = 8\nEXPOCODE = ZZDT20260101\nSTNNBR = 1\nCASTNO = 1\nDATE = 20260102\nLATITUDE = %s\n"+
					"LONGITUDE = %s\nDEPTH = %s\nCTDPRS,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDOXY\nDBAR,ITS-90,,PSS-78,UMOL/KG\n",
				at(), at(), "1"+strings.TrimLeft(at(), "-0")), n,
			func(i int) []string {
				p := fmt.Sprintf("%d.%0*d", i+1, 1+r.IntN(3), r.IntN(10))
				return []string{p, digitText(r, 4), "2", digitText(r, 3), digitText(r, 1)}
			})
		casts, found, err := ingest.Parse([]byte(ctd), "x_ct1.csv", ingest.Options{})
		if err != nil {
			t.Fatal(seed, err, found)
		}
		out, err := export.AppendExchange(nil, &casts[0])
		if err != nil {
			t.Fatal(err)
		}
		sameCells(t, seed, ctd, string(out))
		hy := rows(
			"BOTTLE,20260101ZZZ\nEXPOCODE,STNNBR,CASTNO,SAMPNO,DATE,LATITUDE,LONGITUDE,DEPTH,CTDPRS,CTDSAL,SALNTY,SALNTY_FLAG_W\n"+
				",,,,,,,METERS,DBAR,PSS-78,PSS-78,\n", n, func(i int) []string {
				return []string{"ZZDT20260101", "1", "1", fmt.Sprint(i + 1), "20260102", at(), at(),
					"1" + strings.TrimLeft(at(), "-0"), fmt.Sprintf("%d.%d", i+1, r.IntN(9)),
					digitText(r, 4), digitText(r, 4), "2"}
			})
		bottles, found, err := ingest.ParseBottles([]byte(hy), "x_hy1.csv", ingest.Options{})
		if err != nil {
			t.Fatal(seed, err, found)
		}
		var b bytes.Buffer
		if err := export.WriteBottles(&b, bottles); err != nil {
			t.Fatal(err)
		}
		sameCells(t, seed, hy, b.String())
	}
}

// sameCells compares two files cell by cell, without blanks; a flag of a missing value becomes 9.
func sameCells(t *testing.T, seed uint64, before, after string) {
	t.Helper()
	plain := func(s string) string {
		return strings.ReplaceAll(strings.ReplaceAll(s, " ", ""), "-999,2", "-999,9")
	}
	a, b := strings.Split(plain(before), "\n"), strings.Split(plain(after), "\n")
	for i := range a {
		if i >= len(b) || a[i] != b[i] {
			t.Errorf("seed %d, line %d: %q came back as %q", seed, i+1, a[i], b[min(i, len(b)-1)])
			return
		}
	}
}
