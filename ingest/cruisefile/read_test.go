package cruisefile

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/interpolate"
)

const brokenFolder = "testdata/broken"

// describe writes what a person gets to read: each problem with its remedy, or the findings.
func describe(c *Cruise, findings []metadata.Finding, err error) string {
	var b strings.Builder
	for _, e := range metadata.Parts(err) {
		fmt.Fprintf(&b, "%v\n", e)
		var in *metadata.InputError
		if errors.As(e, &in) && in.Remedy != "" {
			fmt.Fprintf(&b, "    %s\n", in.Remedy)
		}
	}
	for _, f := range findings {
		fmt.Fprintf(&b, "%s: %s: %s\n    %s\n", f.Position, f.Severity, f.Message, f.Remedy)
	}
	if err == nil && c == nil {
		b.WriteString("neither cruise nor error\n")
	}
	return b.String()
}

// Each file in testdata/broken has one fault; the golden is what a person reads.
func TestBroken(t *testing.T) {
	files, err := filepath.Glob(brokenFolder + "/*.yaml")
	if err != nil || len(files) < 60 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		base := filepath.Base(file)
		c, findings, err := Read(data, base)
		if err != nil && (c != nil || findings != nil) {
			t.Errorf("%s: values beside an error", base)
		}
		if err == nil && len(findings) == 0 {
			t.Errorf("%s: nothing is said", base)
		}
		var last metadata.Position
		for _, e := range metadata.Parts(err) {
			var in *metadata.InputError
			if !errors.As(e, &in) {
				t.Errorf("%s: %v is no InputError", base, e)
				continue
			}
			if in.Line > 0 && in.Position.Before(last) {
				t.Errorf("%s: problems out of order", base)
			}
			last = in.Position
		}
		golden.Check(t, "broken/"+strings.TrimSuffix(base, ".yaml")+".txt", []byte(describe(c, findings, err)))
	}
}

func TestDemoCruiseFile(t *testing.T) {
	data, err := os.ReadFile("../../testdata/cruise/cruise.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := Read(data, "cruise.yaml"); err != nil {
		t.Fatal(err)
	}
}

// The spelling of line ends, a byte-order mark, and blanks do not matter.
func TestSpelling(t *testing.T) {
	want, _, err := Read([]byte(documentationExample), "f")
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"CRLF":            strings.ReplaceAll(documentationExample, "\n", "\r\n"),
		"byte-order mark": "\uFEFF" + documentationExample,
		"document start":  "---\n" + strings.TrimSuffix(documentationExample, "\n"),
		"comments":        "# first\n" + documentationExample + "# last",
		"trailing blanks": strings.ReplaceAll(documentationExample, "\n", "  \n"),
	} {
		got, _, err := Read([]byte(text), "f")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		forgetPlaces(reflect.ValueOf(got).Elem())
		w := *want
		forgetPlaces(reflect.ValueOf(&w).Elem())
		if g := fmt.Sprintf("%+v", *got); g != fmt.Sprintf("%+v", w) {
			t.Errorf("%s: decoded otherwise:\n%s", name, g)
		}
	}
}

// forgetPlaces clears every metadata.Position, which lines before a value shift.
func forgetPlaces(v reflect.Value) {
	if v.Type() == reflect.TypeFor[metadata.Position]() {
		v.SetZero()
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			forgetPlaces(v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			forgetPlaces(v.Index(i))
		}
	}
}

// Short forms mean the same as the long ones.
func TestShortForms(t *testing.T) {
	const head = "cruise: {id: a}\ncasts: {sources: [casts]}\n"
	for _, c := range [][2]string{
		{"release: underway", "release: {status: underway}"},
		{"systems: {label: a, bin: 2, salinity: laboratory}",
			"systems: [{label: a, bin: {width: 2}, salinity: {stage: laboratory}}]"},
		{"sections: {name: a, stations: 1-4, reference: 2000}",
			"sections: [{name: a, stations: 1-4, reference: {pressure: 2000}}]"},
		{"sections: {name: a, stations: 1-4, reference: deepest}", "sections: {name: a, stations: 1-4}"},
		{"sections: {name: a, stations: 1-4, grid: none}",
			"sections: [{name: a, stations: 1-4, grid: {method: none}}]"},
		{"sections: {name: a, stations: 1-4, uncertainty: 2000}",
			"sections: [{name: a, stations: 1-4, uncertainty: {members: 2000, seed: 1}}]"},
		{`sections: {name: a, stations: "1-4, 7"}`, "sections: [{name: a, stations: [1-4, 7]}]"},
		{`sections: {name: a, stations: "1-9 except 7, 8"}`, "sections: [{name: a, stations: [1-9 except 7, 8]}]"},
		{"figures: map", "figures: {only: [map]}"},
		{"figures: [map, section]", "figures: {only: [map, section]}"},
		{"fields: {name: f, step: 2}", "fields: [{name: f, step: [2]}]"},
	} {
		short, _, err := Read([]byte(head+c[0]+"\n"), "f")
		if err != nil {
			t.Errorf("%s: %v", c[0], err)
			continue
		}
		long, _, err := Read([]byte(head+c[1]+"\n"), "f")
		if err != nil {
			// The third spelling of a list with an exception in the middle is refused on purpose.
			if !strings.Contains(c[1], "except 7, 8]") {
				t.Errorf("%s: %v", c[1], err)
			}
			continue
		}
		for _, v := range []*Cruise{short, long} {
			forgetPlaces(reflect.ValueOf(v).Elem())
			for i := range v.Sections {
				v.Sections[i].Stations.Text = ""
			}
		}
		if s, l := fmt.Sprintf("%+v", *short), fmt.Sprintf("%+v", *long); s != l {
			t.Errorf("%s:\n%s\n%s", c[0], s, l)
		}
	}
}

func TestValues(t *testing.T) {
	c, findings, err := Read([]byte(`cruise:
  id: brine-2026
  ships: RV Brine
  legs: [ZZBR20260101, {expocode: ZZBR20260201, start: 2026-02-01, chief_scientist: Ada Finch}]
  people: [{name: Ada Finch, orcid: 0000-0000-0000-001X}]
  institutions: {name: Brine Institute, ror: 012345654}
release: {status: final, version: 1.0, date: 2026-05-01, licence: "https://example.org/terms", per_variable: {oxy: preliminary}}
quality:
  apply: [range.global, spike.bin]
  thresholds: {spike.bin.psal_deep: 0.006, range.global.temp_min: -3}
  accept:
    - {id: bottom, cast: 17/1, variable: pres, pressure: 2081, initials: RH, reason: ended for weather}
    - {id: dual, cast: ZZBR20260201:6/2, variable: temp, pressure: 100.5 - 120, initials: RH, reason: seen}
    - {id: station_table.station, file: "stations.csv:4", initials: RH, reason: seen}
  signed: {by: Ada Finch, date: 2026-05-01}
systems:
  - {label: one, stations: 1-9, deck: {offset: -0.3, applied: yes}, accuracy: {salinity: 0.003, common_fraction: 0.5}}
  - {label: two}
casts:
  sources: [./casts, "more/*_ct1.csv"]
  leave_out:
    - {cast: ZZBR20260201:6/2, reason: "winch stopped, then aborted"}
    - {file: casts/x_ct1.csv, reason: "cut short"}
  renumber: [{from: 021/1, to: 20/2, why: typing error}]
  direction: up
  role: {test: T1, yoyo: "5/1, 5/2"}
  clock: [{stations: 1-4, zone: "+02:00"}, {stations: 5, offset: -00:03:10}]
  water: lake
  uncalibrated: usable
  max_gap: none
sections:
  - {name: a, stations: 9-1, reference: {sigma2: 36.9}, max_gap: 60, classes: {sigma1: [31, 32]}, layers: [0, 100.5]}
fields:
  - {name: f, longitude: [170, -170], latitude: [-10, 5], step: [0.5, 0.25]}
figures: none
`), "cruise.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if len(findings) != 0 {
		t.Errorf("findings %v", findings)
	}
	check := func(what string, got, want any) {
		t.Helper()
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	check("ships", c.Ships, []metadata.Ship{{Name: "RV Brine"}})
	check("legs", []string{c.Legs[0].Expocode, c.Legs[1].ChiefScientist.Name}, []string{"ZZBR20260101", "Ada Finch"})
	check("orcid", c.People[0].ORCID, "https://orcid.org/0000-0000-0000-001X")
	check("ror", c.Institutions[0].ROR, "https://ror.org/012345654")
	check("version", c.Release.Version, "1.0")
	check("per variable", c.Release.PerVariable, map[string]string{"oxy": "preliminary"})
	q := c.Quality
	check("apply", q.Apply, []string{"range.global", "spike.bin"})
	check("thresholds", q.Thresholds, map[string]float64{"spike.bin.psal_deep": 0.006, "range.global.temp_min": -3})
	check("accept", []any{q.Accept[0].Cast, q.Accept[0].Pressure, q.Accept[0].At}, []any{CastName{"", "17", "1"},
		[2]float64{2081, 2081}, "cruise.yaml:12:7"})
	check("accept", []any{q.Accept[1].Cast.Expocode, q.Accept[1].Pressure}, []any{"ZZBR20260201", [2]float64{100.5,
		120}})
	check("accept", []any{q.Accept[2].File, q.Accept[2].Pressure, q.Accept[2].Reason}, []any{"stations.csv:4",
		[2]float64{math.NaN(), math.NaN()}, "seen"})
	check("signed", q.Signed, Signed{"Ada Finch", "2026-05-01"})
	check("deck", c.Systems[0].Deck, metadata.Deck{OffsetDbar: -0.3, Applied: true})
	check("accuracy", c.Systems[0].Accuracy, metadata.Accuracy{Salinity: 0.003, TemperatureK: math.NaN(),
		PressureDbar: math.NaN(), CommonFraction: 0.5})
	check("not given", c.Systems[1].Deck.OffsetDbar, math.NaN())
	check("sources", []string{c.Casts.Sources[0].Path, c.Casts.Sources[1].Path}, []string{"casts", "more/*_ct1.csv"})
	check("source place", c.Casts.Sources[1].At, "cruise.yaml:20:22")
	check("leave out", c.Casts.LeaveOut[0].Cast, CastName{"ZZBR20260201", "6", "2"})
	check("leave out place", c.Casts.LeaveOut[0].At, "cruise.yaml:22:7")
	check("leave out file", c.Casts.LeaveOut[1].File, "casts/x_ct1.csv")
	check("renumber keeps zeros", c.Casts.Renumber[0].From, CastName{"", "021", "1"})
	check("direction", c.Casts.Direction, section.Up)
	check("roles", len(c.Casts.Roles), 2)
	check("role", c.Casts.Roles[1].Role, section.Yoyo)
	check("zone", c.Casts.Clock[0].Offset, -2*time.Hour)
	check("offset", c.Casts.Clock[1].Offset, -(3*time.Minute + 10*time.Second))
	check("lake", []bool{c.Casts.Lake, c.Casts.Uncalibrated, c.Casts.IceShelf}, []bool{true, true, false})
	check("no gap", *c.Casts.MaxGapDbar, math.Inf(1))
	s := c.Sections[0]
	check("reference", s.Velocity.Reference, geostrophy.Reference{Kind: geostrophy.AtDensity, Density: 36.9,
		SigmaDbar: 2000})
	check("gap", *s.Velocity.MaxGapDbar, 60)
	check("classes", []any{s.Velocity.ClassSigmaDbar, s.Velocity.Classes}, []any{1000, []float64{31, 32}})
	check("defaults", []any{s.Velocity.Interpolation, s.Velocity.Distance, s.Velocity.Positive, s.Velocity.Triangle,
		s.Velocity.DeepestBinIsBottom, s.Grid.Method},
		[]any{interpolate.Pchip, section.WGS84, geostrophy.Unstated, geostrophy.ConstantVelocity, false,
			gridding.Optimal})
	check("field", []float64{c.Fields[0].LonMin, c.Fields[0].LonMax, c.Fields[0].StepLonDeg, c.Fields[0].StepLatDeg},
		[]float64{170, 190, 0.5, 0.25})
	check("figures", c.Figures.None, true)
	check("inputs omitted", c.OmitInputs, false)
}

// A DOI is kept as one https URL however it is written; web addresses stay as they are.
func TestReferences(t *testing.T) {
	for given, want := range map[string]string{
		"10.5555/12345678": "https://doi.org/10.5555/12345678", "doi:10.5555/a(b)c": "https://doi.org/10.5555/a(b)c",
		"http://dx.doi.org/10.5555.1/x":            "https://doi.org/10.5555.1/x",
		"https://doi.org/10.5555/12345678":         "https://doi.org/10.5555/12345678",
		"https://example.org/report.pdf?page=10.1": "https://example.org/report.pdf?page=10.1",
		"http://www.example.org":                   "http://www.example.org",
	} {
		c, _, err := Read([]byte("cruise: {id: a, references: \""+given+"\"}\ncasts: {sources: a}\n"), "f")
		if err != nil || c.References[0] != (metadata.Reference{Link: want}) {
			t.Errorf("%s: %v, %v", given, c, err)
		}
	}
}

// Funders, references with what they are, and the identifier of the data come as typed values; a funder or a reference
// alone may be bare text.
func TestHandingOver(t *testing.T) {
	c, _, err := Read([]byte(`cruise:
  id: a
  funding: [Skerry Council grant 12, {name: Tern Fund, ror: "https://ror.org/012345654", grant: T-9}]
  references: [10.5555/a, {link: "doi:10.5555/b", is: cruise report}, {link: "https://example.org", is: earlier version}]
release: {doi: "doi:10.5555/c", publisher: {name: Skerry Data Centre, ror: "https://ror.org/012345654"}}
casts: {sources: a}
`), "f")
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(c.Funding, []metadata.Grant{{Name: "Skerry Council grant 12"},
		{Name: "Tern Fund", ROR: "https://ror.org/012345654", Number: "T-9"}}) ||
		!slices.Equal(c.References, []metadata.Reference{{Link: "https://doi.org/10.5555/a"},
			{Link: "https://doi.org/10.5555/b", Is: metadata.CruiseReport},
			{Link: "https://example.org", Is: metadata.EarlierVersion}}) ||
		c.Release.DOI != "https://doi.org/10.5555/c" || c.Release.Publisher.ROR != "https://ror.org/012345654" {
		t.Errorf("%+v %+v %+v", c.Funding, c.References, c.Release)
	}
}

// ISO 7064 mod 11-2. Sources: the sample identifiers of the ORCID documentation, from memory.
func TestCheckDigit(t *testing.T) {
	for _, id := range []string{"0000-0002-1825-0097", "0000-0001-5109-3700", "0000-0002-1694-233X"} {
		digits := strings.ReplaceAll(id, "-", "")
		if got := checkDigit(digits[:15]); got != digits[15] {
			t.Errorf("%s: %c", id, got)
		}
	}
}

// Lines that findings print to be pasted are read back as what they say.
func TestPastedLines(t *testing.T) {
	for _, reason := range []string{"file cut short", "winch stopped, cast repeated", `he said "no": # 5`, "yes", "-1",
		"Grönland", `back\slash`, "two\nlines", " padded ", "~", "null", "1e5", "{x}", "a  b"} {
		for _, station := range []string{"6", "006", "T-1", "all", "12A", "a#b"} {
			file := "cruise:\n  id: a\n  legs:\n    " + metadata.Legs("77AB20260504").Items[0] +
				"\ncasts:\n  sources: [casts]\n  leave_out:\n    " + metadata.LeaveOutFile("casts/odd name, 1_ct1.csv",
				reason).Items[0] +
				"\n  aliases:\n    " + metadata.Alias("CTD, odd", "DEG C", "temp").Items[0] + "\n    " +
				metadata.Alias("", "%", "xmiss").Items[0] +
				"\n  renumber:\n    " + metadata.Renumber("", station, "1", "20", "2", reason).Items[0] +
				"\n    " + metadata.RenumberFile("casts/odd: 2, b.csv", station, "2", reason).Items[0] + "\n    " +
				metadata.Renumber("77AB20260504", station, "1", "20", "2", reason).Items[0] +
				"\n  max_gap: " + metadata.GapText(60.5) +
				"\nsections:\n  - name: a\n    stations: 1-4\n    max_gap: " + metadata.GapText(math.Inf(1)) + "\n"
			c, _, err := Read([]byte(file), "f")
			if err != nil {
				t.Errorf("%s%v", file, err)
				continue
			}
			want := strings.Join(strings.Fields(reason), " ")
			l := c.Casts.LeaveOut
			if l[0].File != "casts/odd name, 1_ct1.csv" || l[0].Reason != want || c.Legs[0].Expocode != "77AB20260504" {
				t.Errorf("%q: leave_out %+v, legs %+v", reason, l, c.Legs)
			}
			a := c.Casts.Aliases
			if a[0].Column != "CTD, odd" || a[0].Unit != "DEG C" || a[0].Means != "temp" || a[1].Column != "" ||
				a[1].Unit != "%" {
				t.Errorf("aliases %+v", a)
			}
			r := c.Casts.Renumber[0]
			if r.From != (CastName{"", station, "1"}) || r.To != (CastName{"", "20", "2"}) || r.Why != want {
				t.Errorf("renumber %+v", r)
			}
			if f, g := c.Casts.Renumber[1], c.Casts.Renumber[2]; f.File != "casts/odd: 2, b.csv" ||
				f.From != (CastName{}) || f.To != (CastName{"", station, "2"}) ||
				g.From != (CastName{"77AB20260504", station, "1"}) {
				t.Errorf("renumber %+v %+v", f, g)
			}
			if *c.Casts.MaxGapDbar != 60.5 || !math.IsInf(*c.Sections[0].Velocity.MaxGapDbar, 1) {
				t.Errorf("max_gap %v %v", *c.Casts.MaxGapDbar, *c.Sections[0].Velocity.MaxGapDbar)
			}
		}
	}
}

func TestLimits(t *testing.T) {
	for name, data := range map[string][]byte{
		"too big":  []byte("cruise: {id: " + strings.Repeat("a", maxBytes) + "}"),
		"brackets": []byte("cruise: " + strings.Repeat("[", 100000)),
		"many values": []byte("cruise: {id: a, keywords: [" + strings.Repeat("a, ", maxNodes) +
			"]}\ncasts: {sources: a}"),
		"nested blocks": []byte(strings.Repeat("- ", 5000) + "x"),
	} {
		start := time.Now()
		if _, _, err := Read(data, "f"); err == nil {
			t.Errorf("%s: accepted", name)
		}
		if d := time.Since(start); d > 20*time.Second {
			t.Errorf("%s: refused only after %v", name, d)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(documentationExample))
	files, err := filepath.Glob(brokenFolder + "/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, findings, err := Read(data, "f")
		if err != nil {
			if c != nil || findings != nil {
				t.Error("values beside an error")
			}
			problems := metadata.Parts(err)
			if len(problems) > maxProblems+1 {
				t.Errorf("%d problems", len(problems))
			}
			for _, e := range problems {
				var in *metadata.InputError
				if !errors.As(e, &in) {
					t.Errorf("%v is no InputError", e)
				}
			}
			return
		}
		if c.ID == "" || len(c.Casts.Sources) == 0 {
			t.Errorf("accepted without what is required: %q", data)
		}
		// Lists of stations print back to what they were.
		for _, s := range c.Sections {
			again, err := section.ParseStations(s.Stations.String())
			if err != nil || !reflect.DeepEqual(again.Items, s.Stations.Items) ||
				!reflect.DeepEqual(again.Except, s.Stations.Except) {
				t.Errorf("%q: %v", s.Stations.String(), err)
			}
		}
	})
}

func ExampleRead() {
	_, _, err := Read([]byte("cruise: {id: demo}\ncasts: {sorces: [casts]}\n"), "cruise.yaml")
	fmt.Println(err)
	var in *metadata.InputError
	if errors.As(err, &in) {
		fmt.Println(in.Remedy)
	}
	// Output:
	// cruise.yaml:2:9: casts has no key "sorces"
	// did you mean "sources"?
}
