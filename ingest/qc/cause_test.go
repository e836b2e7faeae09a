package qc

import (
	"testing"

	"github.com/castwright/castwright/metadata"
)

// A value that one check proposes bad makes no further check find the values beside it: no spike where the bad ones
// end, no temperature below the freezing point of a salinity that is wrong.
func TestBadValuesAccuseNoOthers(t *testing.T) {
	c := calm(400, 5)
	for k := 80; k < 87; k++ {
		c.Column("temp").Values[k] = -2.7
	}
	for k := 300; k < 304; k++ { // seawater of 34.8 freezes far below, that of 1 does not
		c.Column("temp").Values[k], c.Column("psal").Values[k] = -1.6, 1
	}
	found := newChecks(t, nil).Cast(c, Settings{})
	if n := len(of(found, "range.global")); n != 2 {
		t.Fatalf("%d findings of range.global: %v", n, found)
	}
	for _, f := range of(found, "spike.bin") {
		if f.Variable == "temp" && f.First > 400 && f.First < 500 {
			t.Errorf("a spike beside bad values: %v", f)
		}
	}
	for _, f := range of(found, "freezing") {
		if f.First > 1000 {
			t.Errorf("below the freezing point of a bad salinity: %v", f)
		}
	}
}

// Oxygen is compared with that of the casts nearest in position, not of those before and after: the first cast of a
// line elsewhere, where oxygen hardly changes with depth, is not dead.
func TestOxygenIsComparedWithNearestCasts(t *testing.T) {
	c := &Cruise{Casts: line(20)}
	for _, k := range c.Casts[10:] {
		plantFlat(2)(k)
		k.At[0] += 40
	}
	if found := of(newChecks(t, nil).Cruise(c).Findings, "channel.dead"); len(found) > 0 {
		t.Errorf("%v", found)
	}
	plantFlat(2)(c.Casts[3])
	found := of(newChecks(t, nil).Cruise(c).Findings, "channel.dead")
	if len(found) != 1 || found[0].Cast != c.Casts[3].ID() {
		t.Errorf("%v", found)
	}
}

// A finding about pressures of a cast has the line of the first of them.
func TestFindingsOfCastsHaveLines(t *testing.T) {
	c := &Cruise{Casts: line(20)}
	k := c.Casts[4]
	k.Source.First, k.Source.Last = 12, 12+k.Levels()-1
	k.BottomM = 3000
	add(k, "psal", 0, 1e9, 0.006)
	add(k, "psal2", 0, 1e9, 0.006)
	lines := map[string]int{}
	for _, f := range newChecks(t, nil).Cruise(c).Findings {
		if f.Cast == k.ID() && f.Severity >= metadata.Warning {
			lines[f.Check] = f.Line
		}
	}
	if lines["bottom"] != k.Source.Last || lines["deep.salinity"] != k.Source.First {
		t.Errorf("lines %v of %d to %d", lines, k.Source.First, k.Source.Last)
	}
}
