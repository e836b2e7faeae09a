package pipeline

import (
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// What the help of the cruise file says is made when it is not given: title of ship, region and dates; summary of the
// casts; citation of people, title and year; contact of the first chief scientist; ship code of the expocode.
func TestWhatIsMadeWhenNotGiven(t *testing.T) {
	cast := func(expocode, station string, lon, lat float64, day int) *section.Cast {
		return &section.Cast{Expocode: expocode, Station: station, At: orb.Point{lon, lat},
			Time: time.Date(2026, 5, day, 3, 0, 0, 0, time.UTC), PressureDbar: []float64{2, 4, 1202}}
	}
	casts := []*section.Cast{cast("ZZBR20260501", "1", -30, 60, 3), cast("ZZBR20260501", "1", -30, 60, 4),
		cast("ZZBR20260501", "2", -29.5, 61.25, 5)}
	person := func(name, email string) metadata.Person { return metadata.Person{Name: name, Email: email} }
	for _, k := range []struct {
		what                              string
		cruise                            metadata.Cruise
		casts                             []*section.Cast
		title, summary, citation, contact string
		code                              string
	}{
		{"ship, region, legs with days, a name with a comma",
			metadata.Cruise{Ships: []metadata.Ship{{Name: "RV Brine"}}, Region: "northern strait",
				People: []metadata.Person{person("Ada Finch", ""), person("Lark, Owen", "")},
				Legs: []metadata.Leg{{Start: "2026-05-01", End: "2026-05-09", ChiefScientist: person("Lark, Owen",
					"o@example.org")}, {Start: "2026-04-20", End: "2026-04-30"}}},
			casts, "CTD casts of RV Brine, northern strait, 2026-04-20 to 2026-05-09",
			"3 CTD casts at 2 stations, taken by RV Brine (northern strait) from 2026-04-20 to 2026-05-09, at 60.00° N to 61.25° N and 30.00° W to 29.50° W, down to 1202 dbar. Chief scientist: Lark, Owen.",
			"Lark, Owen; Ada Finch, 2026: CTD casts of RV Brine, northern strait, 2026-04-20 to 2026-05-09",
			"o@example.org", "ZZBR"},
		{"days of the casts where a leg has none; two ships; a chief scientist without an address",
			metadata.Cruise{Ships: []metadata.Ship{{Name: "RV Brine"}, {Name: "RV Fulmar"}},
				Legs:    []metadata.Leg{{Start: "2026-05-01"}, {ChiefScientist: person("Ada Finch", "")}},
				Release: metadata.Release{Date: "2027-02-01", Version: "1.2"}},
			casts, "CTD casts of RV Brine and RV Fulmar, 2026-05-03 to 2026-05-05",
			"3 CTD casts at 2 stations, taken by RV Brine and RV Fulmar from 2026-05-03 to 2026-05-05, at 60.00° N to 61.25° N and 30.00° W to 29.50° W, down to 1202 dbar. Chief scientist: Ada Finch.",
			"Ada Finch, 2027: CTD casts of RV Brine and RV Fulmar, 2026-05-03 to 2026-05-05, version 1.2", "Ada Finch",
			""},
		{"nothing but one cast", metadata.Cruise{}, casts[:1], "CTD casts of cruise ZZBR20260501, 2026-05-03",
			"1 CTD cast at 1 station, taken on cruise ZZBR20260501 on 2026-05-03, at 60.00° N and 30.00° W, down to 1202 dbar.",
			"2026: CTD casts of cruise ZZBR20260501, 2026-05-03", "", ""},
		{"an institution and no person",
			metadata.Cruise{Institutions: []metadata.Institution{{Name: "Brine Institute"}}}, casts[:1],
			"CTD casts of cruise ZZBR20260501, 2026-05-03",
			"1 CTD cast at 1 station, taken on cruise ZZBR20260501 on 2026-05-03, at 60.00° N and 30.00° W, down to 1202 dbar.",
			"Brine Institute, 2026: CTD casts of cruise ZZBR20260501, 2026-05-03", "", ""},
		{"what is given stays", metadata.Cruise{Title: "t", Summary: "s",
			Ships: []metadata.Ship{{Name: "RV Brine", Code: "ZZXX"}}, Release: metadata.Release{Citation: "c",
				Contact: "p"}}, casts, "t", "s", "c", "p", "ZZXX"},
	} {
		c := &k.cruise
		describe(c, k.casts)
		if c.Title != k.title || c.Summary != k.summary || c.Release.Citation != k.citation ||
			c.Release.Contact != k.contact {
			t.Errorf("%s:\n title    %q\n summary  %q\n citation %q\n contact  %q", k.what, c.Title, c.Summary,
				c.Release.Citation, c.Release.Contact)
		}
		if len(c.Ships) > 0 && c.Ships[0].Code != k.code {
			t.Errorf("%s: ship code %q, want %q", k.what, c.Ships[0].Code, k.code)
		}
	}
}
