package derived

import "github.com/castwright/castwright/section/seawater"

// A Variable is one quantity that is derived at the levels of a cast. The cruise file, the derivation, NetCDF files,
// verification and figures follow this table: a further variable is one row here, a row of metadata's table of
// variables, and a function where no kernel has it.
type Variable struct {
	Name       string   // in metadata's table of variables
	Needs      []string // columns that it is computed from; derived ones stand above it
	Flags      []string // columns whose flags it carries; nil: Needs
	OnRequest  bool     // made where the cruise file asks for it
	InSections bool     // in the files of sections too
	Precision  float64  // largest difference between a stored value and the same computed again, in its units
	Label      string   // on figures; "" : the long name
	Sign       string   // on lines of figures; "": none
	Colours    string   // colour map of figures; "": that of variables without one
	Comment    string   // how it is made
	References string

	comment func(*deriver) string          // adds to Comment what depends on the cast or the options; may be nil
	values  func(w *waters, dst []float64) // nil: the pass fills it
	pass    func(*seawater.Derived) *[]float64
}

const (
	byVolume = "from Absolute Salinity and Conservative Temperature; 75-term specific volume (Roquet et al. 2015)"
	roquet   = "Roquet et al. (2015), Ocean Modelling 90, 29"
	solved   = "Garcia and Gordon (1992), Limnol. Oceanogr. 37, 1307, fit to the data of Benson and Krause (1984)"
)

var (
	hydrography = []string{"pres", "temp", "psal"}
	withOxygen  = []string{"oxy", "pres", "temp", "psal"}
)

// registry lists the variables in the order of the files. Precisions are those that the equations here must reach.
var registry = []Variable{
	{Name: "depth", Needs: []string{"pres"}, InSections: true, Precision: 1e-7, Label: "Depth", values: (*waters).depth,
		Comment:    "height of TEOS-10 (standard ocean) at the latitude of the cast, sign reversed",
		References: teos10 + ", section 3.32; Saunders (1981)"},
	{Name: "psal", Needs: []string{"cond", "temp", "pres"}, Precision: 1e-8, Label: "Practical salinity",
		Colours: "salinity1",
		values:  (*waters).practicalSalinity, Comment: "from conductivity, temperature and pressure (PSS-78)",
		References: "UNESCO technical papers in marine science 37 (1981) and 44 (1983)"},
	{Name: "asal", Needs: hydrography, Flags: []string{"pres", "psal"}, InSections: true, Precision: 5e-9,
		Colours:    "salinity1",
		pass:       func(d *seawater.Derived) *[]float64 { return &d.AbsoluteSalinity },
		comment:    (*deriver).salinityComment,
		References: "McDougall et al. (2012), Ocean Sci. 8, 1123; Feistel et al. (2010), Ocean Sci. 6, 3; " + teos10},
	{Name: "ctemp", Needs: hydrography, InSections: true, Precision: 1e-11, Colours: "temperature1",
		pass:       func(d *seawater.Derived) *[]float64 { return &d.ConservativeTemperature },
		Comment:    "from Absolute Salinity, in-situ temperature and pressure; Gibbs function of seawater",
		References: teos10 + ", section 3.3"},
	{Name: "ptemp", Needs: hydrography, Precision: 1e-11, Label: "Potential temperature", Colours: "temperature1",
		pass:    func(d *seawater.Derived) *[]float64 { return &d.PotentialTemperature },
		Comment: "referred to 0 dbar; Gibbs function of seawater", References: teos10 + ", section 3.1"},
	{Name: "sigma0", Needs: hydrography, InSections: true, Precision: 1e-11, Label: "Potential density anomaly σ₀",
		Sign: "σ₀", Colours: "density1",
		pass: func(d *seawater.Derived) *[]float64 { return &d.Sigma0 }, Comment: byVolume, References: roquet},
	{Name: "spice0", Needs: hydrography, Precision: 1e-11,
		pass:       func(d *seawater.Derived) *[]float64 { return &d.Spiciness0 },
		Comment:    "referred to 0 dbar, from Absolute Salinity and Conservative Temperature",
		References: "McDougall and Krzysik (2015), J. Mar. Res. 73, 141"},
	{Name: "sound_speed", Needs: hydrography, Precision: 1e-10, pass: func(d *seawater.Derived) *[]float64 {
		return &d.SoundSpeed
	},
		Comment: "exact, Gibbs function of seawater", References: teos10 + ", section 2.17"},
	{Name: "n2", Needs: hydrography, Precision: 1e-16, values: (*waters).buoyancyFrequencySquared,
		comment:    (*deriver).windowComment,
		References: teos10 + ", section 3.10"},
	anomaly("sigma1", 1, "σ₁"), anomaly("sigma2", 2, "σ₂"), anomaly("sigma3", 3, "σ₃"), anomaly("sigma4", 4, "σ₄"),
	{Name: "dens", Needs: hydrography, OnRequest: true, Precision: 1e-11, Colours: "density1", Comment: byVolume,
		References: roquet,
		values:     func(w *waters, dst []float64) { seawater.Densities(dst, w.sa(), w.ct(), w.pres()) }},
	{Name: "specvol_anom", Needs: hydrography, OnRequest: true, Precision: 1e-17, References: roquet,
		Comment: byVolume + "; less that of the standard ocean (35.16504 g/kg, 0 degC) at the same pressure",
		values:  func(w *waters, dst []float64) { seawater.SpecificVolumeAnomalies(dst, w.sa(), w.ct(), w.pres()) }},
	{Name: "oxy", Needs: []string{"oxy_ml", "pres", "temp", "psal"}, Precision: 1e-7, Label: "Dissolved oxygen",
		Colours:    "oxygen1",
		values:     (*waters).oxygenPerMass,
		Comment:    "from oxygen per volume: 44.6596 umol/ml and potential density referred to 0 dbar",
		References: "Bittig et al. (2018), Front. Mar. Sci. 4, 429"},
	{Name: "oxysat", Needs: withOxygen, Precision: 1e-7, Label: "Oxygen saturation", Colours: "oxygen1",
		References: solved,
		Comment:    "oxygen over its solubility at practical salinity and potential temperature, in percent",
		values: func(w *waters, dst []float64) {
			oxygen, solubility := w.masked("oxy"), w.solubility()
			for i := range dst {
				dst[i] = 100 * oxygen[i] / solubility[i]
			}
		}},
	{Name: "aou", Needs: withOxygen, Precision: 1e-7, Colours: "density1", References: solved,
		Comment: "solubility of oxygen at practical salinity and potential temperature, less oxygen",
		values: func(w *waters, dst []float64) {
			oxygen, solubility := w.masked("oxy"), w.solubility()
			for i := range dst {
				dst[i] = solubility[i] - oxygen[i]
			}
		}},
}

// anomaly is the row of a potential density anomaly that is made on request.
func anomaly(name string, thousands int, sign string) Variable {
	return Variable{Name: name, Needs: hydrography, OnRequest: true, Precision: 1e-11,
		Label: "Potential density anomaly " + sign, Sign: sign, Colours: "density1",
		Comment: byVolume, References: roquet,
		values: func(w *waters, dst []float64) { seawater.Sigmas(dst, thousands, w.sa(), w.ct()) }}
}

// Variables returns every derived variable in the order of the files.
func Variables() []Variable { return registry[:len(registry):len(registry)] }

// Of returns the derived variable of a name; nil when there is none.
func Of(name string) *Variable {
	for i := range registry {
		if registry[i].Name == name {
			return &registry[i]
		}
	}
	return nil
}

// Extras returns the names of the variables that are made on request.
func Extras() []string { return names(func(v *Variable) bool { return v.OnRequest }) }

// Default returns the names of the variables that are made wherever their inputs are there.
func Default() []string { return names(func(v *Variable) bool { return !v.OnRequest }) }

func names(which func(*Variable) bool) []string {
	var out []string
	for i := range registry {
		if which(&registry[i]) {
			out = append(out, registry[i].Name)
		}
	}
	return out
}

// Usual returns the default variables in words: those that are measured where a cast has them with what they are made
// from else.
func Usual() []string {
	var out []string
	for i := range registry {
		if v := &registry[i]; v.OnRequest {
			continue
		} else if v.Name == "psal" || v.Name == "oxy" {
			out = append(out, v.Name+" from "+v.Needs[0])
		} else {
			out = append(out, v.Name)
		}
	}
	return out
}
