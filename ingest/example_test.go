package ingest_test

import (
	"fmt"
	"strings"

	"github.com/castwright/castwright/ingest"
)

const file = `CTD,20130709ODF
NUMBER_HEADERS = 7
EXPOCODE = 318M20130321
STNNBR = 1
CASTNO = 2
DATE = 20130322
TIME = 2205
LATITUDE = 32.5068
LONGITUDE = 133.0297
CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W
DBAR,,ITS-90,
2.0,2,19.1840,2
4.0,2,-999,9
END_DATA
`

func ExampleParse() {
	casts, findings, err := ingest.Parse([]byte(file), "leg1/012_ct1.csv", ingest.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range findings {
		fmt.Printf("%s: %s\n", f.Position, f.Message)
	}
	c := &casts[0]
	fmt.Println(c.ID(), c.Levels(), c.Column("temp").Values)
	// Output:
	// leg1/012_ct1.csv:2:18: NUMBER_HEADERS says 7, found 8 header lines (it counts itself); read all 8
	// 318M20130321_00001_00002 2 [19.184 NaN]
}

func ExampleParse_error() {
	_, _, err := ingest.Parse([]byte(strings.Replace(file, "19.1840", "19,1840", 1)), "leg1/012_ct1.csv",
		ingest.Options{})
	fmt.Println(err)
	// Output: leg1/012_ct1.csv:12:15: data line has 5 fields, expected 4
}
