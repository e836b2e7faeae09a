package pipeline

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// describe fills in what the cruise file may leave to the program: codes of ships, contact, title, summary and
// citation.
func describe(c *metadata.Cruise, casts []*section.Cast) {
	if len(c.Ships) == 1 && c.Ships[0].Code == "" {
		if codes := shipCodes(casts); len(codes) == 1 {
			c.Ships[0].Code = codes[0]
		}
	}
	if i := slices.IndexFunc(c.Legs, func(l metadata.Leg) bool { return l.ChiefScientist.Name != "" }); i >= 0 &&
		c.Release.Contact == "" {
		p := c.Legs[i].ChiefScientist
		c.Release.Contact = orDefault(p.Email, p.Name)
	}
	first, last := days(c, casts)
	if c.Title == "" {
		c.Title = titleOf(c, casts, first, last)
	}
	if c.Summary == "" {
		c.Summary = summaryOf(c, casts, first, last)
	}
	if c.Release.Citation == "" {
		year := last
		if c.Release.Date != "" {
			year = c.Release.Date
		}
		c.Release.Citation = citationOf(c, year)
	}
}

// shipCodes returns the first four characters of the expocodes, each once.
func shipCodes(casts []*section.Cast) []string {
	var out []string
	for _, k := range casts {
		if len(k.Expocode) == 12 && !slices.Contains(out, k.Expocode[:4]) {
			out = append(out, k.Expocode[:4])
		}
	}
	return out
}

// days returns the first and last day of the cruise: those of its legs when each has both, else those of the casts; ""
// when nothing says.
func days(c *metadata.Cruise, casts []*section.Cast) (first, last string) {
	stated := len(c.Legs) > 0
	for _, l := range c.Legs {
		stated = stated && l.Start != "" && l.End != ""
	}
	take := func(from, to string) {
		if first == "" || from < first {
			first = from
		}
		last = max(last, to)
	}
	if stated {
		for _, l := range c.Legs {
			take(l.Start, l.End)
		}
		return first, last
	}
	for _, k := range casts {
		if !k.Time.IsZero() {
			day := k.Time.UTC().Format(time.DateOnly)
			take(day, day)
		}
	}
	return first, last
}

func span(first, last string) string {
	if first == last || first == "" || last == "" {
		return max(first, last)
	}
	return first + " to " + last
}

// titleOf makes a title of ship, region and dates, with the expocodes where no ship is named.
func titleOf(c *metadata.Cruise, casts []*section.Cast, first, last string) string {
	return joinNonEmpty(", ", "CTD casts of "+shipsOf(c, casts), c.Region, span(first, last))
}

func shipsOf(c *metadata.Cruise, casts []*section.Cast) string {
	var names []string
	for _, s := range c.Ships {
		names = append(names, s.Name)
	}
	if len(names) > 0 {
		return joinWords(names)
	}
	for _, k := range casts {
		if !slices.Contains(names, k.Expocode) {
			names = append(names, k.Expocode)
		}
	}
	return "cruise " + joinWords(names)
}

// summaryOf makes one paragraph of what the casts are: how many, from which ship, where, when, how deep, and who led.
func summaryOf(c *metadata.Cruise, casts []*section.Cast, first, last string) string {
	stations := map[string]bool{}
	south, north, deepest := math.Inf(1), math.Inf(-1), math.Inf(-1)
	lons := make([]float64, 0, len(casts))
	for _, k := range casts {
		stations[k.Expocode+":"+k.Station] = true
		south, north = min(south, k.At.Lat()), max(north, k.At.Lat())
		lons = append(lons, k.At.Lon())
		for _, p := range k.PressureDbar {
			if p > deepest {
				deepest = p
			}
		}
	}
	by := "by "
	if len(c.Ships) == 0 {
		by = "on "
	}
	var out strings.Builder
	fmt.Fprintf(&out, "%s at %s, taken %s%s", count(len(casts), "CTD cast"), count(len(stations), "station"), by,
		shipsOf(c, casts))
	if c.Region != "" {
		fmt.Fprintf(&out, " (%s)", c.Region)
	}
	switch {
	case first != last:
		fmt.Fprintf(&out, " from %s", span(first, last))
	case first != "":
		fmt.Fprintf(&out, " on %s", first)
	}
	if len(lons) > 0 {
		west, east := section.LongitudeRange(lons)
		fmt.Fprintf(&out, ", at %s and %s", span(side(south, "N", "S"), side(north, "N", "S")),
			span(side(west, "E", "W"), side(east, "E", "W")))
	}
	if deepest > 0 {
		fmt.Fprintf(&out, ", down to %.0f dbar", deepest)
	}
	out.WriteString(".")
	if names := chiefScientists(c); len(names) > 0 {
		fmt.Fprintf(&out, " Chief scientist%s: %s.", map[bool]string{true: "s"}[len(names) > 1], joinWords(names))
	}
	return out.String()
}

// side returns a coordinate with the letter of its side instead of a sign.
func side(x float64, positive, negative string) string {
	letter := positive
	if x < 0 {
		letter = negative
	}
	return fmt.Sprintf("%.2f° %s", math.Abs(x), letter)
}

func chiefScientists(c *metadata.Cruise) []string {
	var out []string
	for _, l := range c.Legs {
		if n := l.ChiefScientist.Name; n != "" && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// citationOf makes a citation of people (else institutions), year and title.
func citationOf(c *metadata.Cruise, day string) string {
	names := chiefScientists(c)
	for _, p := range c.People {
		if !slices.Contains(names, p.Name) {
			names = append(names, p.Name)
		}
	}
	if len(names) == 0 {
		for _, i := range c.Institutions {
			names = append(names, i.Name)
		}
	}
	year, _, _ := strings.Cut(day, "-")
	head := joinNonEmpty(", ", joinWords(names), year)
	version := ""
	if c.Release.Version != "" {
		version = "version " + c.Release.Version
	}
	return joinNonEmpty(": ", head, joinNonEmpty(", ", c.Title, version))
}

// joinWords returns "a", "a and b", "a, b and c"; with semicolons where an item has a comma ("Lark, Owen; Ada Finch").
func joinWords(items []string) string {
	if len(items) == 0 {
		return ""
	}
	if slices.ContainsFunc(items, func(s string) bool { return strings.Contains(s, ",") }) {
		return strings.Join(items, "; ")
	}
	n := len(items) - 1
	return joinNonEmpty(" and ", strings.Join(items[:n], ", "), items[n])
}

func joinNonEmpty(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), sep)
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
