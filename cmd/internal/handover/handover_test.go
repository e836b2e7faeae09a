package handover_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/handover"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/verify"
	"github.com/castwright/castwright/export/bag"
)

const casts = "../../../testdata/cruise/casts"

// The test binary is its own child: verify reads NetCDF in a process of its own.
func TestMain(m *testing.M) {
	if code, is := verify.ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
	}
	os.Exit(m.Run())
}

// build builds casts 1 and 2 of the demo cruise with a cruise file.
func build(t *testing.T, yaml string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "casts"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, n := range []string{"1", "2"} {
		name := "ZZSM20260504_0000" + n + "_00001_ct1.csv"
		data, err := os.ReadFile(filepath.Join(casts, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "casts", name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return buildIn(t, dir, yaml)
}

// buildIn builds the cruise of a folder.
func buildIn(t *testing.T, dir, yaml string) string {
	t.Helper()
	file := filepath.Join(dir, "cruise.yaml")
	put(t, file, yaml)
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		for _, f := range p.Findings {
			t.Log(f.Position, f.Message)
		}
		t.Fatal(err)
	}
	return p.Path
}

func run(t *testing.T, archive string, to handover.Recipient, incomplete bool) (*handover.Result, string) {
	t.Helper()
	out := t.TempDir()
	r, err := handover.Run(context.Background(), handover.Plan{Archive: archive, To: to, Out: out,
		Incomplete: incomplete})
	if err != nil {
		t.Fatal(err)
	}
	return r, out
}

const end = `figures: none
casts:
  sources: [casts]
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]
`

// A cruise file that says only what a build needs: everything else is missing, under the key that fills it, and a set
// is made only when asked for; its README then names what is missing.
func TestMissing(t *testing.T) {
	archive := build(t, "cruise: {id: bare}\n"+end)
	for to, want := range map[handover.Recipient][]string{
		handover.DataCentre: {"cruise: ships", "cruise: legs", "release: licence", "release: contact", "systems",
			"quality: signed"},
		handover.Repository: {"cruise: title", "cruise: legs", "cruise: institutions", "cruise: funding",
			"release: version", "release: date", "release: doi", "release: licence", "release: contact",
			"release: publisher", "quality: signed"},
		handover.NationalArchive: {"cruise: region", "cruise: ships", "cruise: legs", "cruise: institutions",
			"cruise: projects", "release: licence", "release: contact", "systems", "casts: depth", "casts: time",
			"quality: signed"},
	} {
		r, out := run(t, archive, to, false)
		var got []string
		for _, m := range r.Missing {
			got = append(got, m.Key)
		}
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q\nwant %q", to, got, want)
		}
		if entries, err := os.ReadDir(out); r.Path != "" || err != nil || len(entries) != 0 {
			t.Errorf("%s: an incomplete set was made: %v %v", to, entries, err)
		}
		r, _ = run(t, archive, to, true)
		readme, err := os.ReadFile(filepath.Join(r.Path, "README.txt"))
		if err != nil || !strings.Contains(string(readme), "THIS SET IS INCOMPLETE") {
			t.Errorf("%s: %v\n%s", to, err, readme)
		}
		for _, k := range want {
			if !strings.Contains(string(readme), "("+k+")") {
				t.Errorf("%s: the README does not name %s", to, k)
			}
		}
	}
}

const full = `cruise:
  id: full
  title: CTD casts of RV Saltmarten in May 2026
  region: northern strait
  ships: [{name: RV Saltmarten, code: ZZSM}]
  legs:
    - {expocode: ZZSM20260504, start: 2026-05-04, end: 2026-05-17, from: Skerrywick, to: Skerrywick,
       chief_scientist: {name: Ragna Holm, orcid: "https://orcid.org/0000-0000-0000-0001",
       institution: Skerry Institute}}
  people: [{name: Owen Lark, role: CTD processing, orcid: 0000-0000-0000-001X}]
  institutions: [{name: Skerry Institute, ror: "https://ror.org/012345654"}]
  projects: [Strait Watch]
  funding: [{name: Skerry Council, grant: SC-12}]
release: {status: preliminary, version: "1.0", date: 2026-06-30, licence: CC-BY-4.0, contact: data@example.org,
  doi: 10.5555/saltmarten-ctd, publisher: {name: Skerry Data Centre}}
systems:
  - label: main
    package: invented CTD on a frame of 24 bottles
    upstream: [despiked]
    bin: {width: 2, label: centre}
    sensors:
      - {variables: [temp, psal, temp2, psal2, oxy, xmiss, chl], model: invented pair, serial: P-001,
       calibrated: 2026-01-20}
    salinity: {stage: adjusted to bottles, by: Owen Lark, date: 2026-05-16, residual: 0.0012}
    oxygen: {stage: none}
quality: {signed: {by: Ragna Holm, date: 2026-06-28}}
figures: none
casts:
  sources: [casts]
  time: start
  depth: echo sounder
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]
`

// With everything said the sets are complete, hold exactly the files of the recipient, and their checksums hold; the
// archive inside the set of a repository is a valid bag. Each thing taken out of the cruise file is named again.
func TestComplete(t *testing.T) {
	archive := build(t, full)
	for to, want := range map[handover.Recipient][]string{
		handover.DataCentre: {"LICENCE.txt", "README.txt", "ZZSM20260504_ct1.zip", "ZZSM20260504do.txt",
			"ZZSM20260504su.txt", "sha256sums.txt", "submission_sheet.txt"},
		handover.Repository: nil,
		handover.NationalArchive: {"LICENCE.txt", "README.txt", "ZZSM20260504_ct1.zip", "full_ctd.nc", "history.txt",
			"processing_statement.html", "sha256sums.txt", "stations.csv", "submission_sheet.html"},
	} {
		r, _ := run(t, archive, to, false)
		if len(r.Missing) != 0 || r.Path == "" {
			t.Fatalf("%s: %v", to, r.Missing)
		}
		if want != nil && !slices.Equal(r.Files, want) {
			t.Errorf("%s: %q\nwant %q", to, r.Files, want)
		}
		check := exec.Command("sha256sum", "--check", "--strict", "--quiet", "sha256sums.txt")
		check.Dir = r.Path
		if out, err := check.CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", to, err, out)
		}
		readme, err := os.ReadFile(filepath.Join(r.Path, "README.txt"))
		if err != nil || strings.Contains(string(readme), "INCOMPLETE") ||
			!strings.Contains(string(readme), "not for navigation") {
			t.Errorf("%s: %v\n%s", to, err, readme)
		}
		if to == handover.Repository {
			report, err := bag.Check(context.Background(), filepath.Join(r.Path, "full"))
			if err != nil || len(report.Faults) != 0 {
				t.Errorf("%v %v", err, report.Faults)
			}
		}
	}
	for part, key := range map[string]string{
		"  region: northern strait\n":                             "cruise: region",
		", from: Skerrywick":                                      "cruise: legs: from",
		", end: 2026-05-17":                                       "cruise: legs: end",
		`, orcid: "https://orcid.org/0000-0000-0000-0001"`:        "cruise: legs: chief_scientist: orcid",
		", orcid: 0000-0000-0000-001X":                            "cruise: people: orcid",
		`, ror: "https://ror.org/012345654"`:                      "cruise: institutions: ror",
		"\n  doi: 10.5555/saltmarten-ctd,":                        "release: doi",
		", licence: CC-BY-4.0":                                    "release: licence",
		", serial: P-001":                                         "systems: sensors: serial",
		"    bin: {width: 2, label: centre}\n":                    "systems: bin",
		", residual: 0.0012":                                      "systems: salinity: residual",
		", by: Owen Lark":                                         "systems: salinity: by",
		", date: 2026-05-16":                                      "systems: salinity: date",
		"  depth: echo sounder\n":                                 "casts: depth",
		", publisher: {name: Skerry Data Centre}":                 "release: publisher",
		"  funding: [{name: Skerry Council, grant: SC-12}]\n":     "cruise: funding",
		"  title: CTD casts of RV Saltmarten in May 2026\n":       "cruise: title",
		", date: 2026-06-30":                                      "release: date",
		"    package: invented CTD on a frame of 24 bottles\n":    "systems: package",
		"    upstream: [despiked]\n":                              "systems: upstream",
		"    oxygen: {stage: none}\n":                             "systems: oxygen",
		", xmiss":                                                 "systems: sensors",
		"quality: {signed: {by: Ragna Holm, date: 2026-06-28}}\n": "quality: signed",
	} {
		if strings.Count(full, part) != 1 {
			t.Fatalf("%q is there %d times", part, strings.Count(full, part))
		}
		archive := build(t, strings.Replace(full, part, "", 1))
		named := 0
		for _, to := range handover.Recipients() {
			r, _ := run(t, archive, to, true)
			for _, m := range r.Missing {
				if m.Key != key {
					t.Errorf("without %q %s misses %s too", part, to, m.Key)
				}
				named++
			}
		}
		if named == 0 {
			t.Errorf("without %q nobody misses %s", part, key)
		}
	}
}

// The demo cruise without what a person must say: each recipient's list names all of it. With the keys filled, the sets
// of all recipients are complete; the archive in the set of a repository verifies, a reader of bags written from RFC
// 8493 alone, in Python, finds nothing wrong with it, and its record is PROV-JSON.
func TestDemo(t *testing.T) {
	yaml, err := os.ReadFile("../../../testdata/cruise/cruise.yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(yaml), "\ncasts:\n")
	stated := regexp.MustCompile(`(?m)^  (time|depth): .*\n`)
	if !ok || len(stated.FindAllString(rest, -1)) != 2 {
		t.Fatal("the demo cruise has other keys than this test takes out")
	}
	rest = "\nfigures: none\ncasts:\n" + stated.ReplaceAllString(rest, "")
	folder := t.TempDir()
	if err := os.CopyFS(filepath.Join(folder, "casts"), os.DirFS(casts)); err != nil {
		t.Fatal(err)
	}
	archive := buildIn(t, folder, "cruise: {id: demo, legs: [{expocode: ZZSM20260504}]}\n"+
		"systems: [{label: main, sensors: [{variables: [temp, psal]}]}]"+rest)
	leg := []string{"cruise: legs: start", "cruise: legs: end", "cruise: legs: from", "cruise: legs: to",
		"cruise: legs: chief_scientist"}
	system := []string{"systems: package", "systems: upstream", "systems: bin", "systems: salinity"}
	for to, want := range map[handover.Recipient][]string{
		handover.DataCentre: slices.Concat([]string{"cruise: ships"}, leg, []string{"release: licence",
			"release: contact"},
			system, []string{"quality: signed", "casts: station_table"}),
		handover.Repository: slices.Concat([]string{"cruise: title"}, leg, []string{"cruise: institutions",
			"cruise: funding", "release: version", "release: date", "release: doi", "release: licence",
			"release: contact", "release: publisher", "quality: signed"}),
		handover.NationalArchive: slices.Concat([]string{"cruise: region", "cruise: ships"}, leg,
			[]string{"cruise: institutions", "cruise: projects", "release: licence", "release: contact"}, system,
			[]string{"systems: sensors: model", "systems: sensors: serial", "systems: sensors: calibrated",
				"casts: depth",
				"casts: time", "quality: signed", "casts: station_table", "systems: sensors", "systems: sensors",
				"systems: sensors", "systems: sensors", "systems: sensors"}),
	} {
		r, _ := run(t, archive, to, false)
		var got []string
		for _, m := range r.Missing {
			got = append(got, m.Key)
		}
		if !slices.Equal(got, want) || r.Path != "" {
			t.Errorf("%s: %q\nwant %q", to, got, want)
		}
	}
	head, _, _ := strings.Cut(full, "figures: none")
	put(t, filepath.Join(folder, "log.csv"), "station,cast,depth\n10,1,190\n")
	archive = buildIn(t, folder, head+strings.Replace(rest, "casts:\n",
		"casts:\n  time: start\n  depth: echo sounder\n"+
			"  station_table: log.csv\n", 1))
	for _, to := range handover.Recipients() {
		r, _ := run(t, archive, to, false)
		if len(r.Missing) != 0 || r.Path == "" {
			t.Fatalf("%s: %v", to, r.Missing)
		}
		if to != handover.Repository {
			continue
		}
		inside := filepath.Join(r.Path, "full")
		v, err := verify.Archive(context.Background(), verify.Plan{Path: inside})
		if err != nil || v.Faults() != 0 {
			t.Errorf("%v %v", err, v)
		}
		if out, err := python("testdata/bag.py", inside); err != nil || !strings.HasPrefix(out, "valid, ") {
			t.Errorf("%v\n%s", err, out)
		}
		record := filepath.Join(inside, "data", "provenance", "prov.json")
		if out, err := python("testdata/record.py", record); err != nil || !strings.HasPrefix(out, "valid, ") {
			t.Errorf("%v\n%s", err, out)
		}
		data, err := os.ReadFile(record)
		if err != nil {
			t.Fatal(err)
		}
		put(t, record, strings.Replace(string(data), `"prov:usedEntity"`, `"prov:used"`, 1))
		if out, err := python("testdata/record.py", record); err == nil ||
			!strings.Contains(out, "no prov:usedEntity") {
			t.Errorf("%v\n%s", err, out)
		}
		put(t, record, string(data))
		put(t, filepath.Join(inside, "data", "extra.txt"), "not in any list\n")
		if out, err := python("testdata/bag.py", inside); err == nil {
			t.Errorf("the second reader takes a file that no list names:\n%s", out)
		}
	}
}

// python runs a script of the tests.
func python(script, file string) (string, error) {
	out, err := exec.Command("/usr/bin/python3", "-W", "ignore", script, file).CombinedOutput()
	return string(out), err
}

func put(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A set that is there is not replaced, and an archive that was changed gives none.
func TestRefused(t *testing.T) {
	archive := build(t, full)
	out := t.TempDir()
	plan := handover.Plan{Archive: archive, To: handover.DataCentre, Out: out}
	if _, err := handover.Run(context.Background(), plan); err != nil {
		t.Fatal(err)
	}
	if _, err := handover.Run(context.Background(), plan); err == nil || !strings.Contains(err.Error(), "already") {
		t.Error(err)
	}
	if err := os.WriteFile(filepath.Join(archive, "data", "README.txt"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	plan.Out = t.TempDir()
	if _, err := handover.Run(context.Background(), plan); err == nil {
		t.Error("a changed archive was handed over")
	}
}
