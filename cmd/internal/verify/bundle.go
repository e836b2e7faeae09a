package verify

import (
	"bytes"
	"context"
	"math"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// castNC returns the name of the file of all casts.
func (a *archive) castNC() string { return append(a.with("data/casts/", "_ctd.nc"), "")[0] }

// allCasts returns the casts in NetCDF, read once; nil when no verified checksum covers the file or it cannot be read.
func (a *archive) allCasts() *ncprofile.Collection {
	rel := a.castNC()
	f := a.open(rel)
	if a.casts != nil || f == nil {
		return a.casts
	}
	c, err := ncprofile.ReadCasts(f)
	if err != nil {
		a.fault("netcdf.read", rel, "", "casts cannot be read back: %v", err)
	}
	a.casts = c
	return c
}

// bundles compares the bundles of exchange files with the casts in NetCDF.
func (a *archive) bundles(ctx context.Context) error {
	for _, rel := range a.with("data/casts/", "_ct1.zip") {
		if err := ctx.Err(); err != nil {
			return err
		}
		if data, err := regular.ReadFile(a.path(rel)); err == nil && a.trust[rel] {
			casts := map[string]*section.Cast{}
			var order []string
			checkBundle(bytes.NewReader(data), int64(len(data)), rel, func(member string, c *section.Cast) {
				casts[member] = c
				order = append(order, member)
			})
			a.bundle(rel, casts, order)
		}
	}
	return nil
}

// bundle compares a bundle of exchange files with the casts in NetCDF: the same casts, values and flags.
func (a *archive) bundle(rel string, members map[string]*section.Cast, order []string) {
	all := a.allCasts()
	if all == nil {
		return
	}
	var want []string
	for i, c := range all.Casts {
		if c.Expocode == strings.TrimSuffix(path.Base(rel), "_ct1.zip") {
			want = append(want, all.IDs[i]+"_ct1.csv")
		}
	}
	same := true
	for _, n := range want {
		if members[n] == nil {
			a.fault("table.bundle", rel, "", "has no readable member %s, a cast of %s", n, path.Base(a.castNC()))
			same = false
		}
	}
	for _, n := range order {
		if !slices.Contains(want, n) {
			a.fault("table.bundle", rel, "", "member %s is no cast of %s", n, path.Base(a.castNC()))
			same = false
		}
		if c := all.Cast(strings.TrimSuffix(n, "_ct1.csv")); c != nil {
			compareCast(func(v, format string, args ...any) { a.fault("table.bundle", rel+"/"+n, v, format, args...) },
				members[n], c)
		}
	}
	if same && !slices.Equal(order, want) {
		a.fault("table.bundle", rel, "", "members are not in the order of the casts")
	}
}

// equalNumber reports whether a number of an exchange file is that in NetCDF, which has numbers read from text as they
// were.
func equalNumber(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// compareHead compares the name, place, time and depth of a cast with those of the same in NetCDF, times to a
// resolution.
func compareHead(say sayer, x, c *section.Cast, resolution time.Duration) {
	if !sameCast(x, c) {
		say("", "is cast %s, in NetCDF %s", x.ID(), c.ID())
	}
	if !x.Time.Equal(c.Time.Truncate(resolution)) {
		say("time", "%s, in NetCDF %s", export.CastTime(x), export.CastTime(c))
	}
	if !equalNumber(x.At[0], c.At[0]) || !equalNumber(x.At[1], c.At[1]) {
		say("lat", "position %v %v, in NetCDF %v %v", x.At[1], x.At[0], c.At[1], c.At[0])
	}
	if !equalNumber(x.BottomM, c.BottomM) {
		say("bottom_depth", "%v m, in NetCDF %v m", x.BottomM, c.BottomM)
	}
}

// compareCast compares a cast of an exchange file with the same in NetCDF.
func compareCast(say sayer, x, c *section.Cast) {
	compareHead(say, x, c, time.Minute)
	at, k := make([][]int, x.Levels()), 0 // the place in c of each level of x
	for i, p := range x.PressureDbar {
		for k < c.Levels() && c.PressureDbar[k] < p {
			k++
		}
		if k < c.Levels() && equalNumber(p, c.PressureDbar[k]) {
			at[i] = []int{k}
			k++
			continue
		}
		// NetCDF does not have a level of which nothing is there but the pressure.
		if slices.ContainsFunc(x.Columns, func(col section.Column) bool {
			return col.Name != "pres" && col.Values != nil && !math.IsNaN(col.Values[i])
		}) {
			say("pres", "level of %g dbar is not in NetCDF", p)
			return
		}
	}
	for i := range x.Columns {
		col := &x.Columns[i]
		if col.Values == nil {
			continue // text
		}
		if o := sameColumn(col, c); o != nil {
			compareColumn(say, col, o, at, x.PressureDbar)
		}
	}
}

// sameColumn returns the column of a cast in NetCDF that has the quantity of a column of an exchange file; nil when it
// has another name there. NetCDF may name a column otherwise since other casts have it too.
func sameColumn(col *section.Column, c *section.Cast) *section.Column {
	o := c.Column(col.Name)
	if _, listed := metadata.ByName(col.Name); listed && o != nil || col.Exchange == "" {
		return o
	}
	for j := range c.Columns {
		if k := &c.Columns[j]; k.Exchange == col.Exchange && k.ExchangeUnit == col.ExchangeUnit &&
			(o == nil || o.Exchange != k.Exchange || k.HasValue()) {
			o = k
		}
	}
	return o
}

// compareColumn reports the first level at which a column is not that in NetCDF. at has, for each level, those there
// that may be the same.
func compareColumn(say sayer, col, o *section.Column, at [][]int, p []float64) {
	flag := func(k *section.Column, level int) metadata.Flag {
		if k.Flags == nil {
			return metadata.NotEvaluated
		}
		return k.Flags[level]
	}
	for j, levels := range at {
		v, f := col.Values[j], flag(col, j)
		value, flagged := len(levels) == 0, len(levels) == 0
		for _, k := range levels {
			if g := flag(o, k); equalNumber(v, o.Values[k]) {
				value = true
				flagged = flagged || f == g || math.IsNaN(v) && min(f, g) == metadata.NotEvaluated
			}
		}
		switch {
		case !value:
			say(o.Name, "%g at %g dbar, in NetCDF %g", v, p[j], o.Values[levels[0]])
			return
		case !flagged:
			say(o.Name, "flag %d at %g dbar, in NetCDF %d", f, p[j], flag(o, levels[0]))
			return
		}
	}
}
