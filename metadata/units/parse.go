package units

import (
	"math"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Parse reads a unit. Terms are names or symbols, with one prefix at most, positive numbers, or terms in parentheses; a
// term may have a whole power ("m2", "m-2", "m^2", "m**2", "m²", up to 9); blanks, "." "*" or "·" multiply, "/" and
// "per" divide, from left to right: "m/s kg" is (m/s) kg. An offset (degC) counts only when the unit is used alone, as
// in UDUNITS; a power or product is of temperature differences. A reference time is a unit of time, "since", and a date
// with or without time of day and zone (UTC when none is given), of the years 1583 to 9999. Any error is an *Error.
func Parse(text string) (Unit, error) {
	if r, ok := refusals[text]; ok {
		return Unit{}, &Error{Text: text, Part: text, Err: ErrRefused, Reason: r.reason, Remedy: r.remedy}
	}
	syntax := func(reason string) (Unit, error) {
		return Unit{}, &Error{Text: text, Part: text, Err: ErrSyntax, Reason: reason}
	}
	switch {
	case text == "":
		return syntax(`it is empty; a dimensionless quantity has the unit "1"`)
	case !utf8.ValidString(text):
		return syntax("it is not UTF-8")
	case strings.TrimSpace(text) != text:
		return syntax("there are blanks around it")
	case len(text) > 200:
		return syntax("it is too long")
	}
	unit, since, isTime := cutSince(text)
	p := parser{text: text, rest: unit}
	u, err := p.product(0)
	if err == nil && p.rest != "" {
		err = p.fail(p.rest, ErrSyntax, "nothing opens this")
	}
	if err != nil {
		return Unit{}, err
	}
	u.text = text
	if isTime {
		if u.dim != duration || u.offset != 0 || u.mantissa <= 0 {
			return Unit{}, p.fail(unit, ErrSyntax, "only a unit of time can stand before since")
		}
		t, ok := parseReference(since)
		if !ok {
			return Unit{}, p.fail(since, ErrSyntax, "not a date of the years 1583 to 9999 such as 1970-01-01 00:00:00Z")
		}
		u.since, u.isTime = t, true
	}
	if f := math.Abs(u.factor()); !(f > 1e-200 && f < 1e200) {
		return syntax("it is too large or too small to compute with")
	}
	return u, nil
}

// cutSince splits a reference time.
func cutSince(text string) (unit, since string, ok bool) {
	const word = " since "
	for i := 0; i+len(word) <= len(text); i++ {
		if strings.EqualFold(text[i:i+len(word)], word) {
			return strings.TrimRight(text[:i], " "), strings.TrimLeft(text[i+len(word):], " "), true
		}
	}
	return text, "", false
}

type parser struct {
	text, rest string
}

func (p *parser) fail(part string, err error, reason string) *Error {
	return &Error{Text: p.text, Part: part, Err: err, Reason: reason}
}

const mostNested = 20

// product reads terms up to the end or a closing parenthesis.
func (p *parser) product(depth int) (Unit, error) {
	if depth > mostNested {
		return Unit{}, p.fail(p.text, ErrSyntax, "too many parentheses")
	}
	u, err := p.term(depth)
	for err == nil && p.rest != "" && p.rest[0] != ')' {
		divide := false
		blank := strings.HasPrefix(p.rest, " ")
		after := strings.TrimLeft(p.rest, " ")
		switch {
		case strings.HasPrefix(after, "/"):
			divide = true
			p.rest = strings.TrimLeft(after[1:], " ")
		case blank && strings.HasPrefix(after, "per "):
			divide = true
			p.rest = strings.TrimLeft(after[4:], " ")
		case blank && len(after) >= 3 && strings.EqualFold(after[:3], "per"):
			return Unit{}, p.fail(after, ErrSyntax, `UDUNITS reads "per" here`) // even in "m percent"
		case blank:
			p.rest = after
		case decimalPoint(p.rest):
			return Unit{}, p.fail(p.rest, ErrSyntax, "UDUNITS reads a decimal fraction here") // "m.1" is a tenth of m
		case p.rest[0] == '.' || p.rest[0] == '*':
			p.rest = p.rest[1:]
		case strings.HasPrefix(p.rest, "·"):
			p.rest = p.rest[len("·"):]
		default:
			return Unit{}, p.fail(p.rest, ErrSyntax, "a blank, a point or / must stand between two units")
		}
		var v Unit
		if v, err = p.term(depth); err != nil {
			break
		}
		n := 1
		if divide {
			n = -1
		}
		u, err = p.multiply(u, v, n)
	}
	return u, err
}

// term reads one number, name or parenthesis with its power.
func (p *parser) term(depth int) (Unit, error) {
	if p.rest == "" {
		return Unit{}, p.fail(p.text, ErrSyntax, "a unit is missing at the end")
	}
	var u Unit
	switch c := p.rest[0]; {
	case c == '(':
		p.rest = p.rest[1:]
		var err error
		if u, err = p.product(depth + 1); err != nil {
			return Unit{}, err
		}
		if !strings.HasPrefix(p.rest, ")") {
			return Unit{}, p.fail(p.text, ErrSyntax, "a parenthesis is not closed")
		}
		p.rest = p.rest[1:]
	case c >= '0' && c <= '9' || c == '.':
		return p.number()
	default:
		n := nameLength(p.rest)
		if n == 0 {
			return Unit{}, p.fail(p.rest, ErrSyntax, "a unit is expected here")
		}
		name := p.rest[:n]
		p.rest = p.rest[n:]
		var err error
		if u, err = p.lookup(name); err != nil {
			return Unit{}, err
		}
	}
	parenthesis := strings.HasSuffix(p.text[:len(p.text)-len(p.rest)], ")")
	n, power, err := p.exponent()
	if err != nil || power == "" {
		return u, err
	}
	if p.rest != "" && (parenthesis && p.rest[0] == '.' || decimalPoint(p.rest) ||
		!strings.ContainsRune(" ./*)·", firstRune(p.rest))) {
		// UDUNITS reads "m2s" as a name, "m2.5" and "(m s)2.m" with a decimal number.
		return Unit{}, p.fail(power+p.rest, ErrSyntax, "a blank or / must follow the power, which is a whole number")
	}
	if n == 1 {
		return u, nil
	}
	return p.multiply(Unit{mantissa: 1}, u, n)
}

// number reads a positive number; it has no power.
func (p *parser) number() (Unit, error) {
	n := len(p.rest) - len(strings.TrimLeft(p.rest, "0123456789."))
	if p.rest[n-1] == '.' { // "10.m" could be 10.0 and m, or 10 times m
		return Unit{}, p.fail(p.rest, ErrSyntax, "a digit must follow the point")
	}
	if e := n; e < len(p.rest) && (p.rest[e] == 'e' || p.rest[e] == 'E') {
		e++
		if e < len(p.rest) && (p.rest[e] == '-' || p.rest[e] == '+') {
			e++
		}
		digits := e
		for e < len(p.rest) && p.rest[e] >= '0' && p.rest[e] <= '9' {
			e++
		}
		if e > digits {
			n = e
		}
	}
	word := p.rest[:n]
	x, err := strconv.ParseFloat(word, 64)
	if err != nil || !(x > 1e-100 && x < 1e100) {
		return Unit{}, p.fail(word, ErrSyntax, "not a positive number")
	}
	p.rest = p.rest[n:]
	u := Unit{mantissa: x, number: true}
	// A power of ten is kept as one, so that "1e-3" is exact.
	if l := math.Round(math.Log10(x)); x == scale(1, int(l)) {
		u = Unit{mantissa: 1, exponent: int(l), number: true}
	}
	if p.rest != "" && !strings.ContainsRune(" /*)·", firstRune(p.rest)) {
		return Unit{}, p.fail(word+p.rest, ErrSyntax, "a blank must follow the number")
	}
	return u, nil
}

// exponent reads the power after a name or parenthesis, and gives it as written; "" when there is none.
func (p *parser) exponent() (n int, power string, err error) {
	for i, s := range [...]string{"²", "³"} {
		if after, ok := strings.CutPrefix(p.rest, s); ok {
			p.rest = after
			return i + 2, s, nil
		}
	}
	rest, marked := strings.CutPrefix(p.rest, "**")
	if !marked {
		rest, marked = strings.CutPrefix(p.rest, "^")
	}
	sign := 1
	if after, ok := strings.CutPrefix(rest, "-"); ok {
		sign, rest, marked = -1, after, true
	}
	digits := len(rest) - len(strings.TrimLeft(rest, "0123456789"))
	if digits == 0 {
		if marked {
			return 0, "", p.fail(p.rest, ErrSyntax, "a whole number must follow")
		}
		return 1, "", nil
	}
	n, err = strconv.Atoi(rest[:digits])
	if err != nil || n < 1 || n > 9 {
		return 0, "", p.fail(rest[:digits], ErrSyntax, "powers go from -9 to 9 without 0")
	}
	p.rest = rest[digits:]
	return sign * n, rest[:digits], nil
}

// decimalPoint reports whether s begins with a point and a digit.
func decimalPoint(s string) bool {
	return len(s) > 1 && s[0] == '.' && s[1] >= '0' && s[1] <= '9'
}

func firstRune(s string) rune {
	r, _ := utf8.DecodeRuneInString(s)
	return r
}

// nameLength returns the bytes of the name at the start of s: letters, with _ between them, or % or ° alone.
func nameLength(s string) int {
	if s[0] == '%' {
		return 1
	}
	for i, r := range s {
		if !unicode.IsLetter(r) && r != '_' && r != '°' {
			return i
		}
	}
	return len(s)
}

// multiply is u·vⁿ. Offsets fall away, as in UDUNITS: what is left measures differences.
func (p *parser) multiply(u, v Unit, n int) (Unit, error) {
	if u.number && v.offset != 0 || u.offset != 0 && v.number {
		return Unit{}, p.fail(p.text, ErrSyntax, "a scale of temperature is not multiplied by a number")
	}
	w := Unit{dim: u.dim, mantissa: u.mantissa, exponent: u.exponent + n*v.exponent, number: u.number && v.number}
	for i := range w.dim {
		d := int(u.dim[i]) + n*int(v.dim[i])
		if d < -99 || d > 99 {
			return Unit{}, p.fail(p.text, ErrSyntax, "the powers are too large")
		}
		w.dim[i] = int8(d)
	}
	for range n {
		w.mantissa *= v.mantissa
	}
	for range -n {
		w.mantissa /= v.mantissa
	}
	if m := math.Abs(w.mantissa); !(m > 1e-200 && m < 1e200) || w.exponent < -200 || w.exponent > 200 {
		return Unit{}, p.fail(p.text, ErrSyntax, "it is too large or too small to compute with")
	}
	return w, nil
}

// The spellings of the table: names in lower case, symbols as they are, and what may stand before a prefix.
var bySymbol, byName = func() (map[string]*definition, map[string]*definition) {
	symbols, names := map[string]*definition{}, map[string]*definition{}
	for i := range definitions {
		d := &definitions[i]
		for _, s := range d.symbols {
			symbols[s] = d
		}
		for _, s := range d.names {
			names[s] = d
		}
	}
	return symbols, names
}()

// lookup finds a name or symbol, with or without prefix.
func (p *parser) lookup(word string) (Unit, error) {
	if d, ok := find(word); ok {
		return d.unit(0), nil
	}
	if r, ok := refusals[word]; ok {
		return Unit{}, &Error{Text: p.text, Part: word, Err: ErrRefused, Reason: r.reason, Remedy: r.remedy}
	}
	for _, x := range prefixes {
		for _, s := range x.symbols {
			after, ok := strings.CutPrefix(word, s)
			if !ok {
				continue
			}
			if d, ok := bySymbol[after]; ok && d.prefixed {
				return d.unit(x.exponent), nil
			}
			if d, ok := byName[after]; ok && d.prefixed && len(d.symbols) == 0 { // dbar
				return d.unit(x.exponent), nil
			}
			if r, ok := refusals[after]; ok && after != "F" && after != "C" {
				return Unit{}, &Error{Text: p.text, Part: word, Err: ErrRefused, Reason: after + ": " + r.reason,
					Remedy: r.remedy}
			}
		}
		if len(word) > len(x.name) && strings.EqualFold(word[:len(x.name)], x.name) {
			if d, ok := byName[strings.ToLower(word[len(x.name):])]; ok && d.prefixed {
				return d.unit(x.exponent), nil
			}
		}
	}
	return Unit{}, &Error{Text: p.text, Part: word, Err: ErrUnknown, Near: near(word)}
}

func find(word string) (*definition, bool) {
	if d, ok := bySymbol[word]; ok {
		return d, true
	}
	for _, r := range word { // only ASCII has one lower case in all hands
		if r >= utf8.RuneSelf {
			return nil, false
		}
	}
	d, ok := byName[strings.ToLower(word)]
	return d, ok
}

func (d *definition) unit(exponent int) Unit {
	return Unit{dim: d.dim, mantissa: d.mantissa, exponent: d.exponent + exponent, offset: d.offset}
}

// usual are spellings with a prefix that a near one is looked for among, besides the table.
var usual = strings.Fields("dbar mbar hPa kPa MPa km cm mm um nm kg mg ug ng umol nmol mmol pmol mS uS mV ml ms kHz " +
	"kilometer kilogram decibar micromole milliliter")

// near returns up to four known spellings that are like word, nearest first: the same but for case, or one or two
// letters away.
func near(word string) []string {
	type candidate struct {
		text     string
		distance int
	}
	var all []candidate
	consider := func(s string) {
		d := distance(word, s)
		if strings.EqualFold(word, s) {
			d = 0
		}
		if d <= 1 || d == 2 && utf8.RuneCountInString(word) > 3 {
			all = append(all, candidate{s, d})
		}
	}
	for i := range definitions {
		for _, s := range definitions[i].symbols {
			consider(s)
		}
		for _, s := range definitions[i].names {
			consider(s)
		}
	}
	for _, s := range usual {
		consider(s)
	}
	sort.SliceStable(all, func(i, j int) bool {
		if all[i].distance != all[j].distance {
			return all[i].distance < all[j].distance
		}
		return all[i].text < all[j].text
	})
	var out []string
	for _, c := range all[:min(4, len(all))] {
		out = append(out, c.text)
	}
	return out
}

// distance is the number of letters to insert, delete or change to make b of a (Levenshtein 1966).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if d := len(x) - len(y); d > 2 || d < -2 {
		return 3 // farther than anyone asks
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j, s := range y {
			cost := diagonal
			if r != s {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(y)]
}

// parseReference reads the moment of a reference time.
func parseReference(s string) (time.Time, bool) {
	day, clock, _ := strings.Cut(s, " ")
	if d, c, ok := strings.Cut(s, "T"); ok && len(d) <= 10 && !strings.Contains(d, " ") {
		day, clock = d, c
	}
	t, err := time.Parse("2006-1-2", day)
	if err != nil || t.Year() < 1583 {
		return time.Time{}, false
	}
	clock, zone, ok := cutZone(clock)
	if !ok {
		return time.Time{}, false
	}
	if clock == "" {
		return t, zone == 0 // a zone needs a time of day
	}
	for _, layout := range []string{"15:4:5", "15:4", "15"} { // Parse takes a fraction after the seconds
		if c, err := time.Parse(layout, clock); err == nil {
			ns := c.Nanosecond() / 1000 * 1000
			c = time.Date(t.Year(), t.Month(), t.Day(), c.Hour(), c.Minute(), c.Second(), ns, time.UTC)
			return c.Add(-zone), true
		}
	}
	return time.Time{}, false
}

// cutZone takes the zone off a time of day.
func cutZone(s string) (clock string, zone time.Duration, ok bool) {
	for _, utc := range []string{"Z", "UTC", "GMT"} {
		if c, ok := strings.CutSuffix(s, utc); ok {
			c = strings.TrimRight(c, " ")
			return c, 0, c != ""
		}
	}
	i := strings.LastIndexAny(s, "+-")
	if i < 0 {
		return s, 0, true
	}
	for _, layout := range []string{"15:04", "1504", "15"} {
		if c, err := time.Parse(layout, s[i+1:]); err == nil {
			zone = time.Duration(c.Hour())*time.Hour + time.Duration(c.Minute())*time.Minute
			if s[i] == '-' {
				zone = -zone
			}
			clock = strings.TrimRight(s[:i], " ")
			return clock, zone, clock != ""
		}
	}
	return "", 0, false
}
