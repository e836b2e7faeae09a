package section

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// CompareStations orders station names naturally (-1, 0, +1): runs of digits compare as numbers of any length, other
// characters by bytes, digits before others, a name before the same name with more behind it: 2, 9, 12, 12A, 12B, 13,
// A1, A2, A10. Names that are equal so (1 and 001) go by bytes, so that only the same bytes are equal.
func CompareStations(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		dx, dy := leadingDigits(x), leadingDigits(y)
		switch {
		case dx > 0 && dy > 0:
			m, n := strings.TrimLeft(x[:dx], "0"), strings.TrimLeft(y[:dy], "0")
			if c := cmp.Compare(len(m), len(n)); c != 0 {
				return c
			}
			if c := strings.Compare(m, n); c != 0 {
				return c
			}
			x, y = x[dx:], y[dy:]
		case dx > 0:
			return -1
		case dy > 0:
			return 1
		default:
			if x[0] != y[0] {
				return cmp.Compare(x[0], y[0])
			}
			x, y = x[1:], y[1:]
		}
	}
	if c := cmp.Compare(len(x), len(y)); x == "" != (y == "") {
		return c
	}
	return strings.Compare(a, b)
}

func leadingDigits(s string) int {
	n := 0
	for n < len(s) && '0' <= s[n] && s[n] <= '9' {
		n++
	}
	return n
}

// CompareCasts orders casts by station (naturally), expocode and cast number.
func CompareCasts(a, b *Cast) int {
	return cmp.Or(CompareStations(a.Station, b.Station), strings.Compare(a.Expocode, b.Expocode),
		CompareStations(a.Number, b.Number))
}

// Contains reports whether the list names the station (and cast number) of one leg. A run holds what lies between its
// ends in natural order, whether or not the ends exist.
func (l *StationList) Contains(expocode, station, number string) bool {
	in := l.All
	for i := range l.Items {
		in = in || l.Items[i].contains(expocode, station, number)
	}
	for i := range l.Except {
		in = in && !l.Except[i].contains(expocode, station, number)
	}
	return in
}

func (r *StationRange) contains(expocode, station, number string) bool {
	if r.Expocode != "" && r.Expocode != expocode || r.Cast != "" && r.Cast != number {
		return false
	}
	if r.To == "" {
		return station == r.From
	}
	from, to := r.From, r.To
	if CompareStations(from, to) > 0 {
		from, to = to, from
	}
	return CompareStations(from, station) <= 0 && CompareStations(station, to) <= 0
}

// maxMissing is how many items of a list that name no cast get an error of their own.
const maxMissing = 5

// Select returns the casts that the list names, in the order of the list: all casts of a station (whatever their role)
// by leg and cast number, unless the list chooses one. A station listed twice comes twice, so that a section may close
// on itself. What the list names and the casts do not have is an error, one for each of the first items of that kind
// and one for the rest, joined; so is an item that does not say which of several legs it means (LegsError). "all" is
// all casts of all legs.
func Select(casts []*Cast, list StationList) ([]*Cast, error) {
	sorted := slices.Clone(casts)
	slices.SortStableFunc(sorted, CompareCasts)
	var picked []*Cast
	var faults []error
	more := 0
	fault := func(err error) {
		if len(faults) < maxMissing {
			faults = append(faults, err)
		} else {
			more++
		}
	}
	if list.All {
		picked = append(picked, sorted...)
	}
	for i := range list.Items {
		item := &list.Items[i]
		if err := item.missing(sorted); err != nil {
			fault(err)
			continue
		}
		picked = append(picked, item.pick(sorted)...)
	}
	for i := range list.Except {
		if err := list.Except[i].missing(sorted); err != nil {
			fault(fmt.Errorf("except: %w", err))
		}
	}
	if len(faults) == 0 && !list.All {
		for _, e := range MixedLegs(sorted, list) {
			faults = append(faults, e)
		}
	}
	if more > 0 {
		faults = append(faults, fmt.Errorf("%d more items of the list name stations or casts that are not there", more))
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	return slices.DeleteFunc(picked, func(c *Cast) bool {
		return slices.ContainsFunc(list.Except,
			func(r StationRange) bool { return r.contains(c.Expocode, c.Station, c.Number) })
	}), nil
}

// taken returns the list with the stations that casts have: of a run those within its ends, so that its ends may be
// still to come.
func (l *StationList) taken(casts []*Cast) StationList {
	sorted := slices.Clone(casts)
	slices.SortStableFunc(sorted, CompareCasts)
	out := StationList{All: l.All}
	for _, r := range l.Items {
		if r.missing(sorted) == nil {
			out.Items = append(out.Items, r)
			continue
		}
		for _, c := range r.pick(sorted) {
			one := StationRange{Expocode: r.Expocode, From: c.Station, Cast: r.Cast}
			if !slices.Contains(out.Items, one) {
				out.Items = append(out.Items, one)
			}
		}
	}
	for _, r := range l.Except {
		if r.missing(sorted) == nil {
			out.Except = append(out.Except, r)
		}
	}
	return out
}

// NotTaken returns the names of a list that no cast has, ends and stations between them.
func (l *StationList) NotTaken(casts []*Cast) []string {
	return slices.DeleteFunc(l.Names(), func(name string) bool {
		return slices.ContainsFunc(casts, func(c *Cast) bool { return c.Station == name })
	})
}

// pick returns the casts of one item from casts in natural order, turned round station by station for a descending run.
func (r *StationRange) pick(sorted []*Cast) []*Cast {
	var out []*Cast
	for _, c := range sorted {
		if r.contains(c.Expocode, c.Station, c.Number) {
			out = append(out, c)
		}
	}
	if r.To != "" && CompareStations(r.From, r.To) > 0 {
		slices.SortStableFunc(out, func(a, b *Cast) int { return CompareStations(b.Station, a.Station) })
	}
	return out
}

// missing says which end of an item no cast has, and what was perhaps meant.
func (r *StationRange) missing(sorted []*Cast) error {
	ends := []string{r.From}
	if r.To != "" && r.To != r.From {
		ends = append(ends, r.To)
	}
	var faults []error
	for _, name := range ends {
		here := slices.DeleteFunc(slices.Clone(sorted), func(c *Cast) bool {
			return c.Station != name || r.Expocode != "" && c.Expocode != r.Expocode
		})
		if len(here) == 0 {
			faults = append(faults, noStation(sorted, r.Expocode, name))
			continue
		}
		if r.To == "" && r.Cast != "" && !slices.ContainsFunc(here, func(c *Cast) bool { return c.Number == r.Cast }) {
			numbers := make([]string, len(here))
			for i, c := range here {
				numbers[i] = c.Number
			}
			faults = append(faults, fmt.Errorf("station %s has no cast %s; its casts are %s", name, r.Cast,
				strings.Join(numbers, ", ")))
		}
	}
	if len(faults) == 0 && r.To != "" && r.Cast != "" && len(r.pick(sorted)) == 0 {
		return fmt.Errorf("no station of %s-%s has a cast %s", r.From, r.To, r.Cast)
	}
	return errors.Join(faults...)
}

// noStation returns the error for a station that no cast has, with a near name when there is one.
func noStation(sorted []*Cast, expocode, name string) error {
	var names []string
	elsewhere := ""
	for _, c := range sorted {
		if c.Station == name {
			elsewhere = c.Expocode
		}
		if (expocode == "" || c.Expocode == expocode) && !slices.Contains(names, c.Station) {
			names = append(names, c.Station)
		}
	}
	what := fmt.Sprintf("station %s not found", name)
	if expocode != "" {
		what = fmt.Sprintf("station %s of %s not found", name, expocode)
	}
	if elsewhere != "" {
		return fmt.Errorf("%s; %s has a station of that name", what, elsewhere)
	}
	if near, ok := metadata.Nearest(name, names); ok {
		return fmt.Errorf("%s; did you mean %s", what, near)
	}
	if len(names) == 0 {
		return fmt.Errorf("%s; no casts were read", what)
	}
	return fmt.Errorf("%s; the casts have stations %s to %s", what, names[0], names[len(names)-1])
}

// DidYouMean returns the station among names that differs from name only by leading zeros of its numbers or by case; ""
// when none does.
func DidYouMean(name string, names []string) string {
	for _, n := range names {
		if n != name && bareStation(n) == bareStation(name) {
			return n
		}
	}
	return ""
}

// bareStation is a name in lower case without the leading zeros of each of its numbers.
func bareStation(s string) string {
	var b strings.Builder
	for s != "" {
		n := leadingDigits(s)
		if n == 0 {
			b.WriteByte(s[0])
			s = s[1:]
			continue
		}
		digits := strings.TrimLeft(s[:n], "0")
		if digits == "" {
			digits = "0"
		}
		b.WriteString(digits)
		s = s[n:]
	}
	return strings.ToLower(b.String())
}

// MaxNames bounds what Names makes of runs.
const MaxNames = 10000

// Names spells the list out without looking at casts, each item by StationRange.Names, exceptions taken out. "all"
// gives none.
func (l *StationList) Names() []string {
	var out []string
	for i := range l.Items {
		for _, name := range l.Items[i].Names() {
			if len(out) == MaxNames {
				return out
			}
			if !slices.ContainsFunc(l.Except, func(r StationRange) bool {
				return (&StationRange{From: r.From, To: r.To}).contains("", name, "")
			}) {
				out = append(out, name)
			}
		}
	}
	return out
}

// Names spells the item out: a run between two plain numbers gives every number between, with the zeros of its ends
// (001-003: 001, 002, 003), at most 100 000; of another run only the two ends are known.
func (r StationRange) Names() []string {
	if r.To == "" {
		return []string{r.From}
	}
	from, err1 := strconv.Atoi(r.From)
	to, err2 := strconv.Atoi(r.To)
	if err1 != nil || err2 != nil {
		return []string{r.From, r.To}
	}
	width, step := 0, 1
	if r.From[0] == '0' || r.To[0] == '0' {
		width = max(len(r.From), len(r.To))
	}
	if from > to {
		step = -1
	}
	var out []string
	for n := from; len(out) < MaxNames; n += step {
		out = append(out, fmt.Sprintf("%0*d", width, n))
		if n == to {
			break
		}
	}
	return out
}
