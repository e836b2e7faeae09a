package cruisefile

import (
	"math"
	"regexp"
	"strconv"

	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

// thresholdNames returns the thresholds of all checks, as keys.
func thresholdNames() []string {
	var out []string
	for _, r := range qc.Rules() {
		for _, t := range r.Thresholds {
			out = append(out, r.ID+"."+t.Name)
		}
	}
	return out
}

// proposing returns the checks that propose flags.
func proposing() []string {
	var out []string
	for _, r := range qc.Rules() {
		if r.Proposes {
			out = append(out, r.ID)
		}
	}
	return out
}

var qualityForm = mapping(shape[Quality]{at: func(q *Quality) *metadata.Position { return &q.At }},
	entry("apply", func(q *Quality) *[]string { return &q.Apply }, list(words(proposing()...)),
		"checks whose proposals become flags without a person; recorded as such. A flag is only lowered", "none",
		"[range.global]"),
	entry("thresholds", func(q *Quality) *map[string]float64 { return &q.Thresholds },
		perWord("threshold: number pairs; castwright help checks lists them", thresholdNames, "threshold",
			"castwright help checks lists them",
			number("a number in the units of the threshold", math.Inf(-1), math.Inf(1))),
		"numbers that replace those of the checks", "those of castwright help checks", "{spike.bin.psal_deep: 0.006}"),
	entry("accept", func(q *Quality) *[]Accept { return &q.Accept }, list(acceptForm),
		"findings that a person accepted: they no longer count as open", "none",
		`[{id: bottom, cast: ZZSM20260504:17/1, variable: pres, pressure: 2081, initials: RH, reason: "ended for weather"}]`),
	entry("signed", func(q *Quality) *Signed { return &q.Signed }, mapping(shape[Signed]{},
		required(entry("by", func(s *Signed) *string { return &s.By }, text, "name or initials", "", "Ragna Holm")),
		required(entry("date", func(s *Signed) *string { return &s.Date }, date, "day of the signature", "",
			"2026-06-30")),
	), "who signs the judgement of the data; a final release needs it", "nobody", "{by: Ragna Holm, date: 2026-06-30}"),
)

var acceptForm = mapping(shape[Accept]{
	fresh: func() Accept { return Accept{Pressure: [2]float64{math.NaN(), math.NaN()}} },
	at:    func(a *Accept) *metadata.Position { return &a.At }},
	required(entry("id", func(a *Accept) *string { return &a.ID }, text,
		"the check, as in the [ ] behind the finding", "", "bottom")),
	entry("cast", func(a *Accept) *CastName { return &a.Cast }, castName, "the cast of the finding",
		"a finding without a cast", "ZZSM20260504:17/1"),
	entry("variable", func(a *Accept) *string { return &a.Variable }, text, "the variable of the finding",
		"a finding without a variable", "pres"),
	entry("pressure", func(a *Accept) *[2]float64 { return &a.Pressure }, pressures, "the pressures of the finding",
		"a finding without pressures", "100-120"),
	entry("file", func(a *Accept) *string { return &a.File }, text,
		"file and line of a finding that has a line and no pressures, as they are printed", "none", `"stations.csv:4"`),
	required(entry("initials", func(a *Accept) *string { return &a.Initials }, text, "who accepts it", "", "RH")),
	required(entry("reason", func(a *Accept) *string { return &a.Reason }, text, "why", "", "ended for weather")),
)

var pressureText = regexp.MustCompile(`^(-?[0-9]+(?:\.[0-9]+)?)(?:\s*-\s*([0-9]+(?:\.[0-9]+)?))?$`)

// pressures is one pressure, or a first and a last one.
var pressures = form[[2]float64]{legal: "a pressure in dbar, or two such as 100-120",
	read: func(d *decoder, n *yaml.Node, name string, dst *[2]float64) {
		const legal = "a pressure in dbar, or two such as 100-120"
		s, ok := d.scalar(n, name, legal)
		if !ok {
			return
		}
		m := pressureText.FindStringSubmatch(s)
		if m == nil {
			d.fault(n, "give "+legal, "%s: %s is neither", name, shorten(s))
			return
		}
		first, _ := strconv.ParseFloat(m[1], 64)
		last := first
		if m[2] != "" {
			last, _ = strconv.ParseFloat(m[2], 64)
		}
		if last < first {
			d.fault(n, "write the smaller pressure first", "%s: %g is below %g", name, last, first)
			return
		}
		*dst = [2]float64{first, last}
	}}

// checkQuality looks at what quality and release say together.
func checkQuality(d *decoder, n *yaml.Node, c *Cruise, has map[string]*yaml.Node) {
	if c.Release.Status == metadata.Final && c.Quality.Signed.By == "" {
		at := n
		if has["release"] != nil {
			at = has["release"]
		}
		d.fault(at, "when all findings are decided, add such as\nquality:\n  signed: {by: NAME, date: 2026-06-30}",
			"a final release needs a signature")
	}
}
