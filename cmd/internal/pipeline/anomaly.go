package pipeline

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/export/statement"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/castwright/castwright/section/geostrophy"
)

// anomalyStepDbar is the step of the pressures at which a section is compared (ours).
const anomalyStepDbar = 10

// ComparedLevels returns the pressures at which casts are compared, down to their deepest.
func ComparedLevels(casts []*section.Cast) (levels []float64) {
	deepest := 0.0
	for _, k := range casts {
		for _, p := range k.PressureDbar {
			deepest = math.Max(deepest, p)
		}
	}
	for p := float64(anomalyStepDbar); p <= deepest; p += anomalyStepDbar {
		levels = append(levels, p)
	}
	return levels
}

// anomalies compares the sections for which the cruise file says with what.
func (w *survey) anomalies(ctx context.Context) error {
	for i := range w.sections {
		s := &w.sections[i]
		g, err := w.anomaly(ctx, s.settings, s.section)
		if err != nil {
			return err
		}
		s.anomaly = g
	}
	return nil
}

// anomaly compares a section, whose casts have Absolute Salinity and Conservative Temperature, as the cruise file says;
// nil when it says nothing or the reference cannot be used, which is a finding.
func (w *survey) anomaly(ctx context.Context, s *cruisefile.Section, sec *section.Section) (*gridding.Grid, error) {
	a := &s.Anomaly
	if a.With.Path == "" || len(sec.Casts) == 0 {
		return nil, nil
	}
	fail := func(err error, remedy string) (*gridding.Grid, error) {
		w.fault(&metadata.InputError{Position: a.With.At, Remedy: remedy,
			Err: fmt.Errorf("anomaly of section %s: %s: %w", s.Name, a.With.Path, err)}, "section.anomaly")
		return nil, nil
	}
	at := w.at(a.With.Path)
	if info, err := os.Lstat(at); err != nil || !info.Mode().IsRegular() {
		return fail(errors.New("does not exist, or is not a regular file"),
			"name the NAME_grid.nc of an earlier archive, or a climatology")
	}
	others := OthersToCompare(sec, s.Grid.Options.Variables)
	west, east, south, north := box(sec.Casts)
	answer, err := askForGrid(ctx, depthGridRequest{Path: at, West: west, East: east, South: south, North: north,
		Reference: true, Month: a.Month, Others: others})
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil || answer.Reference == nil {
		if err == nil {
			err = errors.New("the child process that read it returned nothing")
		}
		return fail(errors.New(strings.ReplaceAll(err.Error(), at, path.Base(a.With.Path))),
			"castwright help anomaly lists the variables that the file needs")
	}
	now := gridding.Occupation{Section: sec, Accuracy: s.Velocity.CastAccuracy,
		NotCalibrated: w.cruise.Casts.Uncalibrated, Others: others, OtherAccuracy: OtherAccuracy(w.cruise)}
	changed, err := gridding.Change(referenceOf(answer.Reference), now, ComparedLevels(sec.Casts))
	if err != nil {
		return fail(err, "name a file that covers stations of the section, or remove the key anomaly")
	}
	g := changed.Grid(s.Name)
	g.Params = append(g.Params, referenceParams(a, answer.Reference)...)
	for k := range changed.Lacking {
		w.find(metadata.Finding{Position: a.With.At, Severity: metadata.Note, Check: "section.anomaly",
			Variable: changed.Lacking[k].Name, Message: fmt.Sprintf("section %s: %s was not compared: the reference "+
				"has no variable with its standard_name on the dimensions of the temperature", s.Name,
				changed.Lacking[k].Name)})
	}
	for _, k := range changed.LeftOut {
		w.find(metadata.Finding{Position: a.With.At, Severity: metadata.Note, Check: "section.anomaly",
			Message: fmt.Sprintf("section %s: station %s was not compared: the reference has no values there, "+
				"or the cast has no temperature or salinity", s.Name, k.Station)})
	}
	return g, nil
}

// referenceOf returns what was read as something to compare with. The accuracy of an earlier section is what is assumed
// where none is stated.
func referenceOf(x *ncprofile.ReferenceField) gridding.Reference {
	if x.Track == nil {
		return &gridding.Climatology{LonDeg: x.Lon, LatDeg: x.Lat, Around: x.Around, PressureDbar: x.PressureDbar,
			SA: x.SA, CT: x.CT, SAErr: x.SAErr, CTErr: x.CTErr, Others: nodeValues(x.Others)}
	}
	usual := geostrophy.DefaultAccuracy()
	o := &gridding.Occupation{Section: &section.Section{DistanceKm: x.DistanceKm},
		Accuracy: func(*section.Cast) (float64, float64) { return usual.Salinity, usual.TemperatureK }}
	for _, at := range x.Track {
		o.Section.Casts = append(o.Section.Casts, &section.Cast{At: at})
	}
	o.Grid = &gridding.Grid{Axes: []gridding.Axis{{Values: x.PressureDbar}, {Values: x.DistanceKm}}}
	for i, v := range [][]float64{x.SA, x.CT, x.SAErr, x.CTErr} {
		if v != nil {
			o.Grid.Fields = append(o.Grid.Fields, gridding.Field{Data: v,
				Variable: metadata.Variable{Name: []string{"asal", "ctemp", "asal_err", "ctemp_err"}[i]}})
		}
	}
	for _, v := range x.Others {
		o.Grid.Fields = append(o.Grid.Fields, gridding.Field{Variable: metadata.Variable{Name: v.Name}, Data: v.Values})
		if v.Err != nil {
			o.Grid.Fields = append(o.Grid.Fields, gridding.Field{Variable: metadata.Variable{Name: v.Name + "_err"},
				Data: v.Err})
		}
	}
	return o
}

func nodeValues(of []ncprofile.ReferenceVariable) (out []gridding.NodeValues) {
	for _, v := range of {
		out = append(out, gridding.NodeValues(v))
	}
	return out
}

// OthersToCompare returns the variables besides temperature and salinity in which a section is compared: those of the
// mapped ones, oxygen when none are named, that do not follow from temperature, salinity and pressure.
func OthersToCompare(s *section.Section, mapped []string) (out []metadata.Variable) {
	if len(mapped) == 0 {
		mapped = []string{"oxy"}
	}
	for _, name := range mapped {
		follows := slices.Contains([]string{"pres", "temp", "temp2", "psal", "psal2", "cond", "cond2"}, name)
		if v := derived.Of(name); v != nil {
			follows = !slices.ContainsFunc(v.Needs, func(n string) bool { return strings.HasPrefix(n, "oxy") })
		}
		at := slices.IndexFunc(s.Casts, func(k *section.Cast) bool {
			col := k.Column(name)
			return col != nil && col.HasValue()
		})
		if !follows && at >= 0 {
			out = append(out, s.Casts[at].Column(name).Variable)
		}
	}
	return out
}

// OtherAccuracy returns the standard error of values beside temperature and salinity, as far as the cruise file states
// it: of oxygen adjusted to bottles the residual of the system, and what oxygen of bottles has in common.
func OtherAccuracy(c *cruisefile.Cruise) func(k *section.Cast, variable string, value float64) float64 {
	return func(k *section.Cast, variable string, value float64) float64 {
		i := slices.IndexFunc(c.Systems, func(y cruisefile.System) bool { return y.Label == k.System })
		if variable != "oxy" || i < 0 || c.Systems[i].Oxygen.Stage != metadata.StageAdjusted {
			return math.NaN()
		}
		return math.Hypot(c.Systems[i].Oxygen.Residual, qc.ReferenceOxygenPercent/100*value)
	}
}

// referenceName is what a reference is called.
func referenceName(a *cruisefile.Anomaly) string {
	name := orDefault(a.Label, path.Base(a.With.Path))
	if a.Month > 0 {
		name += ", month " + strconv.Itoa(a.Month)
	}
	return name
}

func referenceParams(a *cruisefile.Anomaly, x *ncprofile.ReferenceField) []metadata.Param {
	params := []metadata.Param{{Name: "reference", Value: fmt.Sprintf("%s (%s), %s", referenceName(a),
		path.Clean(a.With.Path), x.Quantities)}, {Name: referenceErrors, Value: errorsOf(x)}}
	if x.Month > 0 {
		params = append(params, metadata.Param{Name: "month", Value: strconv.Itoa(x.Month), Typed: float64(x.Month)})
	}
	return params
}

// referenceErrors is the setting of an anomaly that says which errors of the reference are in its errors.
const referenceErrors = "reference_errors"

func errorsOf(x *ncprofile.ReferenceField) string {
	text := "standard errors of its file"
	if x.SAErr == nil || x.CTErr == nil {
		text = "its file has no standard errors of both: what is not there counts as 0"
	}
	if x.Track != nil {
		usual := geostrophy.DefaultAccuracy()
		text += fmt.Sprintf("; accuracy of its casts %g g/kg and %g K", usual.Salinity, usual.TemperatureK)
	}
	for _, v := range x.Others {
		if v.Err == nil {
			text += "; not of " + v.Name + ", whose changes then have no error"
		} else if x.Track != nil {
			text += "; of " + v.Name + " the error of the map, not the accuracy of its casts"
		}
	}
	return text
}

// AnomalyFile returns the path of the file of an anomaly below data.
func AnomalyFile(name string) string { return "sections/" + name + "_anomaly.nc" }

func (w *archive) writeAnomalies(ctx context.Context, x *netcdf.Common) error {
	for i := range w.sections {
		s := &w.sections[i]
		if s.anomaly == nil {
			continue
		}
		name, rel := s.settings.Name, AnomalyFile(s.settings.Name)
		place, err := w.place(rel, fmt.Sprintf("Section %s less %s at its stations: at constant pressure, on density "+
			"and by heave, with the errors that are known.", name, referenceName(&s.settings.Anomaly)))
		if err != nil {
			return err
		}
		step := metadata.Record{Step: "anomaly", Text: "section " + name + " less " +
			referenceName(&s.settings.Anomaly)}
		if err := netcdf.WriteGrid(ctx, place, with(x, s.step(), step), s.anomaly, netcdf.GridSource{
			Casts: s.section.Casts, Section: name, Title: s.settings.Title, Along: s.section.Method,
			Reference: referenceName(&s.settings.Anomaly)}); err != nil {
			return err
		}
		step.Inputs, step.Outputs = w.castDigests(s.section.Casts), []string{rel}
		if k := w.gridSource(s.settings.Anomaly.With.Path); k >= 0 {
			step.Inputs = append(step.Inputs, w.sources[k])
		}
		step.Params = s.anomaly.Params
		w.record(step)
	}
	return nil
}

// stateAnomalies says in the processing statement with what sections were compared.
func (w *archive) stateAnomalies(d *statement.Document) {
	var rows [][]string
	for i := range w.sections {
		if s := &w.sections[i]; s.anomaly != nil {
			known := ""
			for _, p := range s.anomaly.Params {
				if p.Name == referenceErrors {
					known = p.Value
				}
			}
			rows = append(rows, []string{s.settings.Name, referenceName(&s.settings.Anomaly), known,
				strconv.Itoa(len(s.anomaly.Axes[1].Values)), strconv.Itoa(len(s.section.Casts))})
		}
	}
	if len(rows) == 0 {
		return
	}
	d.Heading("Differences from a reference")
	d.Text("Stations of these sections less the reference at their positions, in temperature, salinity and each " +
		"other " +
		"mapped variable that the reference has: at constant pressure, on surfaces of potential density and by heave " +
		"of these, with standard errors from the accuracy of the casts and what is known of the reference. The error " +
		"of oxygen is known where the cruise file states what is left beside bottles. Eddies, tides and seasons " +
		"are not in the errors.")
	d.Table([]string{"Section", "Reference", "Errors of the reference", "Stations compared", "Stations"}, rows)
}

// SectionGrid returns the mapped variables of the file of a gridded section with their errors; nil when it lacks
// salinity
// or temperature.
func SectionGrid(f *nc.File) *gridding.Grid {
	p, x := f.NumbersOf("pres"), f.NumbersOf("distance")
	g := &gridding.Grid{Axes: []gridding.Axis{{Values: p}, {Values: x}}}
	has := func(name string) bool { return f.Var(name) >= 0 }
	for i := range f.Vars {
		of := strings.TrimSuffix(f.Vars[i].Name, "_err")
		if v := &f.Vars[i]; len(v.Dims) != 2 || !has(of+"_mask") || v.Name != of && v.Name != of+"_err" {
			continue
		}
		field := gridding.Field{Variable: metadata.Variable{Name: f.Vars[i].Name, Units: f.Vars[i].Text("units")},
			Data: f.NumbersOf(f.Vars[i].Name)}
		if of != field.Name {
			field.Of, field.Kind = of, gridding.StandardError
		}
		if len(field.Data) == len(p)*len(x) {
			g.Fields = append(g.Fields, field)
		}
	}
	if !has("asal") || !has("ctemp") || len(g.Fields) < 2 {
		return nil
	}
	return g
}
