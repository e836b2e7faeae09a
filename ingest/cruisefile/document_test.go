package cruisefile

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

func TestDocumentation(t *testing.T) {
	golden.Check(t, "documentation.txt", []byte(Documentation()))
	for i, line := range strings.Split(Documentation(), "\n") {
		if strings.HasPrefix(line, "  ") && len([]rune(line)) > 150 {
			t.Errorf("line %d has %d characters", i+1, len(line))
		}
	}
}

func TestDocumentationExampleIsAccepted(t *testing.T) {
	c, _, err := Read([]byte(documentationExample), "example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Sections) != 2 || c.Sections[1].Velocity.Reference.PressureDbar != 800 {
		t.Errorf("%+v", c.Sections)
	}
	if n := strings.Count(documentationExample, "\n"); n > 24 {
		t.Errorf("a complete file has %d lines: more than a screen of 24", n)
	}
}

// The layout of the documentation reads the file that it is shown with.
func TestDocumentationLayoutReadsItsFile(t *testing.T) {
	yaml := "cruise: {id: a}\ncasts:\n  sources: a\n  " + strings.ReplaceAll(documentationLayoutExample, "\n", "\n  ") +
		"\n"
	c, _, err := Read([]byte(yaml), "example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(documentationLayouts, "Of the file\n")
	file, _, _ := strings.Cut(rest, "the layout is\n")
	casts, found, err := ingest.ParseLayout([]byte(strings.ReplaceAll(file, "\n  ", "\n")), "a.txt",
		&c.Casts.Layouts[0], ingest.Options{Legs: []ingest.Leg{{Expocode: "ZZSD20260812"}}})
	if err != nil || len(casts) != 1 {
		t.Fatalf("%v %v", err, found)
	}
	k := &casts[0]
	if k.Station != "21" || k.At != (orb.Point{-10.25, 54.5}) ||
		k.Time.Format("2006-01-02 15:04") != "2026-08-14 06:30" || len(k.Columns) != 4 {
		t.Errorf("%+v", k)
	}
	// The conductivity is that of salinity 34.1480 at this temperature and pressure (PSS-78), written with 4 decimals.
	if s := k.Column("psal"); s == nil || math.Abs(s.Values[0]-34.148) > 1.1e-4 || len(s.Flags) != 1 ||
		s.Flags[0] != metadata.Acceptable {
		t.Errorf("%+v", s)
	}
}

// compose writes the smallest file in which the key at the end of path has its example: required keys are added at each
// level.
func compose(path []*about) string {
	var inside func(keys []about, rest []*about) string
	inside = func(keys []about, rest []*about) string {
		var parts []string
		for i := range keys {
			k := &keys[i]
			switch {
			case k == rest[0] && len(rest) > 1:
				v := inside(k.Keys(), rest[1:])
				if k.List {
					v = "[" + v + "]"
				}
				parts = append(parts, k.Key+": "+v)
			case k == rest[0]:
				parts = append(parts, k.Key+": "+k.Example)
			case k.Required:
				parts = append(parts, k.Key+": "+k.Example)
			}
		}
		// Keys of which exactly one is wanted need a partner.
		if k := rest[0].Key; len(keys) > 0 {
			switch {
			case keys[0].Key == "cast" && k != "cast" && k != "file":
				parts = append(parts, "cast: 6/2")
			case keys[0].Key == "from" && k != "from" && k != "file":
				parts = append(parts, "from: 6/2")
			case keys[0].Key == "column" && k == "from":
				parts = append(parts, "to: 8")
			case keys[0].Key == "column" && k == "to":
				parts = append(parts, "from: 1")
			case keys[0].Key == "column" && !rest[0].Choice:
				parts = append(parts, "column: X")
			case keys[0].Key == "stations" && len(keys) == 4 && (k == "stations" || k == "of"):
				parts = append(parts, "zone: UTC")
			}
		}
		return "{" + strings.Join(parts, ", ") + "}"
	}
	file := inside(cruiseForm.keys(), path) + "\n"
	if last := path[len(path)-1].Key; strings.Contains(file, "layouts: ") && (last == "from" || last == "to") {
		return strings.NewReplacer("name: text, ", "name: text, format: fixed, ", "column: X",
			"from: 1, to: 4").Replace(file)
	}
	return file
}

// Every documented key is accepted with its example, and the example changes what is decoded or is the default.
func TestEveryDocumentedKeyIsAccepted(t *testing.T) {
	n := 0
	var walk func(keys []about, path []*about)
	walk = func(keys []about, path []*about) {
		for i := range keys {
			k := &keys[i]
			here := append(append([]*about(nil), path...), k)
			file := compose(here)
			n++
			if _, _, err := Read([]byte(file), "f"); err != nil {
				t.Errorf("%s: %v", file, err)
			}
			if k.Meaning == "" || k.Legal == "" || k.Example == "" || !k.Required && k.Default == "" {
				t.Errorf("%s: the table lacks a meaning, legal values, an example or a default", k.Key)
			}
			// The same place refuses a key one letter away and a value of the wrong kind.
			for _, broken := range []string{
				strings.Replace(file, k.Key+":", k.Key+"q:", 1),
				strings.Replace(file, k.Key+": "+k.Example, k.Key+": [[]]", 1),
			} {
				if broken == file {
					continue
				}
				if _, _, err := Read([]byte(broken), "f"); err == nil {
					t.Errorf("accepted: %s", broken)
				}
			}
			if k.Keys != nil {
				walk(k.Keys(), here)
			}
		}
	}
	walk(cruiseForm.keys(), nil)
	t.Logf("%d keys", n)
}

// notOfTheFile are settings of other packages that the cruise file has no key for.
var notOfTheFile = []string{"section.BuildOptions.Underway", "section.SeriesOptions.Underway",
	"geostrophy.Options.SecondReference",
	"geostrophy.Options.HeightReferenceDbar",
	"geostrophy.Options.PositionErrKm",
	"geostrophy.Options.BinNoiseSalinity", "geostrophy.Options.BinNoiseTemperatureK", "geostrophy.Options.Each",
	"geostrophy.Options.Stage",
	"geostrophy.Reference.Known", "geostrophy.Accuracy.System", "gridding.Options.LengthFactor",
	"gridding.Options.Levels", "gridding.Options.WaterDepthM",
	"gridding.Options.Sigma", "gridding.Options.Workers", "gridding.Options.Sample"}

// Every field of the types is set by some key: a field that no key sets would be a promise that nobody keeps.
func TestEveryFieldIsReached(t *testing.T) {
	reached := map[string]bool{}
	var mark func(v, fresh reflect.Value, path string)
	mark = func(v, fresh reflect.Value, path string) {
		if v.Kind() == reflect.Struct && v.Type() != reflect.TypeFor[section.StationList]() {
			for i := range v.NumField() {
				if !v.Type().Field(i).IsExported() || slices.Contains(notOfTheFile, v.Type().String()+"."+
					v.Type().Field(i).Name) {
					continue
				}
				mark(v.Field(i), fresh.Field(i), path+"."+v.Type().Field(i).Name)
			}
			return
		}
		// NaN differs from itself, so values are compared as text.
		reached[path] = reached[path] || fmt.Sprint(v.Interface()) != fmt.Sprint(fresh.Interface())
		if v.Kind() == reflect.Slice && v.Len() > 0 && v.Type().Elem().Kind() == reflect.Struct {
			mark(v.Index(0), freshOf(v.Type().Elem()), path+"[]")
		}
	}
	fresh := newCruise()
	var walk func(keys []about, path []*about)
	walk = func(keys []about, path []*about) {
		for i := range keys {
			here := append(append([]*about(nil), path...), &keys[i])
			file := compose(here)
			// Examples show defaults where these are the usual value; other legal values show that the key does
			// something.
			for _, from := range [][2]string{{"", ""}, {": down", ": up"}, {": sea", ": lake"},
				{": preliminary", ": underway"}, {": optimal", ": linear"},
				{": pchip", ": rotated"}, {": pchip", ": linear"}, {": optimal", ": none"}, {": geodesic", ": sphere"},
				{": keep", ": omit"}, {": constant_velocity", ": none"}, {": north", ": right"},
				{"6/2", "ZZSM20260504:6/2"}, {"21/1", "ZZSM20260504:21/1"}, {"20/2", "ZZSM20260504:20/2"}} {
				c, _, err := Read([]byte(strings.Replace(file, from[0], from[1], 1)), "f")
				if err != nil {
					continue // rotated is no vertical interpolation
				}
				mark(reflect.ValueOf(*c), reflect.ValueOf(fresh), "")
			}
			if keys[i].Keys != nil {
				walk(keys[i].Keys(), here)
			}
		}
	}
	walk(cruiseForm.keys(), nil)
	// What casts and systems say goes to the settings of each section and field.
	c, _,
		err := Read(
		[]byte(
			"cruise: {id: a}\ncasts: {sources: a, uncalibrated: usable, ice: shelf, ice_base: 200, max_gap: 70}\nsystems: {label: m, salinity: laboratory}\n"+
				"sections: {name: s, stations: 1-2, bottom: deepest_bin}\nfields: {name: f}\n"), "f")
	if err != nil {
		t.Fatal(err)
	}
	mark(reflect.ValueOf(*c), reflect.ValueOf(fresh), "")
	for path, ok := range reached {
		// the name of the file is not in it; what bottles leave of salinity is measured; the coastline is no setting
		if !ok && path != ".Sections[].Velocity.Land" && !strings.HasPrefix(path, ".File.") &&
			path != ".Fields[].Grid.Options.DeepestBin" &&
			!strings.HasPrefix(path, ".Sections[].Velocity.Accuracies[].Residual") {
			t.Errorf("no key sets %s", path)
		}
	}
	t.Logf("%d fields", len(reached))
}

// freshOf is the value of a list item before its keys are read.
func freshOf(t reflect.Type) reflect.Value {
	switch t {
	case reflect.TypeFor[System]():
		return reflect.ValueOf(newSystem())
	case reflect.TypeFor[Section]():
		return reflect.ValueOf(newSection())
	case reflect.TypeFor[MapField]():
		return reflect.ValueOf(newField())
	}
	return reflect.Zero(t)
}
