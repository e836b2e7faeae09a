package browser

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
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
