package netcdf

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// unknownSystem labels the row of casts whose set of sensors is not named.
const unknownSystem = "unknown"

// system returns the index of a system of the cruise file; -1 when it has none of that label.
func (x *Common) system(label string) int {
	return slices.IndexFunc(x.Cruise.Systems, func(s metadata.System) bool { return s.Label == label })
}

// sensors adds the table of systems and their sensors, and each cast's row in it. A cruise file without systems has
// neither.
func (b *profiles) sensors() error {
	systems := b.x.Cruise.Systems
	if len(systems) == 0 {
		return nil
	}
	b.table = true
	var labels, notes []string
	for i := range systems {
		labels = append(labels, systems[i].Label)
		notes = append(notes, systemNote(&systems[i]))
	}
	rows := make([]int32, len(b.casts))
	for i, c := range b.casts {
		row := b.x.system(c.System)
		if row < 0 && c.System != "" && c.System != unknownSystem {
			return fmt.Errorf("%s: %w: %q", b.x.id(c), ErrSystem, c.System)
		}
		if row < 0 {
			if row = slices.Index(labels, unknownSystem); row < 0 {
				labels, notes = append(labels, unknownSystem), append(notes, "nothing is known of the sensors")
				row = len(labels) - 1
			}
		}
		rows[i] = int32(row)
	}
	values := make([]int32, len(labels))
	for i := range values {
		values[i] = int32(i)
	}
	var a attrs
	a.text("long_name", "sensor system of the cast: row of system_label, from 0")
	a.add("flag_values", values)
	a.text("flag_meanings", strings.Join(flagWords(labels), " "))
	b.p.values(nc.Var{Name: "system", Type: nc.Int, Dims: []int{b.profile}, Attrs: a}, rows)
	dims := []int{b.p.dim("n_system", len(labels))}
	b.p.text("system_label", dims, "len_system", labels, longName("name of the sensor system"))
	b.p.text("system_note", dims, "len_note", notes, longName("bins, offsets and processing of the system, in words"))
	b.sensorRows()
	return nil
}

func (b *profiles) sensorRows() {
	var system []int32
	var variables, models, serials, calibrated, stages []string
	for i := range b.x.Cruise.Systems {
		s := &b.x.Cruise.Systems[i]
		taken := map[string]bool{}
		for k := range s.Sensors {
			sensor := &s.Sensors[k]
			var here []string
			for _, v := range sensor.Variables {
				if b.has(v) && !taken[v] { // each variable of a system has one sensor, the first that claims it
					here = append(here, v)
					taken[v] = true
				}
			}
			system = append(system, int32(i))
			variables = append(variables, strings.Join(here, " "))
			models, serials = append(models, sensor.Model), append(serials, sensor.Serial)
			calibrated = append(calibrated, sensor.Calibrated)
			stages = append(stages, stage(s, sensor))
		}
	}
	if len(system) == 0 {
		return
	}
	dims := []int{b.p.dim("n_sensor", len(system))}
	b.p.values(nc.Var{Name: "sensor_system", Type: nc.Int, Dims: dims,
		Attrs: []nc.Attr{longName("system that the sensor belongs to: row of system_label, from 0")}}, system)
	b.p.text("sensor_variable", dims, "len_variable", variables,
		longName("variables that the sensor measured, separated by blanks"))
	b.p.text("sensor_model", dims, "len_model", models, longName("make and model of the sensor"))
	b.p.text("sensor_serial", dims, "len_serial", serials, longName("serial number of the sensor"))
	b.p.text("sensor_calibrated", dims, "len_date", calibrated,
		longName("date of the last laboratory calibration, empty when unknown"))
	b.p.text("sensor_stage", dims, "len_stage", stages,
		longName(
			"stage of calibration that the values have: none, laboratory, adjusted to bottles; empty when unknown"))
}

// source returns where the values of a column came from: of a measured one the sensors as the systems describe them, ""
// when none is described.
func (x *Common) source(name string, derived bool) string {
	if derived {
		return "computed from measured values of the cast"
	}
	var all []string
	for i := range x.Cruise.Systems {
		s := &x.Cruise.Systems[i]
		for k := range s.Sensors {
			sensor := &s.Sensors[k]
			if !slices.Contains(sensor.Variables, name) {
				continue
			}
			own := metadata.Sensor{Variables: []string{name}, Calibrated: sensor.Calibrated}
			text := joinNonEmpty(", ", sensor.Model, inFront("serial number ", sensor.Serial),
				inFront("laboratory calibration of ", sensor.Calibrated), inFront("calibration stage: ", stage(s,
					&own)))
			if len(x.Cruise.Systems) > 1 {
				text += " (system " + s.Label + ")"
			}
			all = append(all, text)
		}
	}
	if len(all) == 0 {
		return ""
	}
	return "CTD sensor: " + strings.Join(all, "; ")
}

func inFront(front, s string) string {
	if s == "" {
		return ""
	}
	return front + s
}

// stage returns the stage of calibration of a sensor: that of the system's salinity or oxygen where it measured those;
// else laboratory when the sensor has a date of calibration.
func stage(s *metadata.System, sensor *metadata.Sensor) string {
	for _, v := range sensor.Variables {
		switch {
		case strings.HasPrefix(v, "psal"), strings.HasPrefix(v, "cond"):
			if s.Salinity.Stage != metadata.StageUnknown {
				return s.Salinity.Stage.String()
			}
		case strings.HasPrefix(v, "oxy"):
			if s.Oxygen.Stage != metadata.StageUnknown {
				return s.Oxygen.Stage.String()
			}
		}
	}
	if sensor.Calibrated != "" {
		return metadata.StageLaboratory.String()
	}
	return ""
}

// systemNote returns in words what the table has no column for.
func systemNote(s *metadata.System) string {
	var parts []string
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	if s.Package != "" {
		add("%s", s.Package)
	}
	if s.Bin.WidthDbar > 0 {
		bin := fmt.Sprintf("%g dbar bins", s.Bin.WidthDbar)
		if s.Bin.Label != "" {
			bin += " labelled at the " + s.Bin.Label
		}
		add("%s", bin)
	}
	if o := s.Deck.OffsetDbar; !math.IsNaN(o) && (o != 0 || s.Deck.Applied) {
		word := "not removed"
		if s.Deck.Applied {
			word = "removed"
		}
		add("deck pressure %+g dbar %s", o, word)
	}
	for _, q := range []struct {
		name, units string
		c           *metadata.Calibration
	}{{"salinity", "", &s.Salinity}, {"oxygen", " umol/kg", &s.Oxygen}} {
		if q.c.Stage == metadata.StageUnknown {
			continue
		}
		note := q.name + ": " + q.c.Stage.String()
		if q.c.By != "" {
			note += " by " + q.c.By
		}
		if q.c.Date != "" {
			note += " on " + q.c.Date
		}
		if !math.IsNaN(q.c.Residual) && q.c.Residual != 0 {
			note += fmt.Sprintf(", residual %g%s", q.c.Residual, q.units)
		}
		add("%s", note)
	}
	for _, u := range s.Upstream {
		add("upstream: %s", u)
	}
	return strings.Join(parts, "; ")
}

// calibration returns in one phrase how far the salinity of all systems has been calibrated; "" when they differ or are
// not stated.
func (x *Common) calibration() string {
	stage := metadata.StageUnknown
	for i := range x.Cruise.Systems {
		s := x.Cruise.Systems[i].Salinity.Stage
		if s == metadata.StageUnknown || (i > 0 && s != stage) {
			return ""
		}
		stage = s
	}
	switch stage {
	case metadata.StageUnknown:
		return ""
	case metadata.StageNone:
		return "salinity not calibrated"
	case metadata.StageLaboratory:
		return "salinity with laboratory calibration"
	}
	return "salinity " + stage.String()
}

// flagWords turns labels into words of a flag_meanings attribute (CF 3.5), all different.
func flagWords(labels []string) []string {
	out := make([]string, len(labels))
	for i, s := range labels {
		w := strings.Map(func(r rune) rune {
			if r < 128 && (r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' ||
				strings.ContainsRune("_-.+@", r)) {
				return r
			}
			return '_'
		}, s)
		if w == "" {
			w = "_"
		}
		for slices.Contains(out[:i], w) {
			w += "_"
		}
		out[i] = w
	}
	return out
}
