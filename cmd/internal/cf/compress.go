package cf

import (
	"math"
	"strings"

	"github.com/castwright/castwright/internal/nc"
)

// gathered notes the dimensions that a list variable of compression by gathering (CF 8.2) stands for.
func (c *check) gathered(i int) {
	v := &c.Vars[i]
	if v.Attr("compress") == nil || len(v.Dims) != 1 {
		return
	}
	for _, n := range strings.Fields(v.Text("compress")) {
		if d := c.Dim(n); d >= 0 && d != v.Dims[0] {
			c.spread[v.Dims[0]] = append(c.spread[v.Dims[0]], d)
		}
	}
}

// gatheredFrom returns dims, each compressed one followed by the dimensions that it stands for: coordinates and cell
// methods of the data are about those.
func (c *check) gatheredFrom(dims []int) []int {
	if len(c.spread) == 0 {
		return dims
	}
	var out []int
	for _, d := range dims {
		out = append(append(out, d), c.spread[d]...)
	}
	return out
}

// compressed checks rule 79 of a list variable.
func (c *check) compressed(i int) {
	v := &c.Vars[i]
	if v.Attr("compress") == nil {
		return
	}
	names := strings.Fields(v.Text("compress"))
	size := 1.0
	for _, n := range names {
		d := c.Dim(n)
		if d < 0 {
			c.fault(79, v.Name, "compress names %s, which is no dimension of the file", n)
			size = math.NaN()
			continue
		}
		size *= float64(c.Dims[d].Len)
	}
	switch {
	case len(names) == 0:
		c.fault(79, v.Name, "compress is empty or no string")
		return
	case !v.Type.Numeric() || v.Type == nc.Float || v.Type == nc.Double:
		c.fault(79, v.Name, "a list of gathered points is %s, not whole numbers", v.Type)
		return
	case len(v.Dims) != 1 || !c.IsCoordinate(i):
		c.fault(79, v.Name, "a list of gathered points has not one dimension of its own name")
		return
	}
	x, ok := c.get(i)
	if !ok || math.IsNaN(size) {
		return
	}
	for k, y := range x {
		if y < 0 || y >= size {
			c.fault(79, v.Name, "index %g at %d is outside the %g points of %s", y, k, size, strings.Join(names, ", "))
			return
		}
	}
}
