package cruisefile

import (
	"os"
	"testing"
)

func TestDemo(t *testing.T) {
	data, err := os.ReadFile("../../testdata/cruise/cruise.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, f, err := Read(data, "cruise.yaml")
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v\n%+v", c, f)
}
