package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// SensorDifferences shows second sensor minus first against pressure, a panel for each pair of sensors.
type SensorDifferences struct {
	Name      string
	Title     string
	Casts     []*section.Cast
	Shade     Shade
	UpperDbar float64 // as in Profiles
	Depth     bool    // as in Section
}

// Stem implements Figure.
func (f *SensorDifferences) Stem() string { return f.Name }

// HasSecondSensors reports whether any cast carries a pair of sensors whose difference can be drawn.
func HasSecondSensors(casts []*section.Cast) bool {
	return slices.ContainsFunc(secondSensors, func(s [2]string) bool { return anyCast(casts, s[:]...) })
}

var secondSensors = [][2]string{{"temp", "temp2"}, {"psal", "psal2"}, {"oxy", "oxy2"}, {"cond", "cond2"}}

func (f *SensorDifferences) prepare() ([]stack, chart.Extent, error) {
	var out []stack
	y := chart.NoExtent()
	for _, pair := range secondSensors {
		v := metadata.MustVariable(pair[0])
		st := stack{name: nameText(&v), units: v.Units, zero: true}
		var all []float64
		for n, c := range f.Casts {
			first, second := columnOf(c, pair[0]), columnOf(c, pair[1])
			if first == nil || second == nil {
				continue
			}
			k := curve{cast: n}
			for i, p := range c.PressureDbar {
				d := second(i) - first(i)
				if math.IsNaN(p) || math.IsNaN(d) {
					continue
				}
				k.p, k.v = append(k.p, p), append(k.v, d)
				st.cloud = append(st.cloud, [2]float64{d, p})
				all = append(all, d)
				y.Add(p)
			}
			st.curves = append(st.curves, k)
		}
		if len(all) == 0 {
			continue
		}
		slices.Sort(all)
		median := all[len(all)/2]
		for k, d := range all {
			all[k] = math.Abs(d)
		}
		power := st.symmetric(all, 1e-3)
		st.units = strings.TrimSpace(chart.PowerText(power) + " " + chart.UnitText(v.Units))
		st.title = "Δ " + lowerFirst(st.name) + bracketed(st.units)
		st.median = chart.Significant(median*math.Pow10(-power), 2)
		st.note = "median " + st.median
		if st.beyond > 0 {
			st.note += fmt.Sprintf("; %s %% beyond", chart.Significant(st.beyond, 1))
		}
		out = append(out, st)
	}
	if len(out) == 0 {
		return nil, y, fmt.Errorf("%s: %w: no cast has a second sensor", f.Name, ErrNoValues)
	}
	for k := range out {
		out[k].slice = chart.NiceStep(y.Hi / 50)
		for i := range out[k].curves {
			out[k].curves[i].medians(out[k].slice)
			out[k].curves[i].breakAtGaps()
		}
	}
	return out, y, nil
}

func (f *SensorDifferences) draw(w chart.Width) (*page.Scene, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return drawStacks(w, "Second sensor minus first", f.Title, stacks, y, f.UpperDbar, f.Casts, f.Depth,
		shade(f.Casts, f.Shade)), nil
}

func (f *SensorDifferences) caption(a *About) (caption, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	sh := shade(f.Casts, f.Shade)
	down := verticalOf(f.Depth, f.Casts)
	c := caption{head: "Second sensor minus first" + placed(f.Title)}
	c.write(fmt.Sprintf("%sSecond sensor minus first against %s, of values that are usable in "+
		"both. Grey: all values; "+
		"lines: median of each cast over slices of %s "+
		"dbar. %s.", opened(f.Title), lowerFirst(down.axis().Title), chart.Short(stacks[0].slice), sh.caption()),
		a.data(), "The numbers in the panels are medians of all values.")
	for _, s := range stacks {
		text := "median " + strings.TrimSpace(s.median+" "+s.units)
		if strings.HasPrefix(s.units, "10") {
			text = "median " + s.median + " × " + s.units
		}
		if s.beyond > 0 {
			text += fmt.Sprintf("; %s %% of the values lie beyond the axis", chart.Significant(s.beyond, 1))
		}
		c.add(s.name, text)
	}
	c.stacks(stacks, y, down)
	castLines(&c, f.Casts, 0)
	c.about(a, false)
	return c, nil
}

// symmetric sets an axis with zero in its middle for differences, of which far is the sizes, and returns the power of
// ten that its numbers are in. nothing is the limit where all are zero.
func (s *stack) symmetric(far []float64, nothing float64) (power int) {
	slices.Sort(far)
	// Spikes in the gradients would squeeze everything else: the axis holds 99.5 % of the values, the
	// rest is cut and counted.
	limit := far[min(len(far)-1, int(float64(len(far))*0.995))] * 1.15
	if limit == 0 {
		limit = nothing
	}
	for _, d := range far {
		if d > limit {
			s.beyond += 100 / float64(len(far))
		}
	}
	// Differences of good sensors are thousandths: in those the axis has numbers that are read.
	for power > -9 && limit < 0.02*math.Pow10(power) {
		power -= 3
	}
	s.scale(math.Pow10(-power))
	limit *= math.Pow10(-power)
	s.x = chart.Extent{Lo: -limit, Hi: limit}
	return power
}

// scale multiplies the values of a stack.
func (s *stack) scale(by float64) {
	for i := range s.curves {
		for k := range s.curves[i].v {
			s.curves[i].v[k] *= by
		}
	}
	for k := range s.cloud {
		s.cloud[k][0] *= by
	}
}

// medians puts the median of each slice of pressure in place of the values, at the middle of the slice.
func (c *curve) medians(slice float64) {
	var p, v, in []float64
	for k := 0; k < len(c.p); {
		n := math.Floor(c.p[k] / slice)
		in = in[:0]
		for k < len(c.p) && math.Floor(c.p[k]/slice) == n {
			in = append(in, c.v[k])
			k++
		}
		slices.Sort(in)
		p, v = append(p, (n+0.5)*slice), append(v, in[len(in)/2])
	}
	c.p, c.v = p, v
}
