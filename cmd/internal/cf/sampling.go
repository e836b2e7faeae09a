package cf

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

var featureTypes = []string{"point", "timeseries", "trajectory", "profile", "timeseriesprofile", "trajectoryprofile"}

// seriesOfProfiles is the featureType of profiles at one position or several in the order of time (CF 1.11, H.5).
const seriesOfProfiles = "timeseriesprofile"

var cfRoles = []string{"profile_id", "trajectory_id", "timeseries_id"}

// sampling checks rules 60 to 72: discrete sampling geometries.
func (c *check) sampling() {
	text := c.Text("featureType")
	feature := strings.ToLower(text)
	if c.profile && !slices.Contains(featureTypes, feature) {
		c.fault(60, "featureType is %q", text)
	} else if c.profile && feature != "profile" && feature != seriesOfProfiles {
		c.say(own, 60, "featureType is %q, neither profile nor timeSeriesProfile", text)
	}
	roles, ragged := c.roles(), c.count != nil || c.index != nil
	switch {
	case !c.profile && ragged:
		c.fault(61, "a ragged file without featureType")
	case !c.profile && roles > 0:
		c.say(should, 61, "a variable has cf_role and there is no featureType")
		c.say(own, 64, "a file without featureType has a cf_role")
	case c.profile && roles == 0 && !ragged:
		if k := slices.IndexFunc(c.vars, (*variable).onGrid); k >= 0 {
			c.vars[k].fault(61, "lies on a grid of coordinate variables, and the file has a featureType")
		}
	}
	if !c.profile {
		return
	}
	if roles == 0 {
		c.say(own, 64, "no variable has a cf_role")
	}
	if c.count != nil {
		c.counts()
	}
	if c.index != nil {
		c.indices()
	}
	for _, v := range c.vars {
		v.sampled(feature)
		v.onEarth()
	}
	if feature == "trajectory" || feature == "timeseries" || feature == "point" {
		c.profilesUnderOtherName(text)
	}
	c.padding()
}

// onEarth checks rule 70.
func (v *variable) onEarth() {
	if !(v.time || v.lat || v.lon) || !slices.Equal(v.Dims, []int{v.c.inst}) {
		return
	}
	x, _ := v.values()
	for k, y := range x {
		if v.missing(y) {
			v.fault(70, "is missing for instance %d", k)
			return
		}
		if !v.packed && (v.lat && math.Abs(y) > 90 || v.lon && math.Abs(y) > 720) {
			v.fault(70, "%g of instance %d is no place on the earth", y, k)
			return
		}
	}
}

// profilesUnderOtherName checks rule 60: data that lie along a vertical coordinate while the time has one value for all
// of these levels are profiles (CF 9.2, table 9.1), and a file that calls them trajectories, time series or points is
// wrong.
func (c *check) profilesUnderOtherName(feature string) {
	for _, v := range c.vars {
		if !v.isData() || v.beside {
			continue
		}
		around := v.coordinates()
		for _, z := range around {
			if !z.vertical && !z.verticalByName() || len(z.axes) == 0 {
				continue
			}
			along := z.axes[len(z.axes)-1]
			timed, level := false, true
			for _, k := range around {
				timed = timed || k.time
				level = level && !((k.time || k.lat || k.lon) && slices.Contains(k.axes, along))
			}
			if timed && level {
				v.fault(60, "featureType is %q, and the data are profiles: %s changes along %s, time and place do not",
					feature, z.Name, c.dim(along))
				return
			}
		}
	}
}

// onGrid reports whether data have two dimensions or more with coordinate variables of their own, one of them
// horizontal: no sampling geometry has that.
func (v *variable) onGrid() bool {
	n, across := 0, false
	for _, d := range v.Dims {
		if k := v.c.of(d); k != nil {
			n++
			across = across || k.lat || k.lon || k.axis() == "X" || k.axis() == "Y"
		}
	}
	return n > 1 && across && v.isData()
}

// roles checks rules 64 and 66, and returns how many variables have a cf_role.
func (c *check) roles() int {
	n, seen := 0, map[string]bool{}
	series := strings.ToLower(c.Text("featureType")) == seriesOfProfiles
	for _, v := range c.vars {
		if !v.has("cf_role") {
			continue
		}
		n++
		role := v.Text("cf_role")
		switch {
		case !slices.Contains(cfRoles, role):
			v.fault(64, "cf_role is %q", role)
		case seen[role]:
			v.fault(64, "a second variable has cf_role %s", role)
		case role != "profile_id" && !(series && role == "timeseries_id"):
			v.say(own, 64, "cf_role is %s, not profile_id", role)
		}
		seen[role] = true
		if n > 1 && !series {
			v.say(own, 64, "a second variable has a cf_role")
		}
		v.unique()
	}
	if series && !(seen["profile_id"] && seen["timeseries_id"]) {
		c.say(own, 64, "a time series of profiles lacks its timeseries_id or its profile_id")
	}
	return n
}

// unique checks rule 66.
func (v *variable) unique() {
	var ids []string
	if v.number {
		x, _ := v.values()
		for _, y := range x {
			ids = append(ids, fmt.Sprint(y))
		}
	} else {
		ids, _ = v.words()
	}
	seen := map[string]bool{}
	for _, id := range ids {
		if id == "" {
			v.fault(66, "an id is empty")
		} else if seen[id] {
			v.fault(66, "id %s occurs twice", id)
		}
		seen[id] = true
	}
}

// integers returns the values of a count or index variable, or reports that it cannot be one.
func (v *variable) integers(rule int, what, attr string) []float64 {
	switch {
	case !v.Type.Whole():
		v.fault(rule, "%s is %s", what, v.Type)
	case len(v.Dims) != 1:
		v.fault(rule, "%s has %d dimensions", what, len(v.Dims))
	case v.c.Dim(v.Text(attr)) < 0: // the instance dimension may be that of the ids all the same
		v.fault(rule, "%s %q is not in the file", attr, v.Text(attr))
	default:
		x, _ := v.values()
		return x
	}
	return nil
}

// counts checks rule 67.
func (c *check) counts() {
	x := c.count.integers(67, "a count variable", "sample_dimension")
	sum := 0.0
	for _, n := range x {
		if n < 0 {
			c.count.fault(67, "a count is %g", n)
		}
		sum += n
	}
	if x != nil && sum != float64(c.Dims[c.sample].Len) {
		c.count.fault(67, "counts add up to %g, dimension %s has %d", sum, c.dim(c.sample), c.Dims[c.sample].Len)
	}
}

// indices checks rule 68.
func (c *check) indices() {
	for _, n := range c.index.integers(68, "an index variable", "instance_dimension") {
		if n < 0 || n >= float64(c.Dims[c.inst].Len) {
			c.index.fault(68, "index %g of %d instances", n, c.Dims[c.inst].Len)
			return
		}
	}
}

// sampled checks rules 62, 63, 71 and 72.
func (v *variable) sampled(feature string) {
	c, levels := v.c, v.atLevels()
	for k, d := range v.Dims {
		if k > 0 && levels && slices.Contains(c.Unlimited, d) {
			v.fault(71, "the unlimited dimension %s does not lead", c.dim(d))
		}
	}
	if !c.ours && (v.beside || !v.number) {
		return // flags and text: their places are those of the data that name them
	}
	data := levels && !v.named && !v.vertical && v != c.count && v != c.index
	if data && !v.has("coordinates") {
		v.fault(63, "has no coordinates")
	}
	for _, d := range v.axes {
		if data && c.sample >= 0 && d != c.sample {
			v.fault(72, "has dimension %s beside the sample dimension", c.dim(d))
		}
	}
	if feature != "profile" && !(feature == seriesOfProfiles && c.ours) || v.boundsOf != nil || v.named ||
		v.coordinate || !data && !v.has("coordinates") ||
		!levels && !slices.Contains(v.Dims, c.inst) {
		return
	}
	has := map[string]bool{"vertical": !levels || !v.levelled()}
	for _, k := range append(v.coordinates(), v) {
		place := feature == "profile" || !slices.Contains(k.Dims, c.inst) // a series has one, beside those of its casts
		has["time"], has["latitude"] = has["time"] || k.time, has["latitude"] || k.lat && place
		has["longitude"], has["vertical"] = has["longitude"] || k.lon && place, has["vertical"] || k.vertical
	}
	for _, need := range []string{"time", "latitude", "longitude", "vertical"} {
		if !has[need] {
			v.fault(62, "has no %s coordinate", need)
		}
	}
}

// levelled reports whether a variable lies along the levels of the profiles, not along layers, treatments or the like.
func (v *variable) levelled() bool {
	if v.c.sample >= 0 {
		return true
	}
	any := false
	for _, k := range v.c.vars {
		if n := len(k.Dims); k.vertical && k.boundsOf == nil && n > 0 {
			any = true
			if !slices.Equal(k.Dims, []int{v.c.inst}) && slices.Contains(v.Dims, k.Dims[n-1]) {
				return true
			}
		}
	}
	return !any
}

// padding checks rule 69 of an incomplete file.
func (c *check) padding() {
	for _, z := range c.vars {
		if !z.vertical || len(z.Dims) != 2 || z.coordinate || !z.named {
			continue
		}
		p, ok := z.values()
		for _, v := range c.vars {
			if !ok || v == z || !slices.Equal(v.Dims, z.Dims) || !v.number || v.Fill == nil {
				continue
			}
			x, _ := v.values()
			for n := range x {
				if z.missing(p[n]) && !v.missing(x[n]) {
					v.fault(69, "has a value where %s has none", z.Name)
					break
				}
			}
			c.Forget(v.i)
		}
	}
}
