// Package qc checks binned casts and proposes flags. It alters no value and no flag of the originator: a check
// names values, a person decides. Each check is a Rule with its identifier, its thresholds and their source; a cruise
// can replace the thresholds. Rules is the table of all of them, which the help and the documents follow.
//
//	checks, err := qc.New(nil)
//	for i := range casts {
//		found = append(found, checks.Cast(&casts[i], qc.Settings{})...) // fills Columns[j].Proposed
//	}
//	result := checks.Cruise(&qc.Cruise{Casts: list})
package qc

import (
	"fmt"
	"maps"
	"slices"
	"strconv"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A Rule is one check.
type Rule struct {
	ID         string // such as "spike.bin"
	Does       string // what is found, in words that follow "value:" or the name of a cast
	Source     string // publication, or "common practice, no source", or "ours"
	Thresholds []Threshold
	Proposes   bool           // it proposes flags for values
	cast       func(*profile) // checks one cast; nil for a check of the whole cruise
}

// A Threshold is one number of a rule that a cruise may replace.
type Threshold struct {
	Name    string // within the rule, such as "psal_deep"
	Default float64
	Units   string // "" for a ratio, a count or practical salinity
	Does    string // what it limits, in a few words
}

// Settings are what a cruise says about a cast. The zero value holds the defaults.
type Settings struct {
	NotCalibrated bool    // values flagged 1 are usable
	IceShelf      bool    // the cast was taken below an ice shelf: supercooled water is real
	BinDbar       float64 // declared width of the bins; 0: the commonest step
	ScansPerDbar  float64 // expected scans in a dbar; 0: 24 (24 Hz at 1 m/s, common practice, no source)
}

// Sources that several rules share.
const (
	argoManual     = "Argo quality control manual for CTD and trajectory data, doi:10.13155/33951"
	oceanDatabase  = "Garcia et al. 2018, World Ocean Database user's manual"
	commonPractice = "common practice, no source"
	ours           = "ours, no source"
	repeatTargets  = "targets of repeat hydrography: McTaggart et al. 2010, IOCCP report 14"
)

// Rules returns every check: those of a single cast in the order in which they run (range and order before stuck,
// stuck before spikes, inversions last, on bins that are neither flagged nor proposed bad), then those of the cruise.
func Rules() []Rule {
	return slices.Concat([]Rule{rangeGlobal(), rangeRegional(), freezing(), pressureOrder(), pressureStep(), stuck(),
		spike(), spikeBin(), gradient(), surface(), oxygenRange(), counts(), dual(), inversion(), duration()},
		levelRules(), placeRules(), channelRules(), pairRules(), bottleRules(), deepRules(), updownRules())
}

// Checks are the rules with the thresholds of one cruise. Several goroutines may use them at once.
type Checks struct {
	rules  []Rule
	limits map[string]map[string]float64 // by rule and name
}

// New returns the checks with thresholds that replace defaults; keys are "RULE.NAME". The error names the first key
// that is no threshold of any rule, and the nearest one.
func New(thresholds map[string]float64) (*Checks, error) {
	c := &Checks{rules: Rules(), limits: map[string]map[string]float64{}}
	var keys []string
	set := maps.Clone(thresholds)
	for _, r := range c.rules {
		of := map[string]float64{}
		for _, t := range r.Thresholds {
			key := r.ID + "." + t.Name
			keys = append(keys, key)
			of[t.Name] = t.Default
			if v, ok := set[key]; ok {
				of[t.Name] = v
				delete(set, key)
			}
		}
		c.limits[r.ID] = of
	}
	if unknown := slices.Sorted(maps.Keys(set)); len(unknown) > 0 {
		k := unknown[0]
		err := fmt.Errorf("no check has a threshold %s", k)
		if near, ok := metadata.Nearest(k, keys); ok {
			err = fmt.Errorf("%w; did you mean %s", err, near)
		}
		return nil, err
	}
	return c, nil
}

// rule returns a rule by its identifier, which must exist.
func (c *Checks) rule(id string) *Rule {
	i := slices.IndexFunc(c.rules, func(r Rule) bool { return r.ID == id })
	if i < 0 {
		panic("qc: no rule " + id)
	}
	return &c.rules[i]
}

// limit returns a threshold, which must exist.
func (c *Checks) limit(rule, name string) float64 {
	v, ok := c.limits[rule][name]
	if !ok {
		panic("qc: rule " + rule + " has no threshold " + name)
	}
	return v
}

// Cast runs every check of a single cast, sets Proposed of its columns to the worst flag proposed for each level
// (metadata.NotEvaluated where none is), and returns a finding for each run of neighbouring levels of one variable
// that a rule proposes against. A value whose flag says that it is not there, or is bad already, is proposed
// nothing.
func (c *Checks) Cast(k *section.Cast, s Settings) []metadata.Finding {
	p := newProfile(c, k, s)
	for i := range c.rules {
		if p.rule = &c.rules[i]; p.rule.cast != nil {
			p.rule.cast(p)
			p.report()
		}
	}
	return p.found
}

// String returns the rule with its thresholds and source, for a list of checks.
func (r *Rule) String() string {
	s := r.ID + ": " + r.Does
	for i, t := range r.Thresholds {
		s += map[bool]string{true: "; ", false: ", "}[i == 0] + t.Name + " " + strconv.FormatFloat(t.Default, 'g',
			-1, 64)
		if t.Units != "" {
			s += " " + t.Units
		}
	}
	return s + " (" + r.Source + ")"
}
