package cf

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// calendars of CF 4.4.1.
var calendars = []string{"standard", "gregorian", "proleptic_gregorian", "julian", "noleap", "365_day", "all_leap",
	"366_day", "360_day", "utc", "tai", "none"}

// timeOf checks rules 30 and 31.
func (v *variable) timeOf() {
	bounds, u, calendar := v.boundsOf != nil, v.Text("units"), v.Text("calendar")
	if !v.time {
		if v.has("calendar") && !bounds {
			v.fault(31, "calendar on a variable that is no time")
		}
		return
	}
	unit, _, since := strings.Cut(u, " since ")
	if !since {
		if v.standardName() == "time" && !bounds {
			v.fault(30, "units of time %q have no since", u)
		}
		return
	}
	if calendarUnit(unit) {
		v.say(should, 31, "units of time in months or years")
	}
	switch {
	case !v.has("calendar"):
		if !bounds {
			v.say(should, 31, "a time without calendar")
		}
	case !slices.Contains(calendars, strings.ToLower(calendar)):
		if !v.has("month_lengths") {
			v.fault(31, "calendar %q is not known", calendar)
		}
	case calendar == "gregorian":
		v.say(should, 31, "calendar gregorian is called standard now")
	}
}

// calendarUnit reports whether a unit is months or years.
func calendarUnit(unit string) bool {
	return slices.Contains([]string{"month", "mon", "year", "yr", "common_year"},
		strings.TrimSuffix(strings.ToLower(unit), "s"))
}

// sinceDate splits a reference time: unit, year, month, day, and what follows.
var sinceDate = regexp.MustCompile(
	`(?i)^(\S+)\s+since\s+(?:([-+]?\d{1,4})-(\d{1,2})-(\d{1,2})|(\d{4})(\d{2})(\d{2}))([ T].*)?$`)

// bareZone is a zone right behind the date, which UDUNITS takes.
var bareZone = regexp.MustCompile(`^ +[-+]\d`)

// referenceTime checks the date of a reference time ("days since 0001-01-01") by its calendar, since a date such as 30
// February is valid in one and not in another (CF 4.4). plain is the text as metadata/units can read it: the date is an
// ordinary one and months and years, which CF advises against and does not forbid, are days; other text is returned as
// it is. problem is what is wrong with the date, "" for nothing.
func referenceTime(text, calendar string) (plain string, is bool, problem string) {
	if !strings.Contains(strings.ToLower(text), " since ") {
		return text, false, ""
	}
	m := sinceDate.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		return text, true, "no complete date, year-month-day, behind since"
	}
	unit, clock := m[1], m[8]
	if calendarUnit(unit) {
		unit = "days"
	} else if strings.EqualFold(unit, "msec") {
		unit = "ms"
	}
	if bareZone.MatchString(clock) {
		clock = " 00:00" + clock
	}
	year, _ := strconv.Atoi(m[2] + m[5])
	month, _ := strconv.Atoi(m[3] + m[6])
	day, _ := strconv.Atoi(m[4] + m[7])
	if n := daysOf(year, month, strings.ToLower(calendar)); n > 0 && (day < 1 || day > n) || n == 0 {
		problem = fmt.Sprintf("%04d-%02d-%02d is no date of the calendar %s", year, month, day,
			cmp.Or(calendar, "standard"))
	}
	return unit + " since 2000-01-01" + clock, true, problem
}

// daysOf returns the days of a month in a calendar of CF 4.4.1: 0 for a month that does not exist, -1 where the
// calendar does not say.
func daysOf(year, month int, calendar string) int {
	if month < 1 || month > 12 {
		return 0
	}
	julian := year%4 == 0
	leap := julian && (year%100 != 0 || year%400 == 0)
	switch calendar {
	case "360_day":
		return 30
	case "noleap", "365_day":
		leap = false
	case "all_leap", "366_day":
		leap = true
	case "julian":
		leap = julian
	case "proleptic_gregorian":
	case "", "standard", "gregorian": // Julian before 15 October 1582
		if year < 1582 {
			leap = julian
		}
	default: // none, or one that the file describes
		return -1
	}
	if month == 2 && leap {
		return 29
	}
	return [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[month-1]
}
