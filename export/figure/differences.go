package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section"
)

// Differences shows how repeated casts differ against pressure, a panel for each variable, all casts on one scale: each
// cast minus the mean of its set, or minus the first of it.
type Differences struct {
	Name      string
	Title     string
	Sets      [][]*section.Cast // casts of one place each, in the order of time
	FromFirst bool
	UpperDbar float64 // as in Profiles
	Depth     bool    // as in Section
}

// Stem implements Figure.
func (f *Differences) Stem() string { return f.Name }

// repeated are the variables of which differences are shown.
var repeated = []string{"temp", "psal", "oxy", "sigma0"}

// casts returns the casts that have a curve, set by set.
func (f *Differences) casts() []*section.Cast {
	var out []*section.Cast
	for _, set := range f.Sets {
		if f.FromFirst {
			set = set[1:]
		}
		out = append(out, set...)
	}
	return out
}

// reference returns the profile that the values of a set are compared with: that of the first cast, or the mean of
// those that have a value at a level, of half of the casts at least, and two.
func (f *Differences) reference(values [][]float64) []float64 {
	if f.FromFirst {
		return values[0]
	}
	out := make([]float64, len(values[0]))
	for i := range out {
		sum, n := 0.0, 0
		for _, v := range values {
			if !math.IsNaN(v[i]) {
				sum += v[i]
				n++
			}
		}
		if out[i] = sum / float64(n); n < max(2, (len(values)+1)/2) {
			out[i] = math.NaN()
		}
	}
	return out
}

func (f *Differences) prepare() ([]stack, chart.Extent, error) {
	var out []stack
	y := chart.NoExtent()
	var levels [][]float64
	for _, set := range f.Sets {
		levels = append(levels, commonLevels(set))
	}
	for _, name := range repeated {
		if !anyCast(f.casts(), name) {
			continue
		}
		v := variable(name)
		st := stack{name: nameText(&v), units: v.Units, zero: true}
		var all []float64
		squares, cast := 0.0, 0
		for k, set := range f.Sets {
			values := make([][]float64, len(set))
			for i, c := range set {
				values[i] = onLevels(c, name, levels[k])
			}
			reference := f.reference(values)
			if f.FromFirst {
				values = values[1:]
			}
			for i := range values {
				c := curve{cast: cast, p: levels[k]}
				cast++
				for n, x := range values[i] {
					d := x - reference[n]
					c.v = append(c.v, d)
					if !math.IsNaN(d) {
						all = append(all, math.Abs(d))
						squares += d * d
						y.Add(levels[k][n])
					}
				}
				st.curves = append(st.curves, c)
			}
		}
		if len(all) == 0 {
			continue
		}
		rms := math.Sqrt(squares / float64(len(all)))
		power := st.symmetric(all, 1e-6)
		st.units = strings.TrimSpace(chart.PowerText(power) + " " + chart.UnitText(v.Units))
		st.title = "Δ " + cmp.Or(signOf(name), lowerName(st.name)) + bracketed(st.units)
		st.median = chart.Significant(rms*math.Pow10(-power), 2)
		st.note = "rms " + st.median
		if st.beyond > 0 {
			st.note += fmt.Sprintf("; %s %% beyond", chart.Significant(st.beyond, 1))
		}
		for i := range st.curves {
			st.gaps = st.curves[i].breakAtGaps() || st.gaps
		}
		out = append(out, st)
	}
	if len(out) == 0 {
		return nil, y, fmt.Errorf("%s: %w: no two casts have a value at one pressure", f.Name, ErrNoValues)
	}
	return out, y, nil
}

// shading returns the colours: of the casts of one set by their order, of several sets by their station.
func (f *Differences) shading() shading {
	casts := f.casts()
	sh := shade(casts, ByStation)
	if len(f.Sets) > 1 {
		return sh
	}
	sh.what, sh.names = "Cast", nil
	for k, c := range casts {
		if len(sh.names) == sh.bin[k] {
			sh.names = append(sh.names, trimZeros(c.Number))
		}
	}
	return sh
}

// heading names the casts where the key of colours does not: a repeated cast alone, and casts of one station.
func (f *Differences) heading() string {
	if f.FromFirst && len(f.Sets) == 1 {
		set := f.Sets[0]
		of, first := "station "+trimZeros(set[0].Station), "cast "+trimZeros(set[0].Number)
		if len(set) == 2 {
			return upperFirst(of) + ": cast " + trimZeros(set[1].Number) + " minus " + first
		}
		return "Repeated casts of " + of + " minus " + first
	}
	if f.FromFirst {
		return "Repeated casts minus the first"
	}
	return "Casts minus their mean"
}

func (f *Differences) draw(w chart.Width) (*page.Scene, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return drawStacks(w, f.heading(), f.Title, stacks, y, f.UpperDbar, f.casts(), f.Depth, f.shading()), nil
}

func (f *Differences) caption(a *About) (caption, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	casts := f.casts()
	down := verticalOf(f.Depth, casts)
	c := caption{head: f.heading() + placed(f.Title)}
	var names []string
	for _, s := range stacks {
		names = append(names, lowerName(s.name))
	}
	each := "each of " + plural(len(casts), "cast", "casts") + " minus the mean of all"
	if f.FromFirst {
		each = "each of " + plural(len(casts), "cast", "casts") + " minus the first cast of its place"
	}
	colour := "Colour: order of the casts, named by their numbers"
	if len(f.Sets) > 1 {
		sh := f.shading()
		colour = sh.caption()
	}
	c.write(fmt.Sprintf("%sDifferences of %s against %s at the same level: %s, on one scale in each panel. %s.",
		opened(f.Title), list(names), lowerFirst(down.axis().Title), each, colour),
		"The numbers in the panels are root mean squares of all differences.", a.data(),
		"Values are those of the casts, not gridded, and only usable ones.",
		"The line at zero is no difference.", "The deepest are at the lower edge.")
	for _, s := range stacks {
		text := "rms " + strings.TrimSpace(s.median+" "+s.units)
		if strings.HasPrefix(s.units, "10") {
			text = "rms " + s.median + " × " + s.units
		}
		if s.beyond > 0 {
			text += fmt.Sprintf("; %s %% of the values lie beyond the axis", chart.Significant(s.beyond, 1))
		}
		c.add(s.name, text)
	}
	if !f.FromFirst {
		c.add("Mean", "of the casts that have a value at a level, of half of them at least, and two")
	}
	c.stacks(stacks, y, down)
	castLines(&c, casts, 0)
	c.about(a, false)
	return c, nil
}

// repeatsOf returns the sets of casts of one station of which some repeat another, in the order of time: primary casts
// and repeats. Casts of series are compared in figures of their own.
func repeatsOf(casts []*section.Cast, series []SeriesMaterial) [][]*section.Cast {
	type place struct{ expocode, station string }
	sets := map[place][]*section.Cast{}
	var order []place
	for _, c := range casts {
		inSeries := slices.ContainsFunc(series, func(s SeriesMaterial) bool {
			return slices.Contains(s.Series.Casts, c)
		})
		if inSeries || c.Role != section.Primary && c.Role != section.Repeat {
			continue
		}
		at := place{c.Expocode, c.Station}
		if sets[at] == nil {
			order = append(order, at)
		}
		sets[at] = append(sets[at], c)
	}
	var out [][]*section.Cast
	for _, at := range order {
		set := sets[at]
		if len(set) > 1 && slices.ContainsFunc(set, func(c *section.Cast) bool { return c.Role == section.Repeat }) {
			slices.SortStableFunc(set, func(a, b *section.Cast) int { return a.Time.Compare(b.Time) })
			out = append(out, set)
		}
	}
	return out
}
