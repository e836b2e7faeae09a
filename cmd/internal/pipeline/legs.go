package pipeline

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// mixedNames returns an error for each cast that leave_out and renumber name without its leg where casts of several
// legs have that name.
func mixedNames(c *cruisefile.Cruise, casts []*section.Cast) (found []metadata.Finding) {
	legs := func(n cruisefile.CastName) (codes []string) {
		for _, k := range casts {
			if n.Station != "" && named(n, k) && !slices.Contains(codes, k.Expocode) {
				codes = append(codes, k.Expocode)
			}
		}
		slices.Sort(codes)
		return codes
	}
	say := func(at metadata.Position, check, key string, n cruisefile.CastName,
		paste func(code string) metadata.Paste) {
		codes := legs(n)
		if len(codes) < 2 {
			return
		}
		f := metadata.Finding{Position: at, Severity: metadata.Failure, Check: check, Count: len(codes),
			Message: fmt.Sprintf("%s names cast %s, which %d legs have: %s; it is done to none", key, castName(n),
				len(codes), strings.Join(codes, ", ")), Options: eachLeg("say which leg is meant and replace the line",
				codes, paste)}
		found = append(found, f)
	}
	for _, l := range c.Casts.LeaveOut {
		say(l.At, "cruise.leave_out", "leave_out", l.Cast, func(code string) metadata.Paste {
			return metadata.LeaveOutCast(code, l.Cast.Station, l.Cast.Number, l.Reason)
		})
	}
	for _, r := range c.Casts.Renumber {
		say(r.At, "cruise.renumber", "renumber", r.From, func(code string) metadata.Paste {
			return metadata.Renumber(code, r.From.Station, r.From.Number, r.To.Station, r.To.Number, r.Why)
		})
	}
	return found
}

// mixedLists returns an error for each list of stations under casts: and systems: that does not say which of several
// legs it means.
func mixedLists(what string, l *section.StationList, at metadata.Position, casts []*section.Cast) (
	found []metadata.Finding) {
	if l.All {
		return nil
	}
	for _, m := range section.MixedLegs(casts, *l) {
		both := make([]string, len(m.ByLeg))
		for i, r := range m.ByLeg {
			both[i] = r.String()
		}
		found = append(found, metadata.Finding{Position: at, Severity: metadata.Failure, Check: "cruise.stations",
			Message: what + ": " + m.Error(),
			Remedy: "name the leg; for casts of all these legs write " +
				strconv.QuoteToGraphic(strings.Join(both, ", "))})
	}
	return found
}

// maxLegsTold is how many legs are offered.
const maxLegsTold = 4

// eachLeg returns an option for each leg or list; text says of the first what all do.
func eachLeg(text string, each []string, paste func(string) metadata.Paste) (options []metadata.Option) {
	for _, one := range each[:min(len(each), maxLegsTold)] {
		options = append(options, metadata.Option{Text: text, Paste: paste(one)})
		text = ""
	}
	return options
}
