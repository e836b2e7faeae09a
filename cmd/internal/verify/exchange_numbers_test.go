package verify

import (
	"math"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/section"
)

// TestExchangeNumbersAreComparedAsNumbers changes one number of a cast by less than half of its last digit: NetCDF
// holds numbers read from text as they were, so that any difference is one, whatever the digits of the text.
func TestExchangeNumbersAreComparedAsNumbers(t *testing.T) {
	const text = "CTD,20260101ZZZ\nNUMBER_HEADERS = 8\nEXPOCODE = ZZDT20260101\nSTNNBR = 1\nCASTNO = 1\nDATE = 20260102\nLATITUDE = 61.5\nLONGITUDE = -7.25\n" +
		"DEPTH = 166\nCTDPRS,CTDTMP,CTDTMP_FLAG_W,CTDSAL\nDBAR,ITS-90,,PSS-78\n2.0,8.1234,2,35.10\n4.0,8.1,2,-999\nEND_DATA\n"
	read := func() *section.Cast {
		casts, found, err := ingest.Parse([]byte(text), "a_ct1.csv", ingest.Options{})
		if err != nil {
			t.Fatal(err, found)
		}
		return &casts[0]
	}
	compare := func(x, c *section.Cast) (variables []string) {
		compareCast(func(v, _ string, _ ...any) { variables = append(variables, v) }, x, c)
		return variables
	}
	if d := compare(read(), read()); len(d) > 0 {
		t.Errorf("the same cast differs: %v", d)
	}
	for name, change := range map[string]func(c *section.Cast){
		"lat":          func(c *section.Cast) { c.At[1] += 0.004 },
		"bottom_depth": func(c *section.Cast) { c.BottomM += 0.4 },
		"temp":         func(c *section.Cast) { c.Column("temp").Values[1] += 0.04 },
		"psal":         func(c *section.Cast) { c.Column("psal").Values[0] = math.Nextafter(35.10, 36) },
		"pres":         func(c *section.Cast) { c.PressureDbar[1] += 0.01 },
	} {
		c := read()
		change(c)
		if d := compare(read(), c); len(d) != 1 || d[0] != name {
			t.Errorf("%s changed: %v", name, d)
		}
	}
}
