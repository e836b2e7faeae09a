package ingest

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// flagStrange gives flag 4 to the cells that Lenient made missing; a column without flags gets some.
func (b *builder) flagStrange() {
	for _, c := range b.strange {
		k := b.field[c.field].flagged
		if k < 0 {
			k = len(b.field)
			b.field[c.field].flagged = k
			b.field = append(b.field,
				field{kind: flags, of: c.field, flg: make([]metadata.Flag, len(b.field[c.field].dst)),
					raw: b.field[c.field].raw + "_FLAG_W"})
		}
		b.field[k].flg[c.row] = metadata.Bad
	}
}

// column returns field i as a column of a cast, looked over; false for flags, which are part of their column.
func (b *builder) column(i int) (section.Column, bool) {
	f, n := &b.field[i], b.row
	if f.kind == flags {
		if p := &b.field[f.of]; p.kind == texts { // its column turned out to be text: so are its flags
			return section.Column{Variable: b.flagText(i), Decimals: -1, Text: flagWords(f.flg[:n])}, true
		}
		return section.Column{}, false
	}
	if f.kind == texts {
		return section.Column{Variable: f.variable, Decimals: -1, Text: f.txt[:n:n]}, true
	}
	col := section.Column{Variable: f.variable, Width: max(f.width, 0), Values: f.dst[:n:n]}
	if col.Decimals, col.Exceptions = f.digits(col.Values); len(col.Exceptions) > 0 {
		b.warn(metadata.Note, "exchange.decimals", f.variable.Name, b.lineOf(col.Exceptions[0].Level), 0, "",
			"%s: %d of %d values have other digits than the %d "+
				"decimals of most; kept as read", f.raw, len(col.Exceptions), n, col.Decimals)
	}
	if f.flagged >= 0 {
		g := &b.field[f.flagged]
		col.Flags = b.checkFlags(f, g.raw, col.Values, g.flg[:n:n])
	}
	if f.from != "" && f.known {
		b.converted(f, &col)
	}
	if f.known {
		b.checkRange(f, &col)
	}
	if f.to90 {
		b.toITS90(f, &col)
	}
	if f.pressure {
		b.checkPressure(f, &col)
	}
	return col, true
}

// flagWords writes flags as text.
func flagWords(flags []metadata.Flag) []string {
	out := make([]string, len(flags))
	for i, f := range flags {
		out[i] = string('0' + rune(f))
	}
	return out
}

// flagText names the flags of a text column, field i, as a column of their own.
func (b *builder) flagText(i int) metadata.Variable {
	f := &b.field[i]
	return metadata.Variable{Name: b.field[f.of].variable.Name + "_flag_as_read", LongName: f.raw + " as read",
		Exchange: b.flagsAsRead(b.field[f.of].raw, i), ExchangeUnit: f.unit,
		ValidMin: math.NaN(), ValidMax: math.NaN(), ExchangeDecimals: -1}
}

// checkFlags brings flags and values into agreement where the format leaves no doubt, and says so. Nil means that
// nothing was evaluated.
func (b *builder) checkFlags(f *field, name string, v []float64, g []metadata.Flag) []metadata.Flag {
	evaluated, present := false, false
	for i := range g {
		missing := v[i] != v[i]
		fl := g[i]
		if !missing {
			present = true
			if fl == metadata.Acceptable {
				evaluated = true
				continue
			}
			switch fl {
			case metadata.NotSampled, metadata.NotReported:
				b.warn(metadata.Warning, "exchange.flag_absent", f.variable.Name, b.lineOf(i), 0, "",
					"%s: flag %d (%s) with a value; value and flag kept", name, fl, fl)
			case metadata.NotUsed:
				b.warn(metadata.Warning, "exchange.flag_not_used", f.variable.Name, b.lineOf(i), 0, "",
					"%s: flag 8 is not used for CTD data; kept", name)
			case metadata.NotEvaluated:
				b.warn(metadata.Note, "exchange.flag_zero", f.variable.Name, b.lineOf(i), 0, "",
					"%s: flag 0 or empty; read as not evaluated", name)
			}
			evaluated = evaluated || fl != metadata.NotEvaluated
			continue
		}
		switch fl {
		case metadata.Acceptable, metadata.Interpolated, metadata.Despiked:
			b.warn(metadata.Warning, "exchange.flag_missing", f.variable.Name, b.lineOf(i), 0, "",
				"%s: flag %d (%s) without a value; flag set to 9", name, fl, fl)
			g[i] = metadata.NotSampled
		case metadata.NotEvaluated:
			g[i] = metadata.NotSampled
		case metadata.NotSampled, metadata.NotReported:
		default:
			evaluated = true // somebody took the value out and said why
		}
	}
	if !evaluated && present {
		return nil
	}
	return g
}

// checkRange says where a value that claims to be good is outside the gross physical limits.
func (b *builder) checkRange(f *field, c *section.Column) {
	lo, hi := c.ValidMin, c.ValidMax
	if math.IsNaN(lo) {
		lo = math.Inf(-1)
	}
	if math.IsNaN(hi) {
		hi = math.Inf(1)
	}
	first, n := 0, 0
	for i, v := range c.Values {
		if (v < lo || v > hi) && (c.Flags == nil || c.Flags[i].Usable(false)) {
			if n == 0 {
				first = i
			}
			n++
		}
	}
	if n > 0 {
		remedy :=
			"look at the values; what is wrong gets its flag in the file, or in a table of flag edits (castwright help cruise-file)"
		if f.pressure {
			remedy = "look at the values, and take levels out that are none"
		}
		b.warn(metadata.Warning, "exchange.range", f.variable.Name, b.lineOf(first), 0, remedy,
			"%s: %d %s outside %g..%g with a good flag or none, first %g; kept",
			f.raw, n, plural(n, "value", "values"), c.ValidMin, c.ValidMax, c.Values[first])
	}
}

// checkPressure says where pressure, or depth, does not increase; the order is kept.
func (b *builder) checkPressure(f *field, c *section.Column) {
	p, decimals, axis, unit := c.Values, c.Decimals, f.axis(), "dbar"
	if axis == "depth" {
		unit = "m"
	}
	if i := slices.IndexFunc(p, func(v float64) bool { return math.Abs(v) > maxDbar }); i >= 0 {
		b.fail(b.lineOf(i), 0, "correct the "+axis+" or take the line out",
			"%g %s is no %s in the sea, where the largest is below %d %s", p[i], unit, axis, maxDbar, unit)
	}
	first, last, n := 0, 0, 0
	for i := 1; i < len(p); i++ {
		if !(p[i] > p[i-1]) {
			if n == 0 {
				first = i
			}
			last = i
			n++
		}
	}
	if n > 0 {
		w := b.warn(metadata.Warning, "exchange.pressure_order", "pres", b.lineOf(first), 0, "",
			"%s does not increase on %d %s, first %.*f after %.*f %s; order kept",
			axis, n, plural(n, "line", "lines"), decimals, p[first], decimals, p[first-1], unit)
		b.span(w, p[first], p[last], n)
		w.Proposed = metadata.Bad
	}
}

// checkSamples is checkFlags for the water sample set.
func (b *builder) checkSamples(f *field, name string, v []float64, g []metadata.Flag) []metadata.SampleFlag {
	out := make([]metadata.SampleFlag, len(g))
	evaluated, present := false, false
	for i := range g {
		s := metadata.SampleFlag(g[i])
		if v[i] == v[i] {
			present = true
			evaluated = evaluated || s != metadata.SampleNotEvaluated
			switch s {
			case metadata.SampleNotDrawn, metadata.SampleNotReported:
				b.warn(metadata.Warning, "exchange.flag_absent", f.variable.Name, b.lineOf(i), 0, "",
					"%s: flag %d (%s) with a value; value and flag kept", name, s, s)
			case metadata.SampleNotEvaluated:
				b.warn(metadata.Note, "exchange.flag_zero", f.variable.Name, b.lineOf(i), 0, "",
					"%s: flag 0 or empty; read as not evaluated", name)
			}
		} else {
			switch s {
			case metadata.SampleAcceptable, metadata.SampleMean, metadata.SampleManualPeak, metadata.SampleIrregular:
				b.warn(metadata.Warning, "exchange.flag_missing", f.variable.Name, b.lineOf(i), 0, "",
					"%s: flag %d (%s) without a value; flag set to 9", name, s, s)
				s = metadata.SampleNotDrawn
			case metadata.SampleNotEvaluated:
				s = metadata.SampleNotDrawn
			case metadata.SampleNotDrawn, metadata.SampleNotReported:
			default:
				evaluated = true
			}
		}
		out[i] = s
	}
	if !evaluated && present {
		return nil
	}
	return out
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
