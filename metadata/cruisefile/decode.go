package cruisefile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
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
	d.faults = append(d.faults, &metadata.InputError{Position: d.position(n), Err: fmt.Errorf(format, args...), Remedy: remedy})
}

func (d *decoder) finding(n *yaml.Node, s metadata.Severity, check, remedy, format string, args ...any) {
	d.findings = append(d.findings, metadata.Finding{Position: d.position(n), Severity: s, Check: check,
		Message: fmt.Sprintf(format, args...), Remedy: remedy})
}

// Read decodes a cruise file; name is only for positions. On error the cruise is nil and the error joins up to 20 problems, each a
// *metadata.InputError, in the order of the file.
func Read(data []byte, name string) (*Cruise, []metadata.Finding, error) {
	d := &decoder{name: name}
	root, err := d.parse(data)
	if err != nil {
		return nil, nil, err
	}
	c := newCruise()
	c.File = metadata.Position{File: name}
	cruiseForm.read(d, root, "the file", &c)
	if err := d.result(); err != nil {
		return nil, nil, err
	}
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
		return nil, at(0, 0, "is this the cruise file?", "the file has %d bytes; a cruise file has at most %d", len(data), maxBytes)
	}
	if bytes.HasPrefix(data, []byte{0xFF, 0xFE}) || bytes.HasPrefix(data, []byte{0xFE, 0xFF}) {
		return nil, at(1, 1, "save the file as UTF-8", "the file is UTF-16 text, not UTF-8")
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	d.lines = strings.Split(strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n").Replace(string(data)), "\n")
	depth := 0
	for i, line := range d.lines {
		for j, r := range line {
			if r == utf8.RuneError {
				if _, n := utf8.DecodeRuneInString(line[j:]); n == 1 {
					return nil, at(i+1, j+1, "save the file as UTF-8", "byte 0x%02X is not UTF-8 text", line[j])
				}
			}
			if r < ' ' && r != '\t' || r == 0x7F {
				return nil, at(i+1, j+1, "remove the character", "control character 0x%02X", r)
			}
		}
		// Deep brackets would make the library recurse as deep; brackets in text are counted too, which does no harm at this limit.
		depth += strings.Count(line, "[") + strings.Count(line, "{")
		if depth -= min(depth, strings.Count(line, "]")+strings.Count(line, "}")); depth > 200 {
			return nil, at(i+1, 1, "close the brackets", "more than 200 brackets are open")
		}
		if blank := line[:len(line)-len(strings.TrimLeft(line, " \t"))]; strings.Contains(blank, "\t") && len(blank) < len(line) && line[len(blank)] != '#' {
			return nil, at(i+1, strings.Index(blank, "\t")+1, "indent with blanks", "a tab in the indentation")
		}
	}
	var doc yaml.Node
	dec := yaml.NewDecoder(bytes.NewReader(data))
	if err := decodeNode(dec, &doc); err == io.EOF || err == nil && (len(doc.Content) == 0 || isNull(doc.Content[0])) {
		return nil, at(1, 1, "castwright draft writes one to finish by hand; castwright help cruise-file lists the keys", "the cruise file is empty")
	} else if err != nil {
		return nil, d.syntax(err)
	}
	var second yaml.Node
	if err := decodeNode(dec, &second); err == nil {
		return nil, at(second.Line, second.Column, "keep one document and remove the line ---", "a second document begins here; a cruise file is one document")
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

var syntaxLine = regexp.MustCompile(`^yaml: (?:line (\d+): )?(.*)$`)

// syntax turns an error of the YAML library, which knows the line at best, into an InputError.
func (d *decoder) syntax(err error) error {
	e := &metadata.InputError{Position: metadata.Position{File: d.name}, Remedy: "check indentation, colons, quotes and brackets here and in the line before"}
	what := err.Error()
	if m := syntaxLine.FindStringSubmatch(what); m != nil {
		e.Line, _ = strconv.Atoi(m[1])
		what = m[2]
	}
	if strings.HasPrefix(what, "unknown anchor") {
		what, e.Remedy = "an alias ("+what+")", `aliases are not used in cruise files: write the value out, and text that begins with * in quotes`
	}
	if strings.Contains(what, "mapping values are not allowed") {
		e.Remedy = `check the indentation; text that contains ": " stands in quotes`
	}
	if strings.Contains(what, "could not find expected ':'") {
		e.Remedy = "each line is KEY: VALUE; check this line and the one before it"
	}
	e.Err = fmt.Errorf("not valid YAML: %s", what)
	return e
}

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
		d.fault(n, "write the value out; text that begins with * stands in quotes", "alias *%s: aliases are not used in cruise files", n.Value)
		return
	case n.Anchor != "":
		d.fault(n, "remove it; text that begins with & stands in quotes", "anchor &%s: anchors are not used in cruise files", n.Anchor)
		return
	case n.Style&yaml.TaggedStyle != 0:
		d.fault(n, "remove it; text that begins with ! stands in quotes", "tag %s: tags are not used in cruise files", n.Tag)
		return
	}
	if n.Kind == yaml.MappingNode {
		first := map[string]*yaml.Node{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			if k.Kind != yaml.ScalarNode {
				d.fault(k, "a key is a word; text that contains brackets stands in quotes", "a key that is not a word")
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

// about is what the documentation says of a key. It stands in the same table that decodes.
type about struct {
	Key      string
	Meaning  string
	Default  string // in words; "" when nothing stands for it
	Example  string // flow YAML of the value
	Required bool
	Legal    string         // what may be written
	Keys     func() []about // keys inside, nil for a plain value
	List     bool           // Keys belong to the items of a list
}

// form is a kind of value: what may be written for it and how it is read.
type form[F any] struct {
	legal string
	keys  func() []about
	list  bool
	read  func(d *decoder, n *yaml.Node, key string, dst *F)
}

// key is one key of a mapping that becomes a T.
type key[T any] struct {
	about
	read func(d *decoder, n *yaml.Node, dst *T)
}

// entry makes a key: where its value goes, its form, and what the documentation says.
func entry[T, F any](name string, at func(*T) *F, f form[F], meaning, byDefault, example string) key[T] {
	return key[T]{
		about: about{Key: name, Meaning: meaning, Default: byDefault, Example: example, Legal: f.legal, Keys: f.keys, List: f.list},
		read:  func(d *decoder, n *yaml.Node, dst *T) { f.read(d, n, name, at(dst)) },
	}
}

// required marks a key that has no default.
func required[T any](k key[T]) key[T] {
	k.Required = true
	return k
}

// shape is what a mapping has beside its keys.
type shape[T any] struct {
	legal string                                                  // the short form in words; "" when there is none
	fresh func() T                                                // the value before its keys are read; nil: zero
	at    func(*T) *metadata.Position                             // where its place goes; nil: nowhere
	short func(d *decoder, n *yaml.Node, key string, dst *T) bool // reads the short form; false when n is none
	check func(d *decoder, n *yaml.Node, dst *T, has map[string]*yaml.Node)
}

// mapping is the form of a mapping with the given keys.
func mapping[T any](s shape[T], keys ...key[T]) form[T] {
	names := make([]string, len(keys))
	abouts := make([]about, len(keys))
	for i := range keys {
		names[i], abouts[i] = keys[i].Key, keys[i].about
	}
	legal := "keys below"
	if s.legal != "" {
		legal = s.legal + ", or keys below"
	}
	return form[T]{
		legal: legal,
		keys:  func() []about { return abouts },
		read: func(d *decoder, n *yaml.Node, name string, dst *T) {
			if s.fresh != nil {
				*dst = s.fresh()
			}
			if s.at != nil {
				*s.at(dst) = d.position(n)
			}
			if n.Kind != yaml.MappingNode {
				if s.short != nil && !isNull(n) && s.short(d, n, name, dst) {
					if s.check != nil {
						s.check(d, n, dst, map[string]*yaml.Node{})
					}
					return
				}
				want := "keys (" + strings.Join(names, ", ") + ")"
				if s.legal != "" {
					want = s.legal + ", or " + want
				}
				d.wrong(n, name, want)
				return
			}
			has, meant := map[string]*yaml.Node{}, map[string]bool{}
			for i := 0; i+1 < len(n.Content); i += 2 {
				k, v := n.Content[i], n.Content[i+1]
				j := slices.Index(names, k.Value)
				if j < 0 {
					if near := d.unknownKey(k, v, n, name, names); near != "" {
						meant[near] = true
					}
					continue
				}
				has[k.Value] = v
				keys[j].read(d, v, dst)
			}
			for i := range keys {
				if keys[i].Required && has[names[i]] == nil && !meant[names[i]] {
					d.fault(n, fmt.Sprintf("add %s: %s", names[i], keys[i].Example), "%s: the key %s is missing: %s", name, names[i], keys[i].Meaning)
				}
			}
			if s.check != nil {
				s.check(d, n, dst, has)
			}
		},
	}
}

// unknownKey reports key k with value v of mapping n, and gives the key that was probably meant.
func (d *decoder) unknownKey(k, v, n *yaml.Node, of string, names []string) string {
	near, ok := metadata.Nearest(strings.ReplaceAll(k.Value, "-", "_"), names)
	remedy := "its keys are " + strings.Join(names, ", ")
	switch {
	case ok:
		remedy = fmt.Sprintf("did you mean %q?", near)
	case n.Style&yaml.FlowStyle != 0 && isNull(v):
		// {reason: lost, no copy} is two keys to YAML.
		remedy = "text that contains a comma stands in quotes inside { }; " + remedy
	}
	d.fault(k, remedy, "%s has no key %s", of, shorten(k.Value))
	return near
}

// wrong says that a value is of the wrong kind or not a legal one.
func (d *decoder) wrong(n *yaml.Node, name, want string) {
	switch {
	case isNull(n):
		d.fault(n, "give "+want+", or leave the key out", "%s has no value", name)
	case n.Kind == yaml.SequenceNode:
		d.fault(n, "give "+want, "%s is a list", name)
	case n.Kind == yaml.MappingNode:
		d.fault(n, "give "+want, "%s has keys", name)
	default:
		d.fault(n, "give "+want, "%s is %s", name, shorten(n.Value))
	}
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return strconv.Quote(s)
}

// scalar gives the text of a plain value, and says so when n is none.
func (d *decoder) scalar(n *yaml.Node, name, want string) (string, bool) {
	if n.Kind != yaml.ScalarNode || isNull(n) {
		d.wrong(n, name, want)
		return "", false
	}
	s := strings.TrimSpace(n.Value)
	if s == "" {
		d.fault(n, "give "+want+", or leave the key out", "%s is empty", name)
		return "", false
	}
	return s, true
}

// text is any text; line breaks inside become blanks.
var text = textLike("text", func(s string) (string, string) { return strings.Join(strings.Fields(s), " "), "" })

// textLike is text that a function accepts: it gives the value, or a complaint such as "is not a date".
func textLike(legal string, accept func(string) (value, complaint string)) form[string] {
	return form[string]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		s, ok := d.scalar(n, name, legal)
		if !ok {
			return
		}
		value, complaint := accept(s)
		if complaint != "" {
			d.fault(n, "give "+legal, "%s: %s %s", name, shorten(s), complaint)
			return
		}
		*dst = value
	}}
}

// words is one of a few words.
func words(legal ...string) form[string] {
	list := orList(legal)
	return form[string]{legal: list, read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		s, ok := d.scalar(n, name, list)
		if !ok {
			return
		}
		if !slices.Contains(legal, s) {
			d.notAWord(n, name, s, legal)
			return
		}
		*dst = s
	}}
}

func (d *decoder) notAWord(n *yaml.Node, name, s string, legal []string) {
	remedy := "legal are " + orList(legal)
	if near, ok := metadata.Nearest(s, legal); ok {
		remedy = fmt.Sprintf("did you mean %q? %s", near, remedy)
	}
	d.fault(n, remedy, "%s is %s", name, shorten(s))
}

func orList(w []string) string {
	if len(w) == 1 {
		return w[0]
	}
	return strings.Join(w[:len(w)-1], ", ") + " or " + w[len(w)-1]
}

// wordAs is one of a few words that stand for values of another type.
func wordAs[F any](legal []string, values []F) form[F] {
	w := words(legal...)
	return form[F]{legal: w.legal, read: func(d *decoder, n *yaml.Node, name string, dst *F) {
		var s string
		if w.read(d, n, name, &s); s != "" {
			*dst = values[slices.Index(legal, s)]
		}
	}}
}

var plainNumber = regexp.MustCompile(`^[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$`)

// number is a number from low to high inclusive; what names it with its unit.
func number(what string, low, high float64) form[float64] {
	legal := what + rangeWords(low, high)
	return form[float64]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *float64) {
		s, ok := d.scalar(n, name, legal)
		if !ok {
			return
		}
		v, err := strconv.ParseFloat(s, 64)
		switch {
		case strings.Count(s, ",") == 1 && plainNumber.MatchString(strings.Replace(s, ",", ".", 1)):
			d.fault(n, "write "+strings.Replace(s, ",", ".", 1), "%s: %q has a decimal comma", name, s)
		case !plainNumber.MatchString(s) || err != nil:
			d.fault(n, "give "+legal, "%s: %s is not a number", name, shorten(s))
		case v < low || v > high:
			d.fault(n, "give "+legal, "%s: %s is out of range", name, s)
		default:
			*dst = v
		}
	}}
}

func rangeWords(low, high float64) string {
	f := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	switch {
	case math.IsInf(low, -1) && math.IsInf(high, 1):
		return ""
	case math.IsInf(high, 1):
		return ", at least " + f(low)
	}
	return ", " + f(low) + " to " + f(high)
}

// gapForm is a number of dbar or none.
var gapForm = form[*float64]{legal: "a number of dbar, or none", read: func(d *decoder, n *yaml.Node, name string, dst **float64) {
	if n.Kind == yaml.ScalarNode && n.Value == "none" {
		none := math.Inf(1)
		*dst = &none
		return
	}
	before, v := len(d.faults), math.NaN()
	number("a number of dbar, or none", 0.1, 12000).read(d, n, name, &v)
	if len(d.faults) == before {
		*dst = &v
	}
}}

// integer is a whole number from low to high.
func integer[F int | int64](what string, low, high float64) form[F] {
	f := number(what, low, high)
	return form[F]{legal: f.legal, read: func(d *decoder, n *yaml.Node, name string, dst *F) {
		v := math.NaN()
		f.read(d, n, name, &v)
		switch {
		case math.IsNaN(v):
		case v != math.Trunc(v):
			d.fault(n, "give "+f.legal, "%s: %s is not a whole number", name, n.Value)
		default:
			*dst = F(v)
		}
	}}
}

// list is a list of values; one value may stand for a list of one.
func list[F any](item form[F]) form[[]F] {
	legal := "a list of: " + item.legal
	if item.keys != nil {
		legal = "a list of mappings"
		if short, ok := strings.CutSuffix(item.legal, ", or keys below"); ok {
			legal = "a list; an item is " + short + ", or keys below"
		}
	}
	return form[[]F]{legal: legal, keys: item.keys, list: true, read: func(d *decoder, n *yaml.Node, name string, dst *[]F) {
		if isNull(n) {
			d.wrong(n, name, legal)
			return
		}
		items := []*yaml.Node{n}
		if n.Kind == yaml.SequenceNode {
			items = n.Content
		}
		out := make([]F, len(items))
		for i := range items {
			item.read(d, items[i], name, &out[i])
		}
		*dst = out
	}}
}

// increasing is a list of numbers in increasing order.
func increasing(what string, low, high float64, least int) form[[]float64] {
	f := list(number(what, low, high))
	legal := fmt.Sprintf("a list of at least %d increasing numbers: %s", least, number(what, low, high).legal)
	return form[[]float64]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *[]float64) {
		before := len(d.faults)
		f.read(d, n, name, dst)
		if len(d.faults) > before {
			return
		}
		if len(*dst) < least {
			d.fault(n, "give "+legal, "%s has %d numbers", name, len(*dst))
		}
		for i := 1; i < len(*dst); i++ {
			if (*dst)[i] <= (*dst)[i-1] {
				d.fault(n.Content[i], "give "+legal, "%s: %s does not increase", name, n.Content[i].Value)
			}
		}
	}}
}

// stations is a station list, written as text or as a YAML list of such texts.
var stations = form[section.StationList]{
	legal: "stations and runs such as 1-12, 14/2, 20-15, or all; then except and what is taken out",
	read: func(d *decoder, n *yaml.Node, name string, dst *section.StationList) {
		if n.Kind == yaml.SequenceNode && len(n.Content) > 0 {
			var whole section.StationList
			for i, m := range n.Content {
				var part section.StationList
				readStations(d, m, name, &part)
				if part.All && len(n.Content) > 1 || len(part.Except) > 0 && i+1 < len(n.Content) {
					d.fault(m, "write the list as one text", "%s: all and except do not stand in an item of a list", name)
				}
				whole.All = whole.All || part.All
				whole.Items = append(whole.Items, part.Items...)
				whole.Except = append(whole.Except, part.Except...)
			}
			whole.Text = whole.String()
			*dst = whole
			return
		}
		readStations(d, n, name, dst)
	},
}

func readStations(d *decoder, n *yaml.Node, name string, dst *section.StationList) {
	if n.Kind != yaml.ScalarNode || isNull(n) {
		d.wrong(n, name, "stations and runs such as 1-12, 14")
		return
	}
	l, err := section.ParseStations(n.Value)
	var fault *section.ListError
	if errors.As(err, &fault) {
		p := d.position(n)
		// The column inside the text is that of the file only where the text stands as it is in one line.
		if n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 {
			p.Column++
		}
		if p.Line >= 1 && p.Line <= len(d.lines) && p.Column >= 1 && p.Column <= len(d.lines[p.Line-1]) &&
			strings.HasPrefix(d.lines[p.Line-1][p.Column-1:], n.Value) {
			p.Column += fault.Column - 1
		} else {
			p = d.position(n)
		}
		d.faults = append(d.faults, &metadata.InputError{Position: p, Err: fmt.Errorf("%s: %w", name, fault.Err), Remedy: fault.Remedy})
		return
	}
	*dst = l
}

// castName is one cast: station/number, with EXPOCODE: before it where legs repeat their stations.
var castName = form[CastName]{legal: "a cast such as 6/2, or a station for all its casts", read: func(d *decoder, n *yaml.Node, name string, dst *CastName) {
	var l section.StationList
	before := len(d.faults)
	readStations(d, n, name, &l)
	if len(d.faults) > before {
		return
	}
	if l.All || len(l.Items) != 1 || len(l.Except) > 0 || l.Items[0].To != "" {
		d.fault(n, "write STATION/CAST, such as 6/2", "%s: %s is not one cast", name, shorten(n.Value))
		return
	}
	*dst = CastName{Expocode: l.Items[0].Expocode, Station: l.Items[0].From, Number: l.Items[0].Cast}
}}

// source is a file, folder or pattern relative to the cruise file.
var source = form[Source]{legal: "a path relative to the cruise file, with /", read: func(d *decoder, n *yaml.Node, name string, dst *Source) {
	s, ok := d.scalar(n, name, "a path")
	if !ok {
		return
	}
	switch {
	case strings.Contains(s, `\`):
		d.fault(n, "write "+strings.ReplaceAll(s, `\`, "/"), `%s: %s has a backslash`, name, shorten(s))
		return
	case strings.HasPrefix(s, "/") || strings.HasPrefix(s, "~") || len(s) > 1 && s[1] == ':':
		d.fault(n, "put the inputs beside the cruise file, so that the archive can be made elsewhere", "%s: %s is not relative to the cruise file", name, shorten(s))
		return
	case s == ".." || strings.HasPrefix(s, "../") || strings.Contains(s, "/../") || strings.HasSuffix(s, "/.."):
		d.fault(n, "put the inputs beside the cruise file, so that the archive can be made elsewhere", "%s: %s leads out of the folder of the cruise file", name, shorten(s))
		return
	}
	*dst = Source{Path: strings.TrimPrefix(s, "./"), At: d.position(n)}
}}

// perWord is a mapping from words that a function accepts to values; it is kept in a Go map, so whoever writes it out sorts.
func perWord[F any](legal string, known func() []string, what string, value form[F]) form[map[string]F] {
	return form[map[string]F]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *map[string]F) {
		if n.Kind != yaml.MappingNode {
			d.wrong(n, name, legal)
			return
		}
		m := map[string]F{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			if known != nil && !slices.Contains(known(), k.Value) {
				remedy := "castwright help variables lists them"
				if near, ok := metadata.Nearest(k.Value, known()); ok {
					remedy = fmt.Sprintf("did you mean %q?", near)
				}
				d.fault(k, remedy, "%s: no %s is called %q", name, what, k.Value)
				continue
			}
			var v F
			value.read(d, n.Content[i+1], k.Value, &v)
			m[k.Value] = v
		}
		*dst = m
	}}
}
