//go:build cgo

package pipeline_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/castwright/castwright/metadata"
)

// flagsAt returns flags in force and proposed of a variable at a pressure of a station of the demo.
func flagsAt(t *testing.T, archive, variable, station string, dbar float64) (force, auto float64) {
	t.Helper()
	path := filepath.Join(archive, "data/casts/saltmarten-2026-05_ctd.nc")
	row := slices.Index(texts(t, path, "station"), station)
	if row < 0 {
		t.Fatal("no station " + station)
	}
	at := func(name string) float64 {
		v, find := atPressures(t, path, name, row)
		x, ok := find(dbar, v)
		if !ok {
			t.Fatalf("%s of station %s has no level at %g dbar", name, station, dbar)
		}
		return x
	}
	force = at(variable + "_flag_woce")
	if has(t, path, variable+"_flag_auto") {
		auto = at(variable + "_flag_auto")
	}
	return force, auto
}

// castOfZip returns the exchange file of a station.
func castOfZip(t *testing.T, path, station string) string {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	for _, f := range z.File {
		if strings.Contains(f.Name, "_"+station+"_") {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			b, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			return string(b)
		}
	}
	t.Fatal("no cast of station " + station)
	return ""
}

// byCheck counts findings by their check.
func byCheck(p pipeline.Product) map[string]int {
	n := map[string]int{}
	for _, f := range p.Findings {
		n[f.Check]++
	}
	return n
}

// quick is the demo cruise without what takes long.
func quick(t *testing.T, more string) map[string]string {
	t.Helper()
	files := demo(t)
	i := strings.Index(files["cruise.yaml"], "sections:")
	files["cruise.yaml"] = files["cruise.yaml"][:i] + "figures: none\n" + more
	return files
}

// Proposals of the checks, decided about by a person in the flag edits, are followed through NetCDF, exchange files,
// tables, provenance and rebuild: one is lowered further, one is rejected, a flag of the originator is raised, a check
// sets flags unattended, and what remains is accepted and signed. The flags go on into what is derived.
func TestFlagsGoRound(t *testing.T) {
	files := quick(t, "")
	p := check(t, files)
	if len(p.Open.Edits) != 2 || p.Open.Edits[0].Check != "spike.bin" || p.Open.Edits[0].FromDbar != 822 ||
		len(p.Open.Accept) == 0 {
		t.Fatalf("%+v", p.Open)
	}
	var table bytes.Buffer
	if err := p.Open.Write(&table); err != nil {
		t.Fatal(err)
	}
	edits := strings.Replace(table.String(), "temp,822,822,3,,,,",
		"temp,822,822,4,RH,spike in both sensors,2026-06-01,", 1)
	edits = strings.Replace(edits, "psal,822,822,3,,,,", "psal,822,822,2,RH,salinity is right,2026-06-01,", 1)
	edits += "ZZSM20260504,5,1,oxy,42,54,2,RH,agrees with the cast before,2026-06-01,\n" // flagged 3 by the originator
	files["edits.csv"] = edits
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "casts:\n", "casts:\n  edits: [edits.csv]\n", 1)

	// Final needs a signature and every warning decided.
	final := strings.Replace(files["cruise.yaml"], "status: preliminary",
		"status: final, version: '1', date: 2026-06-30", 1)
	const name, few = "casts/ZZSM20260504_00012_00001_ct1.csv", "   3.7408,2,  34.8555,2,  51\n"
	if !strings.Contains(files[name], few) {
		t.Fatal("station 12 has other values at 100 dbar")
	}
	files[name] = strings.Replace(files[name], few, "   3.7408,2,  34.8555,2,   3\n", 1) // of about 50 scans
	const quality = "quality:\n  apply: [counts]\n  signed: {by: RH, date: 2026-06-30}\n"
	files["cruise.yaml"] = final + quality
	p = check(t, files)
	if got := byCheck(p)["quality.open"]; got != 1 {
		t.Errorf("%d refusals of a final release with open findings", got)
	}
	if len(p.Open.Edits) != 0 {
		t.Errorf("decided proposals are open: %+v", p.Open.Edits)
	}
	accept := ""
	for _, text := range p.Open.Accept {
		accept += "    - " + strings.TrimSuffix(text, "}") + ", initials: RH, reason: seen}\n"
	}
	files["cruise.yaml"] = final + quality + "  accept:\n" + accept
	a := build(t, files)
	for _, c := range []struct {
		variable, station string
		dbar              float64
		force, auto       float64
	}{{"temp", "18", 822, 4, 3}, {"psal", "18", 822, 2, 3}, {"temp", "18", 820, 2, 2}, {"oxy", "5", 44, 2, 2},
		{"psal", "4", 240, 4, 0}, {"temp", "12", 100, 3, 3}, {"psal", "12", 100, 3, 3}, {"oxy", "12", 102, 2, 2},
		{"ctemp", "18", 822, 4, 0}, {"asal", "18", 822, 2, 0}, {"asal", "12", 100, 3, 0}, {"oxysat", "5", 44, 2, 0}} {
		if force, auto := flagsAt(t, a, c.variable, c.station, c.dbar); force != c.force || auto != c.auto {
			t.Errorf("%s of station %s at %g dbar: flags %g in force, %g proposed; want %g and %g", c.variable,
				c.station, c.dbar, force, auto, c.force, c.auto)
		}
	}
	exchange := castOfZip(t, filepath.Join(a, "data/casts/ZZSM20260504_ct1.zip"), "00018")
	i := strings.Index(exchange, "\n   822.0,")
	if line := strings.Split(exchange[i+1:], "\n")[0]; !strings.HasPrefix(strings.ReplaceAll(line, " ", ""),
		"822.0,2,") || strings.Split(line, ",")[3] != "4" ||
		strings.Split(line, ",")[5] != "2" {
		t.Errorf("the exchange file has %q", line)
	}
	exchange = castOfZip(t, filepath.Join(a, "data/casts/ZZSM20260504_ct1.zip"), "00012")
	want := "100.0,2,3.7397,3,34.8575,3,302.4,3,"
	if !strings.Contains(strings.ReplaceAll(exchange, " ", ""), "\n"+want) {
		t.Errorf("the exchange file of station 12 lacks %s", want)
	}
	accepted, unattended := 0, 0
	for _, r := range rowsOf(t, a, "tables/findings.csv") {
		if r["check"] == "counts" && r["accepted_by"] == "quality: apply" {
			unattended++
			continue
		}
		if r["severity"] == "warning" && r["accepted_by"] != "RH" {
			t.Errorf("an open warning in a final archive: %v", r)
		}
		if r["check"] == "spike.bin" {
			accepted++
		}
	}
	if accepted != 2 {
		t.Errorf("%d accepted proposals stay in the table", accepted)
	}
	if n := len(activities(t, a, "flag")); n != 3+unattended || unattended < 3 {
		t.Errorf("%d records of 3 edits and %d columns whose flags a check set", n, unattended)
	}
	again, err := rebuild.Run(t.Context(), rebuild.Plan{Archive: a, Out: t.TempDir()})
	if err != nil || len(again.Differences) > 0 {
		t.Errorf("rebuild: %v, %v", err, again.Differences)
	}
}

// A check that the cruise file lets set flags does so, with a record each, and never makes a flag better.
func TestChecksSetFlagsWhenToldTo(t *testing.T) {
	files := quick(t, "quality: {apply: [spike.bin]}\n")
	name := "casts/ZZSM20260504_00018_00001_ct1.csv"
	bad := strings.Replace(files[name], "822.0,2,", "822.0,2,", 1)
	i := strings.Index(bad, "\n   822.0,")
	line := strings.Split(bad[i+1:], "\n")[0]
	cells := strings.Split(line, ",")
	cells[5] = "4" // the originator says bad
	files[name] = strings.Replace(bad, line, strings.Join(cells, ","), 1)
	a := build(t, files)
	if force, auto := flagsAt(t, a, "temp", "18", 822); force != 3 || auto != 3 {
		t.Errorf("temp: %g in force, %g proposed", force, auto)
	}
	if force, _ := flagsAt(t, a, "psal", "18", 822); force != 4 {
		t.Errorf("psal was bad and is %g", force)
	}
	records := activities(t, a, "flag")
	if len(records) != 1 || !strings.Contains(fmt.Sprint(records[0]), "quality: apply") {
		t.Errorf("records: %v", records)
	}
	for _, r := range rowsOf(t, a, "tables/findings.csv") {
		if r["check"] == "spike.bin" && r["accepted_by"] == "" {
			t.Errorf("open though applied: %v", r)
		}
	}
}

// An entry accepts the finding that it names and no other; one that names none is a warning.
func TestAcceptNamesOneFinding(t *testing.T) {
	const start = "quality:\n  accept:\n    - {id: pressure.step, cast: 7/1, variable: pres, pressure: "
	for _, c := range []struct {
		pressure     string
		open, unused bool
	}{{"182-198", false, false}, {"182-196", true, true}, {"182", true, true}} {
		p := check(t, quick(t, start+c.pressure+", initials: RH, reason: seen}\n"))
		open, unused := false, false
		for _, f := range p.Findings {
			open = open || f.Check == "pressure.step" && f.Open()
			unused = unused || f.Check == "quality.accept"
		}
		if open != c.open || unused != c.unused {
			t.Errorf("%s: open %v, unused %v", c.pressure, open, unused)
		}
	}
}

// Thresholds of the cruise file replace those of the checks.
func TestThresholdsOfTheCruiseFile(t *testing.T) {
	p := check(t, quick(t,
		"quality: {thresholds: {spike.bin.temp_upper: 2, spike.bin.temp_deep: 2, spike.bin.psal_upper: 1, "+
			"spike.bin.psal_deep: 1}}\n"))
	if n := byCheck(p)["spike.bin"]; n != 0 {
		t.Errorf("%d spikes", n)
	}
}

// A planted step of the log's clock is one finding.
func TestOneFindingForAZone(t *testing.T) {
	files := map[string]string{"cruise.yaml": "cruise: {id: z}\nfigures: none\ncasts: {sources: [casts], " +
		"station_table: log.csv}\n"}
	log := "station,cast,time\n"
	for i := range 6 {
		n := fmt.Sprint(i + 1)
		files["casts/"+n+"_ct1.csv"] = ctd("ZZTE20260501", n, "1", "2026050"+n, "0400", "60."+n, "-20.0", "400", 39)
		log += n + ",1,2026-05-0" + n + " 06:00\n"
	}
	files["log.csv"] = log
	p := check(t, files)
	if k := byCheck(p); k["time.zone"] != 1 || k["station_table.time"] != 0 {
		t.Errorf("%v", k)
	}
	if i := slices.IndexFunc(p.Findings, func(f metadata.Finding) bool { return f.Check == "time.zone" }); i >= 0 &&
		!strings.Contains(p.Findings[i].Message, "+2.0 hours") {
		t.Error(p.Findings[i].Message)
	}
}

// The table of checks that help prints has a line for every threshold.
func TestHelpOnChecks(t *testing.T) {
	help := pipeline.HelpOnChecks()
	for _, want := range []string{"spike.bin.psal_deep: 0.005 (salinity in deep water)\n", "counts.fraction: 0.3 (",
		"common practice, no source", "deep.step.step: 0.002 (step in salinity)\n",
		"dual.temp: 0.002 degC (difference in temperature)\n"} {
		if !strings.Contains(help, want) {
			t.Errorf("no %q", want)
		}
	}
	if strings.Contains(help, string(os.PathSeparator)+"tmp") {
		t.Error("a path of this machine")
	}
}
