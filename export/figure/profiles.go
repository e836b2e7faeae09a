package figure

import (
	"fmt"
	"math"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// Profiles shows the profiles of all casts of a section over each other, a panel for each variable. Lines
// join usable values; values flagged questionable or bad are marked where they are, or at the edge of the
// panel when they lie beyond it.
type Profiles struct {
	Name      string
	Title     string
	Casts     []*section.Cast
	Variables []string // empty: temp, psal and oxy, and chl or fluor, as far as the casts have them
	Shade     Shade
	UpperDbar float64 // bottom of the expanded upper panels; 0: chosen from the profiles
	Depth     bool    // as in Section
}

// Stem implements Figure.
func (f *Profiles) Stem() string { return f.Name }

func (f *Profiles) variables() []string {
	if len(f.Variables) > 0 {
		return f.Variables
	}
	var out []string
	for _, name := range []string{"temp", "psal", "oxy", "chl", "fluor"} {
		if anyCast(f.Casts, name) {
			out = append(out, name)
		}
	}
	return out[:min(4, len(out))]
}

func (f *Profiles) prepare() ([]stack, chart.Extent, error) {
	var out []stack
	y := chart.NoExtent()
	for _, name := range f.variables() {
		v := variable(name)
		st := stack{title: titleText(&v), x: chart.NoExtent()}
		for n, c := range f.Casts {
			col := c.Column(name)
			if col == nil || col.Values == nil {
				continue
			}
			k := curve{cast: n, p: make([]float64, 0, c.Levels()), v: make([]float64, 0, c.Levels())}
			for i, p := range c.PressureDbar {
				u := usable(col, i)
				if math.IsNaN(p) {
					continue
				}
				k.p, k.v = append(k.p, p), append(k.v, u)
				if !math.IsNaN(u) {
					st.x.Add(u)
					y.Add(p)
				} else if v := col.Values[i]; col.Flags != nil && !math.IsNaN(v) &&
					(col.Flags[i] == metadata.Questionable || col.Flags[i] == metadata.Bad) {
					k.marks = append(k.marks, mark{p, v, col.Flags[i]})
				}
			}
			st.gaps = k.breakAtGaps() || st.gaps
			st.curves = append(st.curves, k)
		}
		near := st.x.Padded(0.25)
		nothing := st.x.Empty() // nothing usable: the flagged values give the range
		for _, k := range st.curves {
			for _, m := range k.marks {
				if nothing {
					y.Add(m.p)
				}
				if nothing || m.v >= near.Lo && m.v <= near.Hi {
					st.x.Add(m.v)
				}
			}
		}
		if !st.x.Empty() {
			st.x = st.x.Padded(0.04)
			out = append(out, st)
		}
	}
	if len(out) == 0 {
		return nil, y, fmt.Errorf("%s: %w: none of %s in any cast", f.Name, ErrNoValues,
			strings.Join(f.variables(), ", "))
	}
	return out, y, nil
}

func (f *Profiles) draw(w chart.Width) (*page.Scene, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return drawStacks(w, "Profiles", f.Title, stacks, y, f.UpperDbar, f.Casts, f.Depth, shade(f.Casts, f.Shade)), nil
}

func (f *Profiles) caption(a *About) (caption, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Profiles" + placed(f.Title)}
	var names []string
	bad, questionable := 0, 0
	gaps := ""
	for _, s := range stacks {
		if s.gaps && gaps == "" {
			gaps = ", but not over gaps"
			c.add("Gaps", "more than 50 dbar (200 below 1500) and three times the steps around")
		}
		names = append(names, s.title)
		for _, k := range s.curves {
			for _, m := range k.marks {
				if m.flag == metadata.Bad {
					bad++
				} else {
					questionable++
				}
			}
		}
	}
	sh := shade(f.Casts, f.Shade)
	marked := ""
	if bad+questionable > 0 {
		marked = fmt.Sprintf("Circles: %s flagged questionable; crosses: %s flagged bad; triangles at the edge: "+
			"marked values beyond it.",
			plural(questionable, "value", "values"), plural(bad, "value", "values"))
	}
	down := verticalOf(f.Depth, f.Casts)
	c.write(fmt.Sprintf("%sProfiles of %s against %s. %s. Lines join usable values%s.",
		opened(f.Title), list(names), lowerFirst(down.axis().Title),
		sh.caption(), gaps), marked, upperFirst(plural(len(f.Casts), "cast is", "casts are"))+" shown, to "+
		down.text(y.Hi)+".", a.data(), "Values are those of the casts, not gridded, and the deepest are at the lower "+
		"edge.")
	c.stacks(stacks, y, down)
	castLines(&c, f.Casts, 0)
	c.about(a, false)
	return c, nil
}
