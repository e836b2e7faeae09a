package section

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Validate says what contradicts itself in a cast: columns of different lengths, a pressure axis that is not the column
// "pres", names given twice, a position off the globe. It judges no value of the sea; the checks of ingest/qc do. All
// faults are joined.
func (c *Cast) Validate() error {
	var faults []error
	fault := func(format string, args ...any) {
		faults = append(faults, fmt.Errorf("cast %s: "+format, append([]any{c.ID()}, args...)...))
	}
	for _, w := range []struct{ name, text string }{{"expocode", c.Expocode}, {"station", c.Station},
		{"cast number", c.Number}} {
		if w.text == "" {
			fault("no %s", w.name)
		} else if strings.TrimSpace(w.text) != w.text || strings.ContainsAny(w.text, "/\\\x00\n\r\"") {
			fault("%s %q cannot be part of a file name", w.name, w.text)
		}
	}
	if lon, lat := c.At[0], c.At[1]; !(lon >= -180 && lon <= 180) || !(lat >= -90 && lat <= 90) {
		fault("longitude %v, latitude %v is not a position (-180 to 180, -90 to 90)", lon, lat)
	}
	if int(c.Direction) >= len(directionWords) || int(c.Role) >= len(roleWords) || int(c.TimeIs) >= len(timeWords) {
		fault("direction %d, role %d or time meaning %d is none of ours", c.Direction, c.Role, c.TimeIs)
	}
	if math.IsInf(c.BottomM, 0) || c.BottomM < 0 {
		fault("water depth %v m", c.BottomM)
	}
	n := len(c.PressureDbar)
	seen := map[string]bool{}
	for i := range c.Columns {
		col := &c.Columns[i]
		switch {
		case col.Name == "":
			fault("column %d has no name", i+1)
		case seen[col.Name]:
			fault("column %s a second time", col.Name)
		}
		seen[col.Name] = true
		switch {
		case col.Values != nil && col.Text != nil:
			fault("column %s has both numbers and text", col.Name)
		case col.Text != nil && len(col.Text) != n, col.Text == nil && len(col.Values) != n:
			fault("column %s has %d values on %d levels", col.Name, max(len(col.Values), len(col.Text)), n)
		}
		if col.Flags != nil && len(col.Flags) != n || col.Proposed != nil && len(col.Proposed) != n {
			fault("column %s has %d flags and %d proposed flags on %d levels", col.Name, len(col.Flags),
				len(col.Proposed), n)
		}
		for k, d := range col.Exceptions {
			if d.Level < 0 || d.Level >= n || k > 0 && d.Level <= col.Exceptions[k-1].Level || col.Decimals < 0 {
				fault("column %s: exception %d of its decimals is at level %d of %d", col.Name, k+1, d.Level+1, n)
			}
		}
		for k, v := range col.Values {
			if math.IsInf(v, 0) {
				fault("column %s: infinite value at level %d", col.Name, k+1)
				break
			}
		}
	}
	pres := c.Column("pres")
	switch {
	case n == 0:
		fault("no levels")
	case pres == nil:
		fault("no column pres")
	case len(pres.Values) == n && &pres.Values[0] != &c.PressureDbar[0]:
		fault("the pressure axis is not the values of the column pres")
	}
	return errors.Join(faults...)
}

// IDs returns each cast its identity, EXPOCODE_SSSSS_CCCCC. Where padding with zeros would make two stations one (1 and
// 001), the casts of those stations keep the station as given (exchange.md section 3: 33RO20131223_001_00001); likewise
// two cast numbers of one station. Casts that are the same in all three texts get the same ID: that is an error of the
// input, which the reader reports.
func IDs(casts []*Cast) []string {
	type padded struct{ expocode, station, number string }
	spelling, clash := map[padded]string{}, map[padded]bool{}
	note := func(k padded, s string) {
		if before, ok := spelling[k]; ok && before != s {
			clash[k] = true
		}
		spelling[k] = s
	}
	for _, c := range casts {
		note(padded{c.Expocode, pad5(c.Station), ""}, c.Station)
		note(padded{c.Expocode, c.Station, "#" + pad5(c.Number)}, c.Number)
	}
	ids := make([]string, len(casts))
	for i, c := range casts {
		station, number := pad5(c.Station), pad5(c.Number)
		if clash[padded{c.Expocode, station, ""}] {
			station = c.Station
		}
		if clash[padded{c.Expocode, c.Station, "#" + number}] {
			number = c.Number
		}
		ids[i] = c.Expocode + "_" + station + "_" + number
	}
	return ids
}
