package metadata

import (
	"strings"
	"unicode"
)

// Nearest finds the word of among that word was probably meant to be, for "did you mean". Letters of either case count as equal. The
// distance is the number of letters left out, added, changed or swapped with their neighbour (optimal string alignment); a third of the
// letters may differ, and at least one. Among equals one of the same length wins, then the first of the list. The second result is false when nothing is near.
func Nearest(word string, among []string) (string, bool) {
	w := strings.ToLower(word)
	if w == "" || len(w) > 64 {
		return "", false
	}
	best, found := "", false
	least := max(1, (len([]rune(w))+1)/3)
	for _, a := range among {
		if len(a) > 64 {
			continue
		}
		d := letterDistance(w, strings.ToLower(a))
		if d < least || d == least && (!found || len(best) != len(w) && len(a) == len(w)) {
			best, found, least = a, true, d
		}
	}
	return best, found
}

// NearestName is Nearest for names that hold numbers, such as stations, expocodes and files: only names with the same numbers, leading zeros apart,
// are near, since one number is no misspelling of another; and of fewer than four letters each must be there, since T2 is no misspelling of 2.
func NearestName(word string, among []string) (string, bool) {
	numbers, letters := numbersIn(word), lettersIn(word)
	var same []string
	for _, a := range among {
		if numbersIn(a) == numbers && (lettersIn(a) == letters || len(letters) > 3) {
			same = append(same, a)
		}
	}
	if len(same) == 1 && lettersIn(same[0]) == letters {
		return same[0], true
	}
	return Nearest(word, same)
}

// lettersIn returns the letters of a name in lower case.
func lettersIn(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) {
			return -1
		}
		return unicode.ToLower(r)
	}, s)
}

// numbersIn returns the numbers in a name without leading zeros, each followed by a blank.
func numbersIn(s string) string {
	var b strings.Builder
	for _, n := range strings.FieldsFunc(s, func(r rune) bool { return r < '0' || r > '9' }) {
		b.WriteString(strings.TrimLeft(n, "0") + " ")
	}
	return b.String()
}

// letterDistance is the optimal string alignment distance of two words.
func letterDistance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(s); i++ {
		row[0] = i
		for j := 1; j <= len(t); j++ {
			change := last[j-1]
			if s[i-1] != t[j-1] {
				change++
			}
			row[j] = min(change, last[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(t)]
}
