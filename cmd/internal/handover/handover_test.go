package handover_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/handover"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
)

const casts = "../../../testdata/cruise/casts"

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
	file := filepath.Join(dir, "cruise.yaml")
	if err := os.WriteFile(file, []byte(yaml), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		t.Fatal(err, p.Findings)
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
		handover.DataCentre: {"cruise: ships", "cruise: legs", "release: licence", "release: contact", "systems"},
		handover.Repository: {"cruise: title", "cruise: legs", "cruise: institutions", "cruise: funding",
			"release: version", "release: date", "release: doi", "release: licence", "release: contact",
			"release: publisher"},
		handover.NationalArchive: {"cruise: region", "cruise: ships", "cruise: legs", "cruise: institutions",
			"cruise: projects", "release: licence", "release: contact", "systems", "casts: depth", "casts: time"},
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
       chief_scientist: {name: Ragna Holm, orcid: "https://orcid.org/0000-0000-0000-0001", institution: Skerry Institute}}
  people: [{name: Owen Lark, role: CTD processing, orcid: 0000-0000-0000-001X}]
  institutions: [{name: Skerry Institute, ror: "https://ror.org/012345654"}]
  projects: [Strait Watch]
  funding: [{name: Skerry Council, grant: SC-12}]
release: {status: preliminary, version: "1.0", date: 2026-06-30, licence: CC-BY-4.0, contact: data@example.org,
  doi: 10.5555/saltmarten-ctd, publisher: {name: Skerry Data Centre}}
systems:
  - label: main
    bin: {width: 2, label: centre}
    sensors:
      - {variables: [temp, psal, temp2, psal2, oxy], model: invented pair, serial: P-001, calibrated: 2026-01-20}
    salinity: {stage: adjusted to bottles, by: Owen Lark, date: 2026-05-16, residual: 0.0012}
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
		"  region: northern strait\n":                         "cruise: region",
		", from: Skerrywick":                                  "cruise: legs: from",
		", end: 2026-05-17":                                   "cruise: legs: end",
		`, orcid: "https://orcid.org/0000-0000-0000-0001"`:    "cruise: legs: chief_scientist: orcid",
		", orcid: 0000-0000-0000-001X":                        "cruise: people: orcid",
		`, ror: "https://ror.org/012345654"`:                  "cruise: institutions: ror",
		"\n  doi: 10.5555/saltmarten-ctd,":                    "release: doi",
		", licence: CC-BY-4.0":                                "release: licence",
		", serial: P-001":                                     "systems: sensors: serial",
		"    bin: {width: 2, label: centre}\n":                "systems: bin",
		", residual: 0.0012":                                  "systems: salinity: residual",
		"  depth: echo sounder\n":                             "casts: depth",
		", publisher: {name: Skerry Data Centre}":             "release: publisher",
		"  funding: [{name: Skerry Council, grant: SC-12}]\n": "cruise: funding",
		"  title: CTD casts of RV Saltmarten in May 2026\n":   "cruise: title",
		", date: 2026-06-30":                                  "release: date",
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
