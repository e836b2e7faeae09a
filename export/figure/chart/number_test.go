package chart

import (
	"math"
	"strconv"
	"testing"

	"github.com/castwright/castwright/export/figure/page"
)

// One number at an axis says nothing of its scale.
func TestAxesHaveTwoNumbers(t *testing.T) {
	for _, fr := range []Frame{
		{L: 0, R: 75, X0: -0.0029, X1: 0.0029}, // differences of sensors in one column
		{L: 0, R: 88, X0: 34.69007, X1: 34.69093},
		{L: 0, R: 60, X0: 0.0991, X1: 0.1013},
	} {
		at := fr.TicksThatFit(6, SmallType)
		if len(at) < 2 {
			t.Errorf("%g to %g has the numbers %v", fr.X0, fr.X1, at)
			continue
		}
		d := Decimals(at)
		for k := 1; k < len(at); k++ {
			if space := fr.X(at[k]) - fr.X(at[k-1]) - (page.TextWidth(Number(at[k], d),
				SmallType)+page.TextWidth(Number(at[k-1], d), SmallType))/2; space < 0.7*SmallType {
				t.Errorf("%g and %g are %.1f points apart", at[k-1], at[k], space)
			}
		}
	}
	for _, r := range [][2]float64{{-0.4, 0.45}, {-0.93, 0.1}, {3.1, 3.9}, {0, 0.019}} {
		for most := 2; most < 9; most++ {
			if at := Ticks(r[0], r[1], most); len(at) < 2 {
				t.Errorf("%v, at most %d: %v", r, most, at)
			}
		}
	}
	for _, r := range [][2]float64{{57.1955, 57.2045}, {50.72, 51.21}, {-0.4, 0.4}, {178.6, 181.2}} {
		d := degreeStep(Extent{r[0], r[1]}, 4)
		if n := math.Floor(r[1]/d) - math.Ceil(r[0]/d) + 1; n < 2 {
			t.Errorf("%v: a step of %g gives %g lines", r, d, n)
		}
	}
}

func TestValueWithError(t *testing.T) {
	for want, q := range map[string][2]float64{"(1290 ± 23)": {1290.01, 22.6},
		"(−0.0129 ± 0.0020)": {-0.01289, 0.00199}, "(3.540 ± 0.034)": {3.5401, 0.0337}, "(37 ± 120)": {36.66, 120}} {
		if got := WithError(q[0], q[1]); got != want {
			t.Errorf("%v is %s, not %s", q, got, want)
		}
	}
	if got := WithError(36.661, math.NaN()); got != "36.7" {
		t.Errorf("without an error: %s", got)
	}
}

// The numbers of small differences, which are long, stand apart: four of them did nearly touch.
func TestTicksThatFit(t *testing.T) {
	fr := Frame{L: 0, R: 130, X0: -0.0019, X1: 0.0019}
	at := fr.TicksThatFit(8, MainType)
	if len(at) < 2 {
		t.Fatalf("%v", at)
	}
	d := Decimals(at)
	for k := 1; k < len(at); k++ {
		space := fr.X(at[k]) - fr.X(at[k-1]) - (page.TextWidth(Number(at[k], d),
			MainType)+page.TextWidth(Number(at[k-1], d), MainType))/2
		if space < 0.75*MainType {
			t.Errorf("%g and %g are %.1f points apart", at[k-1], at[k], space)
		}
	}
	fr = Frame{L: 0, R: 400, X0: 0, X1: 1800}
	if n := len(fr.TicksThatFit(12, MainType)); n < 8 {
		t.Errorf("%d numbers where there is space for ten", n)
	}
}

// Numbers of stations are at a regular choice: between the first and the last all multiples of one step.
func TestStationNumbersAreRegular(t *testing.T) {
	for _, c := range []struct{ n, first int }{{60, 1}, {36, 101}, {150, 7}, {12, 1}} {
		var marks []Mark
		for k := range c.n {
			name := strconv.Itoa(c.first + k)
			marks = append(marks, Mark{X: float64(k), Name: name, Label: name})
		}
		s := page.New(500, 100)
		fr := &Frame{L: 30, R: 460, T: 50, B: 90, X0: 0, X1: float64(c.n - 1)}
		fr.stationsOnTop(s, marks, MainType)
		var inner []int
		for _, w := range s.Words {
			n, err := strconv.Atoi(w)
			if err != nil {
				t.Fatal(err)
			}
			if n != c.first && n != c.first+c.n-1 {
				inner = append(inner, n)
			}
		}
		for k := 1; k < len(inner); k++ {
			if inner[k]-inner[k-1] != inner[1]-inner[0] {
				t.Errorf("%d stations: %v", c.n, inner)
				break
			}
		}
		if len(inner) < 5 {
			t.Errorf("%d stations: numbers %v", c.n, s.Words)
		}
	}
}
