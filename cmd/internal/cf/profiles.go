package cf

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

var featureTypes = []string{"point", "timeseries", "trajectory", "profile", "timeseriesprofile", "trajectoryprofile"}
var cfRoles = []string{"profile_id", "trajectory_id", "timeseries_id"}

// sampling checks rules 60 to 72: discrete sampling geometries.
func (c *check) sampling() {
	s := c
	feature := strings.ToLower(s.Text("featureType"))
	if c.profile && !slices.Contains(featureTypes, feature) {
		c.fault(60, "", "featureType is %q", s.Text("featureType"))
	} else if c.profile && c.ours && feature != "profile" {
		c.say(60, own, "", "featureType is %q, not profile", s.Text("featureType"))
	}
	roles := c.roles()
	if c.profile && roles == 0 && c.count < 0 && c.index < 0 {
		for i := range s.Vars {
			if c.onGrid(i) {
				c.fault(61, s.Vars[i].Name, "lies on a grid of coordinate variables, and the file has a featureType")
				break
			}
		}
	}
	if !c.profile {
		if c.count >= 0 || c.index >= 0 {
			c.fault(61, "", "a ragged file without featureType")
		} else if roles > 0 {
			c.say(61, should, "", "a variable has cf_role and there is no featureType")
			c.say(64, own, "", "a file without featureType has a cf_role")
		}
		return
	}
	if c.ours && roles == 0 {
		c.say(64, own, "", "no variable has a cf_role")
	}
	c.counts()
	for i := range s.Vars {
		c.sampled(i, feature)
	}
	c.profilesUnderOtherName(feature)
	c.padding()
	for i := range s.Vars {
		if (c.isTime(i) || c.isLat(i) || c.isLon(i)) && slices.Equal(s.Vars[i].Dims, []int{c.inst}) {
			if x, ok := c.get(i); ok {
				for k, y := range x {
					if c.Missing(i, y) {
						c.fault(70, s.Vars[i].Name, "is missing for instance %d", k)
						break
					}
					if v := &s.Vars[i]; v.Attr("scale_factor") == nil && v.Attr("add_offset") == nil &&
						(c.isLat(i) && math.Abs(y) > 90 || c.isLon(i) && math.Abs(y) > 720) {
						c.fault(70, v.Name, "%g of instance %d is no place on the earth", y, k)
						break
					}
				}
			}
		}
	}
}

// profilesUnderOtherName checks rule 60: data that lie along a vertical coordinate while the time has one value for all
// of these levels are profiles (CF 9.2, table 9.1), and a file that calls them trajectories, time series or points is
// wrong.
func (c *check) profilesUnderOtherName(feature string) {
	if feature != "trajectory" && feature != "timeseries" && feature != "point" {
		return
	}
	for i := range c.Vars {
		if !c.isData(i) || c.beside[i] {
			continue
		}
		around := c.coordinatesOf(i)
		for _, z := range around {
			d := c.Vars[z].Axes()
			if !c.isVertical(z) && !c.verticalByName(z) || len(d) == 0 {
				continue
			}
			along := d[len(d)-1]
			timed, level := false, true
			for _, k := range around {
				if c.isTime(k) || c.isLat(k) || c.isLon(k) {
					timed = timed || c.isTime(k)
					level = level && !slices.Contains(c.Vars[k].Axes(), along)
				}
			}
			if timed && level {
				c.fault(60, c.Vars[i].Name,
					"featureType is %q, and the data are profiles: %s changes along %s, time and place do not",
					c.Text("featureType"), c.Vars[z].Name, c.Dims[along].Name)
				return
			}
		}
	}
}

// onGrid says whether data have two dimensions or more with coordinate variables of their own, one of them horizontal:
// no sampling geometry has that.
func (c *check) onGrid(i int) bool {
	if !c.isData(i) {
		return false
	}
	n, across := 0, false
	for _, d := range c.Vars[i].Dims {
		k := c.Var(c.Dims[d].Name)
		if k < 0 || !c.IsCoordinate(k) {
			continue
		}
		n++
		axis := c.Vars[k].Text("axis")
		across = across || c.isLat(k) || c.isLon(k) || axis == "X" || axis == "Y"
	}
	return n > 1 && across
}

func (c *check) roles() int {
	n := 0
	seen := map[string]bool{}
	for i := range c.Vars {
		v := &c.Vars[i]
		if v.Attr("cf_role") == nil {
			continue
		}
		n++
		role := v.Text("cf_role")
		switch {
		case !slices.Contains(cfRoles, role):
			c.fault(64, v.Name, "cf_role is %q", role)
		case seen[role]:
			c.fault(64, v.Name, "a second variable has cf_role %s", role)
		case c.ours && role != "profile_id":
			c.say(64, own, v.Name, "cf_role is %s, not profile_id", role)
		}
		seen[role] = true
		if n > 1 && c.ours {
			c.say(64, own, v.Name, "a second variable has a cf_role")
		}
		c.unique(i)
	}
	return n
}

// unique checks rule 66.
func (c *check) unique(i int) {
	v := &c.Vars[i]
	var words []string
	if v.Type.Numeric() {
		x, ok := c.get(i)
		if !ok {
			return
		}
		for _, y := range x {
			words = append(words, fmt.Sprint(y))
		}
	} else {
		var ok bool
		if words, ok = c.getWords(i); !ok {
			return
		}
	}
	seen := map[string]bool{}
	for _, w := range words {
		if w == "" {
			c.fault(66, v.Name, "an id is empty")
		} else if seen[w] {
			c.fault(66, v.Name, "id %s occurs twice", w)
		}
		seen[w] = true
	}
}

// counts checks rules 67 and 68.
func (c *check) counts() {
	if c.count >= 0 {
		v := &c.Vars[c.count]
		whole := v.Type != nc.Float && v.Type != nc.Double && v.Type.Numeric()
		switch {
		case !whole:
			c.fault(67, v.Name, "a count variable is %s", v.Type)
		case len(v.Dims) != 1:
			c.fault(67, v.Name, "a count variable has %d dimensions", len(v.Dims))
		case c.sample < 0:
			c.fault(67, v.Name, "sample_dimension %q is not in the file", v.Text("sample_dimension"))
		default:
			if x, ok := c.get(c.count); ok {
				sum := 0.0
				for _, n := range x {
					if n < 0 {
						c.fault(67, v.Name, "a count is %g", n)
					}
					sum += n
				}
				if sum != float64(c.Dims[c.sample].Len) {
					c.fault(67, v.Name, "counts add up to %g, dimension %s has %d", sum, c.Dims[c.sample].Name,
						c.Dims[c.sample].Len)
				}
			}
		}
	}
	if c.index < 0 {
		return
	}
	v := &c.Vars[c.index]
	switch {
	case !v.Type.Numeric() || v.Type == nc.Float || v.Type == nc.Double:
		c.fault(68, v.Name, "an index variable is %s", v.Type)
	case len(v.Dims) != 1:
		c.fault(68, v.Name, "an index variable has %d dimensions", len(v.Dims))
	case c.Dim(v.Text("instance_dimension")) < 0: // the ids may have told the instance dimension all the same
		c.fault(68, v.Name, "instance_dimension %q is not in the file", v.Text("instance_dimension"))
	default:
		if x, ok := c.get(c.index); ok {
			for _, n := range x {
				if n < 0 || n >= float64(c.Dims[c.inst].Len) {
					c.fault(68, v.Name, "index %g of %d instances", n, c.Dims[c.inst].Len)
					break
				}
			}
		}
	}
}

// sampled checks rules 62, 63, 71 and 72 of one variable.
func (c *check) sampled(i int, feature string) {
	v := &c.Vars[i]
	for k, d := range v.Dims {
		if k > 0 && slices.Contains(c.Unlimited, d) && c.atLevels(i) {
			c.fault(71, v.Name, "the unlimited dimension %s does not lead", c.Dims[d].Name)
		}
	}
	_, isBounds := c.bounds[i]
	levels := c.atLevels(i)
	data := levels && !c.named[i] && !c.isVertical(i) && i != c.count && i != c.index
	if !c.ours && (c.beside[i] || !v.Type.Numeric()) {
		// flags and text: their places are those of the data that name them
		return
	}
	if data && v.Attr("coordinates") == nil {
		c.fault(63, v.Name, "has no coordinates")
	}
	if data && c.sample >= 0 {
		for _, d := range c.Vars[i].Axes() {
			if d != c.sample {
				c.fault(72, v.Name, "has dimension %s beside the sample dimension", c.Dims[d].Name)
			}
		}
	}
	if isBounds || v.Attr("coordinates") == nil && !data {
		return
	}
	if feature != "profile" || c.named[i] || c.IsCoordinate(i) || !(levels || slices.Contains(v.Dims, c.inst)) {
		return
	}
	around := c.coordinatesOf(i)
	for _, need := range []struct {
		what string
		is   func(int) bool
		want bool
	}{{"time", c.isTime, true}, {"latitude", c.isLat, true}, {"longitude", c.isLon, true},
		{"vertical", c.isVertical, levels && c.levelled(i)}} {
		if need.want && !slices.ContainsFunc(around, need.is) && !need.is(i) {
			c.fault(62, v.Name, "has no %s coordinate", need.what)
		}
	}
}

// levelled says whether a variable lies along the levels of the profiles, not along layers, treatments or the like.
func (c *check) levelled(i int) bool {
	if c.sample >= 0 {
		return true
	}
	for k := range c.Vars {
		if c.isVertical(k) && !slices.Equal(c.Vars[k].Dims, []int{c.inst}) && len(c.Vars[k].Dims) > 0 {
			last := c.Vars[k].Dims[len(c.Vars[k].Dims)-1]
			if _, b := c.bounds[k]; !b && slices.Contains(c.Vars[i].Dims, last) {
				return true
			}
		}
	}
	return !slices.ContainsFunc(c.Vars, func(w nc.Var) bool {
		k := c.Var(w.Name)
		_, b := c.bounds[k]
		return c.isVertical(k) && !b && len(w.Dims) > 0
	})
}

// padding checks rule 69 of an incomplete file.
func (c *check) padding() {
	for k := range c.Vars {
		z := &c.Vars[k]
		if !c.isVertical(k) || len(z.Dims) != 2 || c.IsCoordinate(k) || !c.named[k] {
			continue
		}
		p, ok := c.get(k)
		if !ok {
			continue
		}
		for i := range c.Vars {
			v := &c.Vars[i]
			if i == k || !slices.Equal(v.Dims, z.Dims) || !v.Type.Numeric() || v.Fill == nil {
				continue
			}
			x, ok := c.get(i)
			if !ok {
				continue
			}
			for n := range x {
				if c.Missing(k, p[n]) && !c.Missing(i, x[n]) {
					c.fault(69, v.Name, "has a value where %s has none", z.Name)
					break
				}
			}
			c.Forget(i)
		}
	}
}

// ourOwn checks rules 65 and 73 to 77.
func (c *check) ourOwn() {
	s := c
	c.sectionFile()
	c.sensors()
	c.proposals()
	c.expocodes()
	for i := range s.Vars {
		c.seaValues(i)
		c.Forget(i)
	}
	status := s.Text("release_status")
	if !slices.Contains([]string{"underway", "preliminary", "final"}, status) {
		c.fault(77, "", "release_status is %q", status)
	}
	if status == "final" {
		for _, n := range []string{"product_version", "date_issued"} {
			if s.Text(n) == "" {
				c.fault(77, "", "a final file has no %s", n)
			}
		}
	}
	for name, most := range map[string]float64{"cast_direction": 2, "cast_role": 6} {
		for k, x := range c.NumbersOf(name) {
			if x < 0 || x > most || x != math.Trunc(x) {
				c.fault(77, name, "value %g of instance %d is not a listed one", x, k)
				break
			}
		}
	}
}

func (c *check) sectionFile() {
	s := c
	if !c.profile {
		return
	}
	at := s.Var("section_id")
	if at < 0 {
		if s.Attr("section") != nil || s.Var("pair_id") >= 0 {
			c.fault(65, "", "a section file has no section_id")
		}
		return
	}
	if s.Vars[at].Attr("cf_role") != nil {
		c.fault(65, "section_id", "has a cf_role")
	}
	if len(c.Vars[at].Axes()) != 0 {
		c.fault(65, "section_id", "is not one label")
	}
	for i := range s.Vars {
		v := &s.Vars[i]
		if a := v.Attr("coordinates"); a != nil && !c.named[i] &&
			!slices.Contains(strings.Fields(v.Text("coordinates")), "section_id") {
			c.fault(65, v.Name, "does not name section_id in coordinates")
		}
	}
}

func (c *check) sensors() {
	s := c
	labels := c.WordsOf("system_label")
	for _, name := range []string{"system", "sensor_system"} {
		for k, x := range c.NumbersOf(name) {
			if x < 0 || x >= float64(len(labels)) {
				c.fault(73, name, "value %g of %d is no row of system_label", x, k)
				break
			}
		}
	}
	systems := c.NumbersOf("sensor_system")
	seen := map[string]bool{}
	for k, list := range c.WordsOf("sensor_variable") {
		for _, w := range strings.Fields(list) {
			if _, listed := metadata.ByName(w); s.Var(w) < 0 && !listed {
				c.fault(73, "sensor_variable", "%s is no variable", w)
			}
			key := w
			if k < len(systems) {
				key = fmt.Sprint(systems[k], " ", w)
			}
			if seen[key] {
				c.fault(73, "sensor_variable", "%s has two sensors in one system", w)
			}
			seen[key] = true
		}
	}
	for i := range s.Vars {
		if n := s.Vars[i].Text("instrument"); s.Vars[i].Attr("instrument") != nil && s.Var(n) < 0 {
			c.fault(73, s.Vars[i].Name, "instrument names %q, which is not in the file", n)
		}
	}
}

func (c *check) proposals() {
	s := c
	want := []string{"not_evaluated"}
	for _, f := range []metadata.Flag{metadata.NotCalibrated, metadata.Acceptable, metadata.Questionable, metadata.Bad,
		metadata.NotReported,
		metadata.Interpolated, metadata.Despiked, metadata.NotSampled} {
		want = append(want, f.String())
	}
	for i := range s.Vars {
		v := &s.Vars[i]
		parent, auto := strings.CutSuffix(v.Name, "_flag_auto")
		if !auto {
			if p, ok := strings.CutSuffix(v.Name, "_flag_woce"); ok && s.Var(p) >= 0 && v.Type.Numeric() {
				if f := nc.Floats(v.Attr("flag_values")); !slices.Contains(f, 0) {
					if x, ok := c.get(i); ok && slices.Contains(x, 0) {
						c.fault(74, v.Name, "holds 0 and flag_values does not begin with it")
					}
				}
			}
			continue
		}
		p := s.Var(parent)
		if p < 0 {
			c.fault(74, v.Name, "has no parent %s", parent)
			continue
		}
		if !c.IsCoordinate(p) {
			if !slices.Equal(s.Vars[p].Dims, v.Dims) {
				c.fault(74, v.Name, "has not the shape of %s", parent)
			}
			if !slices.Contains(strings.Fields(s.Vars[p].Text("ancillary_variables")), v.Name) {
				c.fault(74, v.Name, "does not stand in ancillary_variables of %s", parent)
			}
		}
		got := slices.DeleteFunc(strings.Fields(v.Text("flag_meanings")),
			func(w string) bool { return w == metadata.NotUsed.String() })
		if !slices.Equal(got, want) {
			c.fault(74, v.Name, "its set is not the WOCE set with not_evaluated in front")
		}
	}
}

func (c *check) expocodes() {
	s := c
	codes := c.WordsOf("expocode")
	if codes == nil {
		return
	}
	ids := c.WordsOf("profile_id")
	var set []string
	for k, e := range codes {
		if e == "" {
			c.fault(75, "expocode", "is empty for instance %d", k)
			continue
		}
		if k < len(ids) && !strings.HasPrefix(ids[k], e+"_") {
			c.fault(75, "profile_id", "%q does not begin with its expocode %q", ids[k], e)
		}
		if !slices.Contains(set, e) {
			set = append(set, e)
		}
	}
	if got := s.Text("expocode"); got != strings.Join(set, ", ") {
		c.fault(75, "", "global expocode is %q, the casts have %q", got, strings.Join(set, ", "))
	}
}

// seaValues checks rule 76.
func (c *check) seaValues(i int) {
	v := &c.Vars[i]
	if !v.Type.Numeric() {
		return
	}
	_, isBounds := c.bounds[i]
	m, listed := metadata.ByName(v.Name)
	content := v.Text("coverage_content_type")
	sea := content == "physicalMeasurement" || content == "modelResult" || listed &&
		v.Text("standard_name") == m.StandardName && v.Name != "nobs"
	if (sea || isBounds || strings.HasSuffix(v.Name, "_err")) && v.Type != nc.Double {
		c.fault(76, v.Name, "is %s, not double", v.Type)
	}
	if v.Type == nc.Double {
		if x, ok := c.get(i); ok {
			if k := slices.IndexFunc(x, math.IsNaN); k >= 0 {
				c.fault(76, v.Name, "holds NaN at %d", k)
			}
			c.decimals(i, x)
		}
	}
	a := v.Attr("decimals")
	if a == nil {
		return // a measured value may have come from a file of numbers, not text
	}
	if d := nc.Floats(a); len(d) != 1 || d[0] < 0 || d[0] != math.Trunc(d[0]) {
		c.fault(76, v.Name, "decimals is %v", a)
	}
}

// decimals compares values with the decimals that most of them are said to have: a variable of which no value has so
// few states them wrongly.
func (c *check) decimals(i int, x []float64) {
	v := &c.Vars[i]
	d := nc.Floats(v.Attr("decimals"))
	if len(d) != 1 || d[0] < 0 || d[0] > 15 || c.Var("section_id") >= 0 || !c.atLevels(i) {
		return // means of repeated casts, and positions once written in minutes, have others
	}
	scale, more := math.Pow(10, d[0]), 0
	for _, y := range x {
		if c.Missing(i, y) {
			continue
		}
		if n := math.RoundToEven(y * scale); math.Abs(n/scale-y) <= 1e-14*max(math.Abs(y), 1/scale) {
			return
		}
		more++
	}
	if more > 0 {
		c.fault(76, v.Name, "each of %d values has more decimals than %g", more, d[0])
	}
}
