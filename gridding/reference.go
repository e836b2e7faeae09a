package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section/interpolate"
)

// A shape is the form of the profiles between data levels: the change of each variable from one fine level to the next
// at each site. The reference profile of a place begins with the local mean at the surface and goes on by the local
// mean changes, site k weighted by exp(-(h/Lx)^2): it is the local mean profile, but it does not jump where a cast
// ends. Taken from the data and added again, it carries the thermocline between data levels (ours).
type shape struct {
	levels []float64
	top    [][][2]float64 // site, variable: number of the first fine level with a value, and the value
	change [][][]float64  // site, variable, step between levels; NaN where either end is missing
	base   [][][]float64  // the reference profile of each site with all sites in
	reach  [][]bool       // site k counts in the reference profile of site j
}

// shapeReach is how far sites count, in lengths: exp(-9) is 1e-4.
const shapeReach = 3.0

func (s *survey) newShape(factor float64) *shape {
	step := s.stepDbar()
	f := &shape{}
	for k := 0; ; k++ {
		f.levels = append(f.levels, float64(k)*step)
		if float64(k)*step >= s.pmax {
			break
		}
	}
	n := len(f.levels)
	m, windows := s.windows(f.levels)
	f.change, f.top = make([][][]float64, len(s.sites)), make([][][2]float64, len(s.sites))
	parallel(len(s.sites), s.opt.Workers, func(_ *work, k int) {
		var w interpolate.Workspace
		values := s.smoothed(&s.sites[k], f.levels, m, windows, &w)
		f.top[k] = make([][2]float64, len(values))
		for v := range values {
			i := 0
			for i < n-1 && math.IsNaN(values[v][i]) {
				i++
			}
			f.top[k][v] = [2]float64{float64(i), values[v][i]}
			for i := range n - 1 {
				values[v][i] = values[v][i+1] - values[v][i]
			}
			values[v] = values[v][:n-1]
		}
		f.change[k] = values
	})
	return f.withLength(s, factor)
}

// withLength returns the shape with reference profiles of another length, in station spacings.
func (g *shape) withLength(s *survey, factor float64) *shape {
	f := &shape{levels: g.levels, top: g.top, change: g.change}
	n := len(f.levels)
	f.base = make([][][]float64, len(s.sites))
	f.reach = make([][]bool, len(s.sites))
	parallel(len(s.sites), s.opt.Workers, func(_ *work, k int) {
		length := s.lengthAt(k, factor, nil)
		f.base[k] = make([][]float64, len(s.vars))
		for v := range s.vars {
			f.base[k][v] = f.profile(make([]float64, n), s.between[k], length, v, nil)
		}
		f.reach[k] = make([]bool, len(s.sites))
		for j := range s.sites {
			f.reach[k][j] = s.between[k][j] <= 2*shapeReach*length
		}
	})
	return f
}

// windows returns the places in a step of levels, and for each variable the half windows of the means there.
func (s *survey) windows(levels []float64) (m int, half [][]int) {
	m = 1
	if len(levels) > 1 && positive(s.binDbar) {
		m = min(max(int(math.Round(levels[1]/s.binDbar)), 1), 20)
	}
	for v := range s.vars {
		half = append(half, halfWindows(levels, s.dataLevels(s.depths(v)), m))
	}
	return m, half
}

// smoothed returns the values of every variable of a site on evenly spaced levels from 0, each the mean over half the
// spacing of the data levels there (less towards the ends of the profile): single bins carry noise that would make
// lines of the map ragged, and what is smaller belongs to one cast alone. Means of what is interpolated lie on their
// level; means of bins may not.
func (s *survey) smoothed(t *site, levels []float64, m int, windows [][]int, w *interpolate.Workspace) [][]float64 {
	n := len(levels)
	fine := make([]float64, (n-1)*m+1)
	for i := range fine {
		fine[i] = levels[i/m]
		if r := i % m; r > 0 {
			fine[i] += (levels[i/m+1] - levels[i/m]) * float64(r) / float64(m)
		}
	}
	out := make([][]float64, len(s.vars))
	for v := range s.vars {
		values, half := s.levelled(t, v, fine, w), windows[v]
		q := &t.profiles[v]
		mean := make([]float64, n)
		for i := range mean {
			c := i * m
			mean[i] = values[c]
			h := min(half[i], c, len(fine)-1-c)
			for h > 0 && (len(q.p) == 0 || fine[c-h] < q.first() || fine[c+h] > q.last()) {
				h--
			}
			sum := 0.0
			for _, x := range values[c-h : c+h+1] {
				sum += x
			}
			if sum == sum {
				mean[i] = sum / float64(2*h+1)
			}
		}
		out[v] = mean
	}
	return out
}

// halfWindows returns a quarter of the spacing of the data levels around each level, in places of which m make a step.
func halfWindows(levels, data []float64, m int) []int {
	out := make([]int, len(levels))
	if len(levels) < 2 || len(data) < 2 {
		return out
	}
	k := 1
	for i, p := range levels {
		for k < len(data)-1 && data[k] < p {
			k++
		}
		out[i] = int((data[k] - data[k-1]) / 4 / (levels[1] / float64(m)))
	}
	return out
}

// lengthAt is the horizontal length at a site. spacing may be nil for that of all sites.
func (s *survey) lengthAt(k int, factor float64, spacing []float64) float64 {
	if positive(s.opt.LengthKm) {
		return s.opt.LengthKm
	}
	if spacing == nil {
		return factor * s.sites[k].spacingKm
	}
	return factor * spacing[k]
}

// profile fills dst (as long as levels) with the reference profile of a place at distances h (km) from the sites; It is
// constant above the first level with a value.
func (f *shape) profile(dst, h []float64, length float64, v int, without []bool) []float64 {
	clear(dst)
	n := len(f.levels) - 1
	var weight [1024]float64
	var stack []float64
	if len(f.levels) <= len(weight) {
		stack = weight[:len(f.levels)]
	} else {
		stack = make([]float64, len(f.levels))
	}
	first, start, total := float64(n), 0.0, 0.0
	for k := range f.change {
		if without != nil && without[k] || h[k] > shapeReach*length {
			continue
		}
		r := h[k] / length
		w := math.Exp(-r * r)
		if t := f.top[k][v]; t[1] == t[1] && t[0] <= first {
			if t[0] < first {
				first, start, total = t[0], 0, 0
			}
			start += float64(w * t[1])
			total += w
		}
		for i, c := range f.change[k][v] {
			if c == c {
				dst[i+1] += float64(w * c)
				stack[i] += w
			}
		}
	}
	sum := 0.0
	if total > 0 {
		sum = start / total
	}
	dst[0] = sum
	for i := range n {
		if stack[i] > 0 {
			sum += dst[i+1] / stack[i]
		}
		dst[i+1] = sum
	}
	return dst
}

// profiles puts the reference profiles of a column into dst, one after the other; nothing without a shape.
func (f *shape) profiles(dst []float64, col *column, vars []int, without []bool) []float64 {
	if f == nil {
		return dst
	}
	n := len(f.levels)
	dst = grown(dst, n*len(vars))
	for i, v := range vars {
		f.profile(dst[i*n:(i+1)*n], col.h, col.lengthKm, v, without)
	}
	return dst
}

// anomalies returns the values of a cloud less the reference profile of their site and less the background of what is
// left; the values themselves without a shape.
func (f *shape) anomalies(c *cloud, factor float64, without []bool) ([][]float64, []background) {
	if f == nil {
		return c.values, nil
	}
	out, back := make([][]float64, len(c.vars)), make([]background, len(c.vars))
	for v := range out {
		out[v] = slices.Clone(c.values[v])
	}
	f.take(c, out, factor, without)
	for v := range out {
		back[v] = newBackground(c, out[v])
		for n := range c.site {
			out[v][n] -= back[v].at(c.s.sites[c.site[n]].plane, c.levels[c.level[n]])
		}
	}
	return out, back
}

// taken returns what anomalies took off variable v of a cloud, at a pressure of a column whose profiles are given.
func (f *shape) taken(back []background, profiles []float64, col *column, v int, p float64) float64 {
	if f == nil {
		return 0
	}
	n := len(f.levels)
	return back[v].at(col.plane, p) + f.at(profiles[v*n:(v+1)*n], p)
}

// at returns a reference profile at a pressure.
func (f *shape) at(profile []float64, p float64) float64 {
	if len(profile) < 2 {
		return 0
	}
	step := f.levels[1]
	x := p / step
	i := int(x)
	if i >= len(profile)-1 {
		return profile[len(profile)-1]
	}
	return profile[i] + float64((x-float64(i))*(profile[i+1]-profile[i]))
}

// take subtracts the reference profile of each site from the values at the data of a cloud.
func (f *shape) take(c *cloud, values [][]float64, factor float64, without []bool) {
	var spacing []float64
	if without != nil {
		spacing = c.s.spacing(without)
	}
	scratch := make([]float64, len(f.levels))
	for k := range c.s.sites {
		from, to := c.first[k], c.first[k+1]
		if from == to {
			continue
		}
		again := false
		for j, out := range without {
			again = again || out && f.reach[k][j]
		}
		for v, u := range c.vars {
			profile := f.base[k][u]
			if again {
				profile = f.profile(scratch, c.s.between[k], c.s.lengthAt(k, factor, spacing), u, without)
			}
			for n := from; n < to; n++ {
				values[v][n] -= f.at(profile, c.levels[c.level[n]])
			}
		}
	}
}
