package cf

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// own checks rules 74 and 76 of a variable.
func (v *variable) own() {
	v.proposals()
	v.ofTheSea()
}

// own checks rules 65, 73, 75 and 77, which castwright has for its own files.
func (c *check) own() {
	c.labelled()
	c.sensors()
	c.expocodes()
	status := c.Text("release_status")
	if !slices.Contains([]string{"underway", "preliminary", "final"}, status) {
		c.fault(77, "release_status is %q", status)
	}
	for _, n := range []string{"product_version", "date_issued"} {
		if status == "final" && c.Text(n) == "" {
			c.fault(77, "a final file has no %s", n)
		}
	}
	c.listed(77, "cast_direction", 3, "not a listed one")
	c.listed(77, "cast_role", 8, "not a listed one")
}

// listed checks that the values of a variable are whole numbers from 0 to n - 1.
func (c *check) listed(rule int, name string, n int, otherwise string) {
	v := c.find(name)
	if v == nil || !v.number {
		return
	}
	x, _ := v.values()
	for k, y := range x {
		if y < 0 || y >= float64(n) || y != math.Trunc(y) {
			v.fault(rule, "value %g at index %d is %s", y, k, otherwise)
			return
		}
	}
}

// labelled checks rule 65: the files of a section have one section_id, a plain label; that of a time series one
// series_id, its cf_role.
func (c *check) labelled() {
	if !c.profile {
		return
	}
	series := strings.ToLower(c.Text("featureType")) == seriesOfProfiles
	name, attr := "section_id", "section"
	if series {
		name, attr = "series_id", "time_series"
	}
	id := c.find(name)
	if id == nil {
		if series || c.Attr(attr) != nil || c.find("pair_id") != nil {
			c.fault(65, "a file of a section or time series has no %s", name)
		}
		return
	}
	if id.has("cf_role") != series {
		id.fault(65, "has a cf_role, or lacks it")
	}
	if len(id.axes) != 0 {
		id.fault(65, "is not one label")
	}
	for _, v := range c.vars {
		if v.has("coordinates") && !v.named && !slices.Contains(v.list("coordinates"), name) {
			v.fault(65, "does not name %s in coordinates", name)
		}
	}
}

// sensors checks rule 73.
func (c *check) sensors() {
	for _, name := range []string{"system", "sensor_system"} {
		c.listed(73, name, len(c.WordsOf("system_label")), "no row of system_label")
	}
	systems := c.NumbersOf("sensor_system")
	seen := map[string]bool{}
	for k, list := range c.WordsOf("sensor_variable") {
		v := c.find("sensor_variable")
		for _, w := range strings.Fields(list) {
			if _, listed := metadata.ByName(w); c.find(w) == nil && !listed {
				v.fault(73, "%s is no variable", w)
			}
			key := w
			if k < len(systems) {
				key = fmt.Sprint(systems[k], " ", w)
			}
			if seen[key] {
				v.fault(73, "%s has two sensors in one system", w)
			}
			seen[key] = true
		}
	}
	for _, v := range c.vars {
		if n := v.Text("instrument"); v.has("instrument") && c.find(n) == nil {
			v.fault(73, "instrument names %q, which is not in the file", n)
		}
	}
}

// proposals checks rule 74.
func (v *variable) proposals() {
	if p, ok := strings.CutSuffix(v.Name, "_flag_woce"); ok && v.c.find(p) != nil && v.number &&
		!slices.Contains(v.Floats("flag_values"), 0) {
		if x, _ := v.values(); slices.Contains(x, 0) {
			v.fault(74, "holds 0 and flag_values does not begin with it")
		}
	}
	name, ok := strings.CutSuffix(v.Name, "_flag_auto")
	if !ok {
		return
	}
	p := v.c.find(name)
	if p == nil {
		v.fault(74, "has no parent %s", name)
		return
	}
	if !p.coordinate {
		if !slices.Equal(p.Dims, v.Dims) {
			v.fault(74, "does not have the shape of %s", name)
		}
		if !slices.Contains(p.list("ancillary_variables"), v.Name) {
			v.fault(74, "is not in ancillary_variables of %s", name)
		}
	}
	var want []string
	for f := metadata.NotEvaluated; f <= metadata.NotSampled; f++ {
		if f != metadata.NotUsed {
			want = append(want, f.String())
		}
	}
	if !slices.Equal(slices.DeleteFunc(v.list("flag_meanings"), func(w string) bool {
		return w == metadata.NotUsed.String()
	}), want) {
		v.fault(74, "its set is not the WOCE set with not_evaluated in front")
	}
}

// expocodes checks rule 75.
func (c *check) expocodes() {
	ids := c.WordsOf("profile_id")
	var set []string
	for k, e := range c.WordsOf("expocode") {
		if e == "" {
			c.find("expocode").fault(75, "is empty for instance %d", k)
			continue
		}
		if k < len(ids) && !strings.HasPrefix(ids[k], e+"_") {
			c.find("profile_id").fault(75, "%q does not begin with its expocode %q", ids[k], e)
		}
		if !slices.Contains(set, e) {
			set = append(set, e)
		}
	}
	want := strings.Join(set, ", ")
	if got := c.Text("expocode"); c.find("expocode") != nil && got != want {
		c.fault(75, "global expocode is %q, the casts have %q", got, want)
	}
}

// ofTheSea checks rule 76.
func (v *variable) ofTheSea() {
	if !v.number {
		return
	}
	m, listed := metadata.ByName(v.Name)
	content := v.Text("coverage_content_type")
	sea := content == "physicalMeasurement" || content == "modelResult" ||
		listed && v.standardName() == m.StandardName && v.Name != "nobs"
	if (sea || v.boundsOf != nil || strings.HasSuffix(v.Name, "_err")) && v.Type != nc.Double {
		v.fault(76, "is %s, not double", v.Type)
	}
	x := []float64{}
	if v.Type == nc.Double {
		x, _ = v.values()
	}
	if k := slices.IndexFunc(x, math.IsNaN); k >= 0 {
		v.fault(76, "holds NaN at %d", k)
	}
	if !v.has("decimals") {
		return // a measured value may have come from a file of numbers, not text
	}
	d := v.Floats("decimals")
	if len(d) != 1 || d[0] < 0 || d[0] != math.Trunc(d[0]) {
		v.fault(76, "decimals is %v", v.Attr("decimals"))
	} else if d[0] <= 15 && v.c.find("section_id") == nil && v.atLevels() {
		// means of repeated casts, and positions once written in minutes, have others
		v.decimals(x, d[0])
	}
}

// decimals compares values with the decimals that most of them have by the attribute: it is wrong where no value has so
// few.
func (v *variable) decimals(x []float64, d float64) {
	scale, more := math.Pow(10, d), 0
	for _, y := range x {
		if v.missing(y) {
			continue
		}
		if math.Abs(math.RoundToEven(y*scale)/scale-y) <= 1e-14*max(math.Abs(y), 1/scale) {
			return
		}
		more++
	}
	if more > 0 {
		v.fault(76, "each of %d values has more decimals than %g", more, d)
	}
}
