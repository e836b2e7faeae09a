package metadata

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// A Position is a place in an input. Line and Column count from 1; 0 is unknown. Column counts bytes of the line.
type Position struct {
	File         string
	Line, Column int
}

// String returns file:line:column, leaving out what is unknown.
func (p Position) String() string {
	s := p.File
	if p.Line > 0 {
		s += fmt.Sprintf(":%d", p.Line)
		if p.Column > 0 {
			s += fmt.Sprintf(":%d", p.Column)
		}
	}
	return s
}

// Before orders positions by file, line and column.
func (p Position) Before(q Position) bool {
	if p.File != q.File {
		return p.File < q.File
	}
	if p.Line != q.Line {
		return p.Line < q.Line
	}
	return p.Column < q.Column
}

// An InputError is something wrong at one place of an input that a person must correct, and what to do about it.
// Error returns the place and the fault on one line; Remedy is printed apart, as a hint.
type InputError struct {
	Position
	Err     error
	Remedy  string
	Options []Option
}

// Advice returns what to do in words.
func (e *InputError) Advice() string { return Advice(e.Remedy, e.Options) }

// Error implements error.
func (e *InputError) Error() string {
	at := e.Position.String()
	if at == "" {
		return e.Err.Error()
	}
	return at + ": " + e.Err.Error()
}

// Unwrap returns the fault without its place.
func (e *InputError) Unwrap() error { return e.Err }

// Severity says what a finding means for the work.
type Severity uint8

// Severities, mildest first.
const (
	Note    Severity = iota // something to know
	Warning                 // a person should look
	Failure                 // the product cannot be made until this is corrected or left out
)

// String returns the word used in tables and JSON.
func (s Severity) String() string {
	switch s {
	case Note:
		return "note"
	case Warning:
		return "warning"
	case Failure:
		return "error"
	}
	return "unknown"
}

// MarshalText writes the word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// A Finding is something that a reader or a check names for a person to judge. It alters no data.
type Finding struct {
	Position          // where it was seen; the zero Position when it belongs to no file
	Severity Severity // what it means for the work
	Check    string   // id of the rule, such as "exchange.number_headers" or "spike.bin"
	Cast     string   // the cast's ID (section.Cast.ID) when it belongs to one
	Variable string   // variable name (Variable.Name) when it belongs to one
	Message  string   // one sentence, lower case, no full stop: what was found and what was done about it
	Remedy   string   // what to do next
	Options  []Option // further ways on, each with a piece of the cruise file ready to paste
	Proposed Flag     // flag proposed for the values concerned; NotEvaluated when none is
	First    float64  // pressures (dbar) of the first and last value concerned; both 0 when none is
	Last     float64
	Count    int        // number of values concerned
	Also     []Place    // where else the same was found
	Accepted Acceptance // who decided about it; the zero value while it is open
}

// A Place is one more place where the same was found.
type Place struct {
	Position
	Cast        string  // ID of the cast; "" when it belongs to none
	First, Last float64 // pressures (dbar); both 0 when there are none
	Count       int     // values
	Message     string  // what was found there, where it differs from the finding; else ""
}

// An Acceptance says who decided about a finding, why, and where that is written.
type Acceptance struct {
	Initials, Reason string
	At               Position
}

// Open reports whether a finding waits for a person: a warning or an error that nobody decided about.
func (f *Finding) Open() bool { return f.Severity >= Warning && f.Accepted == Acceptance{} }

// Advice returns what to do in words.
func (f *Finding) Advice() string { return Advice(f.Remedy, f.Options) }

// Compare is the one order in which findings are listed: file, cast, line, column, check, variable, first pressure,
// message.
func (f *Finding) Compare(g *Finding) int {
	return cmp.Or(strings.Compare(f.File, g.File), strings.Compare(f.Cast, g.Cast), cmp.Compare(f.Line, g.Line),
		cmp.Compare(f.Column, g.Column),
		strings.Compare(f.Check, g.Check), strings.Compare(f.Variable, g.Variable), cmp.Compare(f.First, g.First),
		strings.Compare(f.Message, g.Message))
}

// SortFindings puts findings in their one order, in place.
func SortFindings(fs []Finding) {
	slices.SortStableFunc(fs, func(a, b Finding) int { return a.Compare(&b) })
}

// JoinFindings returns findings sorted, with those warnings and notes joined that say the same of several files, or
// that propose the same flag for several ranges of a variable: the first stays, with the places of the others in
// Also and the values of all counted. Errors stay apart, since each must be corrected.
func JoinFindings(fs []Finding) []Finding {
	fs = slices.Clone(fs)
	SortFindings(fs)
	type saying struct {
		severity                         Severity
		check, variable, message, remedy string
		proposed                         Flag
		accepted                         Acceptance
	}
	type place struct {
		Position
		check, message string
	}
	at := map[saying]int{}
	said := map[place]bool{}
	var out []Finding
	for _, f := range fs {
		if p := (place{f.Position, f.Check, f.Message}); f.Severity == Failure && f.Line > 0 {
			if said[p] {
				continue // the same place said twice
			}
			said[p] = true
		}
		k := saying{f.Severity, f.Check, f.Variable, f.Message, f.Advice(), f.Proposed, f.Accepted}
		i, ok := at[k]
		if ok && f.Severity != Failure && (f.File != out[i].File || f.Proposed != NotEvaluated) {
			out[i].Also = append(out[i].Also, Place{f.Position, f.Cast, f.First, f.Last, f.Count, ""})
			out[i].Count += f.Count
			continue
		}
		if !ok {
			at[k] = len(out)
		}
		out = append(out, f)
	}
	return joinLike(out)
}

// mostAlike is how many warnings or notes of one check, variable and advice are listed one by one.
const mostAlike = 10

// joinLike joins the findings of a check whose messages differ, in numbers for example, when there are many of them:
// the first stays, with the others in Also.
func joinLike(fs []Finding) []Finding {
	type kind struct {
		severity                Severity
		check, variable, remedy string
		proposed                Flag
		accepted                Acceptance
	}
	of := func(f *Finding) kind {
		return kind{f.Severity, f.Check, f.Variable, f.Advice(), f.Proposed, f.Accepted}
	}
	n := map[kind]int{}
	for i := range fs {
		n[of(&fs[i])]++
	}
	at := map[kind]int{}
	var out []Finding
	for i := range fs {
		f := &fs[i]
		k := of(f)
		if n[k] <= mostAlike || f.Severity == Failure {
			out = append(out, *f)
			continue
		}
		j, ok := at[k]
		if !ok {
			at[k] = len(out)
			out = append(out, *f)
			continue
		}
		first := &out[j]
		first.Also = append(first.Also, Place{f.Position, f.Cast, f.First, f.Last, f.Count, f.Message})
		for _, p := range f.Also {
			p.Message = f.Message
			first.Also = append(first.Also, p)
		}
		first.Count += f.Count
	}
	return out
}

// Parts returns the errors that err joins, those joined in them too; err itself when it joins none, nothing for nil.
func Parts(err error) []error {
	if err == nil {
		return nil
	}
	j, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	var all []error
	for _, e := range j.Unwrap() {
		all = append(all, Parts(e)...)
	}
	return all
}
