package netcdf

import (
	"context"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/internal/nc"
	"golang.org/x/text/unicode/norm"
)

// fillValue is the missing value of every double variable; NaN is never written. None of the quantities written comes
// near it.
const fillValue = -9999.0

// deflateLevel is the level that a variable declares; see internal/nc for how chunks are compressed.
const deflateLevel = 4

// smallest is the size in bytes from which an array is chunked and compressed; a smaller one costs more than it saves.
const smallest = 1024

// A plan is a file in the making: all of its description and, for each variable, how its values are written.
type plan struct {
	schema nc.Schema
	small  []func(w nc.Writer) error // held in memory whole
	large  []nc.Filling              // made chunk by chunk
}

// create is the maker of files; another writer of the same schema may be put here.
var create = nc.Create

// dim returns the index of the dimension called name and adds it when it is new. One name has one length.
func (p *plan) dim(name string, n int) int {
	if i := p.schema.Dim(name); i >= 0 {
		if p.schema.Dims[i].Len != n {
			panic(fmt.Sprintf("netcdf: dimension %s of %d and of %d", name, p.schema.Dims[i].Len, n))
		}
		return i
	}
	p.schema.Dims = append(p.schema.Dims, nc.Dim{Name: name, Len: n})
	return len(p.schema.Dims) - 1
}

func (p *plan) add(v nc.Var) int {
	p.schema.Vars = append(p.schema.Vars, v)
	return len(p.schema.Vars) - 1
}

// values adds a variable and all of its values. NaN among doubles becomes the fill value, which the variable must then
// have.
func (p *plan) values(v nc.Var, data any) int {
	if d, ok := data.([]float64); ok && v.Fill != nil {
		data = filled(d)
	}
	i := p.add(v)
	p.small = append(p.small, func(w nc.Writer) error { return w.Write(i, data) })
	return i
}

// filled returns d with the fill value for NaN; d itself when it has none.
func filled(d []float64) []float64 {
	for i, x := range d {
		if math.IsNaN(x) {
			out := make([]float64, len(d))
			copy(out, d[:i])
			for k := i; k < len(d); k++ {
				if out[k] = d[k]; math.IsNaN(d[k]) {
					out[k] = fillValue
				}
			}
			return out
		}
	}
	return d
}

// chunks adds a variable that fill writes chunk by chunk, and chooses how it is stored: rows of the first dimension
// together until a chunk has 4 KiB, so that one cast is one chunk; long one-dimensional arrays in pieces of 4096
// values.
func (p *plan) chunks(v nc.Var, fill func(*nc.Chunk)) int {
	size, n := v.Type.Size(), 1
	for _, d := range v.Dims {
		n *= p.schema.Dims[d].Len
	}
	if n*size > smallest && len(v.Dims) > 0 {
		v.Chunks = make([]int, len(v.Dims))
		row := size
		for k, d := range v.Dims {
			v.Chunks[k] = p.schema.Dims[d].Len
			if k > 0 {
				row *= v.Chunks[k]
			}
		}
		if len(v.Dims) == 1 {
			v.Chunks[0] = min(v.Chunks[0], 4096)
		} else {
			v.Chunks[0] = min(v.Chunks[0], max(1, 4096/row))
		}
		v.Deflate, v.Shuffle = deflateLevel, size > 1 && !fewDecimals(&v)
	}
	i := p.add(v)
	p.large = append(p.large, nc.Filling{Var: i, Fill: rounding(&v, fill)})
	return i
}

// fewDecimals reports whether the values of a variable are decimal numbers of so few digits that many of one cast are
// the same. Their bytes are left in place: values that come again are found whole, and 18.8 MB of measured values of a
// cruise become 9.6 MB in half the time, where shuffling tears each into bytes that look random.
func fewDecimals(v *nc.Var) bool {
	n := v.Floats("decimals")
	return len(n) == 1 && n[0] <= 4
}

// field adds a gridded variable whose values are in memory, in chunks of the whole field up to 4 MiB.
func (p *plan) field(v nc.Var, data []float64) int {
	n := len(data)
	if n*8 > smallest {
		v.Chunks = make([]int, len(v.Dims))
		for k, d := range v.Dims {
			v.Chunks[k] = p.schema.Dims[d].Len
		}
		if rest := n / v.Chunks[0] * 8; n*8 > 4<<20 {
			v.Chunks[0] = max(1, (4<<20)/rest)
		}
		v.Deflate, v.Shuffle = deflateLevel, true
	}
	i := p.add(v)
	rest := n / max(1, p.schema.Shape(i)[0])
	p.large = append(p.large, nc.Filling{Var: i, Fill: rounding(&v, func(c *nc.Chunk) {
		from := data[c.Start[0]*rest : (c.Start[0]+c.Count[0])*rest]
		switch v.Type {
		case nc.Double:
			copyKnown(nc.Values[float64](c), from)
		case nc.Int:
			for k, x := range from {
				nc.Values[int32](c)[k] = int32(x)
			}
		case nc.Byte:
			for k, x := range from {
				nc.Values[int8](c)[k] = int8(x)
			}
		}
	})})
	return i
}

// copyKnown copies what is not NaN; dst holds the fill value already.
func copyKnown(dst, src []float64) {
	dst = dst[:len(src)]
	for i, x := range src {
		if x == x { // not NaN
			dst[i] = x
		}
	}
}

// text adds a char variable with one string for each element of dims, padded with NULs to the longest, which is the
// length of the dimension lenDim. dims empty: a single label.
func (p *plan) text(name string, dims []int, lenDim string, words []string, attrs ...nc.Attr) int {
	clean := make([]string, len(words))
	width := 1
	for i, s := range words {
		clean[i] = tidy(s)
		width = max(width, len(clean[i]))
	}
	b := make([]byte, width*len(words))
	for i, s := range clean {
		copy(b[i*width:], s)
	}
	v := nc.Var{Name: name, Type: nc.Char, Dims: append(append([]int(nil), dims...), p.dim(lenDim, width)),
		Attrs: attrs}
	v.Attrs = append(v.Attrs, nc.Attr{Name: "_Encoding", Value: "utf-8"})
	return p.values(v, b)
}

// tidy returns s as valid UTF-8 in NFC (CF 1.12, section 2.2) without NULs, which end a string in the file.
func tidy(s string) string {
	if !utf8.ValidString(s) {
		s = strings.ToValidUTF8(s, "\uFFFD")
	}
	return norm.NFC.String(strings.ReplaceAll(s, "\x00", ""))
}

// attrs is a list of attributes in the making.
type attrs []nc.Attr

// text adds text attributes, given as name and value in turn, but for those that are empty: an unknown attribute is
// left out, not written as a dash.
func (a *attrs) text(namesAndValues ...string) {
	for i := 0; i < len(namesAndValues); i += 2 {
		if value := tidy(namesAndValues[i+1]); value != "" {
			a.add(namesAndValues[i], value)
		}
	}
}

// add adds an attribute of numbers.
func (a *attrs) add(name string, value any) { *a = append(*a, nc.Attr{Name: name, Value: value}) }

// write makes the file.
func (p *plan) write(ctx context.Context, path string, workers int) (err error) {
	w, err := create(path, &p.schema)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer func() {
		if e := w.Close(); err == nil {
			err = e
		}
		if err != nil {
			err = fmt.Errorf("write %s: %w", path, err)
		}
	}()
	for _, do := range p.small {
		if err := do(w); err != nil {
			return err
		}
	}
	return w.WriteChunks(ctx, workers, p.large...)
}
