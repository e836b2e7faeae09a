package pipeline_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// plan is a cruise file in parts, so that lines can be pasted where they belong.
type plan struct{ cruise, casts, section string }

func (p plan) text() string {
	s := "cruise:\n  id: r\n" + p.cruise + "figures: none\ncasts:\n  sources: [casts]\n" + p.casts
	if p.section != "" {
		s += "sections:\n  - {" + strings.ReplaceAll(p.section, "; ", ", ") + "}\n"
	}
	return s
}

// snippets returns the pieces of a cruise file that options hold, as lines.
func snippets(options []metadata.Option) (out [][]string) {
	for _, o := range options {
		out = append(out, strings.Split(o.Paste.String(), "\n"))
	}
	return out
}

// paste does what a person does with such a piece: the lines go under the key that is there already.
func (p plan) paste(t *testing.T, s []string) plan {
	t.Helper()
	rest := strings.Join(s[1:], "\n") + "\n"
	switch s[0] {
	case "cruise:":
		p.cruise += rest
	case "casts:":
		if strings.HasPrefix(p.casts, s[1]) { // in the place of the one there
			p.casts = ""
		}
		p.casts += rest
	case "sections:":
		item, ok := strings.CutPrefix(strings.TrimSuffix(rest, "}\n"), "  - {name: line, ")
		if !ok {
			t.Fatalf("not a line of this section: %q", rest)
		}
		key, _, _ := strings.Cut(item, ":")
		var keep []string
		for _, k := range strings.Split(p.section, "; ") {
			if !strings.HasPrefix(k, key+":") {
				keep = append(keep, k)
			}
		}
		p.section = strings.Join(append(keep, item), "; ")
	}
	return p
}

// Each finding that stops the work, and some that do not, ends in lines of a cruise file. Pasted, they are read, and
// the finding is gone.
func TestRemediesWork(t *testing.T) {
	cast := func(station, number string, n int) string {
		return ctd(code, station, number, "20260502", "0"+station[len(station)-1:]+"00", "60."+station[len(station)-1:],
			"-20.0", "400", n)
	}
	gap := cast("2", "1", 20)
	for p := 50; p <= 150; p += 10 { // a hole of 120 dbar
		i := strings.Index(gap, fmt.Sprintf("\n%d.0,", p))
		j := strings.Index(gap[i+1:], "\n") + i + 1
		gap = gap[:i] + gap[j:]
	}
	bottle := code + ",1,1,1,1,2,20260502,0310,60.1,-20.0,100.0,34.8050,2,34.8046,2"
	base := map[string]string{"casts/1_ct1.csv": cast("1", "1", 20), "casts/2_ct1.csv": cast("2", "1", 20),
		"casts/3_ct1.csv": cast("3", "1", 20)}
	line := "name: line; stations: 1-3; grid: none"
	twoSalinities := strings.NewReplacer("CTDTMP,CTDTMP_FLAG_W", "CTDSAL2,CTDSAL2_FLAG_W", "ITS-90",
		"PSS-78").Replace(cast("4", "1", 20))
	leg2 := map[string]string{} // another leg that numbers its stations from 1 too
	for _, s := range []string{"1", "2", "3"} {
		leg2["casts/leg2_"+s+"_ct1.csv"] = strings.NewReplacer(code, "ZZTE20260601", "20260502", "2026060"+s, "60.",
			"55.").Replace(cast(s, "1", 20))
	}
	var damaged bytes.Buffer
	z := zip.NewWriter(&damaged)
	m, err := z.Create("4_ct1.csv")
	if err == nil {
		_, err = io.WriteString(m, cast("4", "1", 20))
	}
	if err = errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	for i := range 8 {
		damaged.Bytes()[80+i] ^= 0x55
	}
	remedies := "" // all that were seen
	for _, c := range []struct {
		name  string
		files map[string]string
		plan  plan
		check string
		n     int // pieces to paste
		stops bool
		build bool // seen by build only
	}{
		{"a link to a file that is away", map[string]string{"casts/4_ct1.csv": "LINK"}, plan{}, "input.cast", 1, true,
			false},
		{"a file too large", map[string]string{"casts/4_ct1.csv": "LARGE"}, plan{}, "input.cast", 1, true, false},
		{"a damaged member of an archive", map[string]string{"casts/4_ct1.zip": damaged.String()}, plan{}, "input.cast",
			1, true, false},
		{"a column of water samples", map[string]string{"casts/4_ct1.csv": strings.Replace(cast("4", "1", 20),
			"CTDSAL,CTDSAL_FLAG_W", "SALNTY,SALNTY_FLAG_W", 1)}, plan{}, "exchange.bottle_column", 1, false, false},
		{"a value that is no number", map[string]string{"casts/4_ct1.csv": strings.Replace(cast("4", "1", 20), "8.5000",
			"eight", 1)}, plan{}, "input.cast", 2, true, false},
		{"a file of zeros, oddly named", map[string]string{"casts/no: 4 #1, 'x'_ct1.csv": strings.Repeat("\x00", 900)},
			plan{}, "input.cast", 1, true, false},
		{"an archive that is none", map[string]string{"casts/4_ct1.zip": "PK, but no archive"}, plan{}, "input.cast", 1,
			true, false},
		{"a cast twice", map[string]string{"casts/1b_ct1.csv": cast("1", "1", 20)}, plan{}, "input.cast", 2, true,
			false},
		{"two casts of one number, one file named for another",
			map[string]string{"casts/" + code + "_00007_00001_ct1.csv": cast("1", "2", 20)}, plan{},
			"exchange.file_name", 1, false, false},
		{"pressure by another name", map[string]string{"casts/4_ct1.csv": strings.NewReplacer("CTDPRS,CTDPRS_FLAG_W,",
			"PRESSURE_1,PRESSURE_1_FLAG_W,").Replace(cast("4", "1", 20))},
			plan{}, "input.cast", 2, true, false},
		{"a bottle file that breaks off", map[string]string{"b_hy1.csv": "BOTTLE,20260511ZZTEST\nEXPOCODE,STNNBR\n"},
			plan{casts: "  bottles: [b_hy1.csv]\n"}, "input.bottles", 1, true, false},
		{"a sample in two files", map[string]string{"b_hy1.csv": bottleFile(bottle), "c_hy1.csv": bottleFile(bottle)},
			plan{casts: "  bottles: [b_hy1.csv, c_hy1.csv]\n"}, "bottles.twice", 1, true, false},
		{"a station that nobody took", nil, plan{section: "name: line; stations: '1, 2, 7'; grid: none"},
			"section.stations", 1, true, false},
		{"a run whose end nobody took", nil, plan{section: "name: line; stations: 9-2; grid: none"}, "section.stations",
			1, true, false},
		{"an exception that nobody took", nil, plan{section: "name: line; stations: 1-3 except 8; grid: none"},
			"section.stations", 1, true, false},
		{"a station left out", nil, plan{casts: "  leave_out: [{cast: 3/1, reason: x}]\n", section: line},
			"section.stations", 1, true, false},
		{"a run written with zeros", nil, plan{section: "name: line; stations: 001-003; grid: none"},
			"section.stations", 1, true, false},
		{"a line there and back", nil, plan{section: "name: line; stations: '1, 2, 1'; grid: none"}, "section.stations",
			1, true, false},
		{"a run of two legs", leg2, plan{section: line}, "section.stations", 2, true, false},
		{"all stations of two legs", leg2, plan{section: "name: line; stations: all; grid: none"}, "section.stations",
			2, true, false},
		{"a station of two legs beside a run of one", leg2,
			plan{section: "name: line; stations: '" + code + ":1-2, 3'; grid: none"}, "section.stations", 2, true,
			false},
		{"a descending run of two legs with an exception", leg2,
			plan{section: "name: line; stations: 3-1 except 2; grid: none"}, "section.stations", 2, true, false},
		{"a cast of two legs left out", leg2, plan{casts: "  leave_out:\n    - {cast: 2/1, reason: x}\n"},
			"cruise.leave_out", 2, true, false},
		{"a cast of two legs renumbered", leg2, plan{casts: "  renumber:\n    - {from: 2/1, to: 7/1, why: x}\n"},
			"cruise.renumber", 2, true, false},
		{"an expocode that is not declared", map[string]string{"casts/4_ct1.csv": strings.Replace(cast("4", "1", 20),
			code, "ZZTE20260601", 1)},
			plan{cruise: ""}, "exchange.expocode_differs", 1, false, false},
		{"stations equal but for zeros, of one cast number", map[string]string{"casts/01_ct1.csv": cast("01", "1", 20)},
			plan{}, "exchange.station_zeros", 1, false, false},
		{"stations equal but for zeros", map[string]string{"casts/01_ct1.csv": cast("01", "2", 20)}, plan{},
			"exchange.station_zeros", 1, false, false},
		{"an alias for a variable that another column is", map[string]string{"casts/4_ct1.csv": twoSalinities,
			"casts/5_ct1.csv": strings.Replace(twoSalinities, "STNNBR = 4", "STNNBR = 5", 1)},
			plan{casts: "  aliases:\n    - {column: CTDSAL2, means: psal}\n"}, "input.cast", 1, true, false},
		{"an alias for a variable that a later column is",
			map[string]string{"casts/4_ct1.csv": strings.NewReplacer("CTDSAL2", "CTDSAL", "CTDSAL",
				"CTDSAL2").Replace(twoSalinities)},
			plan{casts: "  aliases:\n    - {column: CTDSAL2, means: psal}\n"}, "input.cast", 1, true, false},
		{"a column that is not known", map[string]string{"casts/1_ct1.csv": strings.NewReplacer("CTDSAL", "CTDSAL",
			"PSS-78", "G/L").Replace(cast("1", "1", 20))}, plan{}, "exchange.unlisted", 1, false, false},
		{"a gap", map[string]string{"casts/2_ct1.csv": gap}, plan{section: line}, "geostrophy.", 1, false, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := map[string]string{}
			for k, v := range base {
				files[k] = v
			}
			for k, v := range c.files {
				files[k] = v
			}
			find := func(p plan) (stopped bool, hits []metadata.Finding) {
				files["cruise.yaml"] = p.text()
				dir := lay(t, files)
				for name, text := range files { // what cannot be laid as text
					path := filepath.Join(dir, name)
					var err error
					switch text {
					case "LINK":
						err = errors.Join(os.Remove(path), os.Symlink("away.csv", path))
					case "LARGE":
						err = os.Truncate(path, 257<<20)
					}
					if err != nil {
						t.Fatal(err)
					}
				}
				run := pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml"), Out: t.TempDir()}
				do := pipeline.Check
				if c.build {
					do = pipeline.Build
				}
				product, err := do(context.Background(), run)
				if err != nil {
					t.Fatalf("%v in\n%s", err, files["cruise.yaml"])
				}
				for _, f := range product.Findings {
					remedies += f.Advice() + "\n"
					stopped = stopped || f.Severity == metadata.Failure
					if strings.HasPrefix(f.Check, c.check) && len(snippets(f.Options)) > 0 {
						hits = append(hits, f)
					}
				}
				return stopped, hits
			}
			stopped, hits := find(c.plan)
			if stopped != c.stops || len(hits) == 0 {
				t.Fatalf("stopped %v, %d findings of %s with lines to paste", stopped, len(hits), c.check)
			}
			pieces := snippets(hits[0].Options)
			if len(pieces) != c.n {
				t.Errorf("%d pieces in %q", len(pieces), hits[0].Advice())
			}
			for _, s := range pieces {
				stopped, left := find(c.plan.paste(t, s))
				if stopped || len(left) >= len(hits) {
					t.Errorf("pasted\n%s\nstopped %v, left %+v", strings.Join(s, "\n"), stopped, left)
				}
			}
		})
	}
	for _, text := range pastedTexts(t) {
		if !strings.Contains(remedies, text) {
			t.Errorf("no case above has the remedy %q, which ends in lines to paste", text)
		}
	}
}

// pastedTexts returns what the code of the program says of options that hold a piece of a cruise file: of each text,
// its longest string.
func pastedTexts(t *testing.T) (out []string) {
	t.Helper()
	var files []string
	for _, folder := range []string{"../../../ingest", "../../../section", "../../../section/geostrophy",
		"../../../section/derived", "../../../gridding", "."} {
		more, err := filepath.Glob(folder + "/*.go")
		if err != nil || len(more) == 0 {
			t.Fatal(folder, err)
		}
		files = append(files, more...)
	}
	longest := func(e ast.Expr) (text string) {
		ast.Inspect(e, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if s, err := strconv.Unquote(lit.Value); err == nil && len(s) > len(text) {
					text = s
				}
			}
			return true
		})
		return text
	}
	argument := map[string]int{"offer": 1, "leaveOut": 0, "eachLeg": 0} // which says what is done
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			var text ast.Expr
			switch n := n.(type) {
			case *ast.CompositeLit:
				values := map[string]ast.Expr{}
				for _, e := range n.Elts {
					if kv, ok := e.(*ast.KeyValueExpr); ok {
						if key, ok := kv.Key.(*ast.Ident); ok {
							values[key.Name] = kv.Value
						}
					}
				}
				if values["Paste"] != nil {
					text = values["Text"]
				}
			case *ast.CallExpr:
				if f, ok := n.Fun.(*ast.Ident); ok {
					if i, there := argument[f.Name]; there && i < len(n.Args) {
						text = n.Args[i]
					}
				}
			}
			if text != nil {
				if s := longest(text); s != "" {
					out = append(out, s)
				}
			}
			return true
		})
	}
	if len(out) < 12 {
		t.Errorf("%d texts before lines to paste", len(out))
	}
	return out
}

// TestLegsAreNeverMixed names stations and casts in the other places of a cruise file, and in a station table, without
// saying which of two legs is meant: each is an error that names the legs, or not done; with the expocode it is read.
func TestLegsAreNeverMixed(t *testing.T) {
	files := map[string]string{"s.csv": "station,cast,depth\n2,1,777\n3,1,888\n"}
	for leg, expocode := range []string{code, "ZZTE20260601"} {
		for _, s := range []string{"1", "2", "3"} {
			date := "2026050" + s
			if leg == 1 {
				date = "2026060" + s
			}
			files[fmt.Sprintf("casts/%d_%s_ct1.csv", leg, s)] = ctd(expocode, s, "1", date, "0400", "6"+fmt.Sprint(leg)+
				"."+s, "-20.0", "400", 20)
		}
	}
	read := func(casts, rest string) pipeline.Product {
		files["cruise.yaml"] = "cruise:\n  id: r\nfigures: none\ncasts:\n  sources: [casts]\n" + casts + rest
		return check(t, files)
	}
	for _, c := range []struct{ check, mixed, one string }{
		{"cruise.leave_out", "  leave_out: [{cast: 2/1, reason: x}]\n",
			"  leave_out: [{cast: 'ZZTE20260601:2/1', reason: x}]\n"},
		{"cruise.leave_out", "  leave_out: [{cast: 2, reason: x}]\n",
			"  leave_out: [{cast: 'ZZTE20260601:2', reason: x}]\n"},
		{"cruise.renumber", "  renumber: [{from: 2/1, to: 7/1, why: x}]\n",
			"  renumber: [{from: 'ZZTE20260601:2/1', to: 7/1, why: x}]\n"},
		{"cruise.stations", "  role: [{test: 1-2}]\n", "  role: [{test: 'ZZTE20260601:1-2'}]\n"},
		{"cruise.stations", "  up: 3\n", "  up: 'ZZTE20260601:3'\n"},
		{"cruise.stations", "  clock: [{stations: 1-3, zone: '+02:00'}]\n",
			"  clock: [{stations: 'ZZTE20260601:1-3', zone: '+02:00'}]\n"},
		{"cruise.stations", "systems: [{label: a, stations: 1-3}]\n",
			"systems: [{label: a, stations: 'ZZTE20260601:1-3'}]\n"},
		{"field.stations",
			"fields: [{name: f, stations: 1-3, longitude: [-21, -19], latitude: [60, 62], step: 0.5, levels: [10, 50]}]\n",
			"fields: [{name: f, stations: 'ZZTE20260601:1-3', longitude: [-21, -19], latitude: [60, 62], step: 0.5, levels: [10, 50]}]\n"},
	} {
		for want, text := range map[bool]string{true: c.mixed, false: c.one} {
			found := false
			for _, f := range read(text, "").Findings {
				if f.Severity == metadata.Failure {
					found = found || f.Check == c.check && strings.Contains(f.Message+f.Advice(), code) &&
						strings.Contains(f.Message+f.Advice(), "ZZTE20260601")
					if !want || f.Check != c.check {
						t.Errorf("%s: %s: %s", text, f.Check, f.Message)
					}
				}
			}
			if found != want {
				t.Errorf("%s: error %v, want %v", text, found, want)
			}
		}
	}
	n := 0
	for _, f := range read("  station_table: s.csv\n", "").Findings {
		if f.Check == "station_table.expocode" {
			n++
		} else if f.Check == "station_table.depth" {
			t.Errorf("a line of no leg was taken: %s", f.Message)
		}
	}
	if n != 2 {
		t.Errorf("%d lines of the station table named, want 2", n)
	}
}

// A line of a table of levels that pairs of two legs match is an error that names the form with the expocode; with that
// form each leg has its own level.
func TestLevelsOfTwoLegs(t *testing.T) {
	const second = "ZZTE20260601"
	files := map[string]string{}
	for leg, expocode := range []string{code, second} {
		for _, s := range []string{"1", "2"} {
			files[fmt.Sprintf("casts/%d_%s_ct1.csv", leg, s)] = ctd(expocode, s, "1",
				fmt.Sprintf("20260%d0%s", 5+leg, s),
				"0400", fmt.Sprintf("6%d.%s", leg, s), "-20.0", "400", 20)
		}
	}
	files["cruise.yaml"] =
		"cruise:\n  id: r\nfigures: none\ncasts:\n  sources: [casts]\nsections:\n  - {name: s, stations: '" +
			code + ":1-2, " + second + ":1-2', reference: {levels: levels.csv}, grid: none}\n"
	level := func(table string) (failures []string, wantsExpocode bool) {
		files["levels.csv"] = "station_a,station_b,pressure_dbar\n" + table
		for _, f := range check(t, files).Findings {
			if f.Severity == metadata.Failure {
				failures = append(failures, f.Check+": "+f.Message)
				wantsExpocode = strings.Contains(f.Advice(), code+":1 and "+code+":2")
			}
		}
		return failures, wantsExpocode
	}
	if failures, said := level("1,2,10\n"); len(failures) != 1 || !said {
		t.Errorf("a line for two legs: %v, with the form %v", failures, said)
	}
	if failures, _ := level(code + ":1," + code + ":2,10\n" + second + ":2," + second + ":1,12\n"); len(failures) != 0 {
		t.Errorf("a line for each leg: %v", failures)
	}
}
