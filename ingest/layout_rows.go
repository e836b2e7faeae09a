package ingest

import (
	"bytes"
	"math"
	"strings"
)

// canonical returns the text of a number as the builder reads it, and whether it is one that means missing.
func (x *layoutReader) canonical(k int, s []byte) (number []byte, missing bool) {
	s = cutQuotes(s)
	if len(s) == 0 {
		return nil, true
	}
	for _, codes := range [2][]string{x.l.Missing, x.l.Columns[k].Missing} {
		for _, code := range codes {
			if strings.EqualFold(code, string(s)) {
				return nil, true
			}
		}
	}
	if x.l.Comma {
		if bytes.Count(s, []byte(",")) == 1 && bytes.IndexByte(s, '.') < 0 {
			s = bytes.Replace(s, []byte(","), []byte("."), 1)
		}
	}
	if bytes.HasPrefix(s, []byte("\u2212")) {
		s = append([]byte("-"), s[len("\u2212"):]...)
	}
	if s[0] == '+' && len(s) > 1 {
		s = s[1:]
	}
	if i := bytes.IndexAny(s, "Dd"); i > 0 {
		s = bytes.Clone(s)
		s[i] = 'e'
	}
	v, _, _, ok := scanNumber(s)
	if !ok {
		return s, false
	}
	if math.IsNaN(v) {
		return nil, true
	}
	if x.l.Columns[k].Means != Keep {
		s = withoutZeros(s)
	}
	for _, codes := range [2][]string{x.l.Missing, x.l.Columns[k].Missing} {
		for _, code := range codes {
			if m, _, _, ok := scanNumber([]byte(strings.Replace(code, ",", ".", 1))); ok && m == v {
				return nil, true
			}
		}
	}
	return s, false
}

// withoutZeros returns a number without the zeros in front that fill its width.
func withoutZeros(s []byte) []byte {
	sign := 0
	if s[0] == '-' {
		sign = 1
	}
	n := sign
	for n+1 < len(s) && s[n] == '0' && s[n+1] >= '0' && s[n+1] <= '9' {
		n++
	}
	if n == sign {
		return s
	}
	return append(bytes.Clone(s[:sign]), s[n:]...)
}

// A group is the data lines of one cast of a block, and what columns say of it.
type group struct {
	rows  []int
	facts facts
}

// groups divides the data lines of a block by what its columns say of station, cast and direction.
func (x *layoutReader) groups(b *block) []group {
	var keys []int
	var factColumns []int
	for k := range x.l.Columns {
		switch m := x.l.Columns[k].Means; {
		case m == "station" || m == "cast" || m == "direction" || m == "expocode":
			keys = append(keys, k)
			factColumns = append(factColumns, k)
		case isFact(m):
			factColumns = append(factColumns, k)
		}
	}
	if len(factColumns) == 0 {
		return []group{{rows: b.rows}}
	}
	at := map[string]int{}
	var out []group
	for _, i := range b.rows {
		pieces := x.divided(x.lines[i])
		var key strings.Builder
		for _, k := range keys {
			p, _ := b.slots[k].take(x.lines[i], pieces)
			key.Write(p.text)
			key.WriteByte(0)
		}
		n, there := at[key.String()]
		if !there {
			n = len(out)
			at[key.String()] = n
			g := group{facts: facts{}}
			for _, k := range factColumns {
				if p, ok := b.slots[k].take(x.lines[i], pieces); ok && len(p.text) > 0 {
					g.facts[x.l.Columns[k].Means] = fact{string(p.text), i + 1, p.at + 1}
				}
			}
			out = append(out, g)
		}
		out[n].rows = append(out[n].rows, i)
	}
	return out
}
