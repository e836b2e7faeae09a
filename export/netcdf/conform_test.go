//go:build cgo

package netcdf

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/castwright/castwright/internal/nc"
	"golang.org/x/text/unicode/norm"
)

var (
	nameForm   = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]*$`)
	wordForm   = regexp.MustCompile(`^[A-Za-z0-9_.+@-]+$`)
	methodForm = regexp.MustCompile(
		`^(([a-z_0-9]+: )+(point|sum|mean|median|mode|range|maximum|minimum|mid_range|standard_deviation|variance)( \([^)]*\))?)( |$)`)
)

// read is a file read back whole.
type read struct {
	s      *nc.Schema
	number map[string][]float64
	words  map[string][]string
}

func readBack(t *testing.T, path string) *read {
	t.Helper()
	r, err := nc.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	out := &read{s: r.Schema(), number: map[string][]float64{}, words: map[string][]string{}}
	for i := range out.s.Vars {
		v := &out.s.Vars[i]
		if v.Type == nc.Char {
			if out.words[v.Name], err = r.ReadText(i); err != nil {
				t.Fatal(err)
			}
			continue
		}
		x := make([]float64, out.s.Len(i))
		if err := r.ReadFloat64(i, nil, nil, x); err != nil {
			t.Fatal(err)
		}
		out.number[v.Name] = x
	}
	return out
}

func (r *read) v(t *testing.T, name string) *nc.Var {
	t.Helper()
	i := r.s.Var(name)
	if i < 0 {
		t.Fatalf("no variable %s", name)
	}
	return &r.s.Vars[i]
}

func (r *read) dims(v *nc.Var) []string {
	out := make([]string, len(v.Dims))
	for i, d := range v.Dims {
		out[i] = r.s.Dims[d].Name
	}
	return out
}

// conform holds a file to the numbered rules of the CF checklist (CF Conventions 1.11 to 1.13 and conformance
// documents; the numbers are those of the project's working notes) that can be seen in a file by itself.
func conform(t *testing.T, path string) *read {
	t.Helper()
	r := readBack(t, path)
	s := r.s
	fail := func(rule int, format string, args ...any) {
		t.Helper()
		t.Errorf("%s: rule %d: %s", path, rule, fmt.Sprintf(format, args...))
	}
	profile := s.Text("featureType") == "profile"
	isBounds, isCoordinate, isAuxiliary := map[string]bool{}, map[string]bool{}, map[string]bool{}
	lower := map[string]string{}
	for i := range s.Vars {
		v := &s.Vars[i]
		if b := v.Text("bounds"); b != "" {
			isBounds[b] = true
		}
		for _, c := range strings.Fields(v.Text("coordinates")) {
			isAuxiliary[c] = true
		}
		isCoordinate[v.Name] = len(v.Dims) == 1 && s.Dims[v.Dims[0]].Name == v.Name
		if other, ok := lower[strings.ToLower(v.Name)]; ok {
			fail(4, "%s and %s differ by case only", v.Name, other)
		}
		lower[strings.ToLower(v.Name)] = v.Name
		if !nameForm.MatchString(v.Name) {
			fail(4, "name %q", v.Name)
		}
	}
	if !strings.HasSuffix(path, ".nc") {
		fail(1, "name")
	}
	textOK := func(where, text string) {
		if !utf8.ValidString(text) || !norm.NFC.IsNormalString(text) {
			fail(2, "%s is not UTF-8 in NFC", where)
		}
	}
	for _, a := range s.Attrs {
		if text, ok := a.Value.(string); ok {
			textOK(a.Name, text)
		}
	}
	for _, n := range []string{"title", "history", "institution", "source", "references", "comment", "Conventions",
		"summary", "id", "expocode"} {
		if v := s.Attr(n); v != nil {
			if _, ok := v.(string); !ok {
				fail(12, "%s is no string", n)
			}
		} else if n == "title" || n == "history" || n == "source" || n == "summary" || n == "id" {
			t.Errorf("%s: no global %s", path, n)
		}
	}
	if !slices.Contains(strings.Fields(s.Text("Conventions")), "CF-1.11") {
		fail(11, "Conventions %q", s.Text("Conventions"))
	}
	for _, line := range strings.Split(s.Text("history"), "\n") {
		if !regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ \S`).MatchString(line) {
			t.Errorf("%s: history line %q", path, line)
		}
	}
	cfRoles, sectionIDs := 0, 0
	for i := range s.Vars {
		v := &s.Vars[i]
		values := r.number[v.Name]
		isData := !isBounds[v.Name] && !isCoordinate[v.Name] && !isAuxiliary[v.Name]
		for _, a := range v.Attrs {
			if text, ok := a.Value.(string); ok {
				textOK(v.Name+":"+a.Name, text)
				if text == "" {
					t.Errorf("%s: %s:%s is empty", path, v.Name, a.Name)
				}
			}
		}
		for _, w := range r.words[v.Name] {
			textOK(v.Name, w)
		}
		names := r.dims(v)
		for k, n := range names {
			if slices.Contains(names[:k], n) {
				fail(5, "%s has dimension %s twice", v.Name, n)
			}
		}
		for _, x := range values {
			if math.IsNaN(x) {
				t.Errorf("%s: NaN in %s", path, v.Name)
				break
			}
		}
		content := v.Text("coverage_content_type")
		if s.Dim("profile") < 0 && v.Type == nc.Double && content != "coordinate" &&
			content != "referenceInformation" &&
			v.Text("comment") == "" && v.Text("references") == "" && !isBounds[v.Name] && !isAuxiliary[v.Name] {
			t.Errorf("%s: %s is derived and has neither comment nor references", path, v.Name)
		}
		if isBounds[v.Name] {
			if len(v.Attrs) > 0 || v.Fill != nil {
				fail(44, "%s has attributes", v.Name)
			}
			continue
		}
		if v.Text("long_name") == "" {
			fail(19, "%s has no long_name", v.Name)
		}
		units := v.Text("units")
		if v.Type == nc.Double && units == "" && v.Text("comment") == "" {
			fail(13, "%s has neither units nor a word about them", v.Name)
		}
		if slices.Contains([]string{"PSU", "psu", "NTU", "FNU", "Sv", "dyn m", "gpm", "dynamic meter"}, units) {
			fail(13, "units %s", units)
		}
		meta := v.Text("units_metadata")
		temperature := units == "degC" || units == "K"
		difference := strings.HasSuffix(v.Text("standard_name"), " standard_error")
		switch {
		case temperature && difference && meta != "temperature: difference":
			fail(17, "%s", v.Name)
		case temperature && !difference && meta == "":
			fail(18, "%s", v.Name)
		case !temperature && meta != "":
			fail(16, "%s", v.Name)
		}
		shape := v.Dims
		if v.Type == nc.Char && len(shape) > 0 {
			shape = shape[:len(shape)-1]
		}
		for _, n := range strings.Fields(v.Text("ancillary_variables")) {
			k := s.Var(n)
			if k < 0 {
				fail(21, "%s names %s", v.Name, n)
				continue
			}
			for _, d := range s.Vars[k].Dims {
				if !slices.Contains(v.Dims, d) {
					fail(21, "%s has a dimension that its parent %s has not", n, v.Name)
				}
			}
		}
		for _, n := range strings.Fields(v.Text("coordinates")) {
			k := s.Var(n)
			if k < 0 {
				fail(34, "%s names %s", v.Name, n)
				continue
			}
			dims := s.Vars[k].Dims
			if s.Vars[k].Type == nc.Char {
				dims = dims[:len(dims)-1]
			}
			for _, d := range dims {
				if !slices.Contains(shape, d) && s.Var("row_size") < 0 {
					fail(35, "coordinate %s of %s", n, v.Name)
				}
			}
		}
		flagValues, stored := []float64(nil), map[float64]bool{}
		if v.Attr("flag_values") != nil {
			for _, x := range values {
				stored[x] = true
			}
		}
		switch f := v.Attr("flag_values").(type) {
		case []int8:
			if v.Type != nc.Byte {
				fail(22, "%s: type of flag_values", v.Name)
			}
			for _, x := range f {
				flagValues = append(flagValues, float64(x))
			}
		case []int32:
			if v.Type != nc.Int {
				fail(22, "%s: type of flag_values", v.Name)
			}
			for _, x := range f {
				flagValues = append(flagValues, float64(x))
			}
		}
		if words := strings.Fields(v.Text("flag_meanings")); len(words) != len(flagValues) {
			fail(22, "%s: %d meanings of %d values", v.Name, len(words), len(flagValues))
		} else {
			for k, w := range words {
				if !wordForm.MatchString(w) {
					fail(22, "%s: word %q", v.Name, w)
				}
				if slices.Contains(words[:k], w) || slices.Contains(flagValues[:k], flagValues[k]) {
					fail(23, "%s: %s twice", v.Name, w)
				}
			}
		}
		if flagValues != nil {
			if v.Fill != nil {
				t.Errorf("%s: flag variable %s has a _FillValue", path, v.Name)
			}
			for x := range stored {
				if !slices.Contains(flagValues, x) {
					fail(23, "%s holds %g", v.Name, x)
				}
			}
		}
		switch axis := v.Text("axis"); {
		case axis == "":
		case !profile && !isCoordinate[v.Name]:
			fail(27, "%s", v.Name)
		case axis == "X" && units != "degrees_east" && profile, axis == "Y" && units != "degrees_north", axis == "T" &&
			!strings.Contains(units, " since "),
			axis == "Z" && v.Text("positive") != "down":
			fail(25, "%s", v.Name)
		}
		if v.Text("standard_name") == "time" && (v.Text("calendar") != "standard" ||
			units != "seconds since 1970-01-01 00:00:00Z") {
			fail(31, "%s", v.Name)
		}
		if isCoordinate[v.Name] {
			if v.Fill != nil || v.Type == nc.Char {
				fail(33, "%s", v.Name)
			}
			for k := 1; k < len(values); k++ {
				if values[k] <= values[k-1] {
					fail(33, "%s does not increase at %d", v.Name, k)
					break
				}
			}
		} else if len(v.Dims) > 1 && slices.Contains(names, v.Name) {
			fail(36, "%s", v.Name)
		} else if len(v.Dims) == 0 && s.Dim(v.Name) >= 0 {
			fail(37, "%s", v.Name)
		}
		if b := v.Text("bounds"); b != "" {
			r.checkBounds(fail, v, b)
		}
		if m := v.Text("cell_methods"); m != "" {
			parts := methodForm.FindStringSubmatch(m)
			if parts == nil || parts[0] != m {
				fail(46, "%s: %q", v.Name, m)
			} else {
				for _, n := range strings.Split(strings.TrimSuffix(parts[1][:strings.LastIndex(parts[1], ": ")], ":"),
					": ") {
					if s.Dim(n) < 0 && n != "sea_water_pressure" {
						fail(47, "%s: %q", v.Name, m)
					}
				}
			}
		}
		if v.Text("cf_role") != "" {
			cfRoles++
			ids := slices.Clone(r.words[v.Name])
			slices.Sort(ids)
			if v.Text("cf_role") != "profile_id" || len(slices.Compact(ids)) != s.Dims[v.Dims[0]].Len ||
				slices.Contains(ids, "") {
				fail(66, "%s", v.Name)
			}
		}
		if v.Name == "section_id" {
			sectionIDs++
		}
		if content := v.Text("coverage_content_type"); content == "physicalMeasurement" || content == "modelResult" {
			if v.Type != nc.Double {
				fail(76, "%s is %s", v.Name, v.Type)
			}
			if v.Fill != fillValue {
				t.Errorf("%s: %s has _FillValue %v", path, v.Name, v.Fill)
			}
		}
		if profile && isData && slices.ContainsFunc(names, func(n string) bool { return n == "pres" || n == "obs" }) {
			c := strings.Fields(v.Text("coordinates"))
			if v.Name == "pres" {
				continue
			}
			for _, n := range []string{"time", "lat", "lon"} {
				if !slices.Contains(c, n) {
					fail(62, "%s lacks %s", v.Name, n)
				}
			}
			if slices.Contains(names, "obs") && (!slices.Contains(c, "pres") || shape[0] != s.Dim("obs") ||
				len(shape) != 1) {
				fail(72, "%s", v.Name)
			}
			if s.Var("section_id") >= 0 && !slices.Contains(c, "section_id") {
				fail(65, "%s", v.Name)
			}
		}
		if strings.HasSuffix(v.Name, "_flag_auto") {
			parent := r.s.Var(strings.TrimSuffix(v.Name, "_flag_auto"))
			if parent < 0 || flagValues[0] != 0 {
				fail(74, "%s", v.Name)
			} else if p := &s.Vars[parent]; p.Name != "pres" &&
				(!slices.Equal(p.Dims, v.Dims) || !slices.Contains(strings.Fields(p.Text("ancillary_variables")),
					v.Name)) {
				fail(74, "%s", v.Name)
			}
		}
	}
	if profile != (cfRoles == 1) || (!profile && (cfRoles != 0 || s.Attr("featureType") != nil)) {
		fail(64, "%d variables with a cf_role in a file of featureType %q", cfRoles, s.Text("featureType"))
	}
	r.checkInstances(fail, profile)
	if !slices.Contains([]string{"underway", "preliminary", "final"}, s.Text("release_status")) {
		fail(77, "release_status %q", s.Text("release_status"))
	}
	return r
}

func (r *read) checkBounds(fail func(int, string, ...any), v *nc.Var, name string) {
	i := r.s.Var(name)
	if i < 0 || len(r.s.Vars[i].Dims) != len(v.Dims)+1 || r.s.Shape(i)[len(v.Dims)] != 2 ||
		!slices.Equal(r.s.Vars[i].Dims[:len(v.Dims)], v.Dims) {
		fail(41, "%s:bounds = %s", v.Name, name)
		return
	}
	x, b := r.number[v.Name], r.number[name]
	for k := range x {
		lo, hi := b[2*k], b[2*k+1]
		if !(lo <= x[k] && x[k] <= hi) {
			fail(45, "%s[%d] = %g lies outside [%g, %g]", v.Name, k, x[k], lo, hi)
			return
		}
		if k > 0 && math.Abs(b[2*k-1]-lo) < 1e-6 && b[2*k-1] != lo {
			fail(45, "edge between %s[%d] and the next is two numbers, %g apart", v.Name, k-1, b[2*k-1]-lo)
			return
		}
	}
}

func (r *read) checkInstances(fail func(int, string, ...any), profile bool) {
	s := r.s
	if k := s.Var("row_size"); k >= 0 {
		sum := 0.0
		for _, n := range r.number["row_size"] {
			sum += n
		}
		if d := s.Dim(s.Vars[k].Text("sample_dimension")); d < 0 || float64(s.Dims[d].Len) != sum {
			fail(67, "row_size sums to %g", sum)
		}
	}
	if ids := r.words["profile_id"]; profile && ids != nil && r.words["expocode"] != nil {
		var set []string
		for i, e := range r.words["expocode"] {
			if e == "" || !strings.HasPrefix(ids[i], e) {
				fail(75, "expocode %q of %q", e, ids[i])
			}
			if !slices.Contains(set, e) {
				set = append(set, e)
			}
		}
		if strings.Join(set, ", ") != s.Text("expocode") {
			fail(75, "global expocode %q", s.Text("expocode"))
		}
	}
	if k := s.Var("system"); k >= 0 {
		labels := r.words["system_label"]
		for _, n := range append(slices.Clone(r.number["system"]), r.number["sensor_system"]...) {
			if n < 0 || int(n) >= len(labels) {
				fail(73, "system %g", n)
			}
		}
		seen := map[string]bool{}
		for i, words := range r.words["sensor_variable"] {
			for _, w := range strings.Fields(words) {
				key := fmt.Sprint(r.number["sensor_system"][i], w)
				if s.Var(w) < 0 || seen[key] {
					fail(73, "sensor_variable %q", words)
				}
				seen[key] = true
			}
		}
	}
	for i := range s.Vars {
		if n := s.Vars[i].Text("instrument"); n != "" && s.Var(n) < 0 {
			fail(73, "instrument %q", n)
		}
	}
}
