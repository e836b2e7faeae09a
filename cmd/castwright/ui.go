package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// The voice of the program: every line a person reads starts with "castwright: " or, under it, " hint: "; lower case,
// no full stop. Results go to stdout, everything else to stderr. Nothing else in the program prints.
type ui struct {
	in       io.Reader
	out, err io.Writer
	terminal io.Writer // what err writes to, for a bar
	asJSON   bool      // the command was given --json: what stops it is printed as JSON too
}

func (u *ui) note(format string, a ...any) { u.say("", format, a...) }

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

// namedAlike is how many files are named under a finding that many files have.
const namedAlike = 3

// findings prints findings for a person: one line each, under it the remedy and which other files have the same.
func (u *ui) findings(fs []metadata.Finding) {
	for i := range fs {
		f := &fs[i]
		var b strings.Builder
		if at := f.Position.String(); at != "" {
			b.WriteString(at + ": ")
		} else if f.Cast != "" {
			b.WriteString(f.Cast + ": ")
		}
		if f.Variable != "" {
			b.WriteString(f.Variable + ": ")
		}
		b.WriteString(f.Message)
		if f.Check != "" {
			b.WriteString(" [" + f.Check + "]")
		}
		fmt.Fprintf(u.out, "%-8s %s\n", f.Severity, oneLine(b.String()))
		if advice := f.Advice(); advice != "" {
			for _, line := range adviceLines(advice) {
				fmt.Fprintln(u.out, "           "+line)
			}
		}
		if n := len(f.Also); n > 0 {
			var names []string
			for _, p := range f.Also[:min(n, namedAlike)] {
				names = append(names, oneLine(p.File))
			}
			text := fmt.Sprintf("the same in %s: %s", plural(n, "more file"), strings.Join(names, ", "))
			if n > namedAlike {
				text += " and others (--json lists all)"
			}
			fmt.Fprintln(u.out, "           "+text)
		}
	}
}

// casts prints casts for a person, one line each.
func (u *ui) casts(list []pipeline.CastSummary) {
	for _, c := range list {
		fmt.Fprintf(u.out, "cast     %s:%-10s %-11s %-10s %7.1f to %7.1f dbar  %s\n", c.Expocode, c.Station+"/"+
			c.Number, c.Role, c.System, c.FirstDbar, c.LastDbar, c.File)
	}
}

// summary counts findings by severity in words.
func summary(fs []metadata.Finding) string {
	var n [3]int
	for i := range fs {
		n[fs[i].Severity]++
	}
	return fmt.Sprintf("%s, %s, %s", plural(n[metadata.Failure], "error"), plural(n[metadata.Warning], "warning"),
		plural(n[metadata.Note], "note"))
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
	Files    int               `json:"files,omitempty"` // in which the same was found, when in several
	Also     []string          `json:"also,omitempty"`  // where, after the first
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
			out[i].Also = append(out[i].Also, p.String())
		}
		if f.First != 0 || f.Last != 0 {
			a, b := f.First, f.Last
			out[i].First, out[i].Last = &a, &b
		}
	}
	return out
}

func (u *ui) json(v any) error {
	e := json.NewEncoder(u.out)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// progress gives a function that draws a bar on a terminal; nil when stderr is none.
func (u *ui) progress(what string) func(done, total int) {
	f, ok := u.terminal.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	var bar *progressbar.ProgressBar
	return func(done, total int) {
		if bar == nil || bar.GetMax() != total {
			bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(what),
				progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(false))
		}
		_ = bar.Set(done) // a bar that cannot be drawn is no reason to stop
	}
}
