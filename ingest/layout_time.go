package ingest

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// DateOrder is the order of day, month and year in a date of numbers.
type DateOrder uint8

// Orders; the zero value is not stated: what could be read two ways is refused.
const (
	OrderUnstated DateOrder = iota
	YearMonthDay
	DayMonthYear
	MonthDayYear
)

// String returns the word of the cruise file.
func (o DateOrder) String() string { return [...]string{"not stated", "ymd", "dmy", "mdy"}[o] }

// errOrder is the fault of a date whose order must be said.
var errOrder = errors.New("could be read with the day or the month first")

// readOrderedDate reads a date in any usual form: numbers with any signs between them, a month by its English name, or
// digits alone. What follows the date is returned as rest.
func readOrderedDate(s string, order DateOrder) (day time.Time, rest string, err error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return day, "", errors.New("no date")
	}
	parts, month, rest := dateParts(s)
	bad := fmt.Errorf("date %q cannot be read", s)
	if len(parts) == 1 && month == 0 {
		return compactDate(s, parts[0], rest, order)
	}
	var y, m, d string
	switch {
	case month > 0 && len(parts) == 2:
		m, d, y = strconv.Itoa(month), parts[0], parts[1]
		if len(parts[0]) == 4 || len(parts[1]) != 4 && order == YearMonthDay {
			d, y = y, d
		}
	case month == 0 && len(parts) == 3 && (len(parts[0]) == 4 || order == YearMonthDay):
		y, m, d = parts[0], parts[1], parts[2]
	case month == 0 && len(parts) == 3:
		if order == OrderUnstated && len(parts[2]) != 4 {
			return day, "", fmt.Errorf("date %q %w", s, errOrder)
		}
		y = parts[2]
		switch first, second := atoi(parts[0]), atoi(parts[1]); {
		case order == DayMonthYear, order == OrderUnstated && (first > 12 || first == second):
			d, m = parts[0], parts[1]
		case order == MonthDayYear, order == OrderUnstated && second > 12:
			m, d = parts[0], parts[1]
		default:
			return day, "", fmt.Errorf("date %q %w", s, errOrder)
		}
	default:
		return day, "", bad
	}
	day, err = calendarDay(s, y, m, d)
	return day, rest, err
}

// dateParts returns the numbers at the beginning of a text, at most three with a month's name among them, the month,
// and what follows.
func dateParts(s string) (parts []string, month int, rest string) {
	i := 0
	for i < len(s) {
		n := len(parts)
		if month > 0 {
			n++
		}
		if n == 3 {
			break
		}
		j := i
		switch c := rune(s[i]); {
		case c >= '0' && c <= '9':
			for j < len(s) && s[j] >= '0' && s[j] <= '9' {
				j++
			}
			parts = append(parts, s[i:j])
			if n == 0 && j-i >= 6 {
				return parts, 0, s[j:]
			}
		case unicode.IsLetter(c):
			for j < len(s) && unicode.IsLetter(rune(s[j])) {
				j++
			}
			m := monthOf(s[i:j])
			if m == 0 && !weekday(s[i:j]) || m > 0 && month > 0 {
				return parts, month, s[i:]
			}
			if m > 0 {
				month = m
			}
		case strings.IndexByte("-/., ", s[i]) >= 0:
			j++
		default:
			return parts, month, s[i:]
		}
		i = j
	}
	return parts, month, s[i:]
}

var monthNames = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september",
	"october", "november", "december"}

// monthOf returns the number of the month of an English name or the first three or four letters of one; 0 for other
// text.
func monthOf(s string) int {
	low := strings.ToLower(s)
	for i, m := range monthNames {
		if len(low) >= 3 && strings.HasPrefix(m, low) || low == "sept" && m == "september" {
			return i + 1
		}
	}
	return 0
}

func weekday(s string) bool {
	for _, d := range []string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"} {
		if len(s) >= 3 && strings.HasPrefix(d, strings.ToLower(s)) {
			return true
		}
	}
	return false
}

// compactDate reads a date of six or eight digits.
func compactDate(s, digits, rest string, order DateOrder) (day time.Time, left string, err error) {
	var y, m, d string
	switch n := len(digits); {
	case n != 8 && n != 6:
		return day, "", fmt.Errorf("date %q cannot be read", s)
	case n == 6 && order == OrderUnstated:
		return day, "", fmt.Errorf("date %q %w", s, errOrder)
	case order == DayMonthYear:
		d, m, y = digits[:2], digits[2:4], digits[4:]
	case order == MonthDayYear:
		m, d, y = digits[:2], digits[2:4], digits[4:]
	default:
		y, m, d = digits[:n-4], digits[n-4:n-2], digits[n-2:]
	}
	day, err = calendarDay(s, y, m, d)
	return day, rest, err
}

func atoi(s string) int {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil {
		return -1
	}
	return n
}

func itoa(n int) string { return strconv.Itoa(n) }

// calendarDay returns a day of the calendar. A year of two digits is one from 1970 to 2069.
func calendarDay(s, y, m, d string) (time.Time, error) {
	year, month, dom := atoi(y), atoi(m), atoi(d)
	if len(strings.TrimSpace(y)) == 2 && year >= 0 {
		if year += 1900; year < 1970 {
			year += 100
		}
	}
	day := time.Date(year, time.Month(month), dom, 0, 0, 0, 0, time.UTC)
	switch {
	case month < 1 || month > 12 || dom < 1 || day.Day() != dom:
		return time.Time{}, fmt.Errorf("date %q does not exist", s)
	case year < 1900 || year > 2200:
		return time.Time{}, fmt.Errorf("date %q has the year %s", s, y)
	}
	return day, nil
}

// readClock reads a time of day with colons or of four or six digits, with AM or PM, and the zone behind it. known is
// false for nothing and for -999; ahead is how far the zone is ahead of UTC.
func readClock(s string) (since, ahead time.Duration, zoned, known bool, err error) {
	t := strings.ToUpper(strings.TrimLeft(strings.TrimSpace(s), "T,; "))
	if t == "" || strings.HasPrefix(t, "-9") {
		return 0, 0, false, false, nil
	}
	bad := fmt.Errorf("time %q cannot be read", s)
	half := time.Duration(-1)
	for _, z := range []string{"UTC", "GMT", "Z", "AM", "PM"} {
		if cut, ok := strings.CutSuffix(t, z); ok {
			t = strings.TrimSpace(cut)
			switch z {
			case "AM":
				half = 0
			case "PM":
				half = 12 * time.Hour
			default:
				zoned = true
			}
			break
		}
	}
	if i := strings.LastIndexAny(t, "+-"); i > 0 {
		if ahead, err = readZone(t[i:]); err != nil {
			return 0, 0, false, false, bad
		}
		t, zoned = strings.TrimSpace(t[:i]), true
	}
	part := strings.FieldsFunc(t, func(r rune) bool { return r == ':' || r == 'H' || r == ' ' })
	if len(part) == 1 && (len(t) == 4 || len(t) == 6 || len(t) == 3) && allDigits([]byte(t)) {
		if len(t) == 3 {
			t = "0" + t
		}
		part = []string{t[:2], t[2:4], t[4:]}[:len(t)/2]
	}
	if len(part) < 2 || len(part) > 3 {
		return 0, 0, false, false, bad
	}
	h, m, sec := atoi(part[0]), atoi(part[1]), 0.0
	if len(part) == 3 {
		v, _, q, ok := scanNumber([]byte(part[2]))
		if !ok || q != plain {
			return 0, 0, false, false, bad
		}
		sec = v
	}
	if half >= 0 {
		if h < 1 || h > 12 {
			return 0, 0, false, false, bad
		}
		h %= 12
	}
	if h < 0 || h > 24 || m < 0 || m > 59 || sec < 0 || sec >= 61 || h == 24 && (m > 0 || sec > 0) {
		return 0, 0, false, false, bad
	}
	since = time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(math.Round(sec))*time.Second +
		max(half, 0)
	return since, ahead, zoned, true, nil
}

// dayInYear returns the time of a day of the year, which counts from first (1 for a day of the year, 0 for elapsed
// days). A time of day that is given to five decimals or more is rounded to the second, one of fewer to the minute.
func dayInYear(year int, text string, first float64) (t time.Time, dateOnly bool, err error) {
	v, decimals, q, ok := scanNumber([]byte(text))
	if !ok || q == blank || q == notNumber || v < first || v >= first+367 {
		return t, false, fmt.Errorf("day %q is not a number from %g to %g", text, first, first+366)
	}
	step := time.Minute
	if decimals >= 5 {
		step = time.Second
	}
	seconds := (v - first) * 86400
	since := time.Duration(math.Round(seconds)) * time.Second
	return time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Add(since.Round(step)), decimals == 0, nil
}
