package ingest

import (
	"math"
	"strconv"
)

// pow10 holds the powers of ten that are exact as float64.
var pow10 = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// maxDecimals is the most digits after the point that a number may have here; a float64 of the sea holds 17.
const maxDecimals = 30

// quirk says how the writing of a number left the rules of the format.
type quirk uint8

const (
	plain     quirk = iota
	blank           // nothing between two commas
	notNumber       // NaN in words
	odd             // a leading + or an exponent
	quoted          // in quotes
)

// scanNumber reads one trimmed value: digits with one point and a leading minus, and what exchange.md section 7
// tolerates (an empty value, NaN, a plus, an exponent). It gives the number that strconv.ParseFloat gives, NaN for
// none, and the digits after the point.
func scanNumber(s []byte) (v float64, decimals int, q quirk, ok bool) {
	if len(s) >= 2 && s[0] == '"' && s[len(s)-1] == '"' {
		v, decimals, q, ok = scanNumber(trim(s[1 : len(s)-1]))
		if q == plain {
			q = quoted
		}
		return v, decimals, q, ok
	}
	if len(s) == 0 {
		return math.NaN(), 0, blank, true
	}
	if len(s) == 3 && s[0]|0x20 == 'n' && s[1]|0x20 == 'a' && s[2]|0x20 == 'n' {
		return math.NaN(), 0, notNumber, true
	}
	i := 0
	neg := s[0] == '-'
	if neg {
		i++
	} else if s[0] == '+' {
		q = odd
		i++
	}
	var m uint64
	digits, point := 0, -1
	for ; i < len(s); i++ {
		c := s[i]
		if d := c - '0'; d <= 9 {
			m = m*10 + uint64(d)
			digits++
			continue
		}
		if c == '.' && point < 0 {
			point = digits
			continue
		}
		break
	}
	if digits == 0 {
		return 0, 0, q, false
	}
	if point >= 0 {
		decimals = digits - point
	}
	if i == len(s) && digits <= 15 {
		v = float64(int64(m)) / pow10[decimals]
		if neg {
			v = -v
		}
		return v, decimals, q, true
	}
	if i < len(s) { // an exponent, or not a number
		if s[i]|0x20 != 'e' {
			return 0, 0, q, false
		}
		q = odd
		e, err := strconv.Atoi(string(s[i+1:]))
		if err != nil || e > maxDecimals || e < -maxDecimals {
			return 0, 0, q, false
		}
		decimals = max(decimals-e, 0)
	}
	if decimals > maxDecimals {
		return 0, 0, q, false
	}
	v, err := strconv.ParseFloat(string(s), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, 0, q, false
	}
	return v, decimals, q, true
}

// trim cuts white space of the format: blanks, tabs, carriage returns.
func trim(s []byte) []byte {
	for len(s) > 0 && isBlank(s[0]) {
		s = s[1:]
	}
	for len(s) > 0 && isBlank(s[len(s)-1]) {
		s = s[:len(s)-1]
	}
	return s
}

func isBlank(c byte) bool { return c == ' ' || c == '\t' || c == '\r' }
