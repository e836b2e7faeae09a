package compare

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
)

// Metadata is an attribute that differs; "" where a file does not have it.
type Metadata struct {
	Files     []string `json:"files"`
	Variable  string   `json:"variable,omitempty"` // "" of the whole file
	Attribute string   `json:"attribute"`
	Old       string   `json:"old"`
	New       string   `json:"new"`
}

// attributes compares attributes. The history is left out: its steps are compared as steps. Keys of an attribute that
// is a JSON object are compared one by one.
func (r *Report) attributes(file, variable string, a, b []nc.Attr) {
	old, now := attrWords(a), attrWords(b)
	names := slices.Sorted(maps.Keys(old))
	for n := range now {
		if _, ok := old[n]; !ok {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	for _, n := range names {
		if old[n] != now[n] && n != "history" {
			r.Metadata = append(r.Metadata, Metadata{[]string{file}, variable, n, old[n], now[n]})
		}
	}
}

// attrWords returns the attributes as text.
func attrWords(attrs []nc.Attr) map[string]string {
	m := map[string]string{}
	for _, a := range attrs {
		s, ok := a.Value.(string)
		if !ok {
			m[a.Name] = strings.Trim(fmt.Sprint(a.Value), "[]")
			continue
		}
		var object map[string]any
		if strings.HasSuffix(a.Name, "_json") && json.Unmarshal([]byte(s), &object) == nil {
			for k, v := range object {
				text, err := json.Marshal(v)
				if err == nil {
					m[a.Name+": "+k] = string(text)
				}
			}
			continue
		}
		m[a.Name] = s
	}
	return m
}

// joinMetadata joins what differs alike in several files.
func (r *Report) joinMetadata() {
	type key struct{ variable, attribute, old, now string }
	at := map[key]int{}
	var out []Metadata
	for _, m := range r.Metadata {
		k := key{m.Variable, m.Attribute, m.Old, m.New}
		if i, ok := at[k]; ok {
			out[i].Files = append(out[i].Files, m.Files...)
			continue
		}
		at[k] = len(out)
		out = append(out, m)
	}
	r.Metadata = out
}
