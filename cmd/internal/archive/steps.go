package archive

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// A Step is one step of the processing as the provenance of the archive records it.
type Step struct {
	ID       string            `json:"-"`
	Number   int               `json:"number"`
	Name     string            `json:"step"`
	Text     string            `json:"text"`
	Program  string            `json:"program"`
	At       string            `json:"at"`
	Settings map[string]string `json:"settings,omitempty"`
	Inputs   []Used            `json:"inputs,omitempty"`
	Outputs  []string          `json:"outputs,omitempty"` // paths below data
}

// Used is an input file, and the lines of it that a step used.
type Used struct {
	File   string `json:"file"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
	Lines  string `json:"lines,omitempty"` // first and last, from 1; "": the whole
	Cast   string `json:"cast,omitempty"`  // that the lines are of
}

// hashed is what the record puts behind a name with characters that PROV-JSON does not allow in one.
var hashed = regexp.MustCompile(`-[0-9a-f]{8}$`)

type provenance struct {
	Entity   map[string]map[string]any    `json:"entity"`
	Activity map[string]map[string]any    `json:"activity"`
	Used     map[string]map[string]string `json:"used"`
	Made     map[string]map[string]string `json:"wasGeneratedBy"`
}

// Steps returns the steps in the order in which they were done.
func (a *Archive) Steps() ([]Step, error) {
	const rel = "provenance/prov.json"
	data, err := a.Read(rel)
	if err != nil {
		return nil, err
	}
	var p provenance
	if err := json.Unmarshal(data, &p); err != nil {
		return nil, a.fault(rel, err)
	}
	by := map[string]*Step{}
	var steps []*Step
	for id, act := range p.Activity {
		s := &Step{ID: id, Program: a.Program, Settings: map[string]string{}}
		rest, ok := strings.CutPrefix(id, "ex:step-")
		number, _, _ := strings.Cut(rest, "-")
		if s.Number, err = strconv.Atoi(number); err != nil || !ok {
			return nil, a.fault(rel, fmt.Errorf("%q is no step", id))
		}
		for k, v := range act {
			switch key, own := strings.CutPrefix(k, "ex:"); {
			case k == "prov:label":
				s.Name = fmt.Sprint(v)
			case k == "prov:endTime":
				s.At = fmt.Sprint(v)
			case key == "text" && own:
				s.Text = fmt.Sprint(v)
			case own:
				s.Settings[key] = fmt.Sprint(v)
			}
		}
		for _, key := range slices.Sorted(maps.Keys(s.Settings)) {
			plain := hashed.ReplaceAllString(key, "")
			if _, taken := s.Settings[plain]; !taken {
				s.Settings[plain] = s.Settings[key]
				delete(s.Settings, key)
			}
		}
		by[id] = s
		steps = append(steps, s)
	}
	sort.Slice(steps, func(i, j int) bool { return steps[i].Number < steps[j].Number })
	for _, u := range p.Used {
		s, e := by[u["prov:activity"]], p.Entity[u["prov:entity"]]
		if s == nil || e == nil || u["prov:role"] == "plan" {
			continue
		}
		bytes, _ := e["ex:bytes"].(float64)
		sum, _ := e["ex:sha256"].(string)
		s.Inputs = append(s.Inputs, Used{File: fmt.Sprint(e["prov:location"]), Bytes: int64(bytes), SHA256: sum,
			Lines: u["ex:lines"], Cast: u["ex:cast"]})
	}
	for _, g := range p.Made {
		if s, e := by[g["prov:activity"]], p.Entity[g["prov:entity"]]; s != nil && e != nil {
			s.Outputs = append(s.Outputs, fmt.Sprint(e["prov:location"]))
		}
	}
	out := make([]Step, len(steps))
	for i, s := range steps {
		slices.SortFunc(s.Inputs, func(x, y Used) int {
			return cmp.Or(strings.Compare(x.File, y.File), strings.Compare(x.Cast, y.Cast))
		})
		slices.Sort(s.Outputs)
		out[i] = *s
	}
	return out, nil
}
