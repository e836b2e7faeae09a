package draft

import (
	"regexp"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
)

// strange returns patterns of the lines below the first data line that are neither data nor a head.
func (f *file) strange(l ingest.Layout) (out []string) {
	t := f.table
	isRow := map[int]bool{}
	for _, r := range t.rows {
		isRow[r] = true
	}
	var header []*regexp.Regexp
	for _, p := range f.head.patterns {
		header = append(header, regexp.MustCompile(p))
	}
	inHead := false
	nameLine := ""
	if t.nameLine >= 0 {
		nameLine = strings.Join(strings.Fields(t.lines[t.nameLine]), " ")
	}
	for i := t.rows[0]; i < len(t.lines); i++ {
		line := t.lines[i]
		switch {
		case strings.TrimSpace(line) == "":
		case isRow[i]:
			inHead = false
		case inHead:
		case nameLine != "" && strings.Join(strings.Fields(line), " ") == nameLine,
			slices.ContainsFunc(header, func(r *regexp.Regexp) bool { return r.MatchString(line) }):
			inHead = true
		default:
			p := patternOfStrange(line)
			if p != "" && !slices.Contains(out, p) && !t.anyRow(regexp.MustCompile(p)) {
				out = append(out, p)
			}
		}
		if len(out) > 10 {
			return out
		}
	}
	return out
}

// anyRow reports whether an expression matches a data line.
func (t *table) anyRow(re *regexp.Regexp) bool {
	return slices.ContainsFunc(t.rows, func(r int) bool { return re.MatchString(t.lines[r]) })
}

var (
	signsFirst = regexp.MustCompile(`^[^\w\s.+-]+`)
	rule       = regexp.MustCompile(`^-{2,}|^={2,}`)
	firstWords = regexp.MustCompile(`^\pL+(?: \pL+)?`)
)

// patternOfStrange returns a pattern for the beginning of a line that is no data: its signs, or its first words; "" for
// one that looks like data.
func patternOfStrange(line string) string {
	s := strings.TrimSpace(line)
	if m := signsFirst.FindString(s); m != "" {
		return `^\s*` + regexp.QuoteMeta(m)
	}
	if m := rule.FindString(s); m != "" {
		return `^\s*` + regexp.QuoteMeta(m[:2])
	}
	if m := firstWords.FindString(s); m != "" && !strings.EqualFold(m, "nan") {
		return `^\s*` + regexp.QuoteMeta(m)
	}
	return ""
}
