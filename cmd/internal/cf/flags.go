package cf

import (
	"maps"
	"regexp"
	"slices"

	"github.com/castwright/castwright/internal/nc"
)

var wordForm = regexp.MustCompile(`^[A-Za-z0-9_.+@-]+$`)

// flags checks rules 21 to 24.
func (v *variable) flags() {
	v.ancillary()
	words, hasValues, hasMasks := v.list("flag_meanings"), v.has("flag_values"), v.has("flag_masks")
	if !hasValues && !hasMasks {
		if v.has("flag_meanings") {
			v.fault(22, "flag_meanings without flag_values or flag_masks")
		}
		return
	}
	if len(words) == 0 {
		v.fault(22, "flag_meanings is missing")
	}
	for k, w := range words {
		if !wordForm.MatchString(w) {
			v.fault(22, "word %q of flag_meanings has characters other than letters, digits and _-.+@", w)
		}
		if slices.Contains(words[:k], w) {
			v.say(own, 22, "word %q occurs twice in flag_meanings", w)
		}
	}
	if hasValues {
		f := v.listed(22, "flag_values", words)
		for k, x := range f {
			if !hasMasks && slices.Contains(f[:k], x) {
				v.fault(23, "flag value %g occurs twice", x)
			}
		}
		if !hasMasks && v.number && v.c.ours {
			v.storedFlags(f)
		}
	}
	if hasMasks {
		if slices.Contains(v.listed(24, "flag_masks", words), 0) {
			v.fault(24, "a flag mask is zero")
		}
		if v.Type == nc.Float || v.Type == nc.Double {
			v.fault(24, "flag_masks of a variable of type %s", v.Type)
		}
	}
}

// listed returns the numbers of an attribute that has one for each word and the type of the variable.
func (v *variable) listed(rule int, attr string, words []string) []float64 {
	v.typed(rule, attr)
	x := v.Floats(attr)
	if len(words) > 0 && x != nil && len(x) != len(words) {
		v.fault(rule, "%d %s for %d words", len(x), attr, len(words))
	}
	return x
}

// storedFlags checks that each value is among flag_values.
func (v *variable) storedFlags(f []float64) {
	x, _ := v.values()
	others := map[float64]int{}
	for _, y := range x {
		if !slices.Contains(f, y) && !v.missing(y) {
			others[y]++
		}
	}
	for _, y := range slices.Sorted(maps.Keys(others)) {
		v.fault(23, "holds %d values %g, which is not among flag_values", others[y], y)
	}
}
