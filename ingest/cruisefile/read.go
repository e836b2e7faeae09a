package cruisefile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

// Limits of a cruise file. A file for 200 casts that names each of them has about 2 000 nodes and 30 kB.
const (
	maxBytes    = 4 << 20
	maxNodes    = 200000
	maxDepth    = 12 // the schema needs 6
	maxProblems = 20 // problems listed; more are counted
)

// decoder collects what is wrong with a file while its nodes are turned into values.
type decoder struct {
	name     string
	lines    []string
	faults   []*metadata.InputError
	findings []metadata.Finding
	// what a person may do instead of giving the value that is read, ", or leave the key out"; "" when it is needed
	instead string
}

// position is the place of a node. The YAML library counts characters, a metadata.Position bytes.
func (d *decoder) position(n *yaml.Node) metadata.Position {
	p := metadata.Position{File: d.name, Line: n.Line, Column: n.Column}
	if n.Line >= 1 && n.Line <= len(d.lines) {
		line := d.lines[n.Line-1]
		at := 0
		for i := 1; i < n.Column && at < len(line); i++ {
			_, size := utf8.DecodeRuneInString(line[at:])
			at += size
		}
		p.Column = at + 1
	}
	return p
}

func (d *decoder) fault(n *yaml.Node, remedy, format string, args ...any) {
	d.faults = append(d.faults, &metadata.InputError{Position: d.position(n),
		Err: fmt.Errorf(format, args...), Remedy: remedy})
}

func (d *decoder) finding(n *yaml.Node, s metadata.Severity, check, remedy, format string, args ...any) {
	d.findings = append(d.findings, metadata.Finding{Position: d.position(n), Severity: s, Check: check,
		Message: fmt.Sprintf(format, args...), Remedy: remedy})
}

// Read decodes a cruise file; name is only for positions. On error the cruise is nil and the error joins up to 20
// problems, each a *metadata.InputError, in the order of the file.
func Read(data []byte, name string) (*Cruise, []metadata.Finding, error) {
	d := &decoder{name: name}
	root, err := d.parse(data)
	if err != nil {
		return nil, nil, err
	}
	c := newCruise()
	cruiseForm.read(d, root, "the file", &c)
	c.File = metadata.Position{File: name} // after the form, which begins afresh
	if err := d.result(); err != nil {
		return nil, nil, err
	}
	c.finish()
	slices.SortStableFunc(d.findings, func(a, b metadata.Finding) int {
		switch {
		case a.Position.Before(b.Position):
			return -1
		case b.Position.Before(a.Position):
			return 1
		}
		return 0
	})
	return &c, d.findings, nil
}

func (d *decoder) result() error {
	slices.SortStableFunc(d.faults, func(a, b *metadata.InputError) int {
		switch {
		case a.Position.Before(b.Position):
			return -1
		case b.Position.Before(a.Position):
			return 1
		}
		return 0
	})
	var errs []error
	for i, e := range d.faults {
		if i == maxProblems {
			errs = append(errs, &metadata.InputError{Position: metadata.Position{File: d.name},
				Err: fmt.Errorf("and %d more problems", len(d.faults)-i)})
			break
		}
		errs = append(errs, e)
	}
	return errors.Join(errs...)
}

// parse turns bytes into the one mapping node of the document.
func (d *decoder) parse(data []byte) (*yaml.Node, error) {
	at := func(line, column int, remedy, format string, args ...any) error {
		return &metadata.InputError{Position: metadata.Position{File: d.name, Line: line, Column: column},
			Err: fmt.Errorf(format, args...), Remedy: remedy}
	}
	if len(data) > maxBytes {
		return nil, at(0, 0, "is this the cruise file?", "the file has %d bytes; a cruise file has at most %d",
			len(data), maxBytes)
	}
	if bytes.HasPrefix(data, []byte{0xFF, 0xFE}) || bytes.HasPrefix(data, []byte{0xFE, 0xFF}) {
		return nil, at(1, 1, "save the file as UTF-8", "the file is UTF-16 text, not UTF-8")
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	d.lines = strings.Split(strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029",
		"\n").Replace(string(data)), "\n")
	depth := 0
	for i, line := range d.lines {
		for j, r := range line {
			if r == utf8.RuneError {
				if _, n := utf8.DecodeRuneInString(line[j:]); n == 1 {
					return nil, at(i+1, j+1, "save the file as UTF-8", "byte 0x%02X is not UTF-8 text", line[j])
				}
			}
			if r < ' ' && r != '\t' || r >= 0x7F && r < 0xA0 {
				return nil, at(i+1, j+1, "remove the character", "control character 0x%02X", r)
			}
		}
		// Deep brackets would make the library recurse as deep; brackets in text are counted too, which does no harm
		// at this limit.
		depth += strings.Count(line, "[") + strings.Count(line, "{")
		if depth -= min(depth, strings.Count(line, "]")+strings.Count(line, "}")); depth > 200 {
			return nil, at(i+1, 1, "close the brackets", "more than 200 brackets are open")
		}
		if blank := line[:len(line)-len(strings.TrimLeft(line, " \t"))]; strings.Contains(blank, "\t") &&
			len(blank) < len(line) {
			return nil, at(i+1, strings.Index(blank, "\t")+1, "indent with blanks", "a tab in the indentation")
		}
	}
	var doc yaml.Node
	dec := yaml.NewDecoder(bytes.NewReader(data))
	if err := decodeNode(dec, &doc); err == io.EOF || err == nil && (len(doc.Content) == 0 || isNull(doc.Content[0])) {
		return nil, at(1, 1, "castwright help cruise-file shows a complete one to begin with",
			"the cruise file is empty")
	} else if err != nil {
		return nil, d.syntax(err)
	}
	var second yaml.Node
	if err := decodeNode(dec, &second); err == nil {
		return nil, at(second.Line, second.Column, "keep one document and remove the line ---",
			"a second document begins here; a cruise file is one document")
	} else if err != io.EOF {
		return nil, d.syntax(err)
	}
	root := doc.Content[0]
	nodes := 0
	d.inspect(root, 1, &nodes)
	if err := d.result(); err != nil {
		return nil, err
	}
	return root, nil
}

// decodeNode calls the YAML library, which has panicked on odd input before: a panic is a syntax error without a place.
func decodeNode(dec *yaml.Decoder, n *yaml.Node) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("yaml: %v", r)
		}
	}()
	return dec.Decode(n)
}

var (
	syntaxText  = regexp.MustCompile(`^yaml: (?:line \d+: )?(.*)$`)
	anchorAsked = regexp.MustCompile(`^unknown anchor '(.*)' referenced$`)
)

// syntax turns an error of the YAML library into an InputError. The library's line is that of the construct it was in,
// or the one before: the place is looked for anew.
func (d *decoder) syntax(err error) error {
	what := err.Error()
	if m := syntaxText.FindStringSubmatch(what); m != nil {
		what = m[1]
	}
	e := &metadata.InputError{Position: d.syntaxPlace(), Err: fmt.Errorf("not valid YAML from here on: %s", what),
		Remedy: "check indentation, colons, quotes and brackets"}
	line := ""
	if e.Line > 0 {
		line = d.lines[e.Line-1]
	}
	switch m := anchorAsked.FindStringSubmatch(what); {
	case m != nil:
		e.Err = fmt.Errorf("alias *%s: aliases are not used in cruise files", m[1])
		e.Remedy = "put text that begins with * in quotes"
		e.Position = metadata.Position{File: d.name}
		for i, l := range d.lines {
			if j := strings.Index(l, "*"+m[1]); j >= 0 {
				e.Line, e.Column = i+1, j+1
				break
			}
		}
	case strings.Contains(what, "mapping values are not allowed"):
		e.Remedy = `put text that contains ": " in quotes; else check the indentation`
		if i := strings.Index(line, ": "); i >= 0 {
			if j := strings.Index(line[i+2:], ": "); j >= 0 {
				e.Column = i + 2 + j + 1
			}
		}
	case strings.Contains(what, "could not find expected ':'"):
		e.Remedy = "each line is KEY: VALUE"
	case strings.Contains(what, "end of stream"), strings.Contains(what, "expected ',' or"):
		e.Remedy = "a bracket or quotes that open here do not close"
		if i := openAt(line); i >= 0 {
			e.Column = i + 1
		}
	}
	return e
}

// openAt returns the index of the quotes, or else of the outermost bracket, that opens in a line and does not close in
// it; -1 when none does.
func openAt(line string) int {
	var brackets []int
	for i := 0; i < len(line); i++ {
		switch c := line[i]; c {
		case '"', '\'':
			// Quotes begin a value only after a blank or a bracket: an apostrophe inside a word is none.
			if i > 0 && strings.IndexByte(" [{,", line[i-1]) < 0 {
				continue
			}
			n := strings.IndexByte(line[i+1:], c)
			if n < 0 {
				return i
			}
			i += n + 1
		case '[', '{':
			brackets = append(brackets, i)
		case ']', '}':
			brackets = brackets[:max(0, len(brackets)-1)]
		}
	}
	if len(brackets) > 0 {
		return brackets[0]
	}
	return -1
}

// syntaxPlace finds where the fault begins: the first line after the longest run of lines that is good YAML by itself.
// It is looked for at the lines that begin without indentation, then line by line between two of these; parsing is
// bounded.
func (d *decoder) syntaxPlace() metadata.Position {
	p := metadata.Position{File: d.name}
	text := strings.Join(d.lines, "\n") + "\n"
	starts := make([]int, len(d.lines)+1) // byte where each line begins
	var outer []int
	for i, l := range d.lines {
		starts[i+1] = starts[i] + len(l) + 1
		if l != "" && l[0] != ' ' && l[0] != '#' {
			outer = append(outer, i)
		}
	}
	budget := 50 * maxSyntaxBytes
	good := func(lines int) bool {
		if budget -= starts[lines] + 100; budget < 0 {
			return false
		}
		dec := yaml.NewDecoder(strings.NewReader(text[:starts[lines]]))
		for {
			var n yaml.Node
			if err := decodeNode(dec, &n); err != nil {
				return err == io.EOF
			}
		}
	}
	if len(text) > maxSyntaxBytes {
		return p
	}
	low, high := 0, len(d.lines)
	for i := len(outer) - 1; i >= 0; i-- {
		if good(outer[i]) {
			low = outer[i]
			break
		}
		high = outer[i]
	}
	k := high - 1
	for k > low && !good(k) {
		k--
	}
	if budget < 0 {
		return p
	}
	p.Line = k + 1
	for p.Line < len(d.lines) && strings.TrimSpace(d.lines[p.Line-1]) == "" {
		p.Line++
	}
	line := d.lines[p.Line-1]
	p.Column = len(line) - len(strings.TrimLeft(line, " ")) + 1
	return p
}

// maxSyntaxBytes is the longest file in which the place of a syntax fault is looked for; a hundredth of a second a
// time at most.
const maxSyntaxBytes = 200 << 10

// inspect refuses what a cruise file has no use for: aliases (they can multiply), tags, duplicate keys, great depth.
func (d *decoder) inspect(n *yaml.Node, depth int, nodes *int) {
	*nodes++
	switch {
	case depth > maxDepth:
		d.fault(n, "check the indentation", "nested more than %d deep", maxDepth)
		return
	case *nodes == maxNodes:
		d.fault(n, "is this the cruise file?", "more than %d values", maxNodes)
		return
	case *nodes > maxNodes:
		return
	case n.Kind == yaml.AliasNode:
		d.fault(n, "write the value out; put text that begins with * in quotes",
			"alias *%s: aliases are not used in cruise files", n.Value)
		return
	case n.Anchor != "":
		d.fault(n, "remove it; put text that begins with & in quotes",
			"anchor &%s: anchors are not used in cruise files", n.Anchor)
		return
	case n.Style&yaml.TaggedStyle != 0:
		d.fault(n, "remove it; put text that begins with ! in quotes", "tag %s: tags are not used in cruise files",
			n.Tag)
		return
	}
	if n.Kind == yaml.MappingNode {
		first := map[string]*yaml.Node{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			if k.Kind != yaml.ScalarNode {
				d.fault(k, "a key is a word; put text that contains brackets in quotes", "a key that is not a word")
				continue
			}
			if before := first[k.Value]; before != nil {
				d.fault(k, "join the two", "key %q a second time; the first is in line %d", k.Value, before.Line)
				continue
			}
			first[k.Value] = k
		}
	}
	for _, m := range n.Content {
		d.inspect(m, depth+1, nodes)
	}
}

func isNull(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.Tag == "!!null" }
