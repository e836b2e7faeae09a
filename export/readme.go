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

// Readme is what the README of an archive is made from.
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
	var p page
	p.head(r)
	if len(r.About) > 0 {
		p.heading("THE CRUISE")
		for _, a := range r.About {
			p.entry(15, a[0], a[1])
		}
	}
	p.heading("CAUTIONS")
	p.line("%s", Cautions)
	p.heading("WHAT EACH FILE IS")
	for _, f := range r.Files {
		p.line("  %s", f.Path)
		p.paragraph("      ", "      ", f.What)
	}
	p.reading()
	for _, notes := range r.Keys {
		p.heading("KEYS OF " + notes.Attributes)
		p.paragraph("", "",
			"Each is a JSON object with the keys below. A key has a number, a list of numbers or words; where "+
				"these differ between variables or sets of "+
				"sensors, it has an object with one of these for each.")
		for _, k := range notes.Keys {
			p.entry(30, "  "+k[0], k[1])
		}
	}
	if len(r.Notes) > 0 {
		p.heading("HOW IT WAS MADE")
		for _, n := range r.Notes {
			p.paragraph("- ", "  ", n)
		}
	}
	p.heading("CASTS")
	p.line("%d casts.", r.Casts)
	for _, l := range r.LeftOut {
		p.line("Left out: %s", l)
	}
	_, err := io.WriteString(w, p.String())
	return err
}

// A page is plain text in the making, in lines of at most pageWidth characters where words allow.
type page struct{ strings.Builder }

const pageWidth = 120

func (p *page) line(format string, a ...any) { fmt.Fprintf(p, format+"\n", a...) }

func (p *page) heading(text string) { p.line("\n%s", text) }

// paragraph writes text in lines that begin with first, the others with next.
func (p *page) paragraph(first, next, text string) {
	for i, t := range wrap(text, pageWidth-len(next)) {
		if i == 0 {
			p.line("%s%s", first, t)
			continue
		}
		p.line("%s%s", next, t)
	}
}

// entry writes a name and, from column width on, what it is; nothing when that is empty.
func (p *page) entry(width int, name, text string) {
	if text != "" {
		p.paragraph(fmt.Sprintf("%-*s ", width, name), strings.Repeat(" ", width+1), text)
	}
}

func (p *page) head(r *Readme) {
	head := r.Cruise
	if r.Title != "" {
		head += ": " + r.Title
	}
	p.line("%s", head)
	p.line("%s", strings.Repeat("=", min(len([]rune(head)), 100)))
	p.line("")
	for _, e := range [][2]string{{"Release status", r.Status}, {"Licence", r.Licence}, {"Embargo until", r.Embargo},
		{"Contact", r.Contact}, {"Cite as", r.Citation},
		{"Time stamp", r.At.UTC().Format(time.RFC3339)}, {"Made by", r.Tool}} {
		p.entry(15, e[0], e[1])
	}
}

// reading says how to read the files and what the flags mean.
func (p *page) reading() {
	var flags []string
	for f, meaning := range metadata.FlagMeanings() {
		if meaning != "" && metadata.Flag(f) != metadata.NotUsed {
			flags = append(flags, fmt.Sprintf("%d %s", f, meaning))
		}
	}
	p.line("")
	p.paragraph("", "",
		"Open the NetCDF files with any CF reader; missing values are _FillValue. Quality flags are in "+
			"<variable>_flag_woce beside each variable, in "+
			"exchange files in <column>_FLAG_W:")
	p.paragraph("  ", "  ", strings.Join(flags, ", ")+".")
	p.paragraph("", "",
		"Where a variable has the attribute mantissa_bits_kept, its values were rounded to so many bits when they were "+
			"written, which its comment states in proportion to the value. Measured values are never rounded, and all "+
			"computations had the values before rounding.")
	p.paragraph("", "",
		"Derived values use only values whose flag is 2, 6, 7 or not evaluated, unless provenance/history.txt says "+
			"otherwise. Samples of bottles have flags of their "+
			"own set, as the exchange format defines it.")
	p.line("Check the copy with: sha256sum -c manifest-sha256.txt (in the folder above data).")
}

// wrap breaks text at blanks into lines of at most width runes; a longer word has its own line.
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
