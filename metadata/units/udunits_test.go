package units

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The program udunits2 (Debian package udunits-bin) is the judge of this file. It reads a unit to convert from, then
// one to convert to; a line that it refuses is asked for again. So the prompts that it prints tell what became of each
// line.
func ask(t *testing.T, lines []string) []string {
	t.Helper()
	cmd := exec.Command("udunits2", "-U")
	cmd.Stdin = strings.NewReader(strings.Join(lines, "\n") + "\n")
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("this test needs the program udunits2 of the package udunits-bin: %v %s", err, complaints.Bytes())
	}
	// Each answer begins with H or W, the prompt that follows the line, or the line's result before it.
	s := strings.ReplaceAll(strings.ReplaceAll(string(out), "You have: ", "\x00H"), "You want: ", "\x00W")
	parts := strings.Split(s, "\x00")[1:]
	if len(parts) != len(lines)+1 {
		t.Fatalf("udunits2 answered %d lines with %d prompts", len(lines), len(parts))
	}
	return parts
}

// accepted asks udunits2 for each text whether it is a unit. A unit changes the prompt, anything else repeats it. The
// program reads an amount before the unit to convert from; given one, it takes nothing of the text for it (not even the
// "nan" of "nanometer").
func accepted(t *testing.T, texts []string) []bool {
	t.Helper()
	lines := make([]string, len(texts))
	for i, s := range texts {
		lines[i] = "1 " + s
		if len(s) >= 3 && strings.EqualFold(s[:3], "per") { // which it reads as a division after the amount
			lines[i] = s
		}
	}
	parts := ask(t, lines)
	out := make([]bool, len(texts))
	for i := range texts {
		out[i] = parts[i][0] != parts[i+1][0]
	}
	return out
}

// A question is a conversion for udunits2: what value has x from in to?
type question struct {
	x        float64
	from, to string
	predict  float64
	size     float64 // of the largest number on the way
}

// compare asks udunits2 for each conversion. The program prints six digits only; so it is asked for the difference from
// our prediction, by moving the origin of the wanted unit there.
func compare(t *testing.T, all []question) {
	t.Helper()
	var lines []string
	for _, q := range all {
		lines = append(lines, fmt.Sprintf("%s (%s)", number(q.x), q.from),
			fmt.Sprintf("(%s) @ %s", q.to, number(q.predict)))
	}
	parts := ask(t, lines)
	worst, failed := 0.0, 0
	for i, q := range all {
		got := answer(parts[2*i+1])
		if d := math.Abs(got) / q.size; !(d <= 1e-12) { // style of the project: 1e-12 relative
			if failed++; failed < 20 {
				t.Errorf("%g %q in %q: ours %.17g, off by %g; udunits2 says %q", q.x, q.from, q.to, q.predict, got,
					parts[2*i+1])
			}
		} else {
			worst = max(worst, d)
		}
	}
	t.Logf("%d conversions, largest relative difference %.2g", len(all), worst)
}

func number(x float64) string { return strconv.FormatFloat(x, 'e', -1, 64) }

// answer takes the number out of "    1 have = N want".
func answer(part string) float64 {
	line, _, _ := strings.Cut(part, "\n")
	_, after, ok := strings.Cut(line, " = ")
	if !ok {
		return math.NaN()
	}
	word, _, _ := strings.Cut(after, " ")
	x, err := strconv.ParseFloat(word, 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

// questions about the conversion of from to to, in so far as we can make it.
func questions(from, to Unit, c Conversion) []question {
	// Of the order that leads to 1: the program takes an origin of 1e-15 for 0.
	one := math.Pow(10, -math.Round(math.Log10(math.Abs(from.factor()/to.factor()))))
	xs := []float64{one, 7.25 * one}
	if from.offset != 0 || to.offset != 0 {
		xs = append(xs, 0, -2.5)
	}
	var out []question
	for _, x := range xs {
		out = append(out, question{x, from.text, to.text, c.Of(x), math.Abs(from.factor()/to.factor())*max(math.Abs(x),
			1e-3*one) + math.Abs(c.shift)})
	}
	return out
}

// inBase returns the product of SI base units that u is made of.
func inBase(u Unit) Unit {
	s := strings.TrimPrefix(u.base(), "of ")
	if s == "dimensionless" {
		s = "1"
	}
	return Unit{text: s, dim: u.dim, mantissa: 1}
}

func mustParse(t *testing.T, text string) Unit {
	t.Helper()
	u, err := Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// spellings returns every spelling that lookup finds, in several mixtures of case where case does not matter.
func spellings() []string {
	var out []string
	for _, d := range definitions {
		before := []string{""}
		if d.prefixed {
			for _, p := range prefixes {
				before = append(before, p.symbols...)
			}
		}
		for _, p := range before {
			for _, s := range d.symbols {
				out = append(out, p+s)
			}
			if len(d.symbols) == 0 && d.prefixed {
				for _, s := range d.names {
					out = append(out, p+s)
				}
			}
		}
		before = []string{""}
		if d.prefixed {
			for _, p := range prefixes {
				before = append(before, p.name)
			}
		}
		for _, p := range before {
			for _, s := range d.names {
				out = append(out, p+s, strings.ToUpper(p+s), strings.ToUpper((p + s)[:1])+(p + s)[1:])
			}
		}
	}
	return out
}

func TestEveryUnit(t *testing.T) {
	var texts []string
	var all []question
	for _, s := range spellings() {
		u, err := Parse(s)
		if err != nil {
			if e, ok := err.(*Error); ok && e.Err == ErrRefused { // such as "F" of no prefix
				continue
			}
			t.Errorf("%v", err)
			continue
		}
		texts = append(texts, s)
		base := inBase(u)
		c, err := u.To(base)
		if err != nil {
			t.Errorf("%s: %v", s, err)
			continue
		}
		all = append(all, questions(u, base, c)...)
	}
	for i, ok := range accepted(t, texts) {
		if !ok {
			t.Errorf("%q: udunits2 refuses it", texts[i])
		}
	}
	if !t.Failed() {
		compare(t, all)
	}
}

// The units of the project's table of variables, and those of other writers of CF files.
var trade = []string{"dbar", "m", "degC", "S m-1", "1", "g kg-1", "kg m-3", "umol kg-1", "ml l-1", "percent", "mg m-3",
	"V", "m-1", "umol m-2 s-1", "m s-1",
	"s-2", "m3 kg-1", "m2 s-2", "m3 s-1", "s", "degrees_north", "degrees_east", "km", "degree", "mS cm-1", "mS/cm",
	"S/m", "kg/m3", "kg/m^3", "kg m**-3",
	"umol/kg", "µmol/kg", "μmol kg-1", "mmol m-3", "mol m-3", "mL/L", "ug l-1", "mg/m3", "ug/L", "1e-3", "0.001", "K",
	"°C", "Celsius", "decibar", "decibars", "Pa",
	"kPa", "hPa", "mbar", "bar", "m/s", "cm s-1", "m s^-1", "knots", "rad s-1", "1/s2", "W m-2", "uE",
	"microeinstein m-2 s-1", "m²", "m3", "degree_C", "deg_C", "deg"}

func TestTradeUnits(t *testing.T) {
	var all []question
	oks := accepted(t, trade)
	for i, s := range trade {
		u, err := Parse(s)
		if (err == nil) != oks[i] {
			t.Errorf("%q: ours %v, udunits2 accepts it: %v", s, err, oks[i])
		}
		if err != nil {
			continue
		}
		for k, other := range trade {
			v, err := Parse(other)
			if err != nil || !oks[k] {
				continue
			}
			if c, err := u.To(v); err == nil {
				all = append(all, questions(u, v, c)...)
			}
		}
	}
	if !t.Failed() {
		compare(t, all)
	}
}

// What udunits2 cannot convert, we don't, and the other way round; but udunits2 also turns a quantity into its inverse,
// and we never do.
func TestIncompatibleAlike(t *testing.T) {
	var pairs [][2]Unit
	var lines []string
	for _, a := range trade {
		for _, b := range trade {
			u, err1 := Parse(a)
			v, err2 := Parse(b)
			if err1 == nil && err2 == nil {
				pairs = append(pairs, [2]Unit{u, v})
				lines = append(lines, "1 "+a, b)
			}
		}
	}
	parts := ask(t, lines)
	for i, p := range pairs {
		result := parts[2*i+2-1]
		_, formula, ok := strings.Cut(result, "\n")
		formula = strings.ReplaceAll(formula, p[0].text, "from")
		_, formula, _ = strings.Cut(formula, " = ")
		theirs := ok && !strings.Contains(formula, "1/")
		if ours := p[0].Compatible(p[1]); ours != theirs {
			t.Errorf("%q and %q: ours %v, udunits2 %q", p[0], p[1], ours, result)
		}
	}
}

// Random products, written in many ways, convert alike.
func TestRandomPairs(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	all := spellings()
	pick := func() string {
		for {
			s := all[r.IntN(len(all))]
			u, err := Parse(s)
			if err == nil && u.factor() > 1e-9 && u.factor() < 1e9 {
				return s
			}
		}
	}
	write := func(words []string) string {
		s := words[0]
		for _, w := range words[1:] {
			s += []string{" ", ".", "*", "·", " ", "  "}[r.IntN(6)] + w
		}
		return s
	}
	power := func(s string, n int) string {
		if n == 1 {
			return s
		}
		return fmt.Sprintf("%s%s%d", s, []string{"", "^", "**"}[r.IntN(3)], n)
	}
	var qs []question
	for len(qs) < 8000 {
		// The same powers of other spellings of the same dimension, in another order.
		var from, to []string
		for range 1 + r.IntN(4) {
			a, n := pick(), 1+r.IntN(3)
			if r.IntN(2) == 0 {
				n = -n
			}
			u := mustParse(t, a)
			b := a
			for range 3000 {
				b = pick()
				if v := mustParse(t, b); v.dim == u.dim {
					break
				}
				b = a
			}
			from, to = append(from, power(a, n)), append(to, power(b, n))
		}
		r.Shuffle(len(to), func(i, j int) { to[i], to[j] = to[j], to[i] })
		u, err1 := Parse(write(from))
		v, err2 := Parse(write(to))
		if err1 != nil || err2 != nil {
			// "percent" after a blank cannot be written; a scale of temperature does not stand with others' offsets.
			if !strings.Contains(fmt.Sprint(err1, err2), "UDUNITS reads") && !strings.Contains(fmt.Sprint(err1, err2),
				"too") {
				t.Errorf("%v, %v", err1, err2)
			}
			continue
		}
		c, err := u.To(v)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if f := math.Abs(c.Of(1)); f > 1e-60 && f < 1e60 {
			qs = append(qs, questions(u, v, c)...)
		}
	}
	compare(t, qs)
}

// Random text made of pieces of units: what we take, udunits2 takes, and for the same; so what it refuses, we refuse.
func TestRandomText(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	pieces := []string{"m", "s", "kg", "degC", "K", "umol", "l", "mol", "percent", "%", "°", "µ", "per", "count", "Sv",
		"PSU", "dyn", "meter", "Pa", "bar", "d", "h",
		" ", " ", " ", "/", "/", ".", "*", "·", "^", "**", "(", ")", "-", "+", "1", "2", "3", "0", "10", "1e-3", "0.5",
		"-1", "-2", "²", "³", "_", "e", "E", "@", "since",
		"2000-01-01", "'", "\"", "lg(re", "\t"}
	good := []string{"m", "s", "kg", "degC", "K", "umol", "l", "percent", "°", "count", "meter", "Pa", "dbar", "d", "h",
		"(m s)", "(degC)", "2", "1e-3", "degrees_west"}
	between := []string{" ", " ", "/", ".", "*", "·", " per ", " / ", "", "-"}
	powers := []string{"", "", "", "2", "-1", "^3", "**-2", "²", "+2", "0", "1", "12"}
	seen := map[string]bool{}
	var texts []string
	for len(texts) < 40000 {
		s := ""
		for i := range 1 + r.IntN(7) {
			switch r.IntN(10) {
			case 0:
				s += pieces[r.IntN(len(pieces))]
			default: // a unit, perhaps with a power, and something between two units
				if i > 0 {
					s += between[r.IntN(len(between))]
				}
				s += good[r.IntN(len(good))] + powers[r.IntN(len(powers))]
			}
		}
		if !seen[s] && s != "" {
			seen[s] = true
			texts = append(texts, s)
		}
	}
	theirs := accepted(t, texts)
	var qs []question
	ours, both := 0, 0
	for i, s := range texts {
		u, err := Parse(s)
		if err != nil {
			continue
		}
		ours++
		if !theirs[i] {
			t.Errorf("%q: we accept what udunits2 refuses", s)
			continue
		}
		both++
		if u.isTime {
			continue // a parenthesis cannot hold it
		}
		base := inBase(u)
		c, err := u.To(base)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if f := math.Abs(c.Of(1)); f > 1e-60 && f < 1e60 {
			qs = append(qs, questions(u, base, c)...)
		}
	}
	if ours < 500 {
		t.Errorf("only %d of %d texts are units to us: the test shows little", ours, len(texts))
	}
	t.Logf("%d texts, of which we accept %d", len(texts), ours)
	if !t.Failed() {
		compare(t, qs)
	}
}

// Reference times: udunits2 prints six digits, so the amount is chosen that leads near the wanted origin.
func TestReferenceTimesAlike(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	stamp := func() string {
		m := time.Date(1583+r.IntN(800), time.Month(1+r.IntN(12)), 1+r.IntN(28), r.IntN(24), r.IntN(60), r.IntN(60), 0,
			time.UTC)
		day := []string{"2006-01-02", "2006-1-2"}[r.IntN(2)]
		clock := []string{"", "T15:04:05", " 15:04:05", " 15:04", "T15:04:05Z", " 15:04:05Z", " 15:04:05 UTC",
			" 15:04 +02:00", " 15:04:05 -03:30", " 15:04:05 Z",
			" 15:04:05.5", " 15:04+02:00", " 15:04:05 +0330", " 15:04 -5", " 15:04:05 GMT", " 15"}[r.IntN(16)]
		return m.Format(day) + clockText(m, clock)
	}
	names := []string{"seconds", "s", "minutes", "min", "hours", "h", "days", "d", "weeks", "ms"}
	var lines []string
	var want []float64
	for len(want) < 3000 {
		from := mustParse(t, names[r.IntN(len(names))]+" since "+stamp())
		to := mustParse(t, names[r.IntN(len(names))]+" since "+stamp())
		c, err := from.To(to)
		if err != nil {
			t.Fatal(err)
		}
		back, err := to.To(from)
		if err != nil {
			t.Fatal(err)
		}
		x := math.Round(back.Of(float64(r.IntN(2000) - 1000)))
		y := c.Of(x)
		if math.Abs(y) > 1e5 || from.mantissa*math.Pow10(from.exponent) < 1 {
			continue
		}
		lines = append(lines, fmt.Sprintf("%.0f %s", x, from.text), to.text)
		want = append(want, y)
	}
	parts := ask(t, lines)
	for i, y := range want {
		if got := answer(parts[2*i+1]); !(math.Abs(got-y) <= 1e-5*math.Abs(y)+1e-5) { // six digits printed
			t.Errorf("%s in %s: ours %.12g, udunits2 %g", lines[2*i], lines[2*i+1], y, got)
		}
	}
}

// clockText writes only the digits by the layout, so that a zone stays as it is.
func clockText(m time.Time, layout string) string {
	return strings.NewReplacer("15", m.Format("15"), "04", m.Format("04"), "05", m.Format("05")).Replace(layout)
}

// Each of these udunits2 refuses, and so do we, most of them with a reason of our own.
func TestRefusedAlike(t *testing.T) {
	texts := []string{"PSU", "psu", "NTU", "FNU", "FTU", "dyn m", "dyn cm", "gpm", "PSS-78", "ITS-90", "IPTS-68",
		"deg C", "DEG C", "UMOL/KG", "DBAR_", "mho", "uE", "kkm",
		"Kg", "m/", "m//s", "/ s", "(m", "m * s", "m2s", "m ^2", "hrs", "mins", "µ", "m/per s", "m percent", "dynm",
		"unitless", "None"}
	for i, ok := range accepted(t, texts) {
		if ok {
			t.Errorf("%q: udunits2 accepts it, so it does not belong here", texts[i])
		}
		if u, err := Parse(texts[i]); err == nil {
			t.Errorf("%q: accepted as %s", texts[i], u.base())
		}
	}
}
