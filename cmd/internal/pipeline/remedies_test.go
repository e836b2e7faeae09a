package pipeline_test

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
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

// snippets gives the pieces of a cruise file in a remedy: a top key and the indented lines under it.
func snippets(remedy string) (out [][]string) {
	for _, l := range strings.Split(remedy, "\n") {
		switch {
		case slices.Contains([]string{"cruise:", "casts:", "sections:"}, l):
			out = append(out, []string{l})
		case strings.HasPrefix(l, "  ") && len(out) > 0:
			out[len(out)-1] = append(out[len(out)-1], l)
		}
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

// Each finding that stops the work, and some that do not, ends in lines of a cruise file. Pasted, they are read, and the finding is gone.
func TestRemediesWork(t *testing.T) {
	cast := func(station, number string, n int) string {
		return ctd(code, station, number, "20260502", "0"+station[len(station)-1:]+"00", "60."+station[len(station)-1:], "-20.0", "400", n)
	}
	gap := cast("2", "1", 20)
	for p := 50; p <= 150; p += 10 { // a hole of 120 dbar
		i := strings.Index(gap, fmt.Sprintf("\n%d.0,", p))
		j := strings.Index(gap[i+1:], "\n") + i + 1
		gap = gap[:i] + gap[j:]
	}
	bottle := code + ",1,1,1,1,2,20260502,0310,60.1,-20.0,100.0,34.8050,2,34.8046,2"
	base := map[string]string{"casts/1_ct1.csv": cast("1", "1", 20), "casts/2_ct1.csv": cast("2", "1", 20), "casts/3_ct1.csv": cast("3", "1", 20)}
	line := "name: line; stations: 1-3; grid: none"
	for _, c := range []struct {
		name  string
		files map[string]string
		plan  plan
		check string
		n     int // pieces to paste
		stops bool
		build bool // seen by build only
	}{
		{"a value that is no number", map[string]string{"casts/4_ct1.csv": strings.Replace(cast("4", "1", 20), "8.5000", "eight", 1)}, plan{}, "input.cast", 2, true, false},
		{"a file of zeros, oddly named", map[string]string{"casts/no: 4 #1, 'x'_ct1.csv": strings.Repeat("\x00", 900)}, plan{}, "input.cast", 1, true, false},
		{"an archive that is none", map[string]string{"casts/4_ct1.zip": "PK, but no archive"}, plan{}, "input.cast", 1, true, false},
		{"a cast twice", map[string]string{"casts/1b_ct1.csv": cast("1", "1", 20)}, plan{}, "input.cast", 1, true, false},
		{"pressure by another name", map[string]string{"casts/4_ct1.csv": strings.NewReplacer("CTDPRS,CTDPRS_FLAG_W,", "PRESSURE_1,PRESSURE_1_FLAG_W,").Replace(cast("4", "1", 20))},
			plan{}, "input.cast", 2, true, false},
		{"a bottle file that breaks off", map[string]string{"b_hy1.csv": "BOTTLE,20260511ZZTEST\nEXPOCODE,STNNBR\n"}, plan{casts: "  bottles: [b_hy1.csv]\n"}, "input.bottles", 1, true, false},
		{"a sample in two files", map[string]string{"b_hy1.csv": bottleFile(bottle), "c_hy1.csv": bottleFile(bottle)}, plan{casts: "  bottles: [b_hy1.csv, c_hy1.csv]\n"}, "bottles.twice", 1, true, false},
		{"a station that nobody took", nil, plan{section: "name: line; stations: '1, 2, 7'; grid: none"}, "section.stations", 1, true, false},
		{"a run whose end nobody took", nil, plan{section: "name: line; stations: 9-2; grid: none"}, "section.stations", 1, true, false},
		{"an exception that nobody took", nil, plan{section: "name: line; stations: 1-3 except 8; grid: none"}, "section.stations", 1, true, false},
		{"a station left out", nil, plan{casts: "  leave_out: [{cast: 3/1, reason: x}]\n", section: line}, "section.stations", 1, true, false},
		{"an expocode that is not declared", map[string]string{"casts/4_ct1.csv": strings.Replace(cast("4", "1", 20), code, "ZZTE20260601", 1)},
			plan{cruise: ""}, "exchange.expocode_differs", 1, false, false},
		{"stations equal but for zeros, of one cast number", map[string]string{"casts/01_ct1.csv": cast("01", "1", 20)}, plan{}, "exchange.station_zeros", 1, false, false},
		{"stations equal but for zeros", map[string]string{"casts/01_ct1.csv": cast("01", "2", 20)}, plan{}, "exchange.station_zeros", 1, false, false},
		{"a column that is not known", map[string]string{"casts/1_ct1.csv": strings.NewReplacer("CTDSAL", "CTDSAL", "PSS-78", "G/L").Replace(cast("1", "1", 20))}, plan{}, "exchange.unlisted", 1, false, false},
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
				run := pipeline.Plan{CruiseFile: filepath.Join(lay(t, files), "cruise.yaml"), Out: t.TempDir()}
				do := pipeline.Check
				if c.build {
					do = pipeline.Build
				}
				product, err := do(context.Background(), run)
				if err != nil {
					t.Fatalf("%v in\n%s", err, files["cruise.yaml"])
				}
				for _, f := range product.Findings {
					stopped = stopped || f.Severity == metadata.Failure
					if strings.HasPrefix(f.Check, c.check) && len(snippets(f.Remedy)) > 0 {
						hits = append(hits, f)
					}
				}
				return stopped, hits
			}
			stopped, hits := find(c.plan)
			if stopped != c.stops || len(hits) == 0 {
				t.Fatalf("stopped %v, %d findings of %s with lines to paste", stopped, len(hits), c.check)
			}
			pieces := snippets(hits[0].Remedy)
			if len(pieces) != c.n {
				t.Errorf("%d pieces in %q", len(pieces), hits[0].Remedy)
			}
			for _, s := range pieces {
				stopped, left := find(c.plan.paste(t, s))
				if stopped || len(left) >= len(hits) {
					t.Errorf("pasted\n%s\nstopped %v, left %+v", strings.Join(s, "\n"), stopped, left)
				}
			}
		})
	}
}
