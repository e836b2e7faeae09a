package cruisefile

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"gopkg.in/yaml.v3"
)

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
	remedy := "write " + orList(legal)
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

// named is one of a few values, each written as its word.
func named[F fmt.Stringer](values ...F) form[F] { return wordAs(wordsOf(values), values) }

func wordsOf[F fmt.Stringer](values []F) []string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = v.String()
	}
	return words
}

// oneOf is one of a few values that are their own words.
func oneOf[F ~string](values ...F) form[F] {
	legal := make([]string, len(values))
	for i, v := range values {
		legal[i] = string(v)
	}
	return wordAs(legal, values)
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
			d.fault(n, withoutComma(s, legal, low, high), "%s: %q has a comma", name, s)
		case !plainNumber.MatchString(s) || err != nil:
			d.fault(n, "give "+legal, "%s: %s is not a number", name, shorten(s))
		case v < low || v > high:
			d.fault(n, "give "+legal, "%s: %s is out of range", name, s)
		default:
			*dst = v
		}
	}}
}

// withoutComma returns the remedy for a number with a comma, which may divide thousands or begin the decimals.
func withoutComma(s, legal string, low, high float64) string {
	var ways []string
	for _, way := range []string{strings.Replace(s, ",", ".", 1), strings.Replace(s, ",", "", 1)} {
		thousands := !strings.Contains(way, ".")
		if v, err := strconv.ParseFloat(way, 64); err == nil && v >= low && v <= high &&
			(!thousands || len(s)-strings.Index(s, ",") == 4) {
			ways = append(ways, way)
		}
	}
	if len(ways) == 0 {
		return "give " + legal
	}
	return "write " + strings.Join(ways, ", or ")
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
var gapForm = form[*float64]{legal: "a number of dbar, or none",
	read: func(d *decoder, n *yaml.Node, name string, dst **float64) {
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
	return form[[]F]{legal: legal, keys: item.keys, list: true,
		read: func(d *decoder, n *yaml.Node, name string, dst *[]F) {
			if isNull(n) {
				d.wrong(n, name, legal)
				return
			}
			items := itemsOf(n)
			out := make([]F, len(items))
			for i := range items {
				if n.Kind != yaml.SequenceNode {
					item.read(d, items[i], name, &out[i])
					continue
				}
				d.within(len(items) == 1, "or take the item out", func() { item.read(d, items[i], name, &out[i]) })
			}
			*dst = out
		}}
}

// itemsOf returns the items of a list, or the one value that is written in the place of a list.
func itemsOf(n *yaml.Node) []*yaml.Node {
	if n.Kind == yaml.SequenceNode {
		return n.Content
	}
	return []*yaml.Node{n}
}

// mappings is a list of mappings, or one mapping, that read reads; want says what an item is.
func mappings[T any](legal, want string, read func(d *decoder, item *yaml.Node, name string, dst *[]T)) form[[]T] {
	return form[[]T]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *[]T) {
		for _, item := range itemsOf(n) {
			if item.Kind != yaml.MappingNode {
				d.wrong(item, name, want)
				continue
			}
			read(d, item, name, dst)
		}
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
					d.fault(m, "write the list as one text", "%s: all and except do not stand in an item of a list",
						name)
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

// planned is a station list that is spelled out, and so has a limit.
var planned = form[section.StationList]{
	legal: stations.legal,
	read: func(d *decoder, n *yaml.Node, name string, dst *section.StationList) {
		stations.read(d, n, name, dst)
		if len(dst.Names()) >= section.MaxNames {
			d.fault(n, "list the stations that were planned", "%s: too many stations; the limit is %d", name,
				section.MaxNames-1)
		}
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
		// The column inside the text is that of the file only where the text is in one line without quotes.
		if n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 {
			p.Column++
		}
		if p.Line >= 1 && p.Line <= len(d.lines) && p.Column >= 1 && p.Column <= len(d.lines[p.Line-1]) &&
			strings.HasPrefix(d.lines[p.Line-1][p.Column-1:], n.Value) {
			p.Column += fault.Column - 1
		} else {
			p = d.position(n)
		}
		d.faults = append(d.faults, &metadata.InputError{Position: p,
			Err: fmt.Errorf("%s: %w", name, fault.Err), Remedy: fault.Remedy})
		return
	}
	*dst = l
}

// castName is one cast: station/number, with EXPOCODE: before it where legs repeat their stations.
var castName = form[CastName]{legal: "a cast such as 6/2, or a station for all its casts",
	read: func(d *decoder, n *yaml.Node, name string, dst *CastName) {
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

// newCastName is a name that a cast is given: it becomes part of file names.
var newCastName = form[CastName]{legal: castName.legal,
	read: func(d *decoder, n *yaml.Node, name string, dst *CastName) {
		var c CastName
		before := len(d.faults)
		if castName.read(d, n, name, &c); len(d.faults) > before {
			return
		}
		for _, s := range []string{c.Expocode, c.Station, c.Number} {
			switch {
			case s == "":
			case len(s) > metadata.LongestName:
				d.fault(n, "write a shorter one: it becomes part of a file name", "%s: %s has more than %d characters",
					name, shorten(s), metadata.LongestName)
				return
			case !metadata.InFileName(s):
				d.fault(n, "write it with letters, digits and _: it becomes part of a file name",
					"%s: %s holds a character that a file name cannot have", name, shorten(s))
				return
			}
		}
		*dst = c
	}}

// source is a file, folder or pattern relative to the cruise file.
var source = form[ingest.Source]{legal: "a path relative to the cruise file, with /",
	read: func(d *decoder, n *yaml.Node, name string, dst *ingest.Source) {
		s, ok := d.scalar(n, name, "a path")
		if !ok {
			return
		}
		switch {
		case strings.Contains(s, `\`):
			d.fault(n, "write "+strings.ReplaceAll(s, `\`, "/"), `%s: %s has a backslash`, name, shorten(s))
			return
		case strings.HasPrefix(s, "~"):
			d.fault(n, "write the path relative to the folder of the cruise file", "%s: %s: ~ is not expanded", name,
				shorten(s))
			return
		}
		*dst = ingest.Source{Path: strings.TrimPrefix(s, "./"), At: d.position(n)}
	}}

// perWord is a mapping from words that a function accepts to values; it is kept in a Go map, so whoever writes it out
// sorts. where says where the words are listed.
func perWord[F any](legal string, known func() []string, what, where string, value form[F]) form[map[string]F] {
	return form[map[string]F]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *map[string]F) {
		if n.Kind != yaml.MappingNode {
			d.wrong(n, name, legal)
			return
		}
		m := map[string]F{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			k := n.Content[i]
			if known != nil && !slices.Contains(known(), k.Value) {
				remedy := where
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

// pointer is a form of which the value may be absent.
func pointer[F any](f form[F]) form[*F] {
	return form[*F]{legal: f.legal, keys: f.keys, list: f.list, read: func(d *decoder, n *yaml.Node, name string,
		dst **F) {
		*dst = new(F)
		f.read(d, n, name, *dst)
	}}
}
