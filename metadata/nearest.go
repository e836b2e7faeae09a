package metadata

import "strings"

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
