package ingest

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// maxErrors is how many problems of one file are collected before reading stops.
const maxErrors = 20

// A report is what is found about one input: errors that keep it out, and findings.
type report struct {
	name  string
	errs  []error
	found []metadata.Finding
	said  map[string]bool // checks whose messages give their count
	full  bool            // there are so many errors that reading has stopped
}

// leaveOut is the option to leave out what cannot be read: a file, or an archive.
func leaveOut(what, name string) metadata.Option {
	return metadata.Option{Text: "leave " + what + " out", Paste: metadata.LeaveOutFile(name, "...")}
}

// fail notes an error with its remedy and options, and last the option to leave the file out.
func (r *report) fail(line, column int, remedy, format string, args ...any) *metadata.InputError {
	e := &metadata.InputError{Position: metadata.Position{File: r.name, Line: line, Column: column},
		Err: fmt.Errorf(format, args...), Remedy: remedy, Options: []metadata.Option{leaveOut("the file", r.name)}}
	if !r.full {
		r.errs = append(r.errs, e)
		r.full = len(r.errs) >= maxErrors
	}
	return e
}

// offer puts an option of an error before those that it has.
func offer(e *metadata.InputError, text string, p metadata.Paste) {
	e.Options = slices.Insert(e.Options, 0, metadata.Option{Text: text, Paste: p})
}

// span notes the first and last pressure in dbar and the number of the values that a finding is about, which its
// message gives.
func (r *report) span(f *metadata.Finding, first, last float64, n int) {
	f.First, f.Last, f.Count = first, last, n
	if r.said == nil {
		r.said = map[string]bool{}
	}
	r.said[f.Check] = true
}

// again counts one more case of a finding already made for this file and returns it; nil when there is none.
func (r *report) again(check, variable string) *metadata.Finding {
	for i := range r.found {
		if f := &r.found[i]; f.Check == check && f.Variable == variable {
			f.Count++
			return f
		}
	}
	return nil
}

// warn notes a finding once for each kind and variable of a file, at its first place, and returns it. The result is
// good until the next call.
func (r *report) warn(s metadata.Severity, check, variable string, line, column int, remedy, format string,
	args ...any) *metadata.Finding {
	if f := r.again(check, variable); f != nil {
		return f
	}
	if remedy == "" && s == metadata.Warning {
		remedy = remedies[check]
	}
	r.found = append(r.found, metadata.Finding{
		Position: metadata.Position{File: r.name, Line: line, Column: column}, Severity: s, Check: check,
		Variable: variable,
		Message:  fmt.Sprintf(format, args...), Remedy: remedy, Count: 1,
	})
	return &r.found[len(r.found)-1]
}

// remedies says what a person can do about a warning that has no remedy of its own.
var remedies = map[string]string{
	"exchange.after_end": "when they are of this cast, move the line END_DATA behind them; when not, " +
		"put # before them",
	"exchange.castno": "number the casts of a station 1, 2, 3",
	"exchange.end_data": "compare the end of the file with the one it was copied from; " +
		"when nothing is lost, end it with a line END_DATA",
	"exchange.expocode": "write platform code and departure date when the cruise has them; " +
		"an assigned code may stay",
	"exchange.field_count":   "compare the line with its neighbours",
	"exchange.flag_absent":   "give the value the flag that it deserves, or take it out (-999)",
	"exchange.flag_column":   "call it as the column that it belongs to, with _FLAG_W behind",
	"exchange.flag_missing":  "write 9 (not sampled) or 5 (not reported) where there is no value",
	"exchange.flag_not_used": "write another flag of the set: 8 says nothing",
	"exchange.flag_value":    "write one digit, 1 to 9; 0 or nothing for a value that was not evaluated",
	"exchange.identifier":    "write it with letters, digits and _ only",
	"exchange.ipts68": "nothing, when it is so; when the values are on ITS-90 already, " +
		"write ITS-90 in the unit line",
	"exchange.no_pressure":   "write the pressure of the level",
	"exchange.not_a_number":  "write a number, or -999 when there is none",
	"exchange.not_evaluated": "take the comment out, or correct it, so that what flags 1 mean is clear",
	"exchange.pressure_order": "sections and derived quantities use the levels that increase from the top; " +
		"sort the levels or take out what is double when the others count",
	"exchange.sampno":    "add a column SAMPNO",
	"exchange.unit":      "write the unit in the unit line",
	"exchange.unit_line": "write a line with the units behind that with the names",
}

// finish returns the findings in order of place, with how often each kind was seen, and the errors as one.
func (r *report) finish(cast string) ([]metadata.Finding, error) {
	for i := range r.found {
		f := &r.found[i]
		f.Cast = cast
		if strings.ToLower(f.Variable) != f.Variable { // a header or column name, which only kept the kinds apart
			f.Variable = ""
		}
		if f.Count > 1 && !r.said[f.Check] {
			f.Message += fmt.Sprintf(" (%d in this file)", f.Count)
		}
	}
	metadata.SortFindings(r.found)
	sort.SliceStable(r.errs, func(i, j int) bool {
		return r.errs[i].(*metadata.InputError).Before(r.errs[j].(*metadata.InputError).Position)
	})
	return r.found, errors.Join(r.errs...)
}
