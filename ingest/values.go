package ingest

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// The functions here read the identifiers, dates, times and positions of exchange files. Each gives the value, a note
// of what had to be tolerated ("" when nothing), and an error for what cannot be read.

// readDate reads YYYYMMDD. Dashes and a trailing ".0" are tolerated; what could be read two ways is refused.
func readDate(s string) (day time.Time, note string, err error) {
	t := s
	if cut, ok := strings.CutSuffix(t, ".0"); ok && len(cut) == 8 {
		t, note = cut, "has a point"
	}
	if len(t) == 10 && t[4] == '-' && t[7] == '-' {
		t, note = t[:4]+t[5:7]+t[8:], "has dashes"
	}
	switch {
	case strings.Contains(t, "/"):
		return day, "", fmt.Errorf("date %q is ambiguous: day/month or month/day", s)
	case len(t) == 6 && allDigits([]byte(t)):
		return day, "", fmt.Errorf("date %q is ambiguous: the year has two digits", s)
	case len(t) != 8 || !allDigits([]byte(t)):
		return day, "", fmt.Errorf("date %q is not YYYYMMDD", s)
	}
	y, _ := strconv.Atoi(t[:4])
	m, _ := strconv.Atoi(t[4:6])
	d, _ := strconv.Atoi(t[6:])
	day = time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	if day.Month() != time.Month(m) || day.Day() != d || m == 0 {
		return time.Time{}, "", fmt.Errorf("date %q does not exist", s)
	}
	if y < 1900 {
		return time.Time{}, "", fmt.Errorf("date %q is before 1900", s)
	}
	return day, note, nil
}

// readTime reads HHMM, 0000 to 2400, as a time since midnight. known is false for a fill or nothing.
func readTime(s string) (since time.Duration, known bool, note string, err error) {
	if s == "" || s == "-999" || s == "-9" || s == "-99" || s == "-9999" || s == "-999.0" {
		return 0, false, "", nil
	}
	bad := fmt.Errorf("time %q is not HHMM from 0000 to 2400", s)
	t := strings.TrimSuffix(s, ".0")
	if t != s {
		note = "has a point"
	}
	var h, m, sec int
	if strings.Contains(t, ":") {
		note = "has colons"
		parts := strings.Split(t, ":")
		if len(parts) > 3 {
			return 0, false, "", bad
		}
		n := [3]int{}
		for i, p := range parts {
			if len(p) == 0 || len(p) > 2 || !allDigits([]byte(p)) {
				return 0, false, "", bad
			}
			n[i], _ = strconv.Atoi(p)
		}
		h, m, sec = n[0], n[1], n[2]
	} else {
		if !allDigits([]byte(t)) || len(t) > 4 {
			return 0, false, "", bad
		}
		if len(t) < 4 {
			note = "lacks its leading zeros"
		}
		n, _ := strconv.Atoi(t)
		h, m = n/100, n%100
	}
	if h > 24 || m > 59 || sec > 59 || h == 24 && (m > 0 || sec > 0) {
		return 0, false, "", bad
	}
	if h == 24 {
		note = "is 0000 of the next day"
	}
	return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(sec)*time.Second, true, note, nil
}

var errFill = errors.New("missing")

// readDegrees reads a latitude or longitude in degrees: a signed decimal number, or degrees (and minutes) with a
// hemisphere letter. It gives the degrees and the digits after the point that hold them.
func readDegrees(s string, positive, negative byte, limit float64) (deg float64, decimals int, note string, err error) {
	t := strings.ToUpper(strings.TrimSpace(s))
	what := "latitude"
	if positive == 'E' {
		what = "longitude"
	}
	if t == "" || t == "-999" || strings.HasPrefix(t, "-999.") {
		return 0, 0, "", errFill
	}
	sign, lettered := 1.0, false
	for _, c := range [2]byte{positive, negative} {
		r := t
		if t[0] == c {
			r = t[1:]
		} else if t[len(t)-1] == c {
			r = t[:len(t)-1]
		} else {
			continue
		}
		t, lettered = strings.TrimSpace(r), true
		if c == negative {
			sign = -1
		}
		break
	}
	parts := strings.FieldsFunc(t, func(r rune) bool { return r == ' ' || r == '°' || r == '\'' || r == ':' })
	bad := fmt.Errorf("%s %q is not decimal degrees", what, s)
	if len(parts) == 0 || len(parts) > 2 {
		return 0, 0, "", bad
	}
	v, d, q, ok := scanNumber([]byte(parts[0]))
	if !ok || math.IsNaN(v) {
		return 0, 0, "", bad
	}
	if q == odd {
		note = "has a plus or an exponent"
	}
	if len(parts) == 2 {
		minutes, md, _, ok := scanNumber([]byte(parts[1]))
		if !ok || !(minutes >= 0 && minutes < 60) || d > 0 {
			return 0, 0, "", bad
		}
		if strings.HasPrefix(parts[0], "-") {
			if lettered {
				return 0, 0, "", fmt.Errorf("%s %q has both a sign and a hemisphere letter", what, s)
			}
			v, sign = -v, -sign
		}
		v += minutes / 60
		d = md + 2 // 0.01 minute is 1.7e-4 degree: two more digits hold it
		// The value is that of the digits kept, so that it is written as it is held.
		v = math.Round(v*pow10[min(d, 15)]) / pow10[min(d, 15)]
		note = "is in degrees and minutes"
	}
	if lettered {
		if note == "" {
			note = "has a hemisphere letter"
		}
		if v < 0 {
			return 0, 0, "", fmt.Errorf("%s %q has both a sign and a hemisphere letter", what, s)
		}
	}
	if v = sign * v; v == 0 {
		v = 0 // no negative zero
	}
	if math.Abs(v) > limit {
		return 0, 0, "", fmt.Errorf("%s %q is beyond %g degrees", what, s, limit)
	}
	return v, d, note, nil
}

// east puts a longitude of 180..360 (or -360..-180) on -180..180 without losing a digit.
func east(lon float64, decimals int) float64 {
	turn := 360.0
	if lon > 0 {
		turn = -360
	}
	if decimals > 12 { // beyond what the integers below hold
		return lon + turn
	}
	p := pow10[decimals]
	return (math.Round(lon*p) + turn*p) / p
}

// identifier reports whether s holds only characters of a station, sample or bottle name.
func identifier(s string) bool {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if !(c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c == '_') {
			return false
		}
	}
	return s != ""
}

// expocodePattern reports whether s looks like platform code and departure date: [0-9A-Z]{4}[12][0-9]{7}, the digits a
// day of the calendar.
func expocodePattern(s string) bool {
	if len(s) != 12 || s[4] != '1' && s[4] != '2' || !allDigits([]byte(s[4:])) {
		return false
	}
	for i := 0; i < 4; i++ {
		if c := s[i]; !(c >= '0' && c <= '9' || c >= 'A' && c <= 'Z') {
			return false
		}
	}
	_, err := time.Parse("20060102", s[4:])
	return err == nil
}
