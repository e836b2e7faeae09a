package pipeline

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// declared compares what the cruise file says with the casts and with itself: each disagreement is a finding with both
// values. The width of bins is compared by the check pressure.step.
type declared struct {
	c     *cruisefile.Cruise
	casts []*section.Cast
	found []metadata.Finding
}

// compareDeclared returns what disagrees.
func compareDeclared(c *cruisefile.Cruise, casts []*section.Cast) []metadata.Finding {
	d := &declared{c: c, casts: casts}
	d.systems()
	d.serials()
	d.legs()
	d.dates()
	return d.found
}

func (d *declared) say(s metadata.Severity, at metadata.Position, check string, count int, remedy, format string,
	a ...any) {
	d.found = append(d.found, metadata.Finding{Position: at, Severity: s, Check: check, Count: count,
		Message: fmt.Sprintf(format, a...), Remedy: remedy})
}

// maxCastsTold is how many casts a finding names.
const maxCastsTold = 5

// some lists the first of several texts.
func some(all []string) string {
	if len(all) > maxCastsTold {
		return strings.Join(all[:maxCastsTold], ", ") + fmt.Sprintf(" and %d more", len(all)-maxCastsTold)
	}
	return strings.Join(all, ", ")
}

// systems finds casts that two systems claim, pressures that the deck offset is still in, and sensors calibrated after
// the casts.
func (d *declared) systems() {
	for i := range d.c.Systems {
		s := &d.c.Systems[i]
		for j := range i {
			var both []string
			t := &d.c.Systems[j]
			for _, k := range d.casts {
				if listed(&s.Stations, k) && listed(&t.Stations, k) {
					both = append(both, metadata.CastText(k.Station, k.Number))
				}
			}
			if len(both) > 0 {
				d.say(metadata.Warning, s.At, "cruise.system_overlap", len(both),
					"take the stations out of one of the two systems",
					"the stations of system %s (%s) and of system %s (%s) have %s in common: %s; system %s was used for them",
					t.Label, t.Stations.String(), s.Label, s.Stations.String(), plural(len(both), "cast"), some(both),
					t.Label)
			}
		}
		casts := slices.DeleteFunc(slices.Clone(d.casts), func(k *section.Cast) bool { return k.System != s.Label })
		if o := s.Deck.OffsetDbar; !math.IsNaN(o) && o != 0 && !s.Deck.Applied && len(casts) > 0 {
			least := math.Inf(1)
			for _, k := range casts {
				for _, p := range k.PressureDbar {
					if p < least { // a missing one is not
						least = p
					}
				}
			}
			d.say(metadata.Warning, s.At, "cruise.deck_offset", len(casts), "subtract the offset where the casts are "+
				"processed, and write deck: {offset: "+fmt.Sprint(o)+", applied: yes}",
				"system %s: the pressure on deck is %+g dbar and was not subtracted; the pressures of %s, from %g dbar on, "+
					"were used as read", s.Label, o, plural(len(casts), "cast"), least)
		}
		if len(casts) > 0 {
			d.calibrations(s, casts)
		}
	}
}

// calibrations finds sensors whose calibration is later than the first cast, which a calibration after the cruise is
// too.
func (d *declared) calibrations(s *cruisefile.System, casts []*section.Cast) {
	first, _ := firstLast(casts)
	for _, x := range s.Sensors {
		if day := dayOf(x.Calibrated); !day.IsZero() && !first.IsZero() && day.After(first) {
			d.say(metadata.Note, s.At, "cruise.calibrated", 0,
				"correct the day, unless the casts were processed with a calibration made after the "+
					"cruise",
				"system %s: the sensor of %s was calibrated on %s, after its "+
					"first cast on %s", s.Label, strings.Join(x.Variables, ", "), x.Calibrated,
				first.Format(time.DateOnly))
		}
	}
}

// serials finds serial numbers that two sensors have. One sensor in two systems, described alike, is one sensor.
func (d *declared) serials() {
	type use struct {
		system *cruisefile.System
		sensor *metadata.Sensor
	}
	seen := map[string][]use{}
	for i := range d.c.Systems {
		s := &d.c.Systems[i]
		for k := range s.Sensors {
			x := &s.Sensors[k]
			if x.Serial == "" {
				continue
			}
			for _, u := range seen[x.Serial] {
				why := ""
				switch a, b := describedAs(u.sensor), describedAs(x); {
				case u.system == s:
					why = fmt.Sprintf("twice in system %s, for %s and for %s", s.Label, a, b)
				case a != b:
					why = fmt.Sprintf("for %s in system %s and for %s in system %s", a, u.system.Label, b, s.Label)
				default:
					continue
				}
				d.say(metadata.Warning, s.At, "cruise.serial", 0,
					"correct one of the serial numbers; if it is one sensor, write the same model and date in both",
					"the serial number %s is given %s", x.Serial, why)
				break
			}
			seen[x.Serial] = append(seen[x.Serial], use{s, x})
		}
	}
}

// describedAs says what a sensor measured, with its model and calibration.
func describedAs(x *metadata.Sensor) string {
	text := strings.Join(slices.Sorted(slices.Values(x.Variables)), ", ")
	if x.Model != "" {
		text += " (" + x.Model + ")"
	}
	if x.Calibrated != "" {
		text += " calibrated " + x.Calibrated
	}
	return text
}

// legs finds casts that are not in the days of their leg, and legs of one ship at the same time.
func (d *declared) legs() {
	for i := range d.c.Legs {
		l := &d.c.Legs[i]
		var out []string
		for _, k := range d.casts {
			if k.Expocode != l.Expocode || k.Time.IsZero() {
				continue
			}
			if day := k.Time.UTC().Format(time.DateOnly); l.Start != "" && day < l.Start || l.End != "" && day > l.End {
				out = append(out, metadata.CastText(k.Station, k.Number)+" on "+day)
			}
		}
		if len(out) > 0 {
			d.say(metadata.Warning, l.At, "cruise.leg_dates", len(out),
				"correct the days of the leg, or the times of the casts",
				"leg %s is from %s to %s, and %s of it %s outside (UTC): %s", l.Expocode, orDefault(l.Start,
					"no stated day"),
				orDefault(l.End, "no stated day"), plural(len(out), "cast"),
				map[bool]string{true: "is", false: "are"}[len(out) == 1], some(out))
		}
		for j := range i {
			m := &d.c.Legs[j]
			if shipOf(l) == shipOf(m) && l.Start != "" && m.Start != "" && l.End != "" && m.End != "" &&
				l.Start < m.End && m.Start < l.End {
				d.say(metadata.Warning, l.At, "cruise.leg_dates", 0, "correct the days of one of the legs",
					"legs %s (%s to %s) and %s (%s to %s) of one ship overlap", m.Expocode, m.Start, m.End, l.Expocode,
					l.Start, l.End)
			}
		}
	}
}

// shipOf returns what is known of the ship of a leg.
func shipOf(l *metadata.Leg) string {
	if l.Ship == "" && len(l.Expocode) >= 4 {
		return l.Expocode[:4]
	}
	return l.Ship
}

// dates compares the days of release, embargo, signature and calibration with those of the casts and with each other.
func (d *declared) dates() {
	first, last := firstLast(d.casts)
	r, q := &d.c.Release, &d.c.Quality
	before := func(at metadata.Position, what, day, than, other, remedy string) {
		if a, b := dayOf(day), dayOf(other); !a.IsZero() && !b.IsZero() && a.Before(b) {
			d.say(metadata.Warning, at, "cruise.dates", 0, remedy, "%s is %s, before %s, %s", what, day, than, other)
		}
	}
	at, lastDay, firstDay := d.c.File, dateText(last), dateText(first)
	const correct = "correct one of the two days"
	before(at, "release: date", r.Date, "the last cast", lastDay, correct)
	before(at, "release: embargo", r.Embargo, "the last cast", lastDay, correct)
	before(at, "release: embargo", r.Embargo, "the day of issue (release: date)", r.Date,
		"remove the embargo, which is over, or correct one of the two days")
	before(q.At, "quality: signed", q.Signed.Date, "the last cast", lastDay,
		"sign after the last cast, or correct one of the two days")
	before(at, "release: date", r.Date, "the day of the signature (quality: signed)", q.Signed.Date, correct)
	for i := range d.c.Systems {
		s := &d.c.Systems[i]
		for _, x := range []struct {
			what string
			c    *metadata.Calibration
		}{{"salinity", &s.Salinity}, {"oxygen", &s.Oxygen}} {
			if x.c.Stage == metadata.StageAdjusted {
				before(s.At, "system "+s.Label+": the day on which "+x.what+" was adjusted to bottles", x.c.Date,
					"the first cast", firstDay, correct)
			}
		}
	}
}

// firstLast returns the days of the first and last cast; zero when no cast has a time.
func firstLast(casts []*section.Cast) (first, last time.Time) {
	for _, k := range casts {
		if k.Time.IsZero() {
			continue
		}
		day := k.Time.UTC().Truncate(24 * time.Hour)
		if first.IsZero() || day.Before(first) {
			first = day
		}
		if day.After(last) {
			last = day
		}
	}
	return first, last
}

// dayOf reads a day; the zero time for "".
func dayOf(s string) time.Time {
	t, _ := time.Parse(time.DateOnly, s) // the reader of the cruise file has looked at its form
	return t
}

func dateText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
