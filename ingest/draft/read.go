package draft

import (
	"errors"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// placeholder is the expocode of casts whose files say none, while a draft is made.
const placeholder = "ZZZZ19000101"

// readAll reads every file of casts as the draft proposes, to see that it can be done and what the casts are.
func (d *drafter) readAll() {
	o := ingest.Options{Legs: []ingest.Leg{{Expocode: placeholder}}}
	if d.log != nil {
		o.Log, _, _ = ingest.ReadStationTable(d.log.data, d.log.name, d.answeredLog())
	}
	take := func(f *file, casts []section.Cast, err error) {
		d.out.Inputs = append(d.out.Inputs, f.digest)
		if err != nil {
			d.out.Failed = append(d.out.Failed, f.name)
			d.reasons[f.name] = firstFault(err)
			return
		}
		for i := range casts {
			d.casts = append(d.casts, &casts[i])
		}
	}
	for _, f := range d.exchange {
		if strings.HasSuffix(strings.ToLower(f.name), ".zip") {
			casts, _, err := ingest.ReadZip(f.data, f.name, o)
			take(f, casts, err)
			continue
		}
		casts, _, err := ingest.Parse(f.data, f.name, o)
		take(f, casts, err)
	}
	for _, g := range d.groups {
		g.travel(o)
		for _, f := range g.files {
			casts, _, err := ingest.ParseLayout(f.data, f.name, &g.layout, o)
			take(f, casts, err)
		}
	}
	for _, f := range d.netcdf {
		d.out.Inputs = append(d.out.Inputs, f.digest)
	}
	d.timesOfLog(&o)
	d.oneLeg()
	for _, f := range d.bottles {
		d.out.Inputs = append(d.out.Inputs, f.digest)
	}
	if d.log != nil {
		d.out.Inputs = append(d.out.Inputs, d.log.digest)
	}
	slices.SortFunc(d.out.Inputs, func(a, b metadata.Digest) int { return strings.Compare(a.Name, b.Name) })
}

// timesOfLog gives casts whose files have no date that of the log, unless the order of its dates is asked.
func (d *drafter) timesOfLog(o *ingest.Options) {
	for _, c := range d.casts {
		if e := o.Entry(c.Station, c.Number); c.Time.IsZero() && e != nil && d.logQuestion == "" {
			c.Time, c.DateOnly = e.Time, e.DateOnly
		}
	}
}

// answeredLog returns the mapping of the log; where the order of its dates is asked, one that can be read.
func (d *drafter) answeredLog() *ingest.LogMapping {
	if d.logQuestion == "" {
		return d.mapping
	}
	m := *d.mapping
	m.Date = ingest.DayMonthYear
	return &m
}

// oneLeg gives casts whose files say no expocode that of the others when these have one alone.
func (d *drafter) oneLeg() {
	code := ""
	for _, c := range d.casts {
		if c.Expocode != placeholder {
			if code != "" && code != c.Expocode {
				return
			}
			code = c.Expocode
		}
	}
	for _, c := range d.casts {
		if code != "" && c.Expocode == placeholder {
			c.Expocode = code
		}
	}
}

func firstFault(err error) string {
	parts := metadata.Parts(err)
	var in *metadata.InputError
	if errors.As(parts[0], &in) {
		return in.Err.Error()
	}
	return parts[0].Error()
}

// travel finds which way the instrument moved: most casts of a group whose deepest level is their first go up, those
// whose deepest is amid go both ways.
func (g *group) travel(o ingest.Options) {
	up, both, all := 0, 0, 0
	for _, f := range g.files {
		casts, _, err := ingest.ParseLayout(f.data, f.name, &g.layout, o)
		if err != nil {
			continue
		}
		for i := range casts {
			p := casts[i].PressureDbar
			if len(p) < 4 {
				continue
			}
			deepest := 0
			for k := range p {
				if p[k] > p[deepest] {
					deepest = k
				}
			}
			all++
			switch {
			case 10*deepest <= len(p)-1:
				up++
			case 10*deepest < 9*(len(p)-1):
				both++
			}
		}
	}
	switch {
	case 2*up > all:
		g.layout.Direction = ingest.TravelUp
	case 2*both > all:
		g.layout.Direction = ingest.TravelBoth
	}
}
