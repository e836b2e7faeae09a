package section

import (
	"fmt"
	"slices"
	"strings"
)

// A LegsError is an item of a station list that matches casts of several legs which use the same station numbers, so
// that it does not say which station is meant.
type LegsError struct {
	Item  string         // as the list has it
	Same  []string       // station names that occur in several of the legs, in natural order
	ByLeg []StationRange // the item for each leg, with the ends that the leg has
}

// Error names the legs and how to write each.
func (e *LegsError) Error() string {
	words := make([]string, len(e.ByLeg))
	for i, r := range e.ByLeg {
		words[i] = r.String()
	}
	same := e.Same
	if len(same) > 5 {
		same = append(slices.Clone(same[:5]), "...")
	}
	return fmt.Sprintf("stations %s are of %d legs that use the same station numbers (%s): write %s", e.Item,
		len(e.ByLeg), strings.Join(same, ", "),
		strings.Join(words, " or "))
}

// MixedLegs returns an error for each item of the list that names no leg and matches casts of several legs with
// repeated station numbers: a station name occurs in two of them, or the names of one lie between those of another.
// What the list excepts does not count.
func MixedLegs(casts []*Cast, list StationList) []*LegsError {
	sorted := slices.Clone(casts)
	slices.SortStableFunc(sorted, CompareCasts)
	items := list.Items
	if list.All {
		items = []StationRange{{}}
	}
	var out []*LegsError
	for i := range items {
		r := &items[i]
		if r.Expocode != "" {
			continue
		}
		matched := slices.DeleteFunc(slices.Clone(sorted), func(c *Cast) bool {
			return !list.All && !r.contains(c.Expocode, c.Station, c.Number) ||
				slices.ContainsFunc(list.Except,
					func(x StationRange) bool { return x.contains(c.Expocode, c.Station, c.Number) })
		})
		legs, same := legsOf(matched, sorted)
		if len(legs) < 2 || len(same) == 0 {
			continue
		}
		e := &LegsError{Item: r.String(), Same: same}
		if list.All {
			e.Item = "all"
		}
		for _, code := range legs {
			e.ByLeg = append(e.ByLeg, r.ofLeg(code, matched))
		}
		out = append(out, e)
	}
	return out
}

// legsOf returns the expocodes of the matched casts, in order, and the station names that two of them repeat: among the
// matched casts, or among all casts of these legs when the matched ones lie between each other or at least two numbers
// are repeated elsewhere. Both slices are in natural order of the stations.
func legsOf(matched, all []*Cast) (legs, same []string) {
	for _, c := range matched {
		if !slices.Contains(legs, c.Expocode) {
			legs = append(legs, c.Expocode)
		}
	}
	slices.Sort(legs)
	if len(legs) < 2 {
		return legs, nil
	}
	if same = repeated(matched, legs); len(same) > 0 {
		return legs, same
	}
	same = repeated(all, legs)
	plain := slices.DeleteFunc(slices.Clone(same), func(s string) bool { return leadingDigits(s) != len(s) })
	changes := 0
	for i := 1; i < len(matched); i++ {
		if matched[i].Expocode != matched[i-1].Expocode {
			changes++
		}
	}
	if len(plain) > 1 || changes >= len(legs) {
		if len(same) == 0 {
			same = []string{matched[0].Station, matched[len(matched)-1].Station}
		}
		return legs, same
	}
	return legs, nil
}

// repeated returns the station names that casts of two of the legs have.
func repeated(sorted []*Cast, legs []string) (out []string) {
	leg := map[string]string{}
	for _, c := range sorted {
		if !slices.Contains(legs, c.Expocode) {
			continue
		}
		if before, ok := leg[c.Station]; ok && before != c.Expocode && !slices.Contains(out, c.Station) {
			out = append(out, c.Station)
		}
		leg[c.Station] = c.Expocode
	}
	return out
}

// ofLeg returns the item for one leg, with the ends that the matched casts of the leg have.
func (r *StationRange) ofLeg(expocode string, matched []*Cast) StationRange {
	out := StationRange{Expocode: expocode, Cast: r.Cast}
	for _, c := range matched {
		if c.Expocode != expocode {
			continue
		}
		if out.From == "" {
			out.From = c.Station
		}
		out.To = c.Station
	}
	if r.To != "" && CompareStations(r.From, r.To) > 0 {
		out.From, out.To = out.To, out.From
	}
	if out.From == out.To {
		out.To = ""
	}
	return out
}
