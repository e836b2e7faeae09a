package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"
)

func manCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "man", Usage: "print the manual page", ArgsUsage: " ",
		Description: `The page has the help of every command in the format of man pages.

EXAMPLE
   castwright man | man -l -
   castwright man > ~/.local/share/man/man1/castwright.1`,
		Action: func(c *cli.Context) error {
			if _, err := arguments(c, 0, "no argument"); err != nil {
				return err
			}
			writeManual(u.out, c.App)
			return nil
		},
	}
}

// writeManual writes the manual page of the program with the macros of man(7).
func writeManual(w io.Writer, app *cli.App) {
	fmt.Fprintf(w, ".TH CASTWRIGHT 1 \"\" \"%s\" \"User Commands\"\n.nh\n", roff(thisProgram()))
	fmt.Fprintf(w, ".SH NAME\ncastwright \\- %s\n", roff(app.Usage))
	fmt.Fprint(w, ".SH SYNOPSIS\n.B castwright\n.I COMMAND\n[\\fIOPTIONS\\fR] [\\fIFILE\\fR...]\n")
	fmt.Fprint(w, ".SH DESCRIPTION\n")
	roffText(w, manualHead)
	fmt.Fprint(w, ".SH COMMANDS\n")
	for _, cmd := range app.Commands {
		fmt.Fprintf(w, ".SS \"castwright %s %s\"\n", cmd.Name, roff(strings.TrimSpace(cmd.ArgsUsage)))
		roffText(w, strings.ToUpper(cmd.Usage[:1])+cmd.Usage[1:]+".\n\n"+cmd.Description)
		for _, o := range optionTexts(cmd) {
			fmt.Fprint(w, ".TP\n")
			for i, name := range o.names {
				if i > 0 {
					fmt.Fprint(w, ", ")
				}
				fmt.Fprintf(w, "\\fB%s\\fR", roff(name))
			}
			if o.value != "" {
				fmt.Fprintf(w, " \\fI%s\\fR", roff(o.value))
			}
			fmt.Fprintf(w, "\n%s\n", roff(o.usage))
		}
		status := strings.SplitN(exitHelp(cmd.Name), "\n", 2)[1]
		fmt.Fprintf(w, ".PP\nExit status: %s\n", roff(strings.Join(splitCodes(status), "; ")))
	}
	fmt.Fprint(w, ".SH EXIT STATUS\n")
	for _, code := range splitCodes(strings.SplitN(exitHelp(""), "\n", 2)[1]) {
		number, what, _ := strings.Cut(code, " ")
		fmt.Fprintf(w, ".TP\n%s\n%s\n", number, roff(what))
	}
	fmt.Fprint(w, ".SH ENVIRONMENT\n.TP\nSOURCE_DATE_EPOCH\n")
	roffText(w, "Time stamp of an archive, in seconds since 1970; by default the newest date written inside the inputs.")
	fmt.Fprint(w, ".TP\nTMPDIR\n")
	roffText(w, "Folder for temporary files.")
	fmt.Fprint(w, ".SH FILES\n.TP\ncruise.yaml\n")
	roffText(w, "The cruise file: the places of the casts, facts that only a person can state, and the products to make.")
	fmt.Fprint(w, ".TP\ninputs.sha256\n")
	roffText(w, "Checksums of the inputs beside the cruise file, written by check --record and draft.")
}

const manualHead = `This program makes the data products of a cruise from its binned CTD casts: CF NetCDF and exchange files, sections and gridded
fields, dynamic height and geostrophic transport with their uncertainty, figures, tables and provenance, in one archive that can be verified
and made again.

The cruise file names the products; castwright help cruise-file documents it, castwright help KEY explains one of its keys.
Options stand before or after the file.

Depths and positions are as logged: not for navigation. Data are as processed and flagged, not certified.`

// splitCodes returns the exit codes of a line of exitHelp.
func splitCodes(line string) []string {
	var out []string
	for _, s := range strings.Split(strings.TrimSpace(line), "   ") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// roff returns text with what has a meaning to roff escaped, on one line.
func roff(s string) string {
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == '\\':
			b.WriteString(`\e`)
		case r == '-':
			b.WriteString(`\-`)
		case r == '\'':
			b.WriteString(`\(aq`)
		case r == '"':
			b.WriteString(`\(dq`)
		case r == '~':
			b.WriteString(`\(ti`)
		case r == '^':
			b.WriteString(`\(ha`)
		case r == '`':
			b.WriteString(`\(ga`)
		case r == '.' && i == 0:
			b.WriteString(`\&.`)
		case r == '\n':
			b.WriteByte(' ')
		case r > 126:
			fmt.Fprintf(&b, `\[u%04X]`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// roffText writes paragraphs; lines that are indented or laid out in columns keep their form.
func roffText(w io.Writer, text string) {
	asIs := false
	keep := func(on bool) {
		if on != asIs {
			fmt.Fprintln(w, map[bool]string{true: ".nf", false: ".fi"}[on])
		}
		asIs = on
	}
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		switch trimmed := strings.TrimSpace(line); {
		case trimmed == "":
			keep(false)
			fmt.Fprintln(w, ".PP")
		case trimmed == "EXAMPLE":
			fmt.Fprintln(w, "Example:")
			fmt.Fprintln(w, ".PP")
		case i > 0 && (strings.HasPrefix(line, " ") || strings.Contains(trimmed, "  ")):
			keep(true)
			fmt.Fprintln(w, roff(line))
		default:
			keep(false)
			fmt.Fprintln(w, roff(trimmed))
		}
	}
	keep(false)
}
