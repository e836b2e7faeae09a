package pipeline_test

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/nc"
)

// holding returns the files of an archive that hold a text, without the inputs and the cruise file itself.
func holding(t *testing.T, archive, text string) (out []string) {
	t.Helper()
	err := filepath.WalkDir(archive, func(p string, d fs.DirEntry, err error) error {
		rel := filepath.ToSlash(strings.TrimPrefix(p, archive+string(filepath.Separator)))
		if err != nil || d.IsDir() || strings.HasPrefix(rel, "data/inputs/") || rel == "data/provenance/cruise.yaml" ||
			!strings.HasPrefix(rel, "data/") {
			return err
		}
		b, err := os.ReadFile(p)
		if bytes.Contains(b, []byte(text)) { // texts are not compressed in NetCDF files
			out = append(out, strings.TrimPrefix(rel, "data/"))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// What a person writes into the cruise file about the cruise comes out of the archive, beside the cruise file: no key
// is read in vain.
func TestTextsOfCruiseFileAreCarried(t *testing.T) {
	archive := build(t, edited(plant(`derived: []
release: {status: preliminary, version: tok-version, date: 2026-06-30, doi: 10.5555/tok-doi, licence: LicenseRef-tok, embargo: 2027-05-17, contact: tok-contact, citation: tok-citation,
  replaces: tok-replaces, publisher: {name: tok-publisher, email: tok-p@example.org, url: "https://tok.example.org", institution: tok-house, ror: "https://ror.org/012345654"}, per_variable: {psal: underway}}
systems:
  - {label: tok-label, package: tok-package, bin: {width: 10, label: top}, sensors: [{variables: [temp], model: tok-model, serial: tok-serial, calibrated: 2026-01-20}],
     salinity: {stage: laboratory, by: tok-by, date: 2026-05-16, residual: 0.00123}, oxygen: {stage: none, by: tok-oxygen}, deck: {offset: 0.37, applied: yes}, upstream: [tok-upstream]}
sections: [{name: tok-section, title: tok-title-of-section, stations: "R1, R3", grid: none}]
`, flat()...), "cruise: {id: planted}\n", `cruise:
  id: tok-id
  naming_authority: org.tok
  title: tok-title
  summary: tok-summary
  keywords: [tok-keyword]
  ships: [{name: tok-ship, code: ZZTE}, {name: tok-second, code: ZZTF}]
  legs:
    - {expocode: ZZTE20260501, start: 2026-05-01, end: 2026-05-17, from: tok-from, to: tok-to, ship: tok-ship,
       chief_scientist: {name: tok-chief, orcid: "https://orcid.org/0000-0000-0000-0001", email: tok-c@example.org, institution: tok-works, role: tok-leads}}
  people: [{name: tok-person, orcid: 0000-0000-0000-001X, email: tok-m@example.org, institution: tok-shore, role: tok-role}]
  institutions: [{name: tok-institution, ror: "https://ror.org/012345654"}]
  projects: [tok-project]
  funding: [{name: tok-funding, ror: "https://ror.org/012345654", grant: tok-grant}]
  references: [{link: 10.5555/tok-reference, is: cruise report}]
  region: tok-region
`, "casts: {sources: [casts]}\n", `casts:
  sources: [casts]
  leave_out: [{cast: R4, reason: tok-leave}]
  renumber: [{from: R3/1, to: R3/7, why: tok-why}]
  depth: tok-depth
`))
	for _, token := range []string{"version", "LicenseRef-tok", "contact", "citation", "replaces", "publisher",
		"tok-p@example.org", "https://tok.example.org", "house",
		"label", "package", "model", "serial", "by", "oxygen", "upstream", "section", "tok-title-of-section", "id",
		"org.tok", "title", "summary", "keyword", "ship", "second",
		"from", "to", "chief", "0000-0000-0000-0001", "tok-c@example.org", "works", "leads", "person",
		"0000-0000-0000-001X", "tok-m@example.org", "shore", "role",
		"institution", "012345654", "project", "funding", "grant", "10.5555/tok-reference", "10.5555/tok-doi", "region",
		"leave", "why", "depth",
		"2026-06-30", "2027-05-17", "2026-01-20"} {
		if !strings.ContainsAny(token, "@.-0") {
			token = "tok-" + token
		}
		if len(holding(t, archive, token)) == 0 {
			t.Errorf("%s is nowhere in the archive", token)
		}
	}
	// Where the help says that it goes.
	for _, x := range []struct {
		promise, token string
		files          []string
	}{
		{"why; it is written into history and tables/stations.csv", "tok-leave",
			[]string{"provenance/history.txt", "tables/stations.csv", "casts/tok-id_ctd.nc"}},
		{"why; it is written into history", "tok-why", []string{"provenance/history.txt", "casts/tok-id_ctd.nc"}},
		{"not to be passed on before this day", "2027-05-17", []string{"README.txt", "casts/tok-id_ctd.nc"}},
		{"how water depth was found", "tok-depth", []string{"casts/tok-id_ctd.nc"}},
	} {
		inHelp(t, x.promise)
		for _, f := range x.files {
			if held := holding(t, archive, x.token); !slices.Contains(held, f) {
				t.Errorf("%q: %s is in %q, not in %s", x.promise, x.token, held, f)
			}
		}
	}
}

// edited replaces parts of the cruise file, each by the text after it.
func edited(files map[string]string, parts ...string) map[string]string {
	files["cruise.yaml"] = strings.NewReplacer(parts...).Replace(files["cruise.yaml"])
	return files
}

// numbersOf returns the values of every numeric variable of a NetCDF file, as text.
func numbersOf(t *testing.T, path string) map[string]string {
	t.Helper()
	out := map[string]string{}
	inFile(t, path, func(r nc.Reader, s *nc.Schema) {
		for i := range s.Vars {
			n := 1
			for _, d := range s.Vars[i].Dims {
				n *= s.Dims[d].Len
			}
			values := make([]float64, n)
			if err := r.ReadFloat64(i, nil, nil, values); err == nil {
				out[s.Vars[i].Name] = fmt.Sprint(values)
			}
		}
	})
	return out
}

func inHelp(t *testing.T, promise string) {
	t.Helper()
	if !strings.Contains(strings.Join(strings.Fields(cruisefile.Documentation()), " "), promise) {
		t.Errorf("the help no longer says %q", promise)
	}
}

// The defaults of the help are those of the program: a file that writes them out gives the same products as one that
// leaves them out.
func TestDefaultsOfTheHelp(t *testing.T) {
	for _, says := range []string{
		"Default: preliminary.", "Default: down.", "Default: sea.", "Default: unusable.",
		"Default: all that no other system claims.",
		"Value: a number of g/kg, 0 to 1. Default: 0.002, or what bottles or residual say.",
		"accuracy of temperature. Value: a number of K, 0 to 1. Default: 0.001.",
		"accuracy of pressure. Value: a number of dbar, 0 to 100. Default: 3.", "Default: deepest common level.",
		"Default: pchip.", "Default: geodesic.",
		"Default: left of the line; in, for a closed line.", "Default: constant_velocity.", "Default: depth.",
		"ice. Value: a number of dbar, 0 to 1000. Default: 20.", "Default: optimal.",
		"signal variance. Value: a ratio of variances, 0.000001 to 100. Default: 0.02.",
		"Value: a whole number, 4 to 2000. Default: 60.",
		"are masked. Value: a ratio of variances, 0.001 to 1. Default: 0.5.",
		"Default: ctemp, asal, and oxy where measured.", "Default: keep.", "Default: mean of the section.",
	} {
		inHelp(t, says)
	}
	const head = "systems: [{label: main, bin: {width: 10, label: top}"
	short := build(t, plant(head+"}]\nsections: [{name: s, stations: R1-R4}]\nfields: [{name: f}]\n", flat()...))
	long := build(t,
		edited(plant(head+", stations: R1-R4, accuracy: {salinity: 0.002, temperature: 0.001, pressure: 3}}]\n"+
			"release: preliminary\ninputs: keep\nderived: []\nsections: [{name: s, title: s, stations: R1-R4, planned: R1-R4, reference: deepest, interpolation: pchip, distance: geodesic, positive: left,\n"+
			"  triangle: constant_velocity, bottom: depth, surface_carry: 20, repeats: deepest, grid: {method: optimal, noise: 0.02, neighbours: 60, max_error: 0.5, variables: [ctemp, asal]},\n"+
			"  uncertainty: {members: 0, seed: 1}, equatorial_estimate: no}]\nfields: [{name: f, stations: all, grid: optimal}]\n",
			flat()...),
			"casts: {sources: [casts]}",
			"casts: {sources: [casts], direction: down, water: sea, ice: none, uncalibrated: unusable, lenient: no}"))
	compared, others := 0, sums(t, long)
	for name, sum := range sums(t, short) {
		if !strings.HasPrefix(name, "/data/tables/") && !strings.HasSuffix(name, "_ct1.zip") ||
			strings.HasSuffix(name, "findings.csv") {
			continue
		}
		if compared++; others[name] != sum {
			t.Errorf("%s differs", name)
		}
	}
	if compared < 5 {
		t.Errorf("%d files compared", compared)
	}
	for _, name := range []string{"sections/s_grid.nc", "sections/s_geostrophy.nc", "fields/f.nc"} {
		a, b := numbersOf(t, filepath.Join(short, "data", name)), numbersOf(t, filepath.Join(long, "data", name))
		for v := range a {
			if a[v] != b[v] {
				t.Errorf("%s: %s differs", name, v)
			}
		}
		if len(a) < 5 || len(a) != len(b) {
			t.Errorf("%s: %d and %d variables", name, len(a), len(b))
		}
	}
}
