package metadata

import (
	"slices"
	"strings"
)

// Nearest returns the word of among that word was probably meant to be, for "did you mean", and false when none is
// near. The rule: letters of either case are equal, and so are numbers with and without leading zeros. Numbers in the
// two words must be equal, since one number is as good as another: 99 is not near 19, nor sigma5 near sigma0. Of the
// rest at most a third may differ, or one letter, and more must agree than differ unless the letters are the same in
// another order; a number counts as one letter there. The difference is the count of letters left out, added, changed
// or swapped with their neighbour (optimal string alignment). Among equals one of the same length wins, then the first
// of the list.
func Nearest(word string, among []string) (string, bool) {
	if word == "" || len(word) > maxNear {
		return "", false
	}
	w, numbers := plainWord(word)
	best, found := "", false
	least := max(1, (len(w)+1)/3)
	for _, a := range among {
		if len(a) > maxNear {
			continue
		}
		b, n := plainWord(a)
		d := letterDistance(w, b)
		if n != numbers || 2*d >= max(len(w), len(b)) && !slices.Equal(slices.Sorted(slices.Values(w)),
			slices.Sorted(slices.Values(b))) {
			continue
		}
		if d < least || d == least && (!found || len(best) != len(word) && len(a) == len(word)) {
			best, found, least = a, true, d
		}
	}
	return best, found
}

// maxNear bounds the words that are compared, in bytes: names of files are the longest.
const maxNear = 256

// plainWord returns the letters of a word in lower case, each number in it as one character 0, and its numbers without
// leading zeros.
func plainWord(s string) (letters []rune, numbers string) {
	var n strings.Builder
	digits := false
	for _, r := range strings.ToLower(s) {
		if r < '0' || r > '9' {
			letters, digits = append(letters, r), false
			continue
		}
		if !digits {
			letters, digits = append(letters, '0'), true
			n.WriteByte(' ')
		}
		if r != '0' || !strings.HasSuffix(n.String(), " ") {
			n.WriteRune(r)
		}
	}
	return letters, n.String()
}

// letterDistance returns the optimal string alignment distance of two words.
func letterDistance(s, t []rune) int {
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
