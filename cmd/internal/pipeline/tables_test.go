package pipeline_test

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// ctd writes an exchange file of n levels, 10 dbar apart, in a sea that gets colder, saltier and denser with depth.
func ctd(expocode, station, number, date, clock, lat, lon, depth string, n int) string {
	var b strings.Builder
	heads := []string{"EXPOCODE = " + expocode, "STNNBR = " + station, "CASTNO = " + number, "DATE = " + date}
	if clock != "" {
		heads = append(heads, "TIME = "+clock)
	}
	heads = append(heads, "LATITUDE = "+lat, "LONGITUDE = "+lon)
	if depth != "" {
		heads = append(heads, "DEPTH = "+depth)
	}
	fmt.Fprintf(&b,
		"CTD,20260510ZZTEST\nNUMBER_HEADERS = "+
			"%d\n%s\nCTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W\nDBAR,,ITS-90,,PSS-78,\n",
		len(heads)+1, strings.Join(heads, "\n"))
	for i := range n {
		p := float64(10 * (i + 1))
		fmt.Fprintf(&b, "%.1f,2,%.4f,2,%.4f,2\n", p, 9-p/200, 34.8+p/2000)
	}
	b.WriteString("END_DATA\n")
	return b.String()
}

// lay writes files into a new folder.
func lay(t *testing.T, files map[string]string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func check(t *testing.T, files map[string]string) pipeline.Product {
	t.Helper()
	p, err := pipeline.Check(context.Background(),
		pipeline.Plan{CruiseFile: filepath.Join(lay(t, files), "cruise.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// told writes findings of some checks as a person reads them.
func told(p pipeline.Product, prefix string) (out []string) {
	for _, f := range p.Findings {
		if strings.HasPrefix(f.Check, prefix) {
			out = append(out, fmt.Sprintf("%s %s: %s [%s] > %s", f.Severity, f.Position, f.Message, f.Check,
				f.Advice()))
		}
	}
	return out
}

func expect(t *testing.T, got, want []string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("got\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}

func contents(t *testing.T, parts ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(parts...))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// records gives a PROV activity's settings by its step.
func activities(t *testing.T, archive, step string) (out []map[string]any) {
	t.Helper()
	var doc struct{ Activity map[string]map[string]any }
	if err := json.Unmarshal([]byte(contents(t, archive, "data/provenance/prov.json")), &doc); err != nil {
		t.Fatal(err)
	}
	for i := 1; i <= len(doc.Activity); i++ {
		for k, a := range doc.Activity {
			if strings.HasPrefix(k, fmt.Sprintf("ex:step-%d-", i)) && a["prov:label"] == step {
				out = append(out, a)
			}
		}
	}
	return out
}

const code = "ZZTE20260501"

// Accepted edits are applied last, one record each; proposals, and edits that match nothing, change nothing and are
// named.
func TestFlagEdits(t *testing.T) {
	files := map[string]string{
		"cruise.yaml": "cruise: {id: e}\nfigures: none\ncasts: {sources: [casts], edits: [my edits.csv]}\n",
		"my edits.csv": "station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date,check\n" +
			"001,1,psal,20,40,3,RH,\"bubble, both pumps\",2026-05-16,\n" + // 3 levels
			"001,1,CTDTMP,30,30,4,OL,spike,2026-05-17,spike.bin\n" + // by the name in the file
			"001,1,psal,40,50,4,RH,worse than thought,2026-05-18,\n" + // one of them again
			"001,1,psal,10,10,4,,spike,,spike.bin\n" + // nobody's yet: a reason without initials
			"001,1,psal,10,10,4,RH,,,\n" + // no reason
			"001,1,psal,60,60,4,,,,spike.bin\n" + // a proposal as a check writes it
			"001,1,psal,70,70,4,,,,spike.bin\n" +
			"1,1,psal,10,10,4,RH,spike,,\n" +
			"002,3,psal,10,10,4,RH,spike,,\n" +
			"002,1,psl,10,10,4,RH,spike,,\n" +
			"002,1,psal,500,600,4,RH,too deep,,\n" +
			"002,1,psal,10,20,9,RH,away with it,,\n" +
			"002,1,sigma0,10,20,4,RH,derived,,\n",
		"casts/a_ct1.csv": ctd(code, "001", "1", "20260502", "0300", "60.0", "-20.0", "120", 10),
		"casts/b_ct1.csv": ctd(code, "002", "1", "20260502", "0900", "60.2", "-20.0", "130", 10),
	}
	p := check(t, files)
	expect(t, told(p, "edits."), []string{
		"warning my edits.csv:5:20: the edit has no initials; not applied [edits.unsigned] > add the initials to " +
			"accept it, or take the line out",
		"warning my edits.csv:6:23: the edit has no reason; not applied [edits.unsigned] > add the reason to " +
			"accept it, or take the line out",
		"note my edits.csv:7:20: 2 of 13 edits have no initials and are not applied; this is the first " +
			"[edits.unsigned] > add initials and a reason to accept an edit, or take its line out",
		"warning my edits.csv:9:1: no file holds cast 1/1; not applied [edits.station] > did you mean 001/1",
		"warning my edits.csv:10:1: no file holds cast 002/3; not applied [edits.station] > station 002 has cast 1",
		"warning my edits.csv:11:7: cast 002/1 has no variable psl; not applied [edits.variable] > did you mean psal",
		"warning my edits.csv:12:12: cast 002/1 has no level in 500 to 600 dbar; not applied [edits.from_dbar] > " +
			"the cast has levels from 10 to 100 dbar",
		"warning my edits.csv:13:18: flag 9 says that there is no value, and psal of cast 002/1 has one at 2 " +
			"levels in 10 to 20 dbar; not applied [edits.flag] > flag it bad (4) or questionable (3) to keep it " +
			"out of what is derived: nothing measured is deleted",
		"warning my edits.csv:14:7: cast 002/1 has no variable sigma0; not applied [edits.variable] > the cast " +
			"has pres, temp, psal",
		"note my edits.csv:4:18: sets 1 flag that the edit at my edits.csv:2:18 has set; the later line counts " +
			"[edits.again] > ",
	})
	a := build(t, files)
	flags, shape := read(t, filepath.Join(a, "data/casts/e_ctd.nc"), "psal_flag_woce")
	if want := []float64{2, 3, 3, 4, 4, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2}; !slices.Equal(flags, want) {
		t.Errorf("flags of psal %v %v, want %v", shape, flags, want)
	}
	temp, _ := read(t, filepath.Join(a, "data/casts/e_ctd.nc"), "temp_flag_woce")
	if temp[2] != 4 || slices.Max(temp[:2]) != 2 || slices.Max(temp[3:]) != 2 {
		t.Errorf("flags of temp %v", temp)
	}
	// Nothing measured is deleted; what is derived leaves the flagged values out.
	psal, _ := read(t, filepath.Join(a, "data/casts/e_ctd.nc"), "psal")
	asal, _ := read(t, filepath.Join(a, "data/casts/e_ctd.nc"), "asal")
	if math.IsNaN(psal[1]) || psal[1] != 34.81 {
		t.Errorf("psal %v", psal[:5])
	}
	derivedFlags, _ := read(t, filepath.Join(a, "data/casts/e_ctd.nc"), "asal_flag_woce")
	if derivedFlags[1] != 3 || derivedFlags[3] != 4 || asal[0] == 0 {
		t.Errorf("flags of asal %v", derivedFlags[:5])
	}
	// One record each, with its line and what it changed; the date of the newest decision is the archive's.
	got := activities(t, a, "flag")
	if len(got) != 3 {
		t.Fatalf("%d records of edits: %v", len(got), got)
	}
	if s := fmt.Sprint(got[2]["ex:text"], "|", got[2]["ex:was"], "|", got[2]["ex:line"], "|", got[2]["ex:decided"], "|",
		got[1]["ex:proposed_by"]); s !=
		"psal of cast ZZTE20260501_00001_00001, 40 to 50 dbar: flag 4 at 2 levels by RH: worse than thought|2 at "+
			"1, 3 at 1|my edits.csv:4:18|2026-05-18|spike.bin" {
		t.Error(s)
	}
	if s := contents(t, a, "bag-info.txt"); !strings.Contains(s, "Time-Stamp: 2026-05-18T00:00:00Z") {
		t.Error(s)
	}
	if s := contents(t, a, "data/provenance/history.txt"); strings.Count(s, ": flag: ") != 3 ||
		!strings.Contains(s, "2026-05-18T00:00:00Z castwright") {
		t.Error(s)
	}
	if contents(t, a, "data/provenance/flag_edits.csv") != files["my edits.csv"] {
		t.Error("flag_edits.csv is not the file of the person")
	}
	if !strings.Contains(contents(t, a, "data/inputs/inputs.csv"), "\nmy edits.csv,") {
		t.Error("edits are not among the inputs")
	}
	prov := contents(t, a, "data/provenance/prov.json")
	for _, s := range []string{`"ex:lines": "2-2"`, `"ex:lines": "13-22"`} {
		// the edit's line; data lines of the cast files
		if !strings.Contains(prov, s) {
			t.Errorf("prov.json lacks %s", s)
		}
	}
	// A fault in the table stops the build at its place.
	files["my edits.csv"] = "station,cast,variable,flag,initials,reason\n001,1,psal,8,RH,x\n"
	expect(t, told(check(t, files), "input.edits"),
		[]string{"error my edits.csv:2:12: flag 8 is not used for CTD data [input.edits] > " +
			"write 1 not calibrated, 2 acceptable, 3 questionable, 4 bad, 5 not reported, 6 interpolated, 7 " +
			"despiked or 9 not sampled"})
}

// A station table fills and overrides headers; each difference is a finding with both values. The cruise file's own
// words on a cast go first.
func TestStationTable(t *testing.T) {
	files := map[string]string{
		"cruise.yaml": "cruise: {id: s}\nfigures: none\nsystems: [{label: main}, {label: spare, stations: '3'}]\n" +
			"casts:\n  sources: [casts]\n  station_table: log.csv\n  clock: [{stations: 1-4, zone: '+02:00', of: " +
			"station_table}]\n  role: [{test: 4}]\n" +
			"  leave_out: [{cast: 5/1, reason: wire cut}]\n",
		"log.csv": "station,cast,time,latitude,longitude,depth,direction,role,system,remark\n" +
			"1,1,2026-05-02 05:00:30,60.0,-20.0,120.4,down,,,calm\n" + // agrees, with seconds and a digit more
			"2,1,2026-05-02 11:10,60.25,-20.0,150,up,repeat,spare,\n" + // differs in time, position, depth
			"3,1,2026-05-02 15:00,,,,,,mian,\n" +
			"4,1,,,,,,primary,,\n" +
			"5,1,,,,,,,,left out and silent\n" +
			"06,1,,,,,,,,\n",
		"casts/1_ct1.csv": ctd(code, "1", "1", "20260502", "0300", "60.00", "-20.00", "120", 10),
		"casts/2_ct1.csv": ctd(code, "2", "1", "20260502", "0900", "60.20", "-20.00", "130", 10),
		"casts/3_ct1.csv": ctd(code, "3", "1", "20260502", "", "60.40", "-20.00", "", 10),
		"casts/4_ct1.csv": ctd(code, "4", "1", "20260502", "1500", "60.60", "-20.00", "", 10),
		"casts/5_ct1.csv": ctd(code, "5", "1", "20260502", "1800", "60.80", "-20.00", "", 10),
		"casts/6_ct1.csv": ctd(code, "6", "1", "20260502", "2100", "61.00", "-20.00", "", 10),
	}
	p := check(t, files)
	log := "compare both with the log, and correct the one that is wrong"
	expect(t, told(p, "station_table."), []string{
		"note log.csv: no line for cast: 6/1 [station_table.cast] > ",
		"warning log.csv:7:1: no file holds cast 06/1 [station_table.station] > did you mean 6/1",
		"warning log.csv:3:5: time is 2026-05-02 09:10 here and 2026-05-02 09:00 in casts/2_ct1.csv (both UTC); " +
			"the table counts [station_table.time] > " +
			log,
		"warning log.csv:3:22: position is 60.25, -20.0 here and 60.20, -20.00 in casts/2_ct1.csv (latitude, " +
			"longitude); the table counts [station_table.latitude] > " +
			log,
		"warning log.csv:3:34: water depth is 150 m here and 130 m in casts/2_ct1.csv; the table counts " +
			"[station_table.depth] > " +
			log,
		"warning log.csv:4:27: system mian is not in the cruise file; not taken [station_table.system] > did you " +
			"mean main",
		"warning log.csv:5:10: role is primary here and test in the cruise file; the cruise file counts " +
			"[station_table.role] > " +
			log,
	})
	a := build(t, files)
	recs, err := csv.NewReader(strings.NewReader(contents(t, a, "data/tables/stations.csv"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range recs[1:] {
		got = append(got, strings.Join([]string{r[2], r[4], r[5], r[6], r[8], r[10], r[11], r[12], r[16], r[19]}, " "))
	}
	expect(t, got, []string{
		"1 primary down main 2026-05-02T03:00:30Z 60.00 -20.00 120.4  calm",
		"2 repeat up spare 2026-05-02T09:10:00Z 60.25 -20.0 150  ",
		"3 primary down spare 2026-05-02T13:00:00Z 60.40 -20.00   ",
		"4 test down main 2026-05-02T15:00:00Z 60.60 -20.00   ",
		"6 primary down main 2026-05-02T21:00:00Z 61.00 -20.00   ",
		"5 unstated unknown none 2026-05-02T18:00:00Z 60.80 -20.00  wire cut ",
	})
	file := filepath.Join(a, "data/casts/s_ctd.nc")
	if depth, _ := read(t, file, "bottom_depth"); depth[0] != 120.4 || depth[1] != 150 || !math.IsNaN(depth[2]) {
		t.Errorf("bottom_depth %v", depth)
	}
	if v, _ := read(t, file, "cast_direction"); !slices.Equal(v, []float64{1, 2, 1, 1, 1}) {
		t.Errorf("cast_direction %v", v)
	}
	if v, _ := read(t, file, "cast_role"); !slices.Equal(v, []float64{1, 2, 1, 4, 1}) {
		t.Errorf("cast_role %v", v)
	}
	if got := activities(t, a, "station table"); len(got) != 1 || got[0]["ex:times_changed"] != "1" ||
		got[0]["ex:times_filled"] != "1" ||
		got[0]["ex:positions_changed"] != "1" || got[0]["ex:depths_changed"] != "1" || got[0]["ex:roles_set"] != "1" ||
		got[0]["ex:systems_set"] != "1" {
		t.Errorf("record %v", got)
	}
	if got := activities(t, a, "leave out"); len(got) != 1 ||
		got[0]["ex:text"] != "casts/5_ct1.csv (cast ZZTE20260501_00005_00001): wire cut" {
		t.Errorf("record %v", got)
	}
}

func bottleFile(rows ...string) string {
	return "BOTTLE,20260511ZZTEST\nEXPOCODE,STNNBR,CASTNO,SAMPNO,BTLNBR,BTLNBR_FLAG_W,DATE,TIME,LATITUDE,LONGITUDE,CTDPRS,CTDSAL,CTDSAL_FLAG_W,SALNTY,SALNTY_FLAG_W\n" +
		",,,,,,,,,,DBAR,PSS-78,,PSS-78,\n" + strings.Join(rows, "\n") + "\nEND_DATA\n"
}

// Bottles go through to one exchange file for each expocode; bottles of a cast that no CTD file holds are named.
func TestBottles(t *testing.T) {
	const other = "ZZTE20260601"
	row := func(code, station, cast, sample, p string) string {
		return code + "," + station + "," + cast + "," + sample + "," + sample + ",2,20260502,0310,60.0000,-20.0000," +
			p + ",34.8050,2,34.8046,2"
	}
	files := map[string]string{
		"cruise.yaml": "cruise: {id: b, legs: [{expocode: " + code + "}, {expocode: " + other + "}]}\nfigures: none\n" +
			"casts:\n  sources: [casts]\n  bottles: [bottles]\n  renumber: [{from: 21/1, to: 2/1, why: typing " +
			"error}]\n  leave_out: [{cast: 9/1, reason: lost}]\n",
		"casts/1_ct1.csv":      ctd(code, "1", "1", "20260502", "0300", "60.00", "-20.00", "120", 10),
		"casts/2_ct1.csv":      ctd(code, "21", "1", "20260502", "0900", "60.20", "-20.00", "130", 10),
		"casts/9_ct1.csv":      ctd(code, "9", "1", "20260502", "1200", "60.30", "-20.00", "130", 10),
		"casts/leg2_1_ct1.csv": ctd(other, "1", "1", "20260602", "0900", "60.20", "-21.00", "130", 10),
		"bottles/a_hy1.csv": bottleFile(row(code, "1", "1", "1", "100.0"), row(code, "1", "1", "2", "50.0"),
			row(code, "21", "1", "1", "90.0"), row(other, "1", "1", "1", "80.0"), row(code, "9", "1", "1", "80.0")),
		"bottles/b_hy1.csv": strings.NewReplacer("CTDSAL,CTDSAL_FLAG_W,SALNTY", "OXYGEN,OXYGEN_FLAG_W,SALNTY",
			"PSS-78,,PSS-78", "UMOL/KG,,PSS-78", "34.8050", "250.5").
			Replace(bottleFile(row(code, "001", "1", "1", "70.0"))),
	}
	p := check(t, files)
	expect(t, told(p, "bottles."), []string{
		"note bottles/a_hy1.csv: 1 bottle of cast 21/1: written under its new number [bottles.renumber] > ",
		"note bottles/a_hy1.csv: 1 bottle of cast 9/1, which the cruise file leaves out; kept [bottles.cast] > ",
		"warning bottles/b_hy1.csv: 1 bottle of cast 001/1 of " + code +
			", which no CTD file holds; kept [bottles.cast] > did you mean 1/1",
	})
	a := build(t, files)
	one := contents(t, a, "data/casts/"+code+"_hy1.csv")
	for _, want := range []string{
		"CTDPRS,CTDSAL,CTDSAL_FLAG_W,SALNTY,SALNTY_FLAG_W,OXYGEN,OXYGEN_FLAG_W",
		// under its new name, without oxygen
		code + ",2,1,1,1,2,20260502,0310,60.0000,-20.0000,90.0,34.8050,2,34.8046,2,-999,9",
		code + ",001,1,1,1,2,20260502,0310,60.0000,-20.0000,70.0,-999,9,34.8046,2,250.5,2",
	} {
		if !strings.Contains(one, want) {
			t.Errorf("no %s in\n%s", want, one)
		}
	}
	if strings.Contains(one, other) || strings.Count(one, "\n"+code+",") != 5 {
		t.Errorf("%s", one)
	}
	if two := contents(t, a, "data/casts/"+other+"_hy1.csv"); strings.Count(two, "\n"+other+",1,1,1,1,2,") != 1 {
		t.Errorf("%s", two)
	}
	if got := activities(t, a, "renumber"); len(got) != 1 || got[0]["ex:from"] != "21/1" || got[0]["ex:to"] != "2/1" {
		t.Errorf("record %v", got)
	}
	// The same sample in two files.
	files["bottles/b_hy1.csv"] = files["bottles/a_hy1.csv"]
	if got := told(check(t, files), "bottles.twice"); len(got) != 5 ||
		!strings.HasPrefix(got[0], "error bottles/b_hy1.csv: sample 1 of cast 1/1 is in bottles/a_hy1.csv too") {
		t.Errorf("%v", got)
	}
}

// TestLostRowsAreFound checks a cruise of which one cast lost its lower half, one a block of bins and one its END_DATA
// to the wrong place, and one has no depth in numbers: check names each; a remark in the station table turns the first
// into a note.
func TestLostRowsAreFound(t *testing.T) {
	cast := func(station string, n int) string {
		return ctd("ZZTE20260501", station, "1", "2026050"+station, "0400", "60."+station, "-20.0", "400", n)
	}
	block := cast("4", 40)
	from, to := strings.Index(block, "200.0,2"), strings.Index(block, "260.0,2")
	early := strings.Replace(cast("5", 40), "360.0,2", "END_DATA\n360.0,2", 1)
	files := map[string]string{"casts/1_ct1.csv": cast("1", 40), "casts/2_ct1.csv": cast("2", 39),
		"casts/3_ct1.csv": cast("3", 20),
		"casts/4_ct1.csv": block[:from] + block[to:], "casts/5_ct1.csv": early,
		"casts/6_ct1.csv": strings.Replace(cast("6", 40), "DEPTH = 400", "DEPTH = NaN", 1),
		"casts/7_ct1.csv": strings.Replace(cast("7", 40), "DEPTH = 400", "DEPTH = 300", 1)}
	const plan = "cruise: {id: r}\nfigures: none\nsystems: [{label: a, bin: {width: 10, label: " +
		"centre}}]\nsections: [{name: line, stations: 1-7, grid: none}]\n"
	for _, remark := range []string{"", "winch stopped at 200 m"} {
		files["s.csv"] = "station,cast,remark\n3,1," + remark + "\n"
		files["cruise.yaml"] = plan + "casts: {sources: [casts], station_table: s.csv}\n"
		got := map[string]string{}
		for _, f := range check(t, files).Findings {
			if f.Check == "bottom" || f.Check == "pressure.step" || strings.HasPrefix(f.Check, "exchange.") {
				got[f.Check+" "+f.Variable] = fmt.Sprintf("%v %s %g %g %d", f.Severity, strings.TrimSuffix(f.File,
					"_ct1.csv"), f.First, f.Last, f.Count)
			}
		}
		want := map[string]string{"bottom pres": "warning casts/3 200 200 1",
			"pressure.step pres":  "warning casts/4 200 250 6",
			"exchange.after_end ": "warning casts/5 360 400 5", "exchange.depth ": "warning casts/6 0 0 1",
			"bottom bottom_depth": "warning casts/7 400 400 1"}
		if remark != "" {
			want["bottom pres"] = "note casts/3 200 200 1"
		}
		for k, w := range want {
			if got[k] != w {
				t.Errorf("remark %q: %s: %s, want %s", remark, k, got[k], w)
			}
		}
		if len(got) != len(want) {
			t.Errorf("remark %q: %v", remark, got)
		}
	}
}
