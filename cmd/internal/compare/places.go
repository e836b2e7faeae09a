package compare

import (
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
)

// sideOf returns the file that has a place.
func sideOf(x, y *ncSide, i, k int, p cell) (*ncSide, *nc.Var) {
	if p.old < 0 {
		return y, &y.Vars[k]
	}
	return x, &x.Vars[i]
}

// place names a place of a variable: cast or pair, and the values of the other dimensions.
func place(x, y *ncSide, i, k int, p cell) string {
	s, v := sideOf(x, y, i, k, p)
	var parts []string
	for n, d := range v.Axes() {
		ax := &s.axes[d]
		switch label := ax.labels[p.index[n]]; {
		case ax.casts:
			parts = append(parts, label)
		case ax.unit == "", ax.unit == "1":
			parts = append(parts, ax.name+" "+label)
		default:
			parts = append(parts, ax.name+" "+label+" "+ax.unit)
		}
	}
	return strings.Join(parts, ", ")
}

// extent collects the places of differences.
type extent struct {
	Extent
	least, most float64
	any         bool
}

func (e *extent) add(x, y *ncSide, i, k int, p cell) {
	s, v := sideOf(x, y, i, k, p)
	for n, d := range v.Axes() {
		ax := &s.axes[d]
		label := ax.labels[p.index[n]]
		if ax.casts {
			if name, pres, ok := strings.Cut(label, ", pres "); ok {
				label = name
				e.span(strings.TrimSuffix(pres, " dbar"), "dbar")
			}
			if m := len(e.Casts); m == 0 || e.Casts[m-1] != label && !slices.Contains(e.Casts, label) {
				e.Casts = append(e.Casts, label)
			}
		} else if ax.name == "pres" {
			e.span(label, ax.unit)
		}
	}
}

func (e *extent) span(label, unit string) {
	z, err := strconv.ParseFloat(label, 64)
	if err != nil {
		return
	}
	if !e.any || z < e.least {
		e.least, e.First = z, label+" "+unit
	}
	if !e.any || z > e.most {
		e.most, e.Last = z, label+" "+unit
	}
	e.any = true
}

// flags compares flags, by the meanings that each file gives to its numbers.
func (r *Report) flags(file string, x, y *ncSide, i, k int, a, b []float64) {
	type key struct{ cast, from, to string }
	found := map[key]*struct {
		extent
		n int
	}{}
	var order []key
	was, now := meanings(&x.Vars[i]), meanings(&y.Vars[k])
	walk(x, y, i, k, func(p cell) {
		word := func(m map[float64]string, at int, values []float64) string {
			if at < 0 {
				return "not in the file"
			}
			if w, ok := m[values[at]]; ok {
				return w
			}
			return strconv.FormatFloat(values[at], 'g', -1, 64)
		}
		from, to := word(was, p.old, a), word(now, p.now, b)
		if from == to || p.old < 0 && to == absent || p.now < 0 && from == absent {
			return
		}
		s, v := sideOf(x, y, i, k, p)
		q := key{from: from, to: to}
		for n, d := range v.Axes() {
			if s.axes[d].casts {
				q.cast, _, _ = strings.Cut(s.axes[d].labels[p.index[n]], ", pres ")
			}
		}
		if found[q] == nil {
			found[q] = &struct {
				extent
				n int
			}{}
			order = append(order, q)
		}
		found[q].n++
		found[q].add(x, y, i, k, p)
	})
	for _, q := range order {
		f := found[q]
		r.Flags = append(r.Flags, FlagChange{file, x.Vars[i].Name, q.cast, q.from, q.to, f.n, f.First, f.Last})
	}
}

// absent is the meaning of the flag of a level that a cast does not have.
const absent = "9 not_sampled"

// meanings returns number and word of each flag of a variable.
func meanings(v *nc.Var) map[float64]string {
	words := strings.Fields(v.Text("flag_meanings"))
	m := map[float64]string{}
	for i, n := range v.Floats("flag_values") {
		m[n] = strconv.FormatFloat(n, 'g', -1, 64)
		if i < len(words) {
			m[n] += " " + words[i]
		}
	}
	return m
}
