package compare

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Write writes the report for a person: a heading for each kind of difference, and a line for each.
func (r *Report) Write(w io.Writer) error {
	var b strings.Builder
	p := page{b: &b}
	for _, s := range []struct {
		head string
		s    *Side
	}{{"old", &r.Old}, {"new", &r.New}} {
		fmt.Fprintf(&b, "%s  %s: %s, %d casts, %d left out, %s, made by %s, time stamp %s\n", s.head, s.s.Path,
			s.s.Cruise, s.s.Casts, s.s.LeftOut, s.s.Status, s.s.Program, s.s.Stamp)
	}
	r.writeCasts(&p)
	var alike group
	for _, f := range r.Flags {
		alike.add(f.File, f.Variable, fmt.Sprintf("%sflag %s instead of %s at %s%s", inFront(f.Cast, ": "), f.To,
			f.From,
			plural(f.Count, "value"), span(f.First, f.Last)))
	}
	alike.write(&p, "Flags")
	alike = group{}
	for _, c := range r.Values {
		alike.add(c.File, c.Variable, c.words())
	}
	alike.write(&p, "Values")
	for _, v := range r.Variables {
		if v.What == Differs {
			p.line("%s: %s: not of the same dimensions in both; not compared", v.File, v.Variable)
		} else {
			p.line("%s: %s: %s", v.File, v.Variable, v.What)
		}
	}
	for _, t := range r.Tables {
		p.line("%s: row %s: %s", t.File, t.What, t.Row)
	}
	r.writeMetadata(&p)
	p.heading("Processing steps and settings")
	for _, s := range r.Steps {
		p.line("%s: %s: %s", s.Step, s.What, s.Text)
	}
	for _, s := range r.Settings {
		p.line("%s: %s: %s", s.Step, s.Name, fromTo(s.Old, s.New))
	}
	p.heading("Inputs")
	for _, f := range r.Inputs {
		p.line("%s: %s", f.File, f.What)
	}
	p.heading("Files")
	for _, f := range r.Files {
		p.line("%s: %s", f.File, f.What)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (r *Report) writeCasts(p *page) {
	p.heading("Casts")
	for _, c := range r.Casts.Added {
		p.line("%s: only in the new one (%s)", c.Cast, c.File)
	}
	for _, c := range r.Casts.Removed {
		p.line("%s: only in the old one (%s)", c.Cast, c.File)
	}
	for _, c := range r.Casts.Renumbered {
		p.line("%s: is called %s in the new one (recognised by %s)", c.Old, c.New, c.By)
	}
	for _, l := range r.Casts.LeftOut {
		switch {
		case l.Old == "":
			p.line("%s: left out of the new one: %s", l.Name, l.New)
		case l.New == "":
			p.line("%s: left out of the old one: %s", l.Name, l.Old)
		default:
			p.line("%s: left out of both, %s", l.Name, fromTo(l.Old, l.New))
		}
	}
	p.heading("Positions")
	for _, m := range r.Positions {
		p.line("%s: %.5f N %.5f E, was %.5f N %.5f E: %.3f km away", m.Cast, m.New[0], m.New[1], m.Old[0], m.Old[1],
			m.Km)
	}
	p.heading("Other entries of the list of casts")
	for _, e := range r.Ledger {
		p.line("%s: %s: %s", e.Cast, e.What, fromTo(e.Old, e.New))
	}
}

// page writes headings only above lines.
type page struct {
	b    *strings.Builder
	head string // not written yet; "" when it is
}

func (p *page) heading(text string) { p.head = text }

func (p *page) line(format string, a ...any) {
	if p.head != "" {
		fmt.Fprintf(p.b, "\n%s\n", p.head)
		p.head = ""
	}
	fmt.Fprintf(p.b, "  "+format+"\n", a...)
}

func (p *page) more(format string, a ...any) { fmt.Fprintf(p.b, "      "+format+"\n", a...) }

// writeMetadata writes attributes that differ. Of a variable whose attributes are numbers that follow from its values,
// such as the total of a section, the first is written and the others are counted.
func (r *Report) writeMetadata(p *page) {
	p.heading("Metadata")
	for i := 0; i < len(r.Metadata); {
		m := &r.Metadata[i]
		n := 1
		for numeric(m) && i+n < len(r.Metadata) && numeric(&r.Metadata[i+n]) &&
			r.Metadata[i+n].Variable == m.Variable && slices.Equal(r.Metadata[i+n].Files, m.Files) {
			n++
		}
		text := inFront(m.Variable, ": ") + m.Attribute + ": " + fromTo(m.Old, m.New)
		if n > 1 {
			text += fmt.Sprintf(", and %s with other numbers (--json lists all)", plural(n-1, "other attribute"))
		}
		p.line("%s", text)
		p.more("in %s", strings.Join(m.Files, ", "))
		i += n
	}
}

// numeric reports whether an attribute is a number, or several, in both files.
func numeric(m *Metadata) bool {
	for _, text := range []string{m.Old, m.New} {
		for _, word := range strings.Fields(text) {
			if _, err := strconv.ParseFloat(word, 64); err != nil {
				return false
			}
		}
	}
	return m.Variable != "" && m.Old != "" && m.New != ""
}

// group joins the variables of a file of which the same is to be said.
type group struct {
	order []string
	names map[string][]string
}

func (g *group) add(file, variable, text string) {
	k := file + "\n" + text
	if g.names == nil {
		g.names = map[string][]string{}
	}
	if g.names[k] == nil {
		g.order = append(g.order, k)
	}
	g.names[k] = append(g.names[k], variable)
}

func (g *group) write(p *page, head string) {
	p.heading(head)
	for _, k := range g.order {
		file, text, _ := strings.Cut(k, "\n")
		p.line("%s: %s: %s", file, strings.Join(g.names[k], ", "), text)
	}
}

// words says how the values of a variable differ.
func (c *Change) words() string {
	var parts []string
	if c.Changed > 0 {
		text := fmt.Sprintf("%d of %s differ", c.Changed, plural(c.Compared, "value"))
		switch {
		case c.OldText != "" || c.NewText != "":
			text += fmt.Sprintf(", first at %s: %s", c.Where, fromTo(c.OldText, c.NewText))
		default:
			text += fmt.Sprintf(", by at most %.3g%s", c.Max, inFrontOf(" ", c.Unit))
			if c.Where != "" {
				text += " at " + c.Where
			}
			text += fmt.Sprintf(", rms %.3g", c.RMS)
		}
		parts = append(parts, text)
	}
	if c.Gained > 0 {
		parts = append(parts, plural(c.Gained, "value")+" only in the new one")
	}
	if c.Lost > 0 {
		parts = append(parts, plural(c.Lost, "value")+" only in the old one")
	}
	text := strings.Join(parts, "; ")
	if n := len(c.Places.Casts); n > 0 {
		text += " (" + few(c.Places.Casts) + span(c.Places.First, c.Places.Last) + ")"
	}
	return text
}

// few names up to four and counts the others.
func few(names []string) string {
	if len(names) <= 4 {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d others", strings.Join(names[:3], ", "), len(names)-3)
}

func span(first, last string) string {
	switch {
	case first == "":
		return ""
	case first == last:
		return ", " + first
	}
	return ", " + first + " to " + last
}

func fromTo(old, now string) string {
	switch {
	case old == "":
		return quoted(now) + " only in the new one"
	case now == "":
		return quoted(old) + " only in the old one"
	}
	return quoted(now) + ", was " + quoted(old)
}

// quoted shortens a long text.
func quoted(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 160 {
		return string(r[:160]) + "... (" + plural(len(r), "character") + ")"
	}
	return s
}

func inFront(s, sep string) string {
	if s == "" {
		return ""
	}
	return s + sep
}

func inFrontOf(sep, s string) string {
	if s == "" || s == "1" {
		return ""
	}
	return sep + s
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
