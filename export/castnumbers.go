package export

import (
	"io"
	"strconv"

	"github.com/castwright/castwright/metadata"
)

// A CastNumber is one number of a whole cast: how it was made is in the variable's Comment, why there is none in
// Reason.
type CastNumber struct {
	Cast string // identity of the cast
	metadata.Variable
	Value  float64
	Reason string
}

// WriteCastNumbers writes numbers of whole casts, a line each, as CSV: values with six significant digits, empty with
// the reason where there is none.
func WriteCastNumbers(w io.Writer, rows []CastNumber) error {
	c := newTable(w)
	if err := c.Write([]string{"cast_id", "name", "value", "unit", "what", "how", "why_missing"}); err != nil {
		return err
	}
	for _, r := range rows {
		value := ""
		if r.Value == r.Value { // not NaN
			value = strconv.FormatFloat(r.Value, 'g', 6, 64)
		}
		if err := c.Write([]string{r.Cast, r.Name, value, r.Units, r.LongName, r.Comment, r.Reason}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
