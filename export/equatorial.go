package export

import (
	"io"
	"strconv"

	"github.com/castwright/castwright/section/geostrophy"
)

// WriteEquatorial writes the estimates of eastward velocity at stations near the equator as CSV, a line a level, and a
// line with the reason for a station that has none. Velocity is relative to reference_dbar.
func WriteEquatorial(w io.Writer, r *geostrophy.Result) error {
	c := newTable(w)
	if err := c.Write([]string{"section", "station", "cast", "latitude_deg", "longitude_deg", "pressure_dbar",
		"eastward_velocity_ms", "reference_dbar", "method", "why_missing"}); err != nil {
		return err
	}
	const method = "-(d2 dynamic height / dy2) / 2.28e-11 m-1 s-1 (Picaut and Tournier 1991; Lagerloef et al. 1999)"
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	for i := range r.Equatorial {
		e := &r.Equatorial[i]
		k := r.Stations[e.Station].Cast
		row := []string{r.Section, k.Station, k.Number, number(k.At.Lat()), number(k.At.Lon()), "", "",
			number(e.ReferenceDbar), method, e.Reason}
		if len(e.PressureDbar) == 0 {
			if err := c.Write(row); err != nil {
				return err
			}
		}
		for l, p := range e.PressureDbar {
			row[5], row[6] = number(p), strconv.FormatFloat(e.Eastward[l], 'f', 4, 64)
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}
