package metadata

import (
	"fmt"
	"strconv"
	"strings"
)

// The WOCE CTD set has no code for "not evaluated". Where a column mixes evaluated and other values, exchange files
// carry flag 1 for the others and one comment that says which flags 1 are meant so (ours; flags.md, Writing "not
// evaluated"). Writer and reader of the comment are both here, since they are one piece of vocabulary.

// NotEvaluatedNote returns the text behind "1 = not evaluated " for a column of flags: "(12 levels)" when no flag is a
// true 1, else the pressures, "at 100-300, 410 dbar", or, where pressures repeat or are nil, the levels counted from 1,
// "at levels 3-7, 12". "" when no flag is NotEvaluated.
func NotEvaluatedNote(pressureDbar []float64, decimals int, flags []Flag) string {
	zeros, ones := 0, 0
	for _, f := range flags {
		switch f {
		case NotEvaluated:
			zeros++
		case NotCalibrated:
			ones++
		}
	}
	if zeros == 0 {
		return ""
	}
	if ones == 0 {
		return fmt.Sprintf("(%d levels)", zeros)
	}
	if pressureDbar == nil {
		return "at levels " + runs(flags, func(i int) string { return strconv.Itoa(i + 1) })
	}
	rounded := make([]float64, len(flags)) // as a reader will have them
	seen := make([]Flag, len(flags))
	for i, f := range flags {
		rounded[i], _ = strconv.ParseFloat(strconv.FormatFloat(pressureDbar[i], 'f', decimals, 64), 64)
		if seen[i] = f; f == NotEvaluated {
			seen[i] = NotCalibrated
		}
	}
	note := "at " + runs(flags, func(i int) string { return strconv.FormatFloat(pressureDbar[i], 'f', decimals, 64) }) +
		" dbar"
	hit, n := NotEvaluatedLevels(note, rounded, seen)
	same := n == zeros
	for i := range hit {
		same = same && hit[i] == (flags[i] == NotEvaluated)
	}
	if same {
		return note
	}
	return "at levels " + runs(flags, func(i int) string { return strconv.Itoa(i + 1) })
}

// runs lists the runs of NotEvaluated that no NotCalibrated interrupts.
func runs(flags []Flag, name func(int) string) string {
	var parts []string
	first, last := -1, -1
	end := func() {
		if first < 0 {
			return
		}
		s := name(first)
		if last > first {
			s += "-" + name(last)
		}
		parts = append(parts, s)
		first = -1
	}
	for i, f := range flags {
		switch f {
		case NotEvaluated:
			if first < 0 {
				first = i
			}
			last = i
		case NotCalibrated:
			end()
		}
	}
	end()
	return strings.Join(parts, ", ")
}

// NotEvaluatedLevels reads a note of NotEvaluatedNote: which of the levels with flag 1 were not evaluated, and how
// many. The number is 0 when the note does not fit the flags or is not one.
func NotEvaluatedLevels(note string, pressureDbar []float64, flags []Flag) (hit []bool, n int) {
	hit = make([]bool, len(flags))
	if rest, ok := strings.CutPrefix(note, "("); ok {
		number, ok := strings.CutSuffix(rest, " levels)")
		want, err := strconv.Atoi(number)
		if !ok || err != nil {
			return hit, 0
		}
		for i, f := range flags {
			if f == NotCalibrated {
				hit[i] = true
				n++
			}
		}
		if n != want {
			return make([]bool, len(flags)), 0
		}
		return hit, n
	}
	list, byLevel := strings.CutPrefix(note, "at levels ")
	if !byLevel {
		var ok bool
		if list, ok = strings.CutPrefix(note, "at "); !ok {
			return hit, 0
		}
		if list, ok = strings.CutSuffix(list, " dbar"); !ok {
			return hit, 0
		}
	}
	for _, part := range strings.Split(list, ", ") {
		low, high, ok := rangeOf(part)
		if !ok {
			return make([]bool, len(flags)), 0
		}
		for i, f := range flags {
			at := float64(i + 1)
			if !byLevel {
				at = pressureDbar[i]
			}
			if f == NotCalibrated && at >= low && at <= high && !hit[i] {
				hit[i] = true
				n++
			}
		}
	}
	return hit, n
}

// rangeOf reads "100", "100-300" or "-1.0-2.0"; the ends may stand in either order.
func rangeOf(s string) (low, high float64, ok bool) {
	if s == "" {
		return 0, 0, false
	}
	a, b := s, s
	if i := strings.IndexByte(s[1:], '-'); i >= 0 {
		a, b = s[:i+1], s[i+2:]
	}
	low, err1 := strconv.ParseFloat(a, 64)
	high, err2 := strconv.ParseFloat(b, 64)
	return min(low, high), max(low, high), err1 == nil && err2 == nil
}
