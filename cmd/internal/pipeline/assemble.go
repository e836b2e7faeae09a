package pipeline

import (
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// assemble does to the casts as read what the cruise file says of them: names changed, roles, directions, systems,
// clocks, water. It gives the casts that stay, in the order of the archive (leg, then station in natural order, then
// cast), and says what a person should know.
func assemble(c *cruisefile.Cruise, casts []*section.Cast, entries []ingest.StationEntry) (kept []*section.Cast,
	out []leftOut, found []metadata.Finding, a assembled) {
	mixed := mixedNames(c, casts)
	a.renumbered, found = renumber(c, casts)
	found = append(mixed, found...)
	used := make([]bool, len(c.Casts.LeaveOut))
	for _, k := range casts {
		if i := leavingOut(c, k); i >= 0 {
			used[i] = true
			out = append(out, leftOut{file: k.Source.Name, cast: k, reason: c.Casts.LeaveOut[i].Reason})
			continue
		}
		kept = append(kept, k)
	}
	for i, l := range c.Casts.LeaveOut {
		if l.File == "" && !used[i] {
			found = append(found, metadata.Finding{Position: l.At, Severity: metadata.Warning,
				Check:   "cruise.leave_out",
				Message: fmt.Sprintf("leave_out names cast %s, which no file holds", castName(l.Cast)),
				Remedy:  nearest(l.Cast.Expocode, l.Cast.Station, l.Cast.Number, casts)})
		}
	}
	for _, k := range kept {
		if k.Role == section.Unstated { // a layout may say what a cast is
			k.Role = section.Primary
		}
		if k.Direction == section.DirectionUnknown {
			k.Direction = c.Casts.Direction
		}
		if k.Direction == section.DirectionUnknown {
			k.Direction = section.Down
		}
		if listed(&c.Casts.Up, k) {
			k.Direction = section.Up
		}
		if c.Casts.TimeIs != section.TimeUnstated {
			k.TimeIs = c.Casts.TimeIs
		}
		k.Lake = c.Casts.Lake
		k.System = systemOf(c, k)
		for i := range c.Casts.Roles {
			if listed(&c.Casts.Roles[i].Casts, k) {
				k.Role = c.Casts.Roles[i].Role
			}
		}
		if d := clockOffset(c, k, cruisefile.ClockOfFiles); d != 0 && !k.Time.IsZero() && !k.DateOnly {
			k.Time = k.Time.Add(d)
			a.clocked = append(a.clocked, k)
		}
	}
	slices.SortStableFunc(kept, compareInArchive(c))
	a.stations.c = c
	a.stations.apply(entries, kept)
	a.stations.leftovers(entries, kept, out)
	found = append(found, a.stations.found...)
	found = append(found, unmatched(c, kept)...)
	a.report(c, kept)
	found = append(found, a.notReported...)
	found = append(found, binLabels(c, kept)...)
	found = append(found, compareDeclared(c, kept)...)
	return kept, out, found, a
}

// assembled is what was done to the casts, for the records.
type assembled struct {
	renumbered []renumbering
	clocked    []*section.Cast // those whose time was not UTC
	stations   stations

	reported    []reporting
	notReported []metadata.Finding
}

// A renumbering is a cast whose name was changed, and the entry that did it.
type renumbering struct {
	cast *section.Cast
	was  string
	by   *cruisefile.Renumber
}

// A leftOut is an input or cast that the cruise file leaves out.
type leftOut struct {
	file   string
	cast   *section.Cast // nil when the file was not read
	reason string
}

func listed(l *section.StationList, k *section.Cast) bool {
	return !l.Empty() && l.Contains(k.Expocode, k.Station, k.Number)
}

func castName(n cruisefile.CastName) string {
	s := n.Station
	if n.Number != "" {
		s += "/" + n.Number
	}
	if n.Expocode != "" {
		s = n.Expocode + ":" + s
	}
	return s
}

func named(n cruisefile.CastName, k *section.Cast) bool {
	return n.Station == k.Station && (n.Number == "" || n.Number == k.Number) &&
		(n.Expocode == "" || n.Expocode == k.Expocode)
}

func leavingOut(c *cruisefile.Cruise, k *section.Cast) int {
	return slices.IndexFunc(c.Casts.LeaveOut, func(l cruisefile.LeaveOut) bool {
		return l.File == "" && named(l.Cast, k)
	})
}

// renumber changes station and cast numbers all at once, so that two casts may change places.
func renumber(c *cruisefile.Cruise, casts []*section.Cast) (done []renumbering, found []metadata.Finding) {
	type change struct {
		k  *section.Cast
		to cruisefile.CastName
	}
	var changes []change
	for i := range c.Casts.Renumber {
		r := &c.Casts.Renumber[i]
		hit := false
		for _, k := range casts {
			if r.File == "" && !named(r.From, k) || r.File != "" && path.Clean(r.File) != k.Source.Name {
				continue
			}
			hit = true
			to := r.To
			if to.Number == "" {
				to.Number = k.Number
			}
			if to.Expocode == "" {
				to.Expocode = k.Expocode
			}
			if to.Station == "" {
				to.Station = k.Station
			}
			changes = append(changes, change{k, to})
			done = append(done, renumbering{k, k.ID(), r})
			found = append(found, metadata.Finding{Position: r.At, Severity: metadata.Note, Check: "cruise.renumber",
				Cast:    (&section.Cast{Expocode: to.Expocode, Station: to.Station, Number: to.Number}).ID(),
				Message: fmt.Sprintf("cast %s is called %s here: %s", k.ID(), castName(to), orUnstated(r.Why))})
		}
		if !hit && r.File != "" {
			found = append(found, metadata.Finding{Position: r.At, Severity: metadata.Warning, Check: "cruise.renumber",
				Message: fmt.Sprintf("renumber names %s, from which no cast was read", r.File),
				Remedy:  nearestFile(r.File, casts)})
		} else if !hit {
			found = append(found, metadata.Finding{Position: r.At, Severity: metadata.Warning, Check: "cruise.renumber",
				Message: fmt.Sprintf("renumber names cast %s, which no file holds", castName(r.From)),
				Remedy:  nearest(r.From.Expocode, r.From.Station, r.From.Number, casts)})
		}
	}
	for _, ch := range changes {
		ch.k.Expocode, ch.k.Station, ch.k.Number = ch.to.Expocode, ch.to.Station, ch.to.Number
	}
	return done, found
}

// nearestFile returns the hint for the name of a file that no cast was read from.
func nearestFile(file string, casts []*section.Cast) string {
	var names []string
	for _, k := range casts {
		names = append(names, k.Source.Name)
	}
	if near, ok := metadata.Nearest(path.Clean(file), names); ok {
		return "did you mean " + near
	}
	return "write the file as sources have it, relative to the cruise file; take the line out when it is no longer needed"
}

func orUnstated(s string) string {
	if s == "" {
		return "no reason stated"
	}
	return s
}

// systemOf returns the label of the system whose stations hold the cast; a system without a list takes what no other
// claims.
func systemOf(c *cruisefile.Cruise, k *section.Cast) string {
	rest := ""
	for i := range c.Systems {
		s := &c.Systems[i]
		switch {
		case s.Stations.Empty():
			if rest == "" {
				rest = s.Label
			}
		case s.Stations.Contains(k.Expocode, k.Station, k.Number):
			return s.Label
		}
	}
	return rest
}

// unmatched names entries of the cruise file that no cast answers to, and casts that it does not know.
func unmatched(c *cruisefile.Cruise, casts []*section.Cast) (found []metadata.Finding) {
	say := func(at metadata.Position, check, format string, a ...any) {
		found = append(found, metadata.Finding{Position: at, Severity: metadata.Warning, Check: check,
			Message: fmt.Sprintf(format, a...),
			Remedy:  "stations are text: 1 and 001 differ; castwright check --casts lists those that were read"})
	}
	lists := []struct {
		l    *section.StationList
		at   metadata.Position
		what string
	}{{&c.Casts.Up, c.File, "casts.direction"}}
	for i := range c.Casts.Roles {
		lists = append(lists, struct {
			l    *section.StationList
			at   metadata.Position
			what string
		}{&c.Casts.Roles[i].Casts, c.Casts.Roles[i].At, "casts.role " + c.Casts.Roles[i].Role.String()})
	}
	for i := range c.Systems {
		lists = append(lists, struct {
			l    *section.StationList
			at   metadata.Position
			what string
		}{&c.Systems[i].Stations, c.Systems[i].At, "system " + c.Systems[i].Label})
	}
	for i := range c.Casts.Clock {
		lists = append(lists, struct {
			l    *section.StationList
			at   metadata.Position
			what string
		}{&c.Casts.Clock[i].Stations, c.Casts.Clock[i].At, "casts.clock"})
	}
	for _, x := range lists {
		if x.l.Empty() || x.l.All {
			continue
		}
		found = append(found, mixedLists(x.what, x.l, x.at, casts)...)
		if !slices.ContainsFunc(casts, func(k *section.Cast) bool {
			return x.l.Contains(k.Expocode, k.Station,
				k.Number)
		}) {
			say(x.at, "cruise.stations", "%s lists %s, and no cast is among them", x.what, x.l.String())
		}
	}
	if len(c.Systems) > 0 {
		var none []string
		for _, k := range casts {
			if k.System == "" {
				none = append(none, k.Station+"/"+k.Number)
			}
		}
		if len(none) > 0 {
			found = append(found, metadata.Finding{Position: c.File, Severity: metadata.Warning, Check: "cruise.system",
				Message: "no system of sensors is named for casts " + strings.Join(none, ", ") + "; written as unknown",
				Remedy:  "add them to the stations of a system"})
		}
	}
	return found
}

// binLabels notes of which casts the cruise file does not declare the pressure that is written for a bin: one finding a
// system.
func binLabels(c *cruisefile.Cruise, casts []*section.Cast) (found []metadata.Finding) {
	at := map[string]metadata.Position{"": c.File}
	for i := range c.Systems {
		if s := &c.Systems[i]; s.Bin.Label == "" {
			at[s.Label] = s.At
		}
	}
	count := map[string]int{}
	for _, k := range casts {
		count[k.System]++
	}
	for _, label := range slices.Sorted(maps.Keys(at)) {
		n := count[label]
		if n == 0 {
			continue
		}
		whose := "system " + label
		if label == "" {
			whose = "casts of no named system"
		}
		found = append(found, metadata.Finding{Position: at[label], Severity: metadata.Note, Check: "cruise.bin_label",
			Count: n,
			Message: "which pressure of a bin is written, that of its centre, top or bottom, is not declared for " +
				whose + "; written as unknown",
			Remedy: "say it in the system, for example bin: {width: 2, label: centre}"})
	}
	return found
}

// compareInArchive orders casts by leg as the cruise file lists them (legs it does not list behind, by expocode),
// station and cast.
func compareInArchive(c *cruisefile.Cruise) func(a, b *section.Cast) int {
	rank := map[string]int{}
	for i, l := range c.Legs {
		rank[l.Expocode] = i - len(c.Legs)
	}
	return func(a, b *section.Cast) int {
		if d := rank[a.Expocode] - rank[b.Expocode]; d != 0 {
			return d
		}
		if d := strings.Compare(a.Expocode, b.Expocode); d != 0 {
			return d
		}
		if d := section.CompareStations(a.Station, b.Station); d != 0 {
			return d
		}
		return section.CompareStations(a.Number, b.Number)
	}
}
