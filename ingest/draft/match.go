package draft

import (
	"path"
	"slices"
	"strings"
)

// matchOf returns patterns of file names that are for all files of a group and no file of another.
func (d *drafter) matchOf(g *group) []string {
	if len(d.groups) == 1 && len(d.exchange) == 0 && len(d.out.Unread) == 0 {
		return []string{"*" + path.Ext(g.files[0].name)}
	}
	first := path.Base(g.files[0].name)
	prefix := first
	for _, f := range g.files {
		base := path.Base(f.name)
		for !strings.HasPrefix(base, prefix) {
			prefix = prefix[:len(prefix)-1]
		}
	}
	ext := path.Ext(first)
	others := func(pattern string) bool {
		for _, o := range d.groups {
			if o == g {
				continue
			}
			for _, f := range o.files {
				if ok, _ := path.Match(strings.ToLower(pattern), strings.ToLower(path.Base(f.name))); ok {
					return true
				}
			}
		}
		return false
	}
	for _, p := range []string{"*" + ext, strings.TrimRight(prefix, "0123456789") + "*" + ext, prefix + "*" + ext} {
		if p != "*" && !others(p) && prefix != first {
			return []string{p}
		}
	}
	var names []string // files of several kinds have names of one kind
	for _, f := range g.files {
		names = append(names, escapePattern(path.Base(f.name)))
	}
	if slices.ContainsFunc(names, others) { // in several folders
		names = nil
		for _, f := range g.files {
			names = append(names, escapePattern(f.name))
		}
	}
	return names
}

// escapePattern returns a name as a pattern that is for it alone.
func escapePattern(name string) string {
	return strings.NewReplacer(`\`, `\\`, `*`, `\*`, `?`, `\?`, `[`, `\[`).Replace(name)
}
