package ingest

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// CheckCruise compares the casts of a cruise with each other: the same cast twice (an error), stations equal but for
// zeros or case, expocodes that differ or are not declared, file names that do not match the header. declared lists the
// legs of the cruise file; empty when it lists none. Nothing depends on the order of casts but the order in which two
// files of the same cast are named.
func CheckCruise(casts []*section.Cast, declared []Leg) ([]metadata.Finding, error) {
	var found []metadata.Finding
	found = append(found, sameButForZeros(casts)...)
	found = append(found, expocodes(casts, declared)...)
	for _, c := range casts {
		found = append(found, fileName(c, casts)...)
	}
	metadata.SortFindings(found)
	return found, twice(casts)
}

func of(c *section.Cast, check string) metadata.Finding {
	return metadata.Finding{Position: metadata.Position{File: c.Source.Name}, Severity: metadata.Warning, Check: check,
		Cast: c.ID(), Count: 1}
}

// twice finds casts with the same expocode, station and cast number, byte for byte.
func twice(casts []*section.Cast) error {
	var errs []error
	first := map[[3]string]*section.Cast{}
	given := slices.Clone(casts) // with the numbers proposed already
	for _, c := range casts {
		k := [3]string{c.Expocode, c.Station, c.Number}
		f := first[k]
		if f == nil {
			first[k] = c
			continue
		}
		free := freeNumber(given, f, c.Number)
		given = append(given, &section.Cast{Expocode: c.Expocode, Station: c.Station, Number: free})
		errs = append(errs, &metadata.InputError{Position: metadata.Position{File: c.Source.Name},
			Err: fmt.Errorf("expocode %s station %s cast %s is in %s too", c.Expocode, c.Station, c.Number,
				f.Source.Name),
			Remedy: "correct the header of one of the two", Options: []metadata.Option{leaveOut("one", c.Source.Name),
				{Text: "give it another number", Paste: metadata.RenumberFile(c.Source.Name, c.Station, free, "...")}}})
	}
	return errors.Join(errs...)
}

// sameButForZeros finds stations of one expocode whose names differ by leading zeros or case only: two stations, and
// probably one meant.
func sameButForZeros(casts []*section.Cast) []metadata.Finding {
	var found []metadata.Finding
	first := map[[2]string]*section.Cast{}
	told := map[[2]string]bool{}
	for _, c := range casts {
		k := [2]string{c.Expocode, strings.ToLower(strings.TrimLeft(c.Station, "0"))}
		f := first[k]
		if f == nil {
			first[k] = c
			continue
		}
		if f.Station == c.Station || told[[2]string{c.Expocode, c.Station}] {
			continue
		}
		told[[2]string{c.Expocode, c.Station}] = true
		w := of(c, "exchange.station_zeros")
		w.Message = fmt.Sprintf("stations %s (%s) and %s (%s) differ by zeros or case only; taken as two stations",
			f.Station, f.Source.Name, c.Station, c.Source.Name)
		w.Options = []metadata.Option{{Text: "if they are one, give one name to both",
			Paste: metadata.RenumberFile(c.Source.Name, f.Station, freeNumber(casts, f, c.Number), "...")}}
		found = append(found, w)
	}
	return found
}

// freeNumber returns a cast number that the station of f does not have yet: the one wanted, else the next of all.
func freeNumber(casts []*section.Cast, f *section.Cast, want string) string {
	has := map[string]bool{}
	for _, c := range casts {
		if c.Expocode == f.Expocode && c.Station == f.Station {
			has[c.Number] = true
		}
	}
	for n := 1; has[want]; n++ {
		want = strconv.Itoa(n)
	}
	return want
}

// A Leg is an expocode that the cruise file declares, its days, and where it does.
type Leg struct {
	Expocode   string
	Start, End time.Time // zero when not stated
	At         metadata.Position
}

// expocodes compares the expocodes of the casts with each other, or with those declared.
func expocodes(casts []*section.Cast, declared []Leg) []metadata.Finding {
	var found []metadata.Finding
	var codes []string
	first := map[string]*section.Cast{}
	for _, c := range casts {
		if first[c.Expocode] == nil {
			first[c.Expocode] = c
			codes = append(codes, c.Expocode)
		}
	}
	listed := map[string]bool{}
	var names []string
	for _, leg := range declared {
		d := leg.Expocode
		names = append(names, d)
		listed[d] = true
		if first[d] == nil {
			found = append(found, metadata.Finding{Position: leg.At, Severity: metadata.Warning,
				Check: "exchange.expocode_unused", Count: 1,
				Message: fmt.Sprintf("expocode %s is declared, and no file has it", d),
				Remedy:  "correct the legs of the cruise file, or the sources"})
		}
	}
	for i, e := range codes {
		if len(declared) == 0 && i == 0 || listed[e] {
			continue
		}
		w := of(first[e], "exchange.expocode_differs")
		if len(declared) == 0 {
			w.Message = fmt.Sprintf("expocode %s (first in %s) differs from %s (first in %s)", e, first[e].Source.Name,
				codes[0], first[codes[0]].Source.Name)
		} else {
			w.Message = fmt.Sprintf("expocode %s (first in %s) is not declared; declared: %s", e, first[e].Source.Name,
				strings.Join(names, " "))
		}
		legs := []string{e}
		if len(declared) == 0 { // one alone would leave the others out
			legs = codes
		}
		w.Options = []metadata.Option{{Text: "if it belongs to the cruise, declare it", Paste: metadata.Legs(legs...)}}
		found = append(found, w)
	}
	return found
}

// fileName compares a file name of the customary form EXPOCODE_STATION_CAST_ct1.csv with the header. Other names say
// nothing.
func fileName(c *section.Cast, casts []*section.Cast) []metadata.Finding {
	base := path.Base(c.Source.Name)
	if low := strings.ToLower(base); strings.HasSuffix(low, "_ct1.csv") {
		base = base[:len(base)-len("_ct1.csv")]
	} else {
		return nil
	}
	i := strings.LastIndexByte(base, '_')
	if i < 0 {
		return nil
	}
	j := strings.LastIndexByte(base[:i], '_')
	if j < 0 || !expocodePattern(base[:j]) && base[:j] != c.Expocode {
		return nil
	}
	bare := func(s string) string {
		if t := strings.TrimLeft(s, "0"); t != "" {
			return t
		}
		return "0"
	}
	same := base[:j] == c.Expocode && bare(base[j+1:i]) == bare(c.Station) && bare(base[i+1:]) == bare(c.Number)
	if same || strings.HasPrefix(base, c.Expocode+"_"+c.Station+"_") ||
		strings.HasPrefix(base, strings.TrimSuffix(c.ID(), c.Number)) {
		if same || bare(base[i+1:]) == bare(c.Number) {
			return nil
		}
	}
	w := of(c, "exchange.file_name")
	w.Message = fmt.Sprintf("the file name says %s, the header says expocode %s station %s cast %s; the header counts",
		base, c.Expocode, c.Station, c.Number)
	w.Remedy = "compare both with the log, and rename the file or correct the header"
	station, number := bare(base[j+1:i]), bare(base[i+1:])
	taken := slices.ContainsFunc(casts, func(k *section.Cast) bool {
		return k != c && k.Expocode == c.Expocode && k.Station == station && k.Number == number
	})
	if base[:j] == c.Expocode && identifier(station) && identifier(number) && !taken {
		w.Remedy = "compare both with the log"
		w.Options = []metadata.Option{{Text: "when the file name is right, say so",
			Paste: metadata.RenumberFile(c.Source.Name, station, number, "...")}}
	}
	return []metadata.Finding{w}
}
