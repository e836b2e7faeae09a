package pipeline

import (
	"encoding/json"
	"fmt"
	"slices"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/geostrophy"
)

// gramsPerSalinity is Absolute Salinity of standard seawater over its Practical Salinity (IOC, SCOR and IAPSO 2010,
// section 2.4): what an error of Practical Salinity is in g/kg.
const gramsPerSalinity = 35.16504 / 35

// salinityErrors gives the sections the errors of salinity that are known of systems adjusted to bottles, and whose
// accuracy the cruise file does not state: what is left of the differences from the bottles, divided into a part of
// each cast and a common one; without enough bottles the residual that the cruise file states, of each cast.
func (w *survey) salinityErrors() {
	for i := range w.cruise.Systems {
		y := &w.cruise.Systems[i]
		r := w.salinityError(y)
		if r == nil {
			continue
		}
		for k := range w.cruise.Sections {
			for n := range w.cruise.Sections[k].Velocity.Accuracies {
				if a := &w.cruise.Sections[k].Velocity.Accuracies[n]; a.System == y.Label {
					a.Residual = r
				}
			}
		}
		if len(w.cruise.Sections) > 0 {
			w.errorsFrom = append(w.errorsFrom, fmt.Sprintf("Salinity of system %s enters the errors of "+
				"velocities and transports with %.2g g/kg of each cast and %.2g g/kg that its casts have in common "+
				"(%s).",
				y.Label, r.PerCast, r.Common, r.From))
		}
	}
}

// salinityError returns the error of the salinity of a system; nil when none is known.
func (w *survey) salinityError(y *cruisefile.System) *geostrophy.Residual {
	stated := y.Accuracy.Salinity == y.Accuracy.Salinity
	if y.Salinity.Stage != metadata.StageAdjusted || stated {
		return nil
	}
	if w.compared != nil {
		if f := w.compared.Residuals("psal", y.Label); f != nil {
			return &geostrophy.Residual{PerCast: f.PerCast * gramsPerSalinity, Common: f.Common * gramsPerSalinity,
				From: fmt.Sprintf("what is left of %d differences of %s in %d casts beside their fit, with %g for "+
					"the standard of the laboratory", f.Values, f.Of, f.Casts, qc.ReferenceSalinity)}
		}
	}
	if e := y.Salinity.Residual; e == e {
		return &geostrophy.Residual{PerCast: e * gramsPerSalinity, Common: qc.ReferenceSalinity * gramsPerSalinity,
			From: fmt.Sprintf("the stated residual %g beside bottles, with %g for the standard of the laboratory", e,
				qc.ReferenceSalinity)}
	}
	return nil
}

// StoredErrors takes the errors of salinity that a file of station pairs states: they follow from bottles, and the
// settings of its section in the cruise file do not have them.
func StoredErrors(opts *geostrophy.Options, f *nc.File) error {
	var settings map[string]json.RawMessage
	text := f.Text("geostrophy_settings_json")
	if text == "" {
		return nil
	}
	if err := json.Unmarshal([]byte(text), &settings); err != nil {
		return err
	}
	numbers := map[string]map[string]float64{}
	for _, name := range []string{geostrophy.PerCastSetting, geostrophy.CommonSetting} {
		var of map[string]float64
		if text, ok := settings[name]; ok {
			if err := json.Unmarshal(text, &of); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
		numbers[name] = of
	}
	opts.Accuracies = slices.Clone(opts.Accuracies)
	for i := range opts.Accuracies {
		x := &opts.Accuracies[i]
		perCast, ok := numbers[geostrophy.PerCastSetting][x.System]
		if common, both := numbers[geostrophy.CommonSetting][x.System]; ok && both {
			x.Residual = &geostrophy.Residual{PerCast: perCast, Common: common}
		}
	}
	return nil
}
