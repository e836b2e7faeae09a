package metadata

import (
	"encoding/hex"
	"strings"
	"time"
)

// A Digest names the bytes of one input: Name as the cruise file says it (slash-separated, relative), their SHA-256 and
// number, and the lines that were used (0, 0 for the whole) with the cast that they hold.
type Digest struct {
	Name        string
	SHA256      [32]byte
	Bytes       int64
	First, Last int
	Cast        string // identity of the cast that the lines are of; "": of none or several
}

// Hex returns the SHA-256 as 64 lower-case hexadecimal digits.
func (d Digest) Hex() string { return hex.EncodeToString(d.SHA256[:]) }

// A Param is one setting of a step; defaults are written too.
type Param struct {
	Name, Value string
	Of          string // the variable that the setting is of; "" for the whole step
	Typed       any    // the value as a float64 or []float64; nil when it is words
}

// Label returns the name of the setting with the variable that it is of.
func (p *Param) Label() string {
	if p.Of == "" {
		return p.Name
	}
	return p.Name + " of " + p.Of
}

// A Record says what one step did, to what, with which settings (defaults included).
type Record struct {
	Step    string   // short name: read, convert, derive, section, grid, geostrophy, write
	Inputs  []Digest // what it read
	Outputs []string // archive paths that it wrote, slash-separated
	Params  []Param
	Text    string // one sentence for a person
	Tool    string // program and version
	At      time.Time
}

// HistoryLine returns the record as one line of a CF history attribute: time, program and version, action, settings.
func (r *Record) HistoryLine() string {
	var b strings.Builder
	b.WriteString(r.At.UTC().Format(time.RFC3339))
	b.WriteByte(' ')
	b.WriteString(r.Tool)
	b.WriteString(": ")
	b.WriteString(r.Step)
	if r.Text != "" {
		b.WriteString(": " + r.Text)
	}
	if len(r.Params) > 0 {
		b.WriteString(" (")
		for i, p := range r.Params {
			if i > 0 {
				b.WriteString(", ")
			}
			b.WriteString(p.Label() + " " + p.Value)
		}
		b.WriteByte(')')
	}
	return b.String()
}
