package compare

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/internal/nc"
)

// Change is how the values of a variable differ. Values are compared at the same cast, pair or node of both files.
type Change struct {
	File     string  `json:"file"`
	Variable string  `json:"variable"`
	Unit     string  `json:"unit,omitempty"`
	Compared int     `json:"compared"`           // places with a value in both
	Changed  int     `json:"changed"`            // of these, with another value
	Max      float64 `json:"max"`                // largest absolute difference
	RMS      float64 `json:"rms"`                // root mean square of the differences over the places compared
	Where    string  `json:"where,omitempty"`    // of the largest difference, or the first place with another text
	Gained   int     `json:"gained,omitempty"`   // places where only the new file has a value
	Lost     int     `json:"lost,omitempty"`     // places where only the old file has one
	Places   Extent  `json:"places,omitzero"`    // of the places where something differs
	OldText  string  `json:"old_text,omitempty"` // of the first place with another text
	NewText  string  `json:"new_text,omitempty"`
}

// Extent is where differences lie.
type Extent struct {
	Casts []string `json:"casts,omitempty"` // casts or station pairs, in the order of the file
	First string   `json:"first,omitempty"` // least and greatest pressure or the like
	Last  string   `json:"last,omitempty"`
}

// FlagChange is a change of flags of a variable from one meaning to another at one cast, or in one file where flags do
// not belong to casts.
type FlagChange struct {
	File     string `json:"file"`
	Variable string `json:"variable"`
	Cast     string `json:"cast,omitempty"`
	From     string `json:"from"`
	To       string `json:"to"`
	Count    int    `json:"count"`
	First    string `json:"first,omitempty"`
	Last     string `json:"last,omitempty"`
}

// Presence is a variable that only one of the files has.
type Presence struct {
	File     string `json:"file"`
	Variable string `json:"variable"`
	What     What   `json:"what"`
}

// axis is the labels of one dimension.
type axis struct {
	name   string
	labels []string
	at     map[string]int
	casts  bool // the labels are casts or pairs
	unit   string
}

// side of a comparison of two NetCDF files.
type ncSide struct {
	*nc.File
	axes []axis
}

// netcdf compares two NetCDF files.
func (r *Report) netcdf(a, b *archive.Archive, p partner) error {
	f, err := a.NetCDF(p.old)
	if err != nil {
		return err
	}
	defer f.Close()
	g, err := b.NetCDF(p.new)
	if err != nil {
		return err
	}
	defer g.Close()
	x, err := labelled(f, r.renumbering)
	if err != nil {
		return fmt.Errorf("%s: %w", p.old, err)
	}
	y, err := labelled(g, nil)
	if err != nil {
		return fmt.Errorf("%s: %w", p.new, err)
	}
	r.attributes(p.new, "", f.Attrs, g.Attrs)
	for i := range f.Vars {
		v := &f.Vars[i]
		k := g.Var(v.Name)
		if k < 0 {
			r.Variables = append(r.Variables, Presence{p.new, v.Name, Removed})
			continue
		}
		r.attributes(p.new, v.Name, v.Attrs, g.Vars[k].Attrs)
		if err := r.variable(p.new, x, y, i, k); err != nil {
			return fmt.Errorf("%s: %s: %w", p.new, v.Name, err)
		}
		f.Forget(i)
		g.Forget(k)
	}
	for k := range g.Vars {
		if f.Var(g.Vars[k].Name) < 0 {
			r.Variables = append(r.Variables, Presence{p.new, g.Vars[k].Name, Added})
		}
	}
	return nil
}

// labelled gives each dimension of a file its labels: the values of its coordinate, the identities of its casts or
// pairs, other words along it, or numbers from 1.
func labelled(f *nc.File, renamed map[string]string) (*ncSide, error) {
	s := &ncSide{File: f, axes: make([]axis, len(f.Dims))}
	for d := range f.Dims {
		x := axis{name: f.Dims[d].Name}
		best := -1
		for i := range f.Vars {
			axes := f.Vars[i].Axes()
			if len(axes) != 1 || axes[0] != d {
				continue
			}
			switch {
			case f.Vars[i].Text("cf_role") != "":
				best, x.casts = i, true
			case x.casts:
			case f.Vars[i].Name == x.name, best < 0 && f.Vars[i].Type == nc.Char:
				best = i
			}
		}
		if err := x.read(f, best, d); err != nil {
			return nil, err
		}
		for i, l := range x.labels {
			if n, ok := renamed[l]; ok && x.casts {
				x.labels[i] = n
			}
		}
		s.axes[d] = x
	}
	if err := s.ragged(); err != nil {
		return nil, err
	}
	for d := range s.axes {
		x := &s.axes[d]
		x.at = map[string]int{}
		for i, l := range x.labels {
			for n := 2; ; n++ { // a label that occurs twice gets a number
				if _, ok := x.at[x.labels[i]]; !ok {
					break
				}
				x.labels[i] = l + " #" + strconv.Itoa(n)
			}
			x.at[x.labels[i]] = i
		}
	}
	return s, nil
}

func (x *axis) read(f *nc.File, v, d int) error {
	switch {
	case v >= 0 && f.Vars[v].Type == nc.Char:
		words, err := f.Words(v)
		x.labels = slices.Clone(words)
		return err
	case v >= 0:
		numbers, err := f.Values(v)
		if err != nil {
			return err
		}
		x.unit = f.Vars[v].Text("units")
		for _, n := range numbers {
			x.labels = append(x.labels, strconv.FormatFloat(n, 'g', -1, 64))
		}
		return nil
	}
	if f.Dims[d].Len > 1<<24 {
		return fmt.Errorf("dimension %s is too long to compare", x.name)
	}
	for i := range f.Dims[d].Len {
		x.labels = append(x.labels, strconv.Itoa(i+1))
	}
	return nil
}

// ragged labels the dimension of a contiguous ragged array (CF 1.11 section 9.3.3) with cast and pressure.
func (s *ncSide) ragged() error {
	for i := range s.Vars {
		name := s.Vars[i].Text("sample_dimension")
		d := s.Dim(name)
		if name == "" || d < 0 || len(s.Vars[i].Dims) != 1 {
			continue
		}
		rows, err := s.Values(i)
		if err != nil {
			return err
		}
		pres := s.NumbersOf("pres")
		casts := s.axes[s.Vars[i].Dims[0]].labels
		x := &s.axes[d]
		x.labels = nil
		for c, n := range rows {
			for range int(n) {
				at := len(x.labels)
				if at >= s.Dims[d].Len || at >= len(pres) {
					return fmt.Errorf("%s counts more values than there are", s.Vars[i].Name)
				}
				x.labels = append(x.labels, casts[c]+", pres "+strconv.FormatFloat(pres[at], 'g', -1, 64)+" dbar")
			}
		}
		for len(x.labels) < s.Dims[d].Len {
			x.labels = append(x.labels, strconv.Itoa(len(x.labels)+1))
		}
		x.casts = true
	}
	return nil
}

// cell is one place of a variable in both files.
type cell struct {
	index    []int // labels of the side that has the place
	old, now int   // -1 where a file does not have it
}

// walk calls visit for every place of variable i of x and k of y.
func walk(x, y *ncSide, i, k int, visit func(c cell)) {
	dx, dy := x.Vars[i].Axes(), y.Vars[k].Axes()
	to := make([][]int, len(dx)) // place in y of each label of x
	shape, other := make([]int, len(dx)), make([]int, len(dx))
	for n, d := range dx {
		shape[n], other[n] = x.Dims[d].Len, y.Dims[dy[n]].Len
		to[n] = make([]int, shape[n])
		for l, label := range x.axes[d].labels {
			if at, ok := y.axes[dy[n]].at[label]; ok {
				to[n][l] = at
			} else {
				to[n][l] = -1
			}
		}
	}
	seen := map[int]bool{}
	index := make([]int, len(dx))
	each(shape, index, func(flat int) {
		at := 0
		for n := range dx {
			l := to[n][index[n]]
			if l < 0 {
				at = -1
				break
			}
			at = at*other[n] + l
		}
		if at >= 0 {
			seen[at] = true
		}
		visit(cell{index, flat, at})
	})
	each(other, index, func(flat int) {
		if !seen[flat] {
			visit(cell{index, -1, flat})
		}
	})
}

// each visits the places of a shape in order; index holds the place along each dimension.
func each(shape, index []int, visit func(flat int)) {
	total := 1
	for n := range shape {
		index[n] = 0
		total *= shape[n]
	}
	for flat := range total {
		visit(flat)
		for n := len(shape) - 1; n >= 0; n-- {
			if index[n]++; index[n] < shape[n] {
				break
			}
			index[n] = 0
		}
	}
}

// variable compares the values of a variable.
func (r *Report) variable(file string, x, y *ncSide, i, k int) error {
	v, w := &x.Vars[i], &y.Vars[k]
	dims := func(s *ncSide, v *nc.Var) (out []string) {
		for _, d := range v.Axes() {
			out = append(out, s.Dims[d].Name)
		}
		return out
	}
	if !slices.Equal(dims(x, v), dims(y, w)) || v.Type.Numeric() != w.Type.Numeric() {
		r.Variables = append(r.Variables, Presence{file, v.Name, Differs})
		return nil
	}
	if !v.Type.Numeric() {
		return r.text(file, x, y, i, k)
	}
	a, err := x.Values(i)
	if err != nil {
		return err
	}
	b, err := y.Values(k)
	if err != nil {
		return err
	}
	if v.Attr("flag_values") != nil {
		r.flags(file, x, y, i, k, a, b)
		return nil
	}
	c := Change{File: file, Variable: v.Name, Unit: w.Text("units")}
	var e extent
	squares := 0.0
	walk(x, y, i, k, func(p cell) {
		missing := func(s *ncSide, v, at int, values []float64) bool { return at < 0 || s.Missing(v, values[at]) }
		gone, none := missing(x, i, p.old, a), missing(y, k, p.now, b)
		switch {
		case gone && none:
			return
		case gone:
			c.Gained++
		case none:
			c.Lost++
		default:
			c.Compared++
			d := math.Abs(b[p.now] - a[p.old])
			if d == 0 {
				return
			}
			squares += d * d
			if c.Changed++; d > c.Max || c.Changed == 1 {
				c.Max, c.Where = d, place(x, y, i, k, p)
			}
		}
		e.add(x, y, i, k, p)
	})
	if c.Compared > 0 {
		c.RMS = math.Sqrt(squares / float64(c.Compared))
	}
	if c.Changed+c.Gained+c.Lost > 0 {
		c.Places = e.Extent
		r.Values = append(r.Values, c)
	}
	return nil
}

// text compares the words of a variable.
func (r *Report) text(file string, x, y *ncSide, i, k int) error {
	a, err := x.Words(i)
	if err != nil {
		return err
	}
	b, err := y.Words(k)
	if err != nil {
		return err
	}
	c := Change{File: file, Variable: x.Vars[i].Name}
	renamed := map[string]string{}
	if c.Variable == "profile_id" || strings.HasPrefix(c.Variable, "cast_") {
		renamed = r.renumbering
	}
	walk(x, y, i, k, func(p cell) {
		switch {
		case p.old < 0:
			c.Gained++
		case p.now < 0:
			c.Lost++
		default:
			c.Compared++
			was := a[p.old]
			if n, ok := renamed[was]; ok {
				was = n
			}
			if was == b[p.now] {
				return
			}
			if c.Changed++; c.Changed == 1 {
				c.Where, c.OldText, c.NewText = place(x, y, i, k, p), was, b[p.now]
			}
		}
	})
	if c.Changed+c.Gained+c.Lost > 0 {
		r.Values = append(r.Values, c)
	}
	return nil
}
