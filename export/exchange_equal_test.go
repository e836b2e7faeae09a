package export_test

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/castwright/castwright/section"
)

// difference says in which value, flag, comment or column two casts differ, "" when in none. Comments are compared by
// text and by whether they stand behind the data: the writer puts all others at the top.
func difference(a, b *section.Cast) string {
	if a.Expocode != b.Expocode || a.SectionID != b.SectionID || a.Station != b.Station || a.Number != b.Number ||
		a.Stamp != b.Stamp {
		return fmt.Sprintf("identification %q %q %q %q %q, %q %q %q %q %q", a.Expocode, a.SectionID, a.Station,
			a.Number, a.Stamp, b.Expocode, b.SectionID, b.Station, b.Number, b.Stamp)
	}
	if a.At != b.At || a.AtDecimals != b.AtDecimals || a.AtText != b.AtText || a.DateOnly != b.DateOnly ||
		a.Time.Unix()/60 != b.Time.Unix()/60 {
		return fmt.Sprintf("position or time: %v %v %v, %v %v %v", a.At, a.AtDecimals, a.Time, b.At, b.AtDecimals,
			b.Time)
	}
	if !same(a.BottomM, b.BottomM) || a.BottomDecimals != b.BottomDecimals || a.BottomText != b.BottomText {
		return fmt.Sprintf("water depth %v %d, %v %d", a.BottomM, a.BottomDecimals, b.BottomM, b.BottomDecimals)
	}
	if !slices.Equal(a.Headers, b.Headers) {
		return fmt.Sprintf("headers %q, %q", a.Headers, b.Headers)
	}
	if x, y := comments(a.Comments), comments(b.Comments); !slices.Equal(x, y) {
		return fmt.Sprintf("comments\n%q\n%q", x, y)
	}
	if len(a.Columns) != len(b.Columns) {
		return fmt.Sprintf("%d columns, %d", len(a.Columns), len(b.Columns))
	}
	for i := range a.Columns {
		if d := columnDifference(&a.Columns[i], &b.Columns[i]); d != "" {
			return fmt.Sprintf("column %d %s: %s", i+1, a.Columns[i].Exchange, d)
		}
	}
	return ""
}

func columnDifference(x, y *section.Column) string {
	if x.Name != y.Name || x.Exchange != y.Exchange || x.ExchangeUnit != y.ExchangeUnit || x.Decimals != y.Decimals &&
		len(x.Values) > 0 {
		return fmt.Sprintf("%s %s %s %d, %s %s %s %d", x.Name, x.Exchange, x.ExchangeUnit, x.Decimals, y.Name,
			y.Exchange, y.ExchangeUnit, y.Decimals)
	}
	if !slices.Equal(x.Text, y.Text) || !slices.Equal(x.Flags, y.Flags) || len(x.Values) != len(y.Values) {
		return fmt.Sprintf("text or flags: %q %v, %q %v", x.Text, x.Flags, y.Text, y.Flags)
	}
	for i := range x.Values {
		v, w := x.Values[i], y.Values[i]
		if x.Comment != "" && x.Comment != y.Comment {
			// converted from IPTS-68: held unrounded, written in its decimals
			v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'f', x.Decimals, 64), 64)
		}
		if !same(v, w) {
			return fmt.Sprintf("level %d: %v, %v", i+1, v, w)
		}
	}
	return ""
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// comments returns the texts, those behind the data last.
func comments(list []section.Comment) (out []string) {
	for _, after := range []bool{false, true} {
		for _, c := range list {
			if (c.Place == section.AfterEnd) == after {
				out = append(out, c.Text)
			}
		}
	}
	return out
}
