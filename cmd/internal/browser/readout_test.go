package browser

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section/seawater"
)

// sentence is how a readout names a value, its error and its node.
var sentence = regexp.MustCompile(
	`^(.*?) (?:(−?[\d.]+)(?: ± ([\d.]+))?.*?|has no value \(.*?\)) at ([\d.]+)\x{a0}(\S*?),? .*` +
		`node (\w+)\x{a0}(\d+), (distance|pair)\x{a0}(\d+) of (sections/\w+\.nc)\. (.*)$`)

// netcdf opens a file of an archive.
func netcdf(t *testing.T, file string) *nc.File {
	t.Helper()
	abs, err := filepath.Abs(file)
	if err != nil {
		t.Fatal(err)
	}
	f, err := nc.OpenFile(abs)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// variableOf returns the variable of a file that a readout means by its words.
var variableOf = map[string]string{"Conservative Temperature": "ctemp", "Absolute Salinity": "asal",
	"Dissolved oxygen": "oxy", "Potential density anomaly σ₀": "sigma0", "Geostrophic velocity": "velocity"}

// sameDigits reports whether a text is the number of a file in the decimals of the text.
func sameDigits(text string, v float64) bool {
	text = strings.Replace(text, "−", "-", 1)
	_, after, _ := strings.Cut(text, ".")
	want := strconv.FormatFloat(v, 'f', len(after), 64)
	return text == want || text == strings.TrimPrefix(want, "-") && math.Abs(v) < 1 && strings.Trim(text, "0.") == ""
}

// A readout says what the NetCDF file holds at the node that it names, to the digits it shows, and names the node that
// is nearest to the pointer.
func TestReadoutsEqualTheFiles(t *testing.T) {
	data := demo(t)
	x := open(t, filepath.Join(data, "index.html"), 1200, 900)
	const seed = 20260504
	r := rand.New(rand.NewPCG(seed, 1))
	figures := eval[[]string](x, `[...document.querySelectorAll(".field")].map((f) => f.id)`)
	if len(figures) < 10 {
		t.Fatalf("%d figures of sections; want those of 4 fields and the velocity of 2 sections", len(figures))
	}
	values, missing, flags := 0, 0, 0
	files := map[string]*nc.File{}
	for n := 0; n < 400 && (values < 50 || missing < 5); n++ {
		id := figures[r.IntN(len(figures))]
		run(x, `const f = document.getElementById(%s), part = f.closest(".part");
			part.querySelector('input[value="' + f.id + '"]').click()`, id)
		x.point("#"+id+" .plot > svg", 0.08+0.8*r.Float64(), 0.08+0.6*r.Float64(), false)
		text := eval[string](x, `document.querySelector(%s).textContent`, "#"+id+" output")
		if strings.HasPrefix(text, "Point at") {
			continue // between the panels or beside them
		}
		m := sentence.FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("not the sentence of a readout: %q", text)
		}
		f := files[m[10]]
		if f == nil {
			f = netcdf(t, filepath.Join(data, filepath.FromSlash(m[10])))
			files[m[10]] = f
		}
		row, column := atoi(t, m[7]), atoi(t, m[9])
		name, ok := variableOf[m[1]]
		if !ok {
			t.Fatalf("no variable is called %q", m[1])
		}
		v, err, axis := node(t, f, name, m[8], row, column)
		if dbar, _ := strconv.ParseFloat(m[4], 64); dbar != axis {
			t.Errorf("%q: the file has %v at level %d", text, axis, row)
		}
		switch {
		case math.IsNaN(v) != (m[2] == ""):
			t.Errorf("%q: the file has %v", text, v)
		case m[2] == "":
			missing++
		case !sameDigits(m[2], v):
			t.Errorf("%q: the file has %v", text, v)
		case m[3] != "" && !sameDigits(m[3], err):
			t.Errorf("%q: the file has the error %v", text, err)
		default:
			values++
		}
		if strings.Contains(m[11], "its value here has flag 2, acceptable.") {
			flags++
		}
	}
	t.Logf("%d values, %d places without one, %d with a flag of the nearest cast; seed %d", values, missing, flags,
		seed)
	if values < 50 || missing < 5 || flags < 10 {
		t.Errorf("%d readouts of values, %d of places without one and %d with a flag; want 50, 5 and 10", values,
			missing,
			flags)
	}
	x.quiet()
}

// node returns the value, the error and the level that a file has at a node.
func node(t *testing.T, f *nc.File, name, along string, row, column int) (value, err, level float64) {
	t.Helper()
	get := func(name string) float64 {
		i := f.Var(name)
		if i < 0 { // density has no error of its own
			return math.NaN()
		}
		v, e := f.Values(i)
		if e != nil {
			t.Fatal(e)
		}
		rows, columns := len(f.NumbersOf("pres")), len(v)/len(f.NumbersOf("pres"))
		n := row*columns + column
		if along == "pair" {
			n = column*rows + row
		}
		if f.Missing(i, v[n]) {
			return math.NaN()
		}
		return v[n]
	}
	return get(name), get(name + "_err"), f.NumbersOf("pres")[row]
}

func itoa(n int) string { return strconv.Itoa(n) }

func atoi(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// The sliders choose nodes by keyboard, and the readout follows.
func TestReadoutByKeyboard(t *testing.T) {
	x := open(t, filepath.Join(demo(t), "index.html"), 1200, 900)
	run(x, `document.querySelector(".field .reading input").focus()`)
	seen := map[string]bool{}
	for range 5 {
		x.key("ArrowRight")
		text := eval[string](x, `document.querySelector(".field output").textContent`)
		if !sentence.MatchString(text) || seen[text] {
			t.Fatalf("after a key the readout is %q", text)
		}
		seen[text] = true
	}
	x.quiet()
}

// ofProfile is how the readout of the profiles names a value.
var ofProfile = regexp.MustCompile(`cast (\w+)/(\w+) at ([\d.]+)\x{a0}dbar (−?[\d.]+)\x{a0}\S+ \(flag (\d), `)

// The readout of profiles says what the file of all casts holds, to the digits it shows, for each cast that is drawn.
func TestProfilesEqualTheFiles(t *testing.T) {
	data := demo(t)
	x := open(t, filepath.Join(data, "index.html"), 1200, 900)
	f := netcdf(t, filepath.Join(data, "casts", "saltmarten-2026-05_ctd.nc"))
	ids, pres, temp, flags := f.WordsOf("profile_id"), f.NumbersOf("pres"), f.NumbersOf("ctemp"),
		f.NumbersOf("ctemp_flag_woce")
	for _, n := range []int{4, 8, 14} {
		run(x, `document.querySelectorAll("#stations table input")[%s].click()`, n)
	}
	seen := 0
	for _, across := range []float64{0.06, 0.2, 0.35, 0.5, 0.7} {
		x.point("#profile-chart svg", 0.5, across, false)
		text := eval[string](x, `document.getElementById("profile-readout").textContent`)
		for _, m := range ofProfile.FindAllStringSubmatch(text, -1) {
			station, number := atoi(t, m[1]), atoi(t, m[2])
			id := fmt.Sprintf("ZZSM20260504_%05d_%05d", station, number)
			row := slices.Index(ids, id)
			dbar, err := strconv.ParseFloat(m[3], 64)
			level := slices.Index(pres, dbar)
			if row < 0 || level < 0 || err != nil {
				t.Fatalf("%q: no cast %s or no level %v", text, id, dbar)
			}
			v, flag := temp[row*len(pres)+level], flags[row*len(pres)+level]
			if !sameDigits(m[4], v) || float64(atoi(t, m[5])) != flag {
				t.Errorf("%q: cast %s has %v, flag %v at %v dbar", m[0], id, v, flag, dbar)
			}
			seen++
		}
	}
	if seen < 15 {
		t.Errorf("%d values of profiles were read; want those of 4 casts at 5 places, where they reach so deep", seen)
	}
	x.quiet()
}

// With depth on vertical axes the readouts have depths, beside the pressures that name the nodes of the files.
func TestReadoutsByDepth(t *testing.T) {
	cruise := copyDemo(t)
	b, err := os.ReadFile(cruise)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(b), "\nsections:", "\nfigures: {vertical: depth, formats: [svg]}\nsections:", 1)
	if err := os.WriteFile(cruise, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	x := open(t, filepath.Join(build(t, cruise, t.TempDir()), "index.html"), 1200, 900)
	x.point(".field .plot > svg", 0.5, 0.3, false)
	said := eval[string](x, `document.querySelector(".field output").textContent`)
	m := regexp.MustCompile(`at ([\d.]+)\x{a0}dbar \(([\d.]+)\x{a0}m deep\)`).FindStringSubmatch(said)
	if m == nil {
		t.Fatalf("the readout has no depth: %q", said)
	}
	dbar, _ := strconv.ParseFloat(m[1], 64)
	deep, _ := strconv.ParseFloat(m[2], 64)
	// stations 1 to 10 lie at 66.25 to 67.05 degrees north
	if lo, hi := -seawater.Height(dbar, 67.05), -seawater.Height(dbar, 66.25); deep < lo-0.06 || deep > hi+0.06 {
		t.Errorf("%v dbar is %v m deep; want %v to %v", dbar, deep, lo, hi)
	}
	for _, where := range []string{".field .reading", "#profile-level", "#profile-chart"} {
		if said := eval[string](x, `document.querySelector(%s).textContent`, where); !strings.Contains(said, "Depth") {
			t.Errorf("%s does not say Depth: %q", where, said)
		}
	}
	x.quiet()
}
