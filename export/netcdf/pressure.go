package netcdf

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// vertical adds the pressure of the levels and, where the bins are declared, their edges. Pressures of two dimensions
// have no bounds of two vertices (CF 1.12, section 7.1).
func (b *profiles) vertical() {
	widths, labels, known := b.bins()
	uniform := known && same(widths) && same(labels)
	withBounds := known && (b.l.ragged || uniform && !b.l.aligned)
	switch {
	case b.l.ragged && known, b.l.aligned && uniform:
		b.method = "sea_water_pressure: mean (bin average)"
	case withBounds:
		b.method = "pres: mean (bin average)"
	}
	variable, decimals := b.pressure(known && same(labels), labels)
	if uniform && b.l.aligned {
		variable.Comment = joinNonEmpty("; ", variable.Comment, fmt.Sprintf("bins %g dbar wide, labelled at the %s",
			widths[0], labels[0]))
	}
	a := quantity(&variable)
	vocabularyCodes(&a, &variable, false)
	a.text(
		"positive", "down",
		"axis", "Z",
	)
	a = withDecimals(a, decimals)
	if withBounds {
		a.text("bounds", "pres_bnds")
	}
	a.text("coverage_content_type", "coordinate")
	v := double("pres", a, b.level)
	if b.l.ragged {
		b.rowSize()
	}
	if b.l.ragged || b.l.aligned {
		a.text("ancillary_variables", strings.Join(b.pres.flagNames(), " "))
		v.Attrs, v.Dims = a, b.dims()
		if b.l.aligned {
			v.Fill = fillValue
		}
		b.p.chunks(v, func(c *nc.Chunk) {
			dst := nc.Values[float64](c)
			b.l.each(c, func(cast, level, n, at int) { copy(dst[at:at+n], b.casts[cast].PressureDbar[level:]) })
		})
	} else {
		b.p.values(v, b.l.pressures)
	}
	if withBounds {
		b.bounds(widths, labels)
	}
}

// same reports whether all items are the first one.
func same[T comparable](items []T) bool {
	return !slices.ContainsFunc(items, func(x T) bool { return x != items[0] })
}

// pressure returns the pressure as a variable, with the comment of its columns, and its commonest decimals.
func (b *profiles) pressure(labelled bool, labels []string) (metadata.Variable, int) {
	variable := metadata.MustVariable("pres")
	decimals := section.Commonest{}
	for _, c := range b.casts {
		if col := c.Column("pres"); col != nil {
			decimals.AddColumn(col)
			if col.Comment != "" {
				variable.Comment, variable.References = col.Comment, col.References
			}
		}
	}
	switch {
	case !labelled:
		variable.LongName = "sea pressure, zero at the sea surface"
	case labels[0] == "centre":
		variable.LongName = "pressure bin centre, zero at the sea surface"
	default:
		variable.LongName = "pressure at the " + labels[0] + " of the bin, zero at the sea surface"
	}
	return variable, decimals.Decimals()
}

// rowSize adds the number of levels of each cast of a ragged file.
func (b *profiles) rowSize() {
	var a attrs
	a.text(
		"long_name", "number of levels in this cast",
		"sample_dimension", "obs",
	)
	if b.l.skipped > 0 {
		a.text("comment", fmt.Sprintf("%s without a pressure left out", count(b.l.skipped, "level")))
	}
	b.p.values(nc.Var{Name: "row_size", Type: nc.Int, Dims: []int{b.profile}, Attrs: a}, b.l.rowSizes())
}

// bounds adds the edges of the bins.
func (b *profiles) bounds(widths []float64, labels []string) {
	b.p.chunks(double("pres_bnds", nil, b.level, b.p.dim("nv", 2)), func(c *nc.Chunk) {
		dst := nc.Values[float64](c)
		put := func(pressures []float64, cast, from, n, at int) {
			for k := range n {
				dst[2*(at+k)], dst[2*(at+k)+1] = edges(pressures, from+k, widths[cast], labels[cast])
			}
		}
		if !b.l.ragged {
			put(b.l.pressures, 0, c.Start[0], c.Count[0], 0)
			return
		}
		b.l.each(c, func(cast, level, n, at int) { put(b.casts[cast].PressureDbar, cast, level, n, at) })
	})
}

// bins returns width and label of the bins of each cast as its system declares them; false when one is not declared.
func (b *profiles) bins() (widths []float64, labels []string, known bool) {
	for _, c := range b.casts {
		i := b.x.system(c.System)
		if i < 0 {
			return nil, nil, false
		}
		bin := b.x.Cruise.Systems[i].Bin
		if !(bin.WidthDbar > 0) || bin.Label == "" {
			return nil, nil, false
		}
		widths, labels = append(widths, bin.WidthDbar), append(labels, bin.Label)
	}
	return widths, labels, true
}

// sigmaReference returns the reference pressure in dbar of the potential density anomalies, sigma0 to sigma4.
func sigmaReference(name string) (dbar float64, ok bool) {
	if len(name) == 6 && strings.HasPrefix(name, "sigma") && name[5] >= '0' && name[5] <= '4' {
		return float64(name[5]-'0') * 1000, true
	}
	return 0, false
}

func referenceName(dbar float64) string { return "ref_pres_" + strconv.FormatFloat(dbar, 'f', -1, 64) }

// referencePressure adds the scalar coordinate by which the potential density anomalies differ (their standard name is
// one). It has no axis: its units are those of pressure, but the data do not lie along it.
func referencePressure(p *plan, dbar float64) {
	if p.schema.Var(referenceName(dbar)) >= 0 {
		return
	}
	v := metadata.MustVariable("ref_pres")
	v.LongName = fmt.Sprintf("reference pressure of the potential density anomaly: %g dbar", dbar)
	a := quantity(&v)
	a.text("coverage_content_type", "referenceInformation")
	p.values(double(referenceName(dbar), a), []float64{dbar})
}
