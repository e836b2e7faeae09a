package pipeline_test

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/derived"
)

// A derived variable of the registry reaches every consumer: the cruise file takes it by name and names it in the help,
// a build has it in the file of casts with its description, in the files of sections where it belongs, and verification
// recomputes it. What is no derived variable is refused.
func TestRegistryReachesEveryConsumer(t *testing.T) {
	var all []string
	for _, v := range metadata.Variables() {
		_, _, err := cruisefile.Read([]byte("cruise: {id: a}\ncasts: {sources: casts}\nderived: ["+v.Name+"]\n"),
			"cruise.yaml")
		if can := derived.Of(v.Name) != nil; (err == nil) != can {
			t.Errorf("%s can be derived: %v; the cruise file says: %v", v.Name, can, err)
		}
		if err != nil && !strings.HasPrefix(err.Error(), "cruise.yaml:3:11: derived is ") {
			t.Errorf("%s: %v", v.Name, err)
		}
	}
	help := strings.Join(strings.Fields(cruisefile.Documentation()), " ")
	_, help, _ = strings.Cut(help, "derived: derived variables wanted")
	help, _, _ = strings.Cut(help, "> derived:")
	for _, v := range derived.Variables() {
		all = append(all, v.Name)
		if !strings.Contains(help, " "+v.Name+",") && !strings.Contains(help, " "+v.Name+" ") &&
			!strings.Contains(help, " "+v.Name+".") {
			t.Errorf("the help does not name %s", v.Name)
		}
	}
	// Casts with conductivity and oxygen per volume alone, so that all of the registry is derived.
	files := plant("derived: ["+strings.Join(all, ", ")+"]\nsections: [{name: s, stations: R1-R3, grid: none}]\n",
		flat()[:3]...)
	for name, text := range files {
		if !strings.HasSuffix(name, ".csv") {
			continue
		}
		lines := strings.Split(text, "\n")
		rows := false
		for i, line := range lines {
			switch {
			case strings.HasPrefix(line, "CTDPRS,"):
				lines[i] = "CTDPRS,CTDTMP,COND,CTDOXY"
			case strings.HasPrefix(line, "DBAR,"):
				lines[i], rows = "DBAR,ITS-90,S/M,ML/L", true
			case strings.HasPrefix(line, "END_DATA"):
				rows = false
			case rows:
				cells := strings.Split(line, ",")
				lines[i] = cells[0] + "," + cells[2] + fmt.Sprintf(",%.5f,%.3f", 3.2+1e-4*float64(i), 5.5)
			}
		}
		files[name] = strings.Join(lines, "\n")
	}
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "{sources: [casts]}",
		"{sources: [casts], aliases: [{column: COND, unit: S/M, means: cond}]}", 1)
	a := build(t, files)
	casts, sec := header(t, filepath.Join(a, "data/casts/planted_ctd.nc")),
		header(t, filepath.Join(a, "data/sections/s_section.nc"))
	for _, v := range derived.Variables() {
		for _, want := range []string{"double " + v.Name + "(", v.Name + ":long_name = ", v.Name + ":units = ",
			v.Name + ":references = ", v.Name + ":comment = "} {
			if !strings.Contains(casts, want) {
				t.Errorf("the file of casts has no %s", want)
			}
		}
		if got := strings.Contains(sec, "double "+v.Name+"("); got != v.InSections {
			t.Errorf("%s in the file of a section: %v, the registry says %v", v.Name, got, v.InSections)
		}
		values, _ := read(t, filepath.Join(a, "data/casts/planted_ctd.nc"), v.Name)
		if !slices.ContainsFunc(values, func(x float64) bool { return x == x }) {
			t.Errorf("%s has no value", v.Name)
		}
	}
}

// Density that is asked for beside salinity and temperature is the one computed from the mapped two, once.
func TestGridWithItsDensity(t *testing.T) {
	files := demo(t, "stations: 1-10, reference: deepest",
		"stations: 1-3, grid: {method: linear, variables: [sigma0, ctemp, asal]}")
	files["cruise.yaml"] += "figures: none\n"
	got := header(t, filepath.Join(build(t, files), "data/sections/strait_grid.nc"))
	if n := strings.Count(got, "double sigma0("); n != 1 ||
		!strings.Contains(got, "computed from gridded Absolute Salinity") {
		t.Errorf("%d fields of sigma0 in\n%s", n, got)
	}
}

// header returns the header of a NetCDF file as ncdump prints it.
func header(t *testing.T, path string) string {
	t.Helper()
	out, err := exec.Command("ncdump", "-h", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}
