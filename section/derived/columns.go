package derived

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// ErrUnknown is returned, wrapped, for a name that is no derived quantity.
var ErrUnknown = errors.New("not a derived quantity")

// Options choose what is derived.
type Options struct {
	Extra               []string // variables made on request; the default ones may be named too
	Only                []string // make no others than these and what they need; nil: no limit
	NotCalibratedUsable bool     // values flagged "not calibrated" enter
	N2WindowDbar        float64  // span of the fits of n2, dbar; 0: 40
}

const teos10 = "IOC, SCOR and IAPSO (2010), TEOS-10 manual, IOC Manuals and Guides 56"

// Columns appends the variables of the registry to the cast, or fills those that an earlier call made, as far as what
// they need is there: those that are made by default and what Options.Extra names. A column of the same name that was
// read is left as it is. Columns are as long as the cast; NaN where an input is missing or not usable.
//
// The findings say what a person must know: a place without a value in the atlas of salinity anomalies, or water of a
// lake. The error is ErrUnknown. w may be nil.
func Columns(c *section.Cast, opts Options, w *Workspace) ([]metadata.Finding, error) {
	for _, name := range opts.Extra {
		if Of(name) == nil {
			return nil, fmt.Errorf("%q: %w; one of %s", name, ErrUnknown, strings.Join(Extras(), ", "))
		}
	}
	if w == nil {
		w = new(Workspace)
	}
	if opts.N2WindowDbar == 0 {
		opts.N2WindowDbar = defaultWindowDbar
	}
	at := seawater.PlaceOf(c.At[0], c.At[1])
	if c.Lake {
		at = at.AsLake()
	}
	d := &deriver{c: c, opts: opts, n: c.Levels()}
	d.findKeptOut()
	d.make(&waters{d: d, at: at, scratch: w, windowDbar: opts.N2WindowDbar})
	return d.findings, nil
}

// Notes returns the findings of Columns and its error, and computes as good as nothing: they depend on which columns
// hold a value, not on how many.
func Notes(c *section.Cast, opts Options) ([]metadata.Finding, error) {
	one := *c
	if c.Levels() > 0 {
		one.PressureDbar = c.PressureDbar[:1]
	}
	one.Columns = nil
	for _, col := range c.Columns {
		if len(col.Values) > 0 {
			first := max(0, slices.IndexFunc(col.Values, func(v float64) bool { return v == v }))
			col.Values = []float64{col.Values[first]}
		}
		col.Flags, col.Proposed, col.Exceptions = nil, nil, nil
		one.Columns = append(one.Columns, col)
	}
	return Columns(&one, opts, nil)
}

// makes reports whether Only lets a variable be made.
func (o *Options) makes(name string) bool {
	return o.Only == nil || slices.Contains(o.Only, name) || slices.ContainsFunc(registry, func(v Variable) bool {
		return v.Name != name && slices.Contains(v.Needs, name) && slices.Contains(o.Only, v.Name)
	})
}

// deriver is the work on one cast.
type deriver struct {
	c        *section.Cast
	opts     Options
	n        int
	place    seawater.Composition
	keptOut  []int // levels
	findings []metadata.Finding
}

// make adds a column for every wanted variable whose needs are there, and then computes them: appending a column moves
// those before it.
func (d *deriver) make(w *waters) {
	d.place = w.at.Composition
	salted := false
	for i := range registry {
		v := &registry[i]
		if v.OnRequest && !slices.Contains(d.opts.Extra, v.Name) || !d.opts.makes(v.Name) ||
			slices.ContainsFunc(v.Needs, func(name string) bool { return !d.has(name) }) {
			continue
		}
		salted = salted || slices.Contains(v.Needs, "psal")
		if d.column(v) {
			w.made = append(w.made, v)
		}
	}
	if salted {
		d.findPlace()
	}
	for _, v := range w.made {
		if v.pass != nil {
			w.passOnce()
		} else {
			v.values(w, d.c.Column(v.Name).Values)
		}
		d.carry(v)
	}
}

// has reports whether the cast has a column that is derived or holds a value: files cannot tell a column without any
// value from one that is not there.
func (d *deriver) has(name string) bool {
	c := d.c.Column(name)
	return c != nil && c.Values != nil &&
		(c.Derived || slices.ContainsFunc(c.Values, func(v float64) bool { return v == v }))
}

// column finds or makes the column of a variable and describes it; false when one of that name was read.
func (d *deriver) column(v *Variable) bool {
	c := d.c.Column(v.Name)
	if c == nil {
		d.c.Columns = append(d.c.Columns, section.Column{Variable: metadata.MustVariable(v.Name), Decimals: -1,
			Values: make([]float64, d.n), Derived: true})
		c = &d.c.Columns[len(d.c.Columns)-1]
	} else if !c.Derived {
		return false
	}
	c.Comment, c.References = v.Comment, v.References
	if v.comment != nil {
		c.Comment += v.comment(d)
	}
	return true
}

// carry returns a column, whose values are there already, the worst flag of its inputs at each level, an input without
// flags counting as not evaluated, not sampled where usable inputs give no value, and questionable where the pressure
// keeps the level out of computations along the profile; no flags when no input has any.
// Use of values that nobody has evaluated is said in the comment.
func (d *deriver) carry(v *Variable) {
	of := v.Flags
	if of == nil {
		of = v.Needs
	}
	c := d.c.Column(v.Name)
	flagged, unjudged := false, false
	for _, name := range of {
		flags := d.c.Column(name).Flags
		flagged = flagged || flags != nil
		unjudged = unjudged || flags == nil || slices.Contains(flags, metadata.NotEvaluated)
	}
	if unjudged {
		c.Comment += "; values whose flag is not evaluated were used"
	}
	if !flagged {
		c.Flags = nil
		return
	}
	if len(c.Flags) != d.n {
		c.Flags = make([]metadata.Flag, d.n)
	}
	for k, name := range of {
		flags := d.c.Column(name).Flags
		for i := range c.Flags {
			f := metadata.NotEvaluated
			if flags != nil {
				f = flags[i]
			}
			if k == 0 {
				c.Flags[i] = f
			} else if f != c.Flags[i] {
				c.Flags[i] = metadata.Worse(c.Flags[i], f)
			}
		}
	}
	for i, f := range c.Flags {
		if c.Values[i] != c.Values[i] && f.Usable(d.opts.NotCalibratedUsable) {
			c.Flags[i] = metadata.NotSampled
		}
	}
	for _, i := range d.keptOut {
		if c.Flags[i].Usable(true) {
			c.Flags[i] = metadata.Questionable
		}
	}
}

// findKeptOut finds the levels that no computation along the profile uses, because their pressure is not above the
// largest before it: what is derived there is not flagged good.
func (d *deriver) findKeptOut() {
	kept := d.c.UsableLevels(nil, d.opts.NotCalibratedUsable)
	pres := d.c.Column("pres")
	for i := range d.n {
		if len(kept) > 0 && kept[0] == i {
			kept = kept[1:]
		} else if pres != nil && pres.UsableAt(i, d.opts.NotCalibratedUsable) {
			d.keptOut = append(d.keptOut, i)
		}
	}
}

// salinityComment says where Absolute Salinity comes from.
func (d *deriver) salinityComment() string {
	switch d.place {
	case seawater.FromAtlas:
		return "from practical salinity with the atlas of salinity anomalies"
	case seawater.FromBaltic:
		return "from practical salinity by the line for the Baltic Sea"
	case seawater.LakeWater:
		return "reference salinity: declared a lake, PSS-78 and TEOS-10 outside their range: lake salts differ from sea salt"
	case seawater.NoAtlasValue:
		return "reference salinity: no value in the atlas of salinity anomalies at this place"
	}
	return "no value: the position is outside the atlas of salinity anomalies"
}

// findPlace adds the finding about Absolute Salinity at this place that a person needs.
func (d *deriver) findPlace() {
	note := func(sev metadata.Severity, message, remedy string) {
		d.findings = append(d.findings, metadata.Finding{Position: metadata.Position{File: d.c.Source.Name},
			Severity: sev, Check: "salinity.place",
			Cast: d.c.ID(), Variable: "asal", Message: message, Remedy: remedy})
	}
	switch d.place {
	case seawater.FromAtlas, seawater.FromBaltic:
	case seawater.LakeWater:
		note(metadata.Note,
			"water of a lake: PSS-78 and TEOS-10 are outside their range, lake salts differ from sea salt", "")
	case seawater.NoAtlasValue:
		note(metadata.Note, "no atlas value, SAAR = 0: Absolute Salinity is the reference salinity",
			"for a lake set casts: water: lake; else check the position")
	default:
		note(metadata.Warning,
			"outside the atlas of salinity anomalies: no Absolute Salinity, and nothing that follows from it",
			"check the position of the cast")
	}
}
