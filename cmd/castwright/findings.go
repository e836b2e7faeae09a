package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// namedAlike is how many further places are named under a finding that occurs in many.
const namedAlike = 3

// linesPerHundredCasts is how many lines of findings are one screen, for each hundred casts begun.
const linesPerHundredCasts = 40

// findings prints findings for a person, errors first.
func (u *ui) findings(fs []metadata.Finding) {
	for _, line := range findingLines(u.ordered(fs)) {
		fmt.Fprintln(u.out, line)
	}
}

// screen prints findings like findings where they fit on a screen for each hundred casts; else one line for each
// severity and check, with what was found first and how often.
func (u *ui) screen(fs []metadata.Finding, casts int) {
	fs = u.ordered(fs)
	lines := findingLines(fs)
	if most := linesPerHundredCasts * max(1, (casts+99)/100); len(lines) > most {
		lines = shortLines(fs, most)
	}
	for _, line := range lines {
		fmt.Fprintln(u.out, line)
	}
}

// ordered returns the findings that are printed, errors first, then by check.
func (u *ui) ordered(fs []metadata.Finding) []metadata.Finding {
	fs = slices.DeleteFunc(slices.Clone(fs), func(f metadata.Finding) bool {
		return u.quiet && f.Severity != metadata.Failure
	})
	slices.SortStableFunc(fs, func(a, b metadata.Finding) int {
		return cmp.Or(int(b.Severity)-int(a.Severity), strings.Compare(a.Check, b.Check))
	})
	return fs
}

// findingLines returns one line for each finding, under it what to do, once for findings that follow each other with
// the same advice, and where else the same was found.
func findingLines(fs []metadata.Finding) []string {
	var out []string
	said := ""
	for i := range fs {
		f := &fs[i]
		out = append(out, fmt.Sprintf("%-8s %s", f.Severity, oneLine(findingText(f))))
		if advice := f.Advice(); f.Accepted != (metadata.Acceptance{}) {
			out = append(out, fmt.Sprintf("           accepted by %s: %s (%s)", oneLine(f.Accepted.Initials),
				oneLine(f.Accepted.Reason), oneLine(f.Accepted.At.String())))
		} else if advice != "" && advice != said {
			for _, line := range adviceLines(advice) {
				out = append(out, "           "+line)
			}
		}
		said = f.Advice()
		if n := len(f.Also); n > 0 {
			var names []string
			for _, p := range f.Also[:min(n, namedAlike)] {
				names = append(names, oneLine(placeText(&p)))
			}
			what := "more file"
			if f.Proposed != metadata.NotEvaluated {
				what = "more place"
			}
			same := "the same"
			if slices.ContainsFunc(f.Also, func(p metadata.Place) bool { return p.Message != "" }) {
				same = "likewise"
			}
			text := fmt.Sprintf("%s in %s: %s", same, plural(n, what), strings.Join(names, ", "))
			if n > namedAlike {
				text += " and others (--json lists all)"
			}
			out = append(out, "           "+text)
		}
	}
	return out
}

// shortLines returns at most so many lines: each severity and check has one, with its first finding and how many more
// there are. Lines that are left over are used for what to do, and for all findings of a check, errors first. Checks
// that do not fit are counted in the last line but one; the last says how to see the rest.
func shortLines(fs []metadata.Finding, most int) []string {
	const see = "not all findings are shown: --all lists all, --id CHECK those of one check, --cast those of one cast"
	var groups [][]metadata.Finding
	for from, to := 0, 0; from < len(fs); from = to {
		for to = from; to < len(fs) && fs[to].Severity == fs[from].Severity && fs[to].Check == fs[from].Check; to++ {
		}
		groups = append(groups, fs[from:to])
	}
	var out []string
	left := most - 1 - len(groups)
	for i, g := range groups {
		if left < 0 && len(out) == most-2 {
			n := 0
			for _, rest := range groups[i:] {
				n += len(rest)
			}
			out = append(out, fmt.Sprintf("%-8s and more of %s: %s", g[0].Severity, plural(len(groups)-i, "check"),
				plural(n, "finding")))
			break
		}
		lines := []string{shortLine(g)}
		if advice := g[0].Advice(); advice != "" && g[0].Open() {
			for _, line := range adviceLines(advice) {
				lines = append(lines, "           "+line)
			}
		}
		if full := findingLines(g); len(full)-1 <= left {
			lines = full
		} else if len(lines)-1 > left {
			lines = lines[:1]
		}
		left -= len(lines) - 1
		out = append(out, lines...)
	}
	return append(out, see)
}

// shortLine returns the first of the findings of a check, with the number of the others.
func shortLine(fs []metadata.Finding) string {
	n, files := 0, map[string]bool{}
	for i := range fs {
		n += 1 + len(fs[i].Also)
		files[fs[i].File] = true
		for _, p := range fs[i].Also {
			files[p.File] = true
		}
	}
	text := oneLine(findingText(&fs[0]))
	if n > 1 {
		text += fmt.Sprintf(" and %d more", n-1)
		if len(files) > 1 {
			text += fmt.Sprintf(" in %d files", len(files))
		}
	}
	return fmt.Sprintf("%-8s %s", fs[0].Severity, text)
}
