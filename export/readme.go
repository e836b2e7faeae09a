package export

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
)

// A FileNote says what one file of the archive is.
type FileNote struct{ Path, What string }

// KeyNotes explain the keys of attributes of NetCDF files that are JSON objects.
type KeyNotes struct {
	Attributes string
	Keys       [][2]string // name and meaning
}

// Readme is what the README of an archive tells.
type Readme struct {
	Cruise, Title string
	Status        string // release status
	Licence       string
	Contact       string
	Embargo       string
	Citation      string
	About         [][2]string // what the cruise was: a heading and a line each; lines without text are left out
	Casts         int
	LeftOut       []string // a line for each cast that was left out: file or cast, and why
	Notes         []string // sentences on how the products were made that a reader must know
	Files         []FileNote
	Keys          []KeyNotes // of attributes that are JSON
	Tool          string
	At            time.Time
}

// Cautions are the sentences that stand wherever a person meets the data.
const Cautions = `Depths and positions are as logged: not for navigation. Data are as processed and flagged: not certified. Follow the ship's and
the data centre's own rules and the judgement of whoever is licensed for the work.`

// WriteReadme writes the README of an archive as plain text for someone who has only this folder.
func WriteReadme(w io.Writer, r *Readme) error {
	var b strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	head := r.Cruise
	if r.Title != "" {
		head += ": " + r.Title
	}
	line("%s", head)
	line("%s", strings.Repeat("=", min(len([]rune(head)), 100)))
	line("")
	line("Release status  %s", r.Status)
	for _, p := range [][2]string{{"Licence", r.Licence}, {"Embargo until", r.Embargo}, {"Contact", r.Contact}, {"Cite as", r.Citation}} {
		if p[1] != "" {
			line("%-15s %s", p[0], p[1])
		}
	}
	line("%-15s %s", "Time stamp", r.At.UTC().Format(time.RFC3339))
	line("%-15s %s", "Made by", r.Tool)
	if len(r.About) > 0 {
		line("")
		line("THE CRUISE")
		for _, p := range r.About {
			for i, t := range wrap(p[1], 104) {
				if t != "" {
					line("%-15s %s", map[bool]string{true: p[0]}[i == 0], t)
				}
			}
		}
	}
	line("")
	line("CAUTIONS")
	line("%s", Cautions)
	line("")
	line("WHAT EACH FILE IS")
	for _, f := range r.Files {
		line("  %s", f.Path)
		for _, t := range wrap(f.What, 110) {
			line("      %s", t)
		}
	}
	line("")
	line("Open the NetCDF files with any CF reader; missing values are _FillValue. Quality flags stand in <variable>_flag_woce beside")
	line("each variable, in exchange files in <column>_FLAG_W:")
	var flags []string
	for _, c := range metadata.WOCECTD.Codes {
		if c.Written {
			flags = append(flags, fmt.Sprintf("%c %s", c.Symbol, c.Meaning))
		}
	}
	for _, t := range wrap(strings.Join(flags, ", ")+".", 112) {
		line("  %s", t)
	}
	line("Derived values use only values whose flag is 2, 6, 7 or not evaluated, unless history says otherwise. Samples of bottles have")
	line("flags of their own set, as the exchange format defines it.")
	line("Check the copy with: sha256sum -c manifest-sha256.txt (in the folder above data).")
	for _, notes := range r.Keys {
		line("")
		line("KEYS OF %s", notes.Attributes)
		for _, t := range wrap("JSON objects from the keys below to a number, a list of numbers or words, or to an object with one of these for each variable or set of "+
			"sensors where they differ.", 114) {
			line("%s", t)
		}
		for _, k := range notes.Keys {
			for i, t := range wrap(k[1], 84) {
				line("  %-28s %s", map[bool]string{true: k[0]}[i == 0], t)
			}
		}
	}
	if len(r.Notes) > 0 {
		line("")
		line("HOW IT WAS MADE")
		for _, n := range r.Notes {
			for i, t := range wrap(n, 114) {
				line("%s%s", map[bool]string{true: "- ", false: "  "}[i == 0], t)
			}
		}
	}
	line("")
	line("CASTS")
	line("%d casts.", r.Casts)
	for _, l := range r.LeftOut {
		line("Left out: %s", l)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap breaks text at blanks into lines of at most width runes; a longer word stands alone.
func wrap(text string, width int) []string {
	var lines []string
	cur := ""
	n := 0
	for _, word := range strings.Fields(text) {
		m := len([]rune(word))
		if n > 0 && n+1+m > width {
			lines = append(lines, cur)
			cur, n = "", 0
		}
		if n > 0 {
			cur += " "
			n++
		}
		cur += word
		n += m
	}
	return append(lines, cur)
}
