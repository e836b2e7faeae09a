package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section/interpolate"
)

// A cloud is the data of variables at the same places: values at sites and levels, ordered by site and
// pressure.
type cloud struct {
	s       *survey
	levels  []float64 // dbar, increasing
	regular []int32   // levels that carry the background (not the extra ones of deepest bins)
	down    *verticalScale
	vars    []int // indices into survey.vars
	// covariance of level with level, for optimal interpolation
	covariance []float64
	// numbers of the levels among those of all clouds of an engine, so that clouds of other levels can share what is
	// solved; nil: their own
	numbers []int32
	places  int32   // how many levels all clouds have together
	first   []int32 // data of site k are first[k]:first[k+1]
	site    []int32
	level   []int32
	values  [][]float64 // one for each of vars
	where   []int32     // datum at site*len(levels)+level; -1 for none
}

// A table holds values of some variables for every site and level, NaN for none.
type table struct {
	vars    []int // indices into survey.vars
	levels  []float64
	regular []int32
	down    *verticalScale
	values  [][][]float64 // site, variable of the survey (nil for others than vars), level
}

// levelTables returns a table for each group of variables with usable values at the same pressures: what else is mapped
// does not change the levels of a variable.
func (s *survey) levelTables() []table {
	var out []table
	for _, vars := range s.alike() {
		out = append(out, s.levelTable(vars))
	}
	return out
}

// levelTable puts every site on the data levels of variables that are alike, with the deepest usable bin of a cast as
// one more datum where it lies well below the last level.
func (s *survey) levelTable(vars []int) table {
	depths := s.depths(vars[0])
	down := oneLength(1)
	if len(depths) > 0 {
		down = s.verticalLengths(slices.Max(depths))
	}
	levels := s.dataLevels(slices.Clone(depths))
	all := slices.Clone(levels)
	if len(s.opt.Levels) == 0 {
		for _, p := range depths {
			i := lowerBound(levels, p)
			if i == 0 || len(levels) < 2 || i < len(levels) && levels[i] == p {
				continue
			}
			step := levels[min(i, len(levels)-1)] - levels[min(i, len(levels)-1)-1]
			if p-levels[i-1] > step/4 {
				all = append(all, p)
			}
		}
		slices.Sort(all)
		all = slices.Compact(all)
	}
	t := table{vars: vars, levels: all, down: &down, values: make([][][]float64, len(s.sites))}
	isRegular := make([]bool, len(all))
	for i, p := range all {
		if _, ok := slices.BinarySearch(levels, p); ok {
			isRegular[i] = true
			t.regular = append(t.regular, int32(i))
		}
	}
	var w interpolate.Workspace
	for k := range s.sites {
		t.values[k] = make([][]float64, len(s.vars))
		for _, v := range vars {
			t.values[k][v] = s.levelled(&s.sites[k], v, all, &w)
			for i := range all {
				if !isRegular[i] && all[i] != s.sites[k].profiles[v].last() {
					t.values[k][v][i] = math.NaN()
				}
			}
		}
	}
	return t
}

// cellTable returns the means of the bins in cells of a width around levels; where a cell is empty the value
// interpolated between the bins.
func (s *survey) cellTable(levels []float64, widthDbar float64) table {
	down := s.verticalLengths(s.pmax)
	t := table{levels: levels, down: &down, values: make([][][]float64, len(s.sites))}
	for v := range s.vars {
		t.vars = append(t.vars, v)
	}
	for i := range levels {
		t.regular = append(t.regular, int32(i))
	}
	var w interpolate.Workspace
	mean := make([]float64, len(levels))
	for k := range s.sites {
		t.values[k] = make([][]float64, len(s.vars))
		for v := range s.vars {
			q := &s.sites[k].profiles[v]
			t.values[k][v] = s.levelled(&s.sites[k], v, levels, &w)
			rebin(mean, q.p, q.v, levels, widthDbar)
			for i, m := range mean {
				if !math.IsNaN(m) {
					t.values[k][v][i] = m
				}
			}
		}
	}
	return t
}

// clouds gathers the wanted variables of a table (nil: all) that have values at the same places, in the order of the
// variables.
func (s *survey) clouds(t table, wanted []int) []*cloud {
	var out []*cloud
	taken := make([]bool, len(s.vars))
	for _, v := range t.vars {
		taken[v] = wanted != nil && !slices.Contains(wanted, v)
	}
	for i, v := range t.vars {
		if taken[v] {
			continue
		}
		c := &cloud{s: s, levels: t.levels, regular: t.regular, down: t.down, first: []int32{0}}
		for _, u := range t.vars[i:] {
			if !taken[u] && (u == v || samePlaces(t, v, u)) {
				taken[u] = true
				c.vars = append(c.vars, u)
				c.values = append(c.values, nil)
			}
		}
		for k := range s.sites {
			for i := range t.levels {
				if math.IsNaN(t.values[k][v][i]) {
					continue
				}
				c.site, c.level = append(c.site, int32(k)), append(c.level, int32(i))
				for n, u := range c.vars {
					c.values[n] = append(c.values[n], t.values[k][u][i])
				}
			}
			c.first = append(c.first, int32(len(c.site)))
		}
		c.index()
		out = append(out, c)
	}
	return out
}

func samePlaces(t table, v, u int) bool {
	return !slices.ContainsFunc(t.values, func(site [][]float64) bool {
		return !slices.EqualFunc(site[v], site[u], func(a, b float64) bool { return math.IsNaN(a) == math.IsNaN(b) })
	})
}

func (c *cloud) index() {
	c.where = make([]int32, (len(c.first)-1)*len(c.levels))
	for k := range c.where {
		c.where[k] = -1
	}
	for n := range c.site {
		c.where[int(c.site[n])*len(c.levels)+int(c.level[n])] = int32(n)
	}
}

// place returns the number of a level among those of all clouds.
func (c *cloud) place(level int32) int32 {
	if c.numbers == nil {
		return level
	}
	return c.numbers[level]
}

// numberLevels numbers the levels of clouds together.
func numberLevels(clouds []*cloud) {
	var all []float64
	for _, c := range clouds {
		all = append(all, c.levels...)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	for _, c := range clouds {
		c.places, c.numbers = int32(len(all)), make([]int32, len(c.levels))
		for i, p := range c.levels {
			c.numbers[i] = int32(lowerBound(all, p))
		}
	}
}

// without returns the cloud without the data of some sites; sites and levels keep their numbers.
func (c *cloud) without(out []bool) *cloud {
	d := &cloud{s: c.s, levels: c.levels, regular: c.regular, down: c.down, covariance: c.covariance,
		numbers: c.numbers, places: c.places,
		vars: c.vars, first: []int32{0}, values: make([][]float64, len(c.vars))}
	for k := 0; k+1 < len(c.first); k++ {
		if !out[k] {
			from, to := c.first[k], c.first[k+1]
			d.site = append(d.site, c.site[from:to]...)
			d.level = append(d.level, c.level[from:to]...)
			for v := range c.values {
				d.values[v] = append(d.values[v], c.values[v][from:to]...)
			}
		}
		d.first = append(d.first, int32(len(d.site)))
	}
	d.index()
	return d
}

// A background is a straight line along the section, or a plane across a field, at each level: value at the middle and
// slopes in the plane coordinates of the sites. It is what the anomalies are taken from.
type background struct {
	p      []float64
	middle [2]float64
	coef   [][3]float64
}

const (
	lineFrom   = 4 // stations needed for a line along a section (ours); fewer: the mean
	planeFrom  = 6 // stations needed for a plane across a field (ours)
	smoothOver = 2 // levels on each side that are averaged (ours)
)

// newBackground fits values at the data of a cloud.
func newBackground(c *cloud, values []float64) background {
	var b background
	n := 0.0
	for k := range c.s.sites {
		if c.first[k+1] > c.first[k] {
			b.middle[0] += c.s.sites[k].plane[0]
			b.middle[1] += c.s.sites[k].plane[1]
			n++
		}
	}
	b.middle[0] /= n
	b.middle[1] /= n
	var raw [][3]float64
	for _, l := range c.regular {
		if f, ok := c.fit(values, int(l), b.middle); ok {
			b.p, raw = append(b.p, c.levels[l]), append(raw, f)
		}
	}
	b.coef = make([][3]float64, len(raw))
	for i := range raw {
		half := min(smoothOver, i, len(raw)-1-i)
		for j := i - half; j <= i+half; j++ {
			for m := range 3 {
				b.coef[i][m] += raw[j][m]
			}
		}
		for m := range 3 {
			b.coef[i][m] /= float64(2*half + 1)
		}
	}
	return b
}

// fit is least squares of one level: value at the middle and slopes.
func (c *cloud) fit(values []float64, level int, middle [2]float64) ([3]float64, bool) {
	n, sv := 0.0, 0.0
	var sx [2]float64
	nl := len(c.levels)
	for k := range c.s.sites {
		if d := c.where[k*nl+level]; d >= 0 {
			n++
			sv += values[d]
			sx[0] += c.s.sites[k].plane[0] - middle[0]
			sx[1] += c.s.sites[k].plane[1] - middle[1]
		}
	}
	if n == 0 {
		return [3]float64{}, false
	}
	mv, mx := sv/n, [2]float64{sx[0] / n, sx[1] / n}
	var xx, xy, yy, xv, yv float64
	for k := range c.s.sites {
		if d := c.where[k*nl+level]; d >= 0 {
			x, y := c.s.sites[k].plane[0]-middle[0]-mx[0], c.s.sites[k].plane[1]-middle[1]-mx[1]
			w := values[d] - mv
			xx += float64(x * x)
			xy += float64(x * y)
			yy += float64(y * y)
			xv += float64(x * w)
			yv += float64(y * w)
		}
	}
	var slope [2]float64
	switch det := float64(xx*yy) - float64(xy*xy); {
	case !c.s.isField && n >= lineFrom && xx > 0:
		slope[0] = xv / xx
	case c.s.isField && n >= planeFrom && det > 1e-3*xx*yy:
		slope[0] = (float64(xv*yy) - float64(yv*xy)) / det
		slope[1] = (float64(yv*xx) - float64(xv*xy)) / det
	}
	return [3]float64{mv - float64(slope[0]*mx[0]) - float64(slope[1]*mx[1]), slope[0], slope[1]}, true
}

// at returns the background at a place and pressure, straight between levels and constant beyond them.
func (b *background) at(plane [2]float64, p float64) float64 {
	if len(b.p) == 0 {
		return 0
	}
	i := lowerBound(b.p, p)
	value := func(k int) float64 {
		f := &b.coef[k]
		return f[0] + float64(f[1]*(plane[0]-b.middle[0])) + float64(f[2]*(plane[1]-b.middle[1]))
	}
	switch {
	case i == len(b.p):
		return value(i - 1)
	case i == 0 || b.p[i] == p:
		return value(i)
	}
	t := (p - b.p[i-1]) / (b.p[i] - b.p[i-1])
	lo := value(i - 1)
	return lo + float64(t*(value(i)-lo))
}
