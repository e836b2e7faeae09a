package trace

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Write writes the trace for a person.
func (t *Trace) Write(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "item   %s\nfile   %s\n", t.Item, t.File)
	switch {
	case t.Value != nil:
		fmt.Fprintf(&b, "value  %s = %s%s%s\n", t.Variable, show(*t.Value), space(unit(t.Unit)), flagged(t.Flag))
	case t.Words != "":
		fmt.Fprintf(&b, "value  %s: %s\n", t.Variable, t.Words)
	case t.Variable != "":
		fmt.Fprintf(&b, "value  %s is missing%s\n", t.Variable, flagged(t.Flag))
	}
	if t.Method != "" {
		fmt.Fprintf(&b, "method %s\n", t.Method)
	}
	for _, m := range t.Mapping {
		fmt.Fprintf(&b,
			"mapped %s by %s: value = background + sum of weight x (value - background) of its data: background %s",
			m.Variable, m.Method, show(m.Background))
		if m.AtDbar != nil {
			fmt.Fprintf(&b, " at %s dbar", show(*m.AtDbar))
		}
		if m.LengthKm > 0 {
			fmt.Fprintf(&b, ", noise %s, length %s km, error variance %s of the signal's", show(m.Noise),
				show(m.LengthKm),
				show(m.ErrorVariance))
			if m.SignalVariance > 0 {
				fmt.Fprintf(&b, ", which is %s", show(m.SignalVariance))
			}
		}
		fmt.Fprintf(&b, ", computed again %s\n", show(m.Computed))
	}
	if len(t.Parts) > 0 {
		b.WriteString("\nMade of\n")
	}
	for i := range t.Parts {
		b.WriteString("  " + t.Parts[i].words() + "\n")
	}
	b.WriteString("\nInputs\n")
	for _, s := range t.Inputs {
		fmt.Fprintf(&b, "  %s%s, %d bytes, SHA-256 %s\n", s.File, lead(", lines ", s.Lines), s.Bytes, s.SHA256)
	}
	b.WriteString("\nSteps\n")
	for _, s := range t.Steps {
		fmt.Fprintf(&b, "  %s %s: %s: %s\n", s.At, s.Program, s.Name, s.Text)
		for _, n := range slices.Sorted(maps.Keys(s.Settings)) {
			fmt.Fprintf(&b, "      %s: %s\n", n, s.Settings[n])
		}
	}
	for i, n := range t.Notes {
		if i == 0 {
			b.WriteString("\nNotes\n")
		}
		fmt.Fprintf(&b, "  %s\n", n)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (p *Part) words() string {
	var s strings.Builder
	fmt.Fprintf(&s, "%s %s ", p.Cast, p.Variable)
	if p.Levels == 0 && p.Value != nil { // of the whole cast
		s.WriteString("= " + show(*p.Value))
	} else if p.Levels == 1 && p.First == p.Last {
		fmt.Fprintf(&s, "at %s dbar", show(p.First))
		if p.Value != nil {
			s.WriteString(" = " + show(*p.Value))
		}
	} else {
		fmt.Fprintf(&s, "%d levels, %s to %s dbar", p.Levels, show(p.First), show(p.Last))
	}
	s.WriteString(flagged(p.Flag))
	if len(p.Flags) > 0 {
		s.WriteString(", flags " + strings.Join(p.Flags, ", "))
	}
	if p.Weight != nil {
		fmt.Fprintf(&s, ", weight %s, background %s", show(*p.Weight), show(*p.Base))
		if p.Km != nil {
			fmt.Fprintf(&s, ", at %s km", show(*p.Km))
		}
		fmt.Fprintf(&s, ", %s km away", show(*p.Away))
	}
	if n := len(p.Bins); n > 1 || n == 1 && p.Bins[0] != p.First {
		fmt.Fprintf(&s, ", from %s at %s dbar", plural(n, "bin"), list(p.Bins))
	}
	s.WriteString(lead(" from ", p.File))
	if p.Line > 0 {
		fmt.Fprintf(&s, ":%d: %s", p.Line, strings.TrimSpace(p.Text))
	}
	for i, n := range p.BinLines {
		if n > 0 {
			s.WriteString([]string{":", ","}[min(i, 1)] + strconv.Itoa(n))
		}
	}
	return s.String()
}

// list returns up to eight numbers as words.
func list(v []float64) string {
	var out []string
	for _, x := range v {
		out = append(out, show(x))
	}
	if n := len(out); n > 8 {
		out = append(append(out[:3], "..."), out[n-1])
	}
	return strings.Join(out, ", ")
}

func plural(n int, word string) string {
	if n == 1 {
		return "the " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func show(v float64) string { return strconv.FormatFloat(v, 'g', 10, 64) }

func unit(u string) string {
	if u == "1" {
		return ""
	}
	return u
}

func space(s string) string { return lead(" ", s) }

func lead(front, s string) string {
	if s == "" {
		return ""
	}
	return front + s
}

func flagged(f string) string { return lead(", flag ", f) }

// WriteDOT writes the trace as a graph in the DOT language: inputs, steps and the item, with an arrow from what was
// used to what used it.
func (t *Trace) WriteDOT(w io.Writer) error {
	var b strings.Builder
	b.WriteString("digraph trace {\n  rankdir=LR;\n  node [fontname=\"sans-serif\", fontsize=10];\n")
	for i, s := range t.Inputs {
		fmt.Fprintf(&b, "  i%d [shape=note, label=%s];\n", i, quote(s.File+lead("\nlines ", s.Lines)))
	}
	for _, s := range t.Steps {
		fmt.Fprintf(&b, "  s%d [shape=box, style=rounded, label=%s];\n", s.Number, quote(s.Name+"\n"+s.Text))
	}
	last := t.Item
	if t.Value != nil {
		last += "\n" + show(*t.Value) + space(unit(t.Unit))
	}
	fmt.Fprintf(&b, "  item [shape=box, penwidth=2, label=%s];\n", quote(last))
	for k, s := range t.Steps {
		for _, u := range s.Inputs {
			if i := slices.IndexFunc(t.Inputs, func(x Source) bool { return x.File == u.File }); i >= 0 {
				fmt.Fprintf(&b, "  i%d -> s%d;\n", i, s.Number)
			}
		}
		if k+1 < len(t.Steps) {
			fmt.Fprintf(&b, "  s%d -> s%d;\n", s.Number, t.Steps[k+1].Number)
		} else {
			fmt.Fprintf(&b, "  s%d -> item;\n", s.Number)
		}
	}
	b.WriteString("}\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// quote returns a text as a quoted string of DOT.
func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`).Replace(s) + `"`
}
