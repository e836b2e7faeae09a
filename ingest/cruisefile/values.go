package cruisefile

import (
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

// identifier is a word that becomes part of file names.
var identifier = textLike("a word of letters, digits, - and _, at most 64", func(s string) (string, string) {
	if !identifierText.MatchString(s) {
		return "", "is not a word for file names"
	}
	return s, ""
})

var identifierText = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$`)

// date is a day of the Gregorian calendar.
var date = textLike("a date, YYYY-MM-DD", func(s string) (string, string) {
	if !datePattern.MatchString(s) {
		return "", "is not a date written YYYY-MM-DD"
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return "", "is not in the calendar"
	}
	if t.Year() < 1900 {
		return "", "is before 1900"
	}
	if t.Year() > 2100 {
		return "", "is after 2100"
	}
	return s, ""
})

var datePattern = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

// orcid is the identifier of a person: sixteen digits in fours, the last one a check digit (ISO 7064 mod 11-2, X is
// 10). It is kept as a full https URL.
var orcid = textLike("an ORCID, https://orcid.org/0000-0000-0000-0000", func(s string) (string, string) {
	id := s
	for _, head := range []string{"https://orcid.org/", "http://orcid.org/", "orcid.org/"} {
		id = strings.TrimPrefix(id, head)
	}
	if !orcidText.MatchString(id) {
		return "", "is not four groups of four digits"
	}
	if want := checkDigit(strings.ReplaceAll(id, "-", "")[:15]); id[18] != want {
		return "", fmt.Sprintf("has a wrong digit: the last should be %c if the others are right", want)
	}
	return "https://orcid.org/" + id, ""
})

var orcidText = regexp.MustCompile(`^\d{4}-\d{4}-\d{4}-\d{3}[0-9X]$`)

// checkDigit is the ISO 7064 mod 11-2 check character of digits.
func checkDigit(digits string) byte {
	total := 0
	for i := 0; i < len(digits); i++ {
		total = (total + int(digits[i]-'0')) * 2 % 11
	}
	if c := (12 - total) % 11; c < 10 {
		return byte('0' + c)
	}
	return 'X'
}

// ror is the identifier of an organisation: 0, six characters of base 32 without i, l, o, u, and two check digits. It
// is kept as a full https URL. Check digits: ISO 7064 mod 97-10 of the first seven characters as a base-32 number; the
// formula agrees with the five published identifiers that we tried.
var ror = textLike("a ROR identifier, https://ror.org/ and nine characters", func(s string) (string, string) {
	id := s
	for _, head := range []string{"https://ror.org/", "http://ror.org/", "ror.org/"} {
		id = strings.TrimPrefix(id, head)
	}
	if !rorText.MatchString(id) {
		return "", "is not 0, six letters or digits (not i, l, o, u) and two digits"
	}
	n := 0
	for i := range 7 {
		n = n*32 + strings.IndexByte(rorDigits, id[i])
	}
	if want := fmt.Sprintf("%02d", 98-n*100%97); id[7:] != want {
		return "", "has a wrong character: the last two digits should be " + want + " if the others are right"
	}
	return "https://ror.org/" + id, ""
})

const rorDigits = "0123456789abcdefghjkmnpqrstvwxyz"

var rorText = regexp.MustCompile(`^0[0-9a-hjkmnp-tv-z]{6}[0-9]{2}$`)

// authority is a reversed domain name or the prefix of a DOI.
var authority = textLike("a reversed domain name such as org.example, or a DOI prefix such as 10.5555",
	func(s string) (string, string) {
		if !authorityText().MatchString(s) {
			return "", "is neither a reversed domain name nor a DOI prefix"
		}
		return s, ""
	})

// authorityText takes long to compile, and few files have the key.
var authorityText = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^(?:[a-z]{2,24}(?:\.[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?){1,8}|10\.[0-9]{4,9})$`)
})

var webAddress = textLike("an https address", func(s string) (string, string) {
	if !isWebAddress(s) {
		return "", "is not a web address that begins with https://"
	}
	return s, ""
})

func isWebAddress(s string) bool {
	u, err := url.Parse(s)
	return err == nil && (u.Scheme == "https" || u.Scheme == "http") && hostText.MatchString(u.Hostname()) &&
		!strings.ContainsAny(s, " \t")
}

var hostText = regexp.MustCompile(`^(?:[\pL\pN](?:[\pL\pN-]*[\pL\pN])?\.)+\pL[\pL\pN-]*$`)

// doi is a digital object identifier, kept as a full https URL.
var doi = textLike("a DOI such as 10.5555/12345678", func(s string) (string, string) {
	id := bareDOI(s)
	if !doiText.MatchString(id) {
		return "", "is not a DOI: 10., four digits or more, a slash and the name"
	}
	return "https://doi.org/" + id, ""
})

// bareDOI returns a DOI without what it is often written with in front.
func bareDOI(s string) string {
	for _, head := range []string{"https://doi.org/", "http://doi.org/", "https://dx.doi.org/", "http://dx.doi.org/",
		"doi.org/", "doi:", "DOI:"} {
		if rest, ok := strings.CutPrefix(s, head); ok {
			return strings.TrimSpace(rest)
		}
	}
	return s
}

// reference is a DOI, kept as a full https URL, or a web address.
var reference = textLike("a DOI such as 10.5555/12345678, or an https address", func(s string) (string, string) {
	id := bareDOI(s)
	isDOI := id != s || strings.HasPrefix(s, "10.")
	switch {
	case isDOI && !doiText.MatchString(id):
		return "", "is not a DOI: 10., four digits or more, a slash and the name"
	case isDOI:
		return "https://doi.org/" + id, ""
	case !isWebAddress(s):
		return "", "is neither a DOI nor a web address"
	}
	return s, ""
})

var doiText = regexp.MustCompile(`^10\.[0-9]{4,9}(?:\.[0-9]+)*/[^\s"<>]*[^\s"<>.,;]$`)

// shipCode is the code of a ship in the list of ICES.
var shipCode = textLike("four capital letters or digits, such as ZZSM", func(s string) (string, string) {
	if !shipText.MatchString(s) {
		return "", "is not a ship code"
	}
	return s, ""
})

var shipText = regexp.MustCompile(`^[0-9A-Z]{4}$`)

var email = textLike("an e-mail address", func(s string) (string, string) {
	if !emailText.MatchString(s) {
		return "", "is not an e-mail address"
	}
	return s, ""
})

var emailText = regexp.MustCompile(
	`^[^\s@<>,;:()"\\\[\].]+(?:\.[^\s@<>,;:()"\\\[\].]+)*@(?:[\pL\pN](?:[\pL\pN-]*[\pL\pN])?\.)+\pL[\pL\pN-]*$`)

// contact is a person in words, or an e-mail address, also as NAME <ADDRESS>.
var contact = textLike("an e-mail address, or a name and what else is needed to reach the person",
	func(s string) (string, string) {
		address := s
		if name, rest, ok := strings.Cut(s, "<"); ok && strings.HasSuffix(rest, ">") && strings.TrimSpace(name) != "" {
			address = strings.TrimSuffix(rest, ">")
		}
		if strings.Contains(s, "@") && !emailText.MatchString(address) {
			return "", "is not an e-mail address"
		}
		return s, ""
	})

// licences are SPDX identifiers that data are commonly put under. Others are given as a URL or as LicenseRef-….
var licences = []string{
	"CC0-1.0", "CC-BY-4.0", "CC-BY-SA-4.0", "CC-BY-NC-4.0", "CC-BY-NC-SA-4.0", "CC-BY-ND-4.0", "CC-BY-NC-ND-4.0",
	"CC-BY-3.0",
	"CC-BY-SA-3.0", "ODbL-1.0", "ODC-By-1.0", "PDDL-1.0", "CDLA-Permissive-1.0", "CDLA-Permissive-2.0",
	"CDLA-Sharing-1.0",
	"OGL-UK-3.0", "OGL-Canada-2.0", "etalab-2.0", "DL-DE-BY-2.0", "DL-DE-ZERO-2.0", "NLOD-2.0",
}

var licence = form[string]{legal: "an SPDX identifier such as CC0-1.0 or CC-BY-4.0, or an https URL",
	read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		s, ok := d.scalar(n, name, "an SPDX identifier or an https URL")
		if !ok {
			return
		}
		if u, err := url.Parse(s); slices.Contains(licences, s) ||
			licenceRef.MatchString(s) || err == nil && u.Scheme == "https" &&
			u.Host != "" {
			*dst = s
			return
		}
		remedy := "give the https URL of the terms, or an SPDX identifier such as CC0-1.0 or CC-BY-4.0"
		if near, ok := metadata.Nearest(s, licences); ok {
			remedy = fmt.Sprintf("did you mean %q? Otherwise %s", near, remedy)
		}
		d.fault(n, remedy, "%s: %s is no licence identifier that we know", name, shorten(s))
	}}

var licenceRef = regexp.MustCompile(`^LicenseRef-[A-Za-z0-9.-]+$`)

// expocode warns of an unusual code and refuses one that cannot be a file name or a station list's prefix.
var expocode = form[string]{legal: "an expocode: 4 letters or digits of the ship and the departure date, YYYYMMDD",
	read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		s, ok := d.scalar(n, name, "an expocode")
		if !ok {
			return
		}
		if !metadata.InFileName(s) || len(s) > metadata.LongestName {
			d.fault(n, "give the code as the casts have it: letters, digits, _ and -",
				"%s: %s cannot be part of a file name", name, shorten(s))
			return
		}
		if _, err := time.Parse("20060102", s[min(4, len(s)):]); err != nil || !usualExpocode.MatchString(s) {
			d.finding(n, metadata.Warning, "cruisefile.expocode", "check it against the casts; nothing is changed",
				"expocode %s is not four characters of a ship and a date YYYYMMDD", s)
		}
		*dst = s
	}}

var usualExpocode = regexp.MustCompile(`^[0-9A-Z]{4}[12][0-9]{7}$`) // exchange-format description, EXPOCODE

func variableNames() []string {
	vs := metadata.Variables()
	names := make([]string, len(vs))
	for i := range vs {
		names[i] = vs[i].Name
	}
	return names
}

// variable is a name of the metadata table.
var variable = form[string]{legal: "a variable name (list below)",
	read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		s, ok := d.scalar(n, name, "a variable name")
		if !ok {
			return
		}
		if _, ok := metadata.ByName(s); ok {
			*dst = s
			return
		}
		remedy := "castwright help cruise-file lists the variables at its end"
		if near, ok := metadata.Nearest(s, variableNames()); ok {
			remedy = fmt.Sprintf("did you mean %q?", near)
		}
		for _, v := range metadata.Variables() {
			if v.Exchange == strings.ToUpper(s) || v.StandardName == s {
				remedy = fmt.Sprintf("here it is called %q", v.Name)
				break
			}
		}
		d.fault(n, remedy, "%s: no variable is called %s", name, shorten(s))
	}}

// notMapped are the variables that a grid has as its axes and the products of station pairs: casts hold no profile of
// them.
var notMapped = []string{"pres", "lat", "lon", "time", "distance", "bottom_depth", "ref_pres", "dynamic_height",
	"velocity", "velocity_east", "velocity_north", "transport", "salt_bottle", "oxy_bottle"}

// mappedVariables are the variables of a grid: profiles of casts, each once.
var mappedVariables = form[[]string]{legal: list(variable).legal, list: true,
	read: func(d *decoder, n *yaml.Node, name string, dst *[]string) {
		before := len(d.faults)
		list(variable).read(d, n, name, dst)
		if len(d.faults) > before {
			return
		}
		items := itemsOf(n)
		for i, v := range *dst {
			switch {
			case slices.Contains(notMapped, v):
				d.fault(items[i], "name what casts hold at each level, such as ctemp, asal or oxy",
					"%s: %s is not mapped",
					name, v)
			case slices.Contains((*dst)[:i], v):
				d.fault(items[i], "name it once", "%s: %s a second time", name, v)
			}
		}
	}}

// notColumns are the variables that no column of a cast is: what belongs to a whole cast, and what is computed of two.
var notColumns = []string{"lat", "lon", "time", "distance", "bottom_depth", "ref_pres", "velocity", "velocity_east",
	"velocity_north", "transport"}

// columnVariable is a variable that a column of a cast or bottle file can be.
var columnVariable = form[string]{legal: variable.legal,
	read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		var s string
		if variable.read(d, n, name, &s); slices.Contains(notColumns, s) {
			d.fault(n, "name what has a value at each level, such as temp2", "%s: %s has no column in a cast", name, s)
			return
		}
		*dst = s
	}}

var yesNo = wordAs([]string{"yes", "no", "true", "false"}, []bool{true, false, true, false})

var clockText = regexp.MustCompile(`^([-+])(\d{2}):(\d{2})(?::(\d{2}))?$`)

// signedTime reads +hh:mm or +hh:mm:ss.
func signedTime(s string) (time.Duration, bool) {
	m := clockText.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	h, _ := strconv.Atoi(m[2])
	minute, _ := strconv.Atoi(m[3])
	second, _ := strconv.Atoi(m[4])
	if minute > 59 || second > 59 {
		return 0, false
	}
	t := time.Duration(h)*time.Hour + time.Duration(minute)*time.Minute + time.Duration(second)*time.Second
	if m[1] == "-" {
		t = -t
	}
	return t, true
}

// zone is the zone of logged times. What is added to them is the opposite.
var zone = form[time.Duration]{legal: `UTC, or hours and minutes ahead of it such as "+02:00" or "-03:30"`,
	read: func(d *decoder, n *yaml.Node, name string, dst *time.Duration) {
		s, ok := d.scalar(n, name, `a zone such as "+02:00"`)
		if !ok || s == "UTC" {
			return
		}
		t, ok := signedTime(s)
		if !ok || t < -12*time.Hour || t > 14*time.Hour {
			d.fault(n,
				`write hours and minutes ahead of UTC, such as "+02:00"; names of zones change their meaning over the years`,
				"%s: %s is not a zone", name, shorten(s))
			return
		}
		*dst = -t
	}}

// offset is what is added to logged times.
var offset = form[time.Duration]{legal: `a signed time such as "-00:03:10"`,
	read: func(d *decoder, n *yaml.Node, name string, dst *time.Duration) {
		s, ok := d.scalar(n, name, `a signed time such as "-00:03:10"`)
		if !ok {
			return
		}
		t, ok := signedTime(s)
		if !ok {
			d.fault(n, `write sign, hours, minutes and seconds, such as "-00:03:10"`, "%s: %s is not a signed time",
				name,
				shorten(s))
			return
		}
		*dst = t
	}}

func checkLeg(d *decoder, n *yaml.Node, l *metadata.Leg, has map[string]*yaml.Node) {
	if l.Start != "" && l.End != "" && l.End < l.Start {
		d.fault(has["end"], "check both dates", "end: the leg ends on %s, before its start on %s", l.End, l.Start)
	}
	if usualExpocode.MatchString(l.Expocode) && l.Start != "" &&
		strings.ReplaceAll(l.Start, "-", "") != l.Expocode[4:] {
		d.finding(has["start"], metadata.Note, "cruisefile.expocode_date", "check both",
			"the leg starts on %s, its expocode %s says another day of departure", l.Start, l.Expocode)
	}
}

func checkRelease(d *decoder, n *yaml.Node, r *metadata.Release, has map[string]*yaml.Node) {
	if r.Status != metadata.Final {
		return
	}
	at := n
	if has["status"] != nil {
		at = has["status"]
	}
	if r.Version == "" && has["version"] == nil {
		d.fault(at, "add one to release, such as version: 1.0", "a final release needs a version")
	}
	if r.Date == "" && has["date"] == nil {
		d.fault(at, "add the day of issue to release, such as date: 2026-06-30", "a final release needs a date")
	}
}

// checkCruise looks at what more than one key says.
func checkCruise(d *decoder, n *yaml.Node, c *Cruise, has map[string]*yaml.Node) {
	at := func(p metadata.Position, remedy, format string, args ...any) {
		d.faults = append(d.faults, &metadata.InputError{Position: p, Err: fmt.Errorf(format, args...), Remedy: remedy})
	}
	checkNames(c, at)
	open := -1
	for i := range c.Systems {
		for j := 0; j < i; j++ {
			if c.Systems[i].Label != "" && c.Systems[i].Label == c.Systems[j].Label {
				at(c.Systems[i].At, "choose another", "a second system is called %q", c.Systems[i].Label)
				break
			}
		}
		if c.Systems[i].Stations.Empty() && c.Systems[i].Label != "" {
			if open >= 0 {
				at(c.Systems[i].At, "give stations to one of them",
					"systems %q and %q both have no stations: which casts belong to which?", c.Systems[open].Label,
					c.Systems[i].Label)
			}
			open = i
		}
	}
	checkShips(d, c, at)
	checkQuality(d, n, c, has)
	for i := range c.Legs {
		for j := 0; j < i; j++ {
			if c.Legs[i].Expocode != "" && c.Legs[i].Expocode == c.Legs[j].Expocode {
				at(c.Legs[i].At, "each leg has an expocode of its own", "a second leg has the expocode %s",
					c.Legs[i].Expocode)
				break
			}
		}
	}
}

// checkShips compares the ships of the legs with those of the cruise.
func checkShips(d *decoder, c *Cruise, at func(p metadata.Position, remedy, format string, args ...any)) {
	names, codes := make([]string, len(c.Ships)), make([]string, len(c.Ships))
	for i, s := range c.Ships {
		names[i], codes[i] = s.Name, s.Code
	}
	for i := range c.Legs {
		l := &c.Legs[i]
		if l.Ship != "" && len(names) > 0 && !slices.Contains(names, l.Ship) {
			remedy := "write the name as under ships, or add the ship there"
			if near, ok := metadata.Nearest(l.Ship, names); ok {
				remedy = fmt.Sprintf("did you mean %q? Otherwise add the ship under ships", near)
			}
			at(l.At, remedy, "ship: no ship of the cruise is called %s", shorten(l.Ship))
		}
		if usualExpocode.MatchString(l.Expocode) && len(codes) > 0 && !slices.Contains(codes, "") &&
			!slices.Contains(codes, l.Expocode[:4]) {
			d.findings = append(d.findings, metadata.Finding{Position: l.At, Severity: metadata.Warning,
				Check: "cruisefile.ship_code",
				Message: fmt.Sprintf(
					"the expocode %s begins with %s, which is the code of no ship of the cruise (%s); "+
						"nothing is changed", l.Expocode, l.Expocode[:4], strings.Join(codes, ", ")),
				Remedy: "check the code of the ship and the expocode"})
		}
	}
}

func checkCasts(d *decoder, n *yaml.Node, c *Casts, has map[string]*yaml.Node) {
	if at := has["sources"]; at != nil && at.Kind == yaml.SequenceNode && len(at.Content) == 0 {
		d.fault(at, "name a file, folder or pattern", "sources is an empty list")
	}
}
