package gridding_test

import (
	"math"
	"testing"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

func init() { gridding.PeerLegs = peerLegs }

// peerLegs reads the casts and cuts them into legs wherever the section designation changes; where temperature or
// salinity is not usable neither is used, as in the peer.
func peerLegs(b *testing.B, dir string) []*section.Section {
	b.Helper()
	l, err := ingest.List(dir, []ingest.Source{{Path: "."}}, ingest.CTD, nil)
	if err != nil {
		b.Fatal(err)
	}
	var r ingest.Reader
	var legs []*section.Section
	for i := range l.Inputs {
		casts, _, err := r.Casts(&l.Inputs[i])
		if err != nil {
			b.Fatalf("%s: %v", l.Inputs[i].Name, err)
		}
		c := &casts[0]
		t, s := c.Column("temp"), c.Column("psal")
		for k := range t.Values {
			if !t.UsableAt(k, false) || !s.UsableAt(k, false) {
				t.Values[k], s.Values[k] = math.NaN(), math.NaN()
			}
		}
		if len(legs) == 0 || legs[len(legs)-1].Name != c.SectionID {
			legs = append(legs, &section.Section{Name: c.SectionID})
		}
		leg := legs[len(legs)-1]
		leg.Casts = append(leg.Casts, c)
	}
	for _, leg := range legs {
		points := make([]orb.Point, len(leg.Casts))
		for i, c := range leg.Casts {
			points[i] = c.At
		}
		leg.DistanceKm = section.TrackKm(points, section.Sphere)
	}
	return legs
}
