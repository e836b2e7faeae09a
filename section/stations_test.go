package section

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

// A § marks where a ListError must point.
func TestParseStations(t *testing.T) {
	for _, c := range []struct {
		text string
		want string // String of the list; "" for an error
		err  string
	}{
		{text: "1-12, 14", want: "1-12, 14"},
		{text: " 7 ", want: "7"},
		{text: "20-15", want: "20-15"},
		{text: "7/2,8", want: "7/2, 8"},
		{text: "3 - 12 / 1", want: "3-12/1"},
		{text: "1-20 except 7, 9", want: "1-20 except 7, 9"},
		{text: "all", want: "all"},
		{text: "all except T1,\n 3-5", want: "all except T1, 3-5"},
		{text: "001, A10, 12B, x_1, 3.5", want: "001, A10, 12B, x_1, 3.5"},
		{text: "ZZBR20260101:1-9, ZZBR20260201:1/2", want: "ZZBR20260101:1-9, ZZBR20260201:1/2"},
		{text: `"T-1", "a b"-"all"`, want: `"T-1", "a b"-"all"`},
		{text: `allied, exception`, want: `allied, exception`},
		{text: "§", err: "no station in the list"},
		{text: "  §", err: "no station in the list"},
		{text: "1,§", err: "station expected, found the end"},
		{text: "1-§", err: "last station of the run expected, found the end"},
		{text: "1/§, 2", err: `cast number expected, found ","`},
		{text: "1 §2", err: `"2" is not expected here`},
		{text: "1§;2", err: `";" is not expected here`},
		{text: "1§–4", err: `"–" is not expected here`},
		{text: "1-§–4", err: `last station of the run expected, found "–"`},
		{text: "1-4-§", err: ""},
		{text: "§#3", err: `station expected, found "#"`},
		{text: "§\xff", err: "station expected, found byte 0xFF"},
		{text: `1, §"2`, err: "quotes that do not close"},
		{text: `1, §""`, err: `"" is not a name`},
		{text: `1, §" 2"`, err: `" 2" is not a name`},
		{text: "1 except §", err: "station expected, found the end"},
		{text: "§except 3", err: `station expected, found the word "except"`},
		{text: "1, §all", err: `station expected, found the word "all"`},
		{text: "all§, 3", err: `"all" is used alone`},
		{text: "§" + strings.Repeat("1,", 1001) + "1", err: "more than 1000 items"},
	} {
		text := strings.Replace(c.text, "§", "", 1)
		l, err := ParseStations(text)
		if c.want != "" {
			if err != nil || l.String() != c.want || l.Text != text || l.Empty() {
				t.Errorf("%q: %q, %v", text, l.String(), err)
			}
			continue
		}
		var fault *ListError
		if !errors.As(err, &fault) {
			t.Errorf("%q: error %v", text, err)
			continue
		}
		if c.err == "" || strings.HasPrefix(c.err, "more than") {
			continue // only that it is an error
		}
		if at := strings.Index(c.text, "§") + 1; fault.Column != at || errors.Unwrap(fault).Error() != "station list: "+
			c.err || fault.Remedy == "" {
			t.Errorf("%q: %v (%s), want column %d: %s", text, err, fault.Remedy, at, c.err)
		}
		if !reflect.DeepEqual(l, StationList{}) {
			t.Errorf("%q: a list beside the error", text)
		}
	}
}

// Order of exchange.md section 5, written down there.
func TestCompareStations(t *testing.T) {
	want := []string{"", "2", "9", "12", "12A", "12B", "13", "A1", "A2", "A10"}
	for i, a := range want {
		for j, b := range want {
			if got := CompareStations(a, b); (got < 0) != (i < j) || (got > 0) != (i > j) {
				t.Errorf("%q %q: %d", a, b, got)
			}
		}
	}
	for _, c := range [][2]string{{"001", "1"}, {"1A", "001B"}, {"9", "99999999999999999999999999"}, {"12A", "12a"},
		{"a01", "a1"}} {
		if CompareStations(c[0], c[1]) >= 0 || CompareStations(c[1], c[0]) <= 0 {
			t.Errorf("%q is not before %q", c[0], c[1])
		}
	}
	// Total order: antisymmetric and transitive on names of few letters, where ties abound.
	r := rand.New(rand.NewPCG(1, 1))
	var names []string
	for range 120 {
		b := make([]byte, r.IntN(5))
		for i := range b {
			b[i] = "0012Aa"[r.IntN(6)]
		}
		names = append(names, string(b))
	}
	for _, a := range names {
		for _, b := range names {
			if ab := CompareStations(a, b); ab != -CompareStations(b, a) || ab == 0 != (a == b) {
				t.Fatalf("%q %q: %d", a, b, ab)
			}
			for _, c := range names {
				if CompareStations(a, b) < 0 && CompareStations(b, c) < 0 && CompareStations(a, c) >= 0 {
					t.Fatalf("%q %q %q", a, b, c)
				}
			}
		}
	}
}

func castOf(expocode, station, number string) *Cast {
	return &Cast{Expocode: expocode, Station: station, Number: number}
}

func named(casts []*Cast) string {
	words := make([]string, len(casts))
	for i, c := range casts {
		words[i] = c.Expocode + ":" + c.Station + "/" + c.Number
	}
	return strings.ReplaceAll(strings.Join(words, " "), "X:", "")
}

// A long list that names nothing ends in a few errors, in a moment: the error names the first items and counts the
// rest.
func TestSelectOfManyThatAreNotThere(t *testing.T) {
	items := strings.Repeat("7000-7001,", 500) + "8000"
	list, err := ParseStations(items + " except " + items)
	if err != nil {
		t.Fatal(err)
	}
	casts := []*Cast{{Station: "1", Number: "1"}, {Station: "2", Number: "1"}}
	_, err = Select(casts, list)
	if err == nil || strings.Count(err.Error(), "\n") > 12 ||
		!strings.Contains(err.Error(), "997 more items of the list name stations or casts that are not there") {
		t.Error(err)
	}
}

func TestSelect(t *testing.T) {
	casts := []*Cast{castOf("X", "10", "1"), castOf("X", "1", "2"), castOf("X", "1", "1"), castOf("X", "2", "1"),
		castOf("X", "3A", "1"),
		castOf("X", "3", "1"), castOf("X", "T1", "1"), castOf("Y", "2", "1"), castOf("X", "004", "1"),
		castOf("X", "12a", "1")}
	for _, c := range []struct{ list, want, err string }{
		{list: "X:1-3", want: "1/1 1/2 2/1 3/1"},
		{list: "10-3", want: "10/1 004/1 3A/1 3/1"},
		{list: "X:3-1", want: "3/1 2/1 1/1 1/2"},
		{list: "1/2, T1", want: "1/2 T1/1"},
		{list: "X:1-3/1", want: "1/1 2/1 3/1"},
		{list: "1-3", err: "stations 1-3 are of 2 legs that use the same station numbers (2): write X:1-3 or Y:2"},
		{list: "3-1/1, 2",
			err: "stations 3-1/1 are of 2 legs that use the same station numbers (2): write X:3-1/1 or Y:2/1\n" +
				"stations 2 are of 2 legs that use the same station numbers (2): write X:2 or Y:2"},
		{list: "1-3 except Y:2", want: "1/1 1/2 2/1 3/1"},
		{list: "1, 3, Y:2", want: "1/1 1/2 3/1 Y:2/1"},
		{list: "Y:2, X:2", want: "Y:2/1 2/1"},
		{list: "1, X:2, 1", want: "1/1 1/2 2/1 1/1 1/2"},
		{list: "all except T1, 1-3", want: "3A/1 004/1 10/1 12a/1"},
		{list: "1-10 except 1/2, Y:2", want: "1/1 2/1 3/1 3A/1 004/1 10/1"},
		{list: "4", err: "station 4 not found; did you mean 004"},
		{list: "12A", err: "station 12A not found; did you mean 12a"},
		{list: "T2", err: "station T2 not found; the casts have stations 1 to T1"},
		{list: "T-1", err: "station T not found; the casts have stations 1 to T1"},
		{list: "\"T-1\"", err: "station T-1 not found; did you mean T1"},
		{list: "Y:1", err: "station 1 of Y not found; X has a station of that name"},
		{list: "1234567", err: "station 1234567 not found; the casts have stations 1 to T1"},
		{list: "1-99", err: "station 99 not found; the casts have stations 1 to T1"},
		{list: "1/3", err: "station 1 has no cast 3; its casts are 1, 2"},
		{list: "1-3/7", err: "no station of 1-3 has a cast 7"},
		{list: "1 except 44444444", err: "except: station 44444444 not found; the casts have stations 1 to T1"},
		{list: "4, 12A", err: "station 4 not found; did you mean 004\nstation 12A not found; did you mean 12a"},
	} {
		l, err := ParseStations(c.list)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Select(casts, l)
		if c.err != "" {
			if err == nil || err.Error() != c.err || got != nil {
				t.Errorf("%s: %s, %v, want error %s", c.list, named(got), err, c.err)
			}
			continue
		}
		if err != nil || named(got) != c.want {
			t.Errorf("%s: %s, %v, want %s", c.list, named(got), err, c.want)
		}
	}
	one, _ := ParseStations("1")
	if _, err := Select(nil, one); err == nil || err.Error() != "station 1 not found; no casts were read" {
		t.Errorf("%v", err)
	}
}

func TestNames(t *testing.T) {
	for _, c := range [][2]string{
		{"11-14, 20", "11 12 13 14 20"}, {"3-1", "3 2 1"}, {"008-011", "008 009 010 011"}, {"8-011", "008 009 010 011"},
		{"A1-A4", "A1 A4"}, {"1-5 except 2, 4-9", "1 3"}, {"all", ""}, {"7/2", "7"},
	} {
		l, err := ParseStations(c[0])
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(l.Names(), " "); got != c[1] {
			t.Errorf("%s: %s, want %s", c[0], got, c[1])
		}
	}
	l, _ := ParseStations("1-999999999")
	if n := len(l.Names()); n != MaxNames {
		t.Errorf("%d names", n)
	}
}

func FuzzParseStations(f *testing.F) {
	for _, s := range []string{"1-12, 14", "7/2", "1-20 except 7, 9", "all except T1", "X:1-9/2", `"T-1", 5`, "1–4",
		`"`, "all, 3", "except", "1-4-5", "all-3", "all/2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, err := ParseStations(text)
		if err != nil {
			var fault *ListError
			if !errors.As(err, &fault) || fault.Column < 1 || fault.Column > len(text)+1 || fault.Remedy == "" ||
				!reflect.DeepEqual(l, StationList{}) {
				t.Errorf("%q: %v %+v", text, err, l)
			}
			return
		}
		again, err := ParseStations(l.String())
		if err != nil {
			t.Fatalf("%q prints as %q: %v", text, l.String(), err)
		}
		l.Text, again.Text = "", ""
		if !reflect.DeepEqual(l, again) {
			t.Errorf("%q: %+v, printed and read again %+v", text, l, again)
		}
	})
}

func ExampleParseStations() {
	_, err := ParseStations("1-12, 14 15")
	fmt.Println(err)
	l, _ := ParseStations("1-12 except 7, 20/2")
	fmt.Println(l.Contains("", "8", "1"), l.Contains("", "7", "1"))
	// Output:
	// column 10: station list: "1" is not expected here
	// true false
}
