package ingest

import (
	"fmt"
	"math"
	"strings"
)

// An angle is a latitude or longitude as a head gives it: one text, or parts of their own.
type angle struct {
	degrees, minutes, seconds, hemisphere string
}

// degrees reads an angle: decimal degrees, or degrees, minutes and seconds with any usual signs between them, with a
// sign or a letter of the hemisphere. comma says that decimals follow a comma. It returns the digits after the point
// that hold the value: two more than minutes have, four more than seconds have.
func (a angle) read(positive, negative byte, limit float64, comma bool) (deg float64, decimals int, err error) {
	what := "latitude"
	if positive == 'E' {
		what = "longitude"
	}
	whole := strings.Join(strings.Fields(a.degrees+" "+a.minutes+" "+a.seconds+" "+a.hemisphere), " ")
	bad := func(why string) (float64, int, error) {
		return 0, 0, fmt.Errorf("%s %q %s", what, whole, why)
	}
	t := strings.ToUpper(whole)
	if comma {
		t = strings.ReplaceAll(t, ",", ".")
	}
	for _, word := range []string{"NORTH", "SOUTH", "EAST", "WEST"} {
		t = strings.ReplaceAll(t, word, word[:1])
	}
	t = strings.NewReplacer("DEG", " ", "MIN", " ", "SEC", " ", "\u2212", "-").Replace(t)
	sign, lettered := 1.0, false
	if i := strings.IndexAny(t, string([]byte{positive, negative})); i >= 0 {
		if t[i] == negative {
			sign = -1
		}
		lettered = true
		t = t[:i] + " " + t[i+1:]
	}
	t = strings.TrimSpace(t)
	if rest, ok := strings.CutPrefix(t, "-"); ok {
		if lettered {
			return bad("has both a sign and a letter of the hemisphere")
		}
		sign, t = -1, rest
	}
	t = strings.TrimPrefix(t, "+")
	parts := strings.FieldsFunc(t, func(r rune) bool { return strings.ContainsRune(" \t°º'\"′″’”:-", r) })
	if len(parts) == 0 {
		return 0, 0, errFill
	}
	if len(parts) > 3 {
		return bad("cannot be read")
	}
	v, scale := 0.0, 1.0
	for i, p := range parts {
		n, d, q, ok := scanNumber([]byte(p))
		switch {
		case !ok || q != plain || n < 0:
			return bad("cannot be read")
		case i > 0 && n >= 60:
			return bad("has minutes or seconds of 60 or more")
		case i+1 < len(parts) && d > 0 && strings.Trim(p[strings.IndexByte(p, '.'):], ".0") != "":
			return bad("has decimals in more than its last part")
		}
		v += n / scale
		scale *= 60
		if i+1 == len(parts) {
			decimals = d + 2*i
		}
	}
	if len(parts) > 1 { // the value is that of the digits kept, so that it is written as it is held
		p := pow10[min(decimals, 15)]
		v = math.Round(v*p) / p
	}
	if v = sign * v; v == 0 {
		v = 0 // no negative zero
	}
	if len(parts) == 1 && (v == -999 || v == -99 || v == -9999) {
		return 0, 0, errFill
	}
	if math.Abs(v) > limit {
		return bad(fmt.Sprintf("is beyond %g degrees", limit))
	}
	return v, decimals, nil
}
