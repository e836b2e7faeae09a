package geostrophy

import (
	"fmt"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// A Profile is what geostrophy uses of one cast: Absolute Salinity and Conservative Temperature at usable, strictly
// increasing pressures.
type Profile struct {
	PressureDbar []float64 // usable levels
	SA           []float64 // g/kg
	CT           []float64 // degC
	Bins         []float64 // every increasing pressure of the cast, usable or not, dbar

	spread []float64 // of a mean of several casts: standard error of its specific volume, m3/kg; else nil
}

// ProfileOf takes the usable levels of a cast. Absolute Salinity and Conservative Temperature come from the columns
// asal and ctemp where the cast has them, else from psal and temp. A level is usable when its pressure, salinity and
// temperature are there, their flags are usable (metadata.Flag.Usable) and its pressure is greater than that of every
// level before it. The error says which column is missing.
func ProfileOf(c *section.Cast, notCalibratedUsable bool) (*Profile, error) {
	pres := c.Column("pres")
	salt, heat := c.Column("asal"), c.Column("ctemp")
	derived := salt != nil && heat != nil
	if !derived {
		salt, heat = c.Column("psal"), c.Column("temp")
	}
	if salt == nil || heat == nil {
		missing := "salinity"
		if salt != nil {
			missing = "temperature"
		}
		return &Profile{}, fmt.Errorf("cast %s has no column of %s", c.ID(), missing)
	}
	var at seawater.Place
	if !derived {
		at = seawater.PlaceOf(c.At[0], c.At[1])
		if c.Lake {
			at = at.AsLake()
		}
	}
	if derived && clean(c.PressureDbar, notCalibratedUsable, pres, salt, heat) {
		return &Profile{PressureDbar: c.PressureDbar, SA: salt.Values, CT: heat.Values, Bins: c.PressureDbar}, nil
	}
	n := len(c.PressureDbar)
	buf := make([]float64, 4*n)
	pr := &Profile{PressureDbar: buf[:0:n], SA: buf[n : n : 2*n], CT: buf[2*n : 2*n : 3*n], Bins: buf[3*n : 3*n : 4*n]}
	lastBin := negInf
	last := negInf
	for i, p := range c.PressureDbar {
		if !(p > lastBin) || !flagUsable(pres, i, notCalibratedUsable) {
			continue
		}
		lastBin = p
		pr.Bins = append(pr.Bins, p)
		if !(p > last) || !flagUsable(salt, i, notCalibratedUsable) || !flagUsable(heat, i, notCalibratedUsable) {
			continue
		}
		s, t := salt.Values[i], heat.Values[i]
		if !derived {
			s = at.AbsoluteSalinity(s, p)
			t = seawater.ConservativeTemperature(s, t, p)
		}
		if s != s || t != t {
			continue
		}
		last = p
		pr.PressureDbar = append(pr.PressureDbar, p)
		pr.SA = append(pr.SA, s)
		pr.CT = append(pr.CT, t)
	}
	return pr, nil
}

// clean reports whether every level is usable and deeper than the one before: then the columns are used as they are.
func clean(p []float64, notCalibratedUsable bool, pres, salt, heat *section.Column) bool {
	last := negInf
	for i, x := range p {
		if !(x > last) || salt.Values[i] != salt.Values[i] || heat.Values[i] != heat.Values[i] {
			return false
		}
		last = x
	}
	for _, c := range [...]*section.Column{pres, salt, heat} {
		if c == nil {
			continue
		}
		for _, f := range c.Flags {
			if f != metadata.Acceptable && !f.Usable(notCalibratedUsable) {
				return false
			}
		}
	}
	return true
}

func flagUsable(c *section.Column, i int, notCalibrated bool) bool {
	return c == nil || c.Flags == nil || c.Flags[i].Usable(notCalibrated)
}

// A span is a run of usable levels [from, to) of a Profile without a gap.
type span struct{ from, to int }

// spans splits a profile at its gaps.
func spans(p []float64, maxGapDbar *float64) []span {
	if len(p) == 0 {
		return nil
	}
	var out []span
	from := 0
	for _, g := range section.Gaps(p, maxGapDbar) {
		out = append(out, span{from, g.Above + 1})
		from = g.Above + 1
	}
	return append(out, span{from, len(p)})
}
