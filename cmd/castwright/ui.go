package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// The voice of the program: every line a person reads starts with "castwright: " or, under it, " hint: "; lower case,
// no full stop. Results go to stdout, everything else to stderr. Nothing else in the program prints.
type ui struct {
	in       io.Reader
	out, err io.Writer
	terminal io.Writer // what err writes to, for a bar
	asJSON   bool      // the command was given --json: what stops it is printed as JSON too
	quiet    bool      // only errors and findings of severity error are printed, and what --json and --csv ask for
	verbose  bool      // each step and file is printed with the time since began
	began    time.Time
	ended    chan struct{} // is closed when the command ends
}

// note prints what a person may want to know of a run that went well.
func (u *ui) note(format string, a ...any) {
	if !u.quiet {
		u.say("", format, a...)
	}
}

// lines returns where results go that are lines for a person.
func (u *ui) lines() io.Writer {
	if u.quiet {
		return io.Discard
	}
	return u.out
}

func (u *ui) say(kind, format string, a ...any) {
	fmt.Fprintf(u.err, "castwright: "+kind+format+"\n", a...)
}

func (u *ui) hint(text string) {
	for i, line := range adviceLines(text) {
		if i == 0 {
			fmt.Fprintln(u.err, "  hint: "+line)
		} else {
			fmt.Fprintln(u.err, "        "+line)
		}
	}
}

// advise prints what to do after a run that ended without an error.
func (u *ui) advise(text string) {
	if !u.quiet {
		u.hint(text)
	}
}

// failure prints an error, each input error of a joined one on a line of its own with its hint.
func (u *ui) failure(err error) {
	for _, e := range metadata.Parts(err) {
		var usage *usageError
		var input *metadata.InputError
		u.say("error: ", "%s", oneLine(e.Error()))
		switch {
		case errors.As(e, &usage) && usage.hint != "":
			u.hint(usage.hint)
		case errors.As(e, &input) && input.Advice() != "":
			u.hint(input.Advice())
		}
	}
}

// asFindings returns an error as findings of severity error, each with its position.
func asFindings(err error) []metadata.Finding {
	var fs []metadata.Finding
	for _, e := range metadata.Parts(err) {
		f := metadata.Finding{Severity: metadata.Failure, Message: e.Error()}
		var input *metadata.InputError
		if errors.As(e, &input) {
			f.Position, f.Remedy, f.Options, f.Message = input.Position, input.Remedy, input.Options, input.Err.Error()
		}
		fs = append(fs, f)
	}
	return fs
}

// findingText returns a finding on one line, without its advice.
func findingText(f *metadata.Finding) string {
	var b strings.Builder
	if at := f.Position.String(); at != "" {
		b.WriteString(at + ": ")
	} else if f.Cast != "" {
		b.WriteString(f.Cast + ": ")
	}
	switch {
	case f.Proposed != metadata.NotEvaluated:
		b.WriteString(f.Variable + " at " + pressuresText(f.First, f.Last) + ": ")
	case f.Variable != "":
		b.WriteString(f.Variable + ": ")
	}
	b.WriteString(f.Message)
	if f.Proposed != metadata.NotEvaluated {
		fmt.Fprintf(&b, "; flag %d is proposed for %s", f.Proposed, plural(f.Count, "value"))
		if len(f.Also) > 0 {
			b.WriteString(" in all")
		}
	}
	if f.Check != "" {
		b.WriteString(" [" + f.Check + "]")
	}
	return b.String()
}

func pressuresText(first, last float64) string {
	if first == last {
		return fmt.Sprintf("%g dbar", first)
	}
	return fmt.Sprintf("%g to %g dbar", first, last)
}

// placeText returns a further place of a finding: its file, and the pressures where there are some.
func placeText(p *metadata.Place) string {
	if p.First == 0 && p.Last == 0 {
		return p.File
	}
	return p.File + " (" + pressuresText(p.First, p.Last) + ")"
}

// casts prints casts for a person, one line each.
func (u *ui) casts(list []pipeline.CastSummary) {
	for _, c := range list {
		fmt.Fprintf(u.lines(), "cast     %s:%-10s %-11s %-10s %7.1f to %7.1f dbar  %s\n", c.Expocode, c.Station+"/"+
			c.Number, c.Role, c.System, c.FirstDbar, c.LastDbar, c.File)
	}
}

// summary counts findings by severity in words; those that somebody accepted are counted apart.
func summary(fs []metadata.Finding) string {
	var n [3]int
	accepted := 0
	for i := range fs {
		if fs[i].Severity > metadata.Note && !fs[i].Open() {
			accepted++
			continue
		}
		n[fs[i].Severity]++
	}
	s := fmt.Sprintf("%s, %s, %s", plural(n[metadata.Failure], "error"), plural(n[metadata.Warning], "warning"),
		plural(n[metadata.Note], "note"))
	if accepted > 0 {
		s += fmt.Sprintf("; %d accepted", accepted)
	}
	return s
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// jsonFinding is the form of a finding in --json output.
type jsonFinding struct {
	File     string `json:"file,omitempty"`
	Line     int    `json:"line,omitempty"`
	Column   int    `json:"column,omitempty"`
	Severity string `json:"severity"`
	Check    string `json:"check,omitempty"`
	Cast     string `json:"cast,omitempty"`
	Variable string `json:"variable,omitempty"`
	Message  string `json:"message"`
	Remedy   string `json:"remedy,omitempty"` // all that can be done, in words

	Options  []metadata.Option `json:"options,omitempty"` // pieces of a cruise file that do it
	Proposed *int              `json:"proposed_flag,omitempty"`
	First    *float64          `json:"first_dbar,omitempty"`
	Last     *float64          `json:"last_dbar,omitempty"`
	Count    int               `json:"count,omitempty"`
	Files    int               `json:"files,omitempty"` // places in which the same was found, when in several
	Also     []jsonPlace       `json:"also,omitempty"`  // where, after the first
	Accepted *jsonAcceptance   `json:"accepted,omitempty"`
}

// jsonPlace is one more place of a finding.
type jsonPlace struct {
	File   string   `json:"file,omitempty"`
	Line   int      `json:"line,omitempty"`
	Column int      `json:"column,omitempty"`
	Cast   string   `json:"cast,omitempty"`
	First  *float64 `json:"first_dbar,omitempty"`
	Last   *float64 `json:"last_dbar,omitempty"`
	Count  int      `json:"count,omitempty"`

	Message string `json:"message,omitempty"` // where it differs from that of the finding
}

// jsonAcceptance says who decided about a finding.
type jsonAcceptance struct {
	By     string `json:"by"`
	Reason string `json:"reason"`
	File   string `json:"file,omitempty"`
	Line   int    `json:"line,omitempty"`
}

// pressures returns the pressures of a finding; nil for none.
func pressures(first, last float64) (*float64, *float64) {
	if first == 0 && last == 0 {
		return nil, nil
	}
	return &first, &last
}

func toJSON(fs []metadata.Finding) []jsonFinding {
	out := make([]jsonFinding, len(fs))
	for i, f := range fs {
		out[i] = jsonFinding{File: f.File, Line: f.Line, Column: f.Column, Severity: f.Severity.String(),
			Check: f.Check, Cast: f.Cast,
			Variable: f.Variable, Message: f.Message, Remedy: f.Advice(), Options: f.Options, Count: f.Count}
		if f.Proposed != metadata.NotEvaluated {
			p := int(f.Proposed)
			out[i].Proposed = &p
		}
		for _, p := range f.Also {
			out[i].Files = len(f.Also) + 1
			q := jsonPlace{File: p.File, Line: p.Line, Column: p.Column, Cast: p.Cast, Count: p.Count,
				Message: p.Message}
			q.First, q.Last = pressures(p.First, p.Last)
			out[i].Also = append(out[i].Also, q)
		}
		out[i].First, out[i].Last = pressures(f.First, f.Last)
		if a := f.Accepted; a != (metadata.Acceptance{}) {
			out[i].Accepted = &jsonAcceptance{a.Initials, a.Reason, a.At.File, a.At.Line}
		}
	}
	return out
}

func (u *ui) json(v any) error {
	e := json.NewEncoder(u.out)
	e.SetIndent("", "  ")
	return e.Encode(v)
}
