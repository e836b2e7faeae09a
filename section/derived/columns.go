package derived

import (
	"errors"
	"fmt"
	"math"
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
	Extra               []string // quantities of Extras beside those of Default; those of Default may stand there too
	NotCalibratedUsable bool     // values flagged "not calibrated" enter
	N2WindowDbar        float64  // span of the fits of n2, dbar; 0: 40
}

// Extras lists what Options.Extra may name.
func Extras() []string {
	return []string{"sigma1", "sigma2", "sigma3", "sigma4", "dens", "specvol_anom"}
}

// Default lists the columns that are always derived where their inputs are there, in order.
func Default() []string {
	return []string{"depth", "asal", "ctemp", "ptemp", "sigma0", "spice0", "sound_speed", "n2", "oxy", "oxysat", "aou"}
}

// A Workspace keeps scratch memory from cast to cast. The zero value is ready. One for each goroutine.
type Workspace struct {
	mask  [4][]float64
	solve []float64
	index []int
}

func grow[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n)
	}
	return (*s)[:n]
}

const teos10 = "IOC, SCOR and IAPSO (2010), TEOS-10 manual, IOC Manuals and Guides 56"

// Columns appends derived columns to the cast, or fills those that an earlier call made: depth, Absolute Salinity, Conservative and
// potential temperature, sigma0, spiciness, sound speed, squared buoyancy frequency, oxygen per mass from oxygen per volume, oxygen
// saturation and apparent oxygen utilization, as far as pressure, temperature, salinity (or conductivity) and oxygen are there, and
// what Options.Extra names. A column of the same name that was read is left as it is. Columns are as long as the cast; NaN where an
// input is missing or not usable.
//
// The findings say what a person must know: a place without a value in the atlas of salinity anomalies, or water of a lake. The error is
// ErrUnknown. w may be nil.
func Columns(c *section.Cast, opts Options, w *Workspace) ([]metadata.Finding, error) {
	for _, name := range opts.Extra {
		if !slices.Contains(Extras(), name) && !slices.Contains(Default(), name) { // to ask for what is made anyway is no mistake
			return nil, fmt.Errorf("%q: %w; one of %s", name, ErrUnknown, strings.Join(Extras(), ", "))
		}
	}
	if w == nil {
		w = new(Workspace)
	}
	d := &deriver{c: c, w: w, opts: opts, n: c.Levels()}
	if d.opts.N2WindowDbar == 0 {
		d.opts.N2WindowDbar = defaultWindowDbar
	}
	d.at = seawater.PlaceOf(c.At[0], c.At[1])
	if c.Lake {
		d.at = d.at.AsLake()
	}
	d.run()
	return d.findings, nil
}

// deriver is the work on one cast.
type deriver struct {
	c        *section.Cast
	w        *Workspace
	opts     Options
	n        int
	at       seawater.Place
	findings []metadata.Finding
}

func (d *deriver) run() {
	pres := d.c.Column("pres")
	if pres == nil {
		return
	}
	p := d.masked(0, pres, nil)
	depth := d.column("depth", "height of TEOS-10 (standard ocean) at the latitude of the cast, sign reversed", teos10+", section 3.32; Saunders (1981)")
	if depth != nil {
		seawater.Heights(depth.Values, p, d.c.At[1])
		for i := range depth.Values {
			depth.Values[i] = 0 - depth.Values[i]
		}
		d.carry(depth, pres)
	}
	temp := d.input("temp")
	if temp == nil {
		return
	}
	psal := d.salinity()
	if psal == nil {
		return
	}
	d.teos(p, pres, temp, psal)
}

// input returns a column that has a value; nil when it is not there or all its values are missing, which files cannot tell apart.
func (d *deriver) input(name string) *section.Column {
	c := d.c.Column(name)
	if c == nil || !slices.ContainsFunc(c.Values, func(v float64) bool { return v == v }) {
		return nil
	}
	return c
}

// salinity gives the column of practical salinity, computed from conductivity when the cast has no other.
func (d *deriver) salinity() *section.Column {
	psal := d.c.Column("psal")
	cond := d.input("cond")
	if psal != nil && !psal.Derived || cond == nil {
		return d.input("psal")
	}
	psal = d.column("psal", "from conductivity, temperature and pressure (PSS-78)", "UNESCO technical papers in marine science 37 (1981) and 44 (1983)")
	cond, temp, pres := d.c.Column("cond"), d.c.Column("temp"), d.c.Column("pres") // appending may have moved the columns
	const mScm = 10                                                                // mS/cm in one S/m
	for i := range psal.Values {
		psal.Values[i] = math.NaN()
		if d.usable(cond, i) && d.usable(temp, i) && d.usable(pres, i) && !overflows(cond, i) && !overflows(temp, i) {
			psal.Values[i] = seawater.PracticalSalinity(mScm*cond.Values[i], temp.Values[i], pres.Values[i])
		}
	}
	d.carry(psal, cond, temp, pres)
	return psal
}

func (d *deriver) usable(c *section.Column, i int) bool {
	return c.Flags == nil || c.Flags[i].Usable(d.opts.NotCalibratedUsable)
}

// overflows reports whether a temperature, salinity, conductivity or pressure is so far outside the range of the equations (40 degC, 42 g/kg, 7.5 S/m,
// 12000 dbar) that its powers there may overflow.
func overflows(c *section.Column, i int) bool {
	switch c.Name {
	case "temp", "psal", "cond":
		return math.Abs(c.Values[i]) > 1000
	case "pres":
		return math.Abs(c.Values[i]) > 20000
	}
	return false
}

// masked gives the values of a column with NaN where its flag, or that of another column, is not usable, or where it overflows: the column's own
// values when nothing is masked.
func (d *deriver) masked(slot int, c, other *section.Column) []float64 {
	clean := true
	for _, x := range [...]*section.Column{c, other} {
		if x == nil {
			continue
		}
		for _, f := range x.Flags {
			if !f.Usable(d.opts.NotCalibratedUsable) {
				clean = false
				break
			}
		}
	}
	for i := range c.Values {
		clean = clean && !overflows(c, i)
	}
	if clean {
		return c.Values
	}
	out := grow(&d.w.mask[slot], d.n)
	for i, v := range c.Values {
		if !d.usable(c, i) || other != nil && !d.usable(other, i) || overflows(c, i) {
			v = math.NaN()
		}
		out[i] = v
	}
	return out
}

// column finds or makes a derived column and describes it; nil when one of that name was read.
func (d *deriver) column(name, comment, references string) *section.Column {
	if c := d.c.Column(name); c != nil {
		if !c.Derived {
			return nil
		}
		c.Comment, c.References = comment, references
		return c
	}
	v := metadata.MustVariable(name)
	v.Comment, v.References = comment, references
	d.c.Columns = append(d.c.Columns, section.Column{Variable: v, Decimals: -1, Values: make([]float64, d.n), Derived: true})
	return &d.c.Columns[len(d.c.Columns)-1]
}

// carry gives a derived column, whose values are there already, the worst flag of its inputs at each level, an input without flags counting as not
// evaluated, and not sampled where usable inputs give no value; no flags when no input has any. Use of values that nobody has evaluated is said in the comment.
func (d *deriver) carry(c *section.Column, inputs ...*section.Column) {
	any, unjudged := false, false
	for _, in := range inputs {
		any = any || in.Flags != nil
		unjudged = unjudged || in.Flags == nil || slices.Contains(in.Flags, metadata.NotEvaluated)
	}
	if unjudged {
		c.Comment += "; values whose flag is not evaluated were used"
	}
	if !any {
		c.Flags = nil
		return
	}
	if len(c.Flags) != d.n {
		c.Flags = make([]metadata.Flag, d.n)
	}
	flags := c.Flags
	if inputs[0].Flags != nil {
		copy(flags, inputs[0].Flags)
	} else {
		clear(flags)
	}
	for _, in := range inputs[1:] {
		for i := range flags {
			f := metadata.NotEvaluated
			if in.Flags != nil {
				f = in.Flags[i]
			}
			if f != flags[i] {
				flags[i] = metadata.Worse(flags[i], f)
			}
		}
	}
	for i, f := range flags {
		if c.Values[i] != c.Values[i] && f.Usable(d.opts.NotCalibratedUsable) {
			flags[i] = metadata.NotSampled
		}
	}
}

// teos computes the columns of TEOS-10 from temperature and salinity.
func (d *deriver) teos(p []float64, pres, temp, psal *section.Column) {
	t, sp := d.masked(1, temp, nil), d.masked(2, psal, nil)
	saltNote := d.salinityNote()
	const cast = "75-term specific volume (Roquet et al. 2015)"
	type item struct {
		name, comment, references string
		to                        *[]float64
	}
	var out seawater.Derived
	wanted := []item{
		{"asal", saltNote, "McDougall et al. (2012), Ocean Sci. 8, 1123; Feistel et al. (2010), Ocean Sci. 6, 3; " + teos10, &out.AbsoluteSalinity},
		{"ctemp", "from Absolute Salinity, in-situ temperature and pressure; Gibbs function of seawater", teos10 + ", section 3.3", &out.ConservativeTemperature},
		{"ptemp", "referred to 0 dbar; Gibbs function of seawater", teos10 + ", section 3.1", &out.PotentialTemperature},
		{"sigma0", "from Absolute Salinity and Conservative Temperature; " + cast, "Roquet et al. (2015), Ocean Modelling 90, 29", &out.Sigma0},
		{"spice0", "referred to 0 dbar, from Absolute Salinity and Conservative Temperature", "McDougall and Krzysik (2015), J. Mar. Res. 73, 141", &out.Spiciness0},
		{"sound_speed", "exact, Gibbs function of seawater", teos10 + ", section 2.17", &out.SoundSpeed},
	}
	var made []string
	// Two rounds: appending columns may move those found before.
	for _, x := range wanted {
		if d.column(x.name, x.comment, x.references) != nil {
			made = append(made, x.name)
		}
	}
	for _, x := range wanted {
		if slices.Contains(made, x.name) {
			*x.to = d.c.Column(x.name).Values
		}
	}
	hasOxygen := d.c.Column("oxy") != nil || d.c.Column("oxy_ml") != nil
	sa, ct := out.AbsoluteSalinity, out.ConservativeTemperature
	if sa == nil {
		out.AbsoluteSalinity = make([]float64, d.n)
		sa = out.AbsoluteSalinity
	}
	if ct == nil {
		out.ConservativeTemperature = make([]float64, d.n)
		ct = out.ConservativeTemperature
	}
	if hasOxygen {
		out.OxygenSolubility = grow(&d.w.solve, d.n)
	}
	seawater.Derive(&out, sp, t, p, nil, &d.at)
	for _, name := range made {
		if name == "asal" {
			d.carry(d.c.Column(name), d.c.Column("pres"), d.c.Column("psal"))
			continue
		}
		d.carry(d.c.Column(name), d.c.Column("pres"), d.c.Column("temp"), d.c.Column("psal"))
	}
	d.stability(sa, ct, p)
	d.extra(sa, ct, p)
	if hasOxygen {
		d.oxygen(sa, ct, out.OxygenSolubility)
	}
}

// salinityNote says where Absolute Salinity comes from, and adds the finding that a person needs.
func (d *deriver) salinityNote() string {
	note := func(sev metadata.Severity, message, remedy string) {
		d.findings = append(d.findings, metadata.Finding{Position: metadata.Position{File: d.c.Source.Name}, Severity: sev, Check: "salinity.place",
			Cast: d.c.ID(), Variable: "asal", Message: message, Remedy: remedy})
	}
	switch d.at.Composition {
	case seawater.FromAtlas:
		return "from practical salinity with the atlas of salinity anomalies"
	case seawater.FromBaltic:
		return "from practical salinity by the line for the Baltic Sea"
	case seawater.LakeWater:
		note(metadata.Note, "water of a lake: PSS-78 and TEOS-10 are outside their range, lake salts differ from sea salt", "")
		return "reference salinity: declared a lake, PSS-78 and TEOS-10 outside their range: lake salts differ from sea salt"
	case seawater.NoAtlasValue:
		note(metadata.Note, "no atlas value, SAAR = 0: Absolute Salinity is the reference salinity", "for a lake set casts: water: lake; else check the position")
		return "reference salinity: no value in the atlas of salinity anomalies at this place"
	}
	note(metadata.Warning, "outside the atlas of salinity anomalies: no Absolute Salinity, and nothing that follows from it", "check the position of the cast")
	return "no value: the position is outside the atlas of salinity anomalies"
}

// extra computes what was asked for.
func (d *deriver) extra(sa, ct, p []float64) {
	for _, name := range []string{"sigma1", "sigma2", "sigma3", "sigma4", "dens", "specvol_anom"} {
		if !slices.Contains(d.opts.Extra, name) {
			continue
		}
		c := d.column(name, "from Absolute Salinity and Conservative Temperature; 75-term specific volume (Roquet et al. 2015)", "Roquet et al. (2015), Ocean Modelling 90, 29")
		if c == nil {
			continue
		}
		switch name {
		case "dens":
			seawater.Densities(c.Values, sa, ct, p)
		case "specvol_anom":
			c.Comment += "; less that of the standard ocean (35.16504 g/kg, 0 degC) at the same pressure"
			seawater.SpecificVolumeAnomalies(c.Values, sa, ct, p)
		default:
			seawater.Sigmas(c.Values, int(name[5]-'0'), sa, ct)
		}
		d.carry(c, d.c.Column("pres"), d.c.Column("temp"), d.c.Column("psal"))
	}
}

// oxygen computes oxygen per mass where only that per volume was measured, saturation and apparent utilization.
func (d *deriver) oxygen(sa, ct, solubility []float64) {
	const solved = "Garcia and Gordon (1992), Limnol. Oceanogr. 37, 1307, fit to the data of Benson and Krause (1984)"
	oxy := d.c.Column("oxy")
	if oxy == nil || oxy.Derived {
		ml := d.c.Column("oxy_ml")
		if ml == nil {
			return
		}
		oxy = d.column("oxy", "from oxygen per volume: 44.6596 umol/ml and potential density referred to 0 dbar", "Bittig et al. (2018), Front. Mar. Sci. 4, 429")
		o2 := d.masked(3, d.c.Column("oxy_ml"), nil)
		for i := range oxy.Values {
			oxy.Values[i] = seawater.OxygenPerMass(o2[i], 1000+seawater.Sigma0(sa[i], ct[i]))
		}
		d.carry(oxy, d.c.Column("oxy_ml"), d.c.Column("pres"), d.c.Column("temp"), d.c.Column("psal"))
	}
	o2 := d.masked(3, d.c.Column("oxy"), nil)
	for _, name := range [...]string{"oxysat", "aou"} {
		comment := "oxygen over its solubility at practical salinity and potential temperature, in percent"
		if name == "aou" {
			comment = "solubility of oxygen at practical salinity and potential temperature, less oxygen"
		}
		c := d.column(name, comment, solved)
		if c == nil {
			continue
		}
		for i, s := range solubility {
			if name == "aou" {
				c.Values[i] = s - o2[i]
			} else {
				c.Values[i] = 100 * o2[i] / s
			}
		}
		d.carry(c, d.c.Column("oxy"), d.c.Column("pres"), d.c.Column("temp"), d.c.Column("psal"))
	}
}
