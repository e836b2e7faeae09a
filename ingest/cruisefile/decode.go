package cruisefile

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

// about is what the documentation says of a key. It is in the same table that decodes.
type about struct {
	Key      string
	Meaning  string
	Default  string // in words; "" when it has none
	Example  string // flow YAML of the value
	Required bool
	Choice   bool           // one of a few keys of which one is needed
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
		about: about{Key: name, Meaning: meaning, Default: byDefault, Example: example,
			Legal: f.legal, Keys: f.keys, List: f.list},
		read: func(d *decoder, n *yaml.Node, dst *T) { f.read(d, n, name, at(dst)) },
	}
}

// required marks a key that has no default.
func required[T any](k key[T]) key[T] {
	k.Required = true
	return k
}

// choice marks a key that is one of several of which one is needed.
func choice[T any](k key[T]) key[T] {
	k.Choice = true
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
				d.within(keys[j].Required || keys[j].Choice, "or leave the key out", func() { keys[j].read(d, v, dst) })
			}
			for i := range keys {
				if keys[i].Required && has[names[i]] == nil && !meant[names[i]] {
					d.fault(n, fmt.Sprintf("add it, such as %s: %s", names[i], keys[i].Example),
						"%s lacks the key %q: %s", name, names[i], keys[i].Meaning)
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
		remedy = "put text that contains a comma in quotes inside { }; " + remedy
	}
	d.fault(k, remedy, "%s has no key %s", of, shorten(k.Value))
	return near
}

// within reads a value that may be left out, as instead says, or that is needed.
func (d *decoder) within(needed bool, instead string, read func()) {
	before := d.instead
	if d.instead = ""; !needed {
		d.instead = ", " + instead
	}
	read()
	d.instead = before
}

// wrong says that a value is of the wrong kind or not a legal one.
func (d *decoder) wrong(n *yaml.Node, name, want string) {
	switch {
	case isNull(n) && d.question(n) != "":
		d.fault(n, "write behind the colon: "+d.question(n), "%s is not filled in", name)
	case isNull(n):
		d.fault(n, "give "+want+d.instead, "%s has no value", name)
	case n.Kind == yaml.SequenceNode:
		d.fault(n, "give "+want, "%s is a list", name)
	case n.Kind == yaml.MappingNode:
		d.fault(n, "give "+want, "%s has keys", name)
	default:
		d.fault(n, "give "+want, "%s is %s", name, shorten(n.Value))
	}
}

// question returns what the line of a value asks for, in the comment that a draft writes; "" without one.
func (d *decoder) question(n *yaml.Node) string {
	if n.Line < 1 || n.Line > len(d.lines) {
		return ""
	}
	_, q, _ := strings.Cut(d.lines[n.Line-1], "# fill in: ")
	return strings.TrimSpace(q)
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return strconv.Quote(s)
}

// scalar returns the text of a plain value, and says so when n is none.
func (d *decoder) scalar(n *yaml.Node, name, want string) (string, bool) {
	if n.Kind != yaml.ScalarNode || isNull(n) {
		d.wrong(n, name, want)
		return "", false
	}
	s := strings.TrimSpace(n.Value)
	if s == "" {
		d.fault(n, "give "+want+d.instead, "%s is empty", name)
		return "", false
	}
	return s, true
}
