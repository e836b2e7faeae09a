package property

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
)

// stationTable writes a station table that fills or overrides some headers.
func (c *cruise) stationTable() {
	var b strings.Builder
	cols := []string{"station", "cast"}
	cols = append(cols, some(c, 1+c.IntN(5), []string{"time", "depth", "direction", "role", "remark", "system"})...)
	place := c.chance(0.5)
	if place {
		cols = append(cols, "latitude", "longitude")
	}
	if len(c.legs) > 1 || c.chance(0.2) {
		cols = append(cols, "expocode")
	}
	b.WriteString(strings.Join(cols, ",") + "\n")
	for _, k := range c.casts {
		if c.chance(0.15) {
			continue
		}
		var row []string
		for _, name := range cols {
			row = append(row, c.stationCell(k, name))
		}
		b.WriteString(strings.Join(row, ",") + "\n")
	}
	c.files["stations.csv"] = []byte(b.String())
	c.lines = append(c.lines, "  station_table: stations.csv")
}

func (c *cruise) stationCell(k *cast, name string) string {
	switch name {
	case "station":
		return k.station
	case "cast":
		return k.number
	case "expocode":
		return k.expocode
	case "latitude":
		return strconv.FormatFloat(k.lat, 'f', pick(c, 3, 5), 64)
	case "longitude":
		return strconv.FormatFloat(k.lon, 'f', pick(c, 3, 5), 64)
	case "time":
		return pick(c, k.at.Format("2006-01-02 15:04"), k.at.Format("2006-01-02T15:04:05Z"), "")
	case "depth":
		return pick(c, "", strconv.FormatFloat(c.depth*c.between(1, 1.1)+20, 'f', c.IntN(2), 64))
	case "direction":
		return pick(c, "", "down", "down", "up")
	case "role":
		return pick(c, "", "primary", "primary", "primary", "repeat", "test", "calibration")
	case "remark":
		return pick(c, "", "swell", "\"fog, no wind\"", "=SUM(A1)", "@noon", "größer", "-2 on deck")
	}
	return ""
}

// edits writes a table of flag edits, of which some are proposals.
func (c *cruise) edits() {
	var b strings.Builder
	b.WriteString("station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date,expocode\n")
	for range 1 + c.IntN(5) {
		k := pick(c, c.casts...)
		from, to := pick(c, k.pressures...), pick(c, k.pressures...)
		if from > to {
			from, to = to, from
		}
		span := fmt.Sprintf("%g,%g", from, to)
		if c.chance(0.3) {
			span = pick(c, ",", fmt.Sprintf("%g,", from), fmt.Sprintf(",%g", to))
		}
		who := pick(c, "RH", "RH", "OL", "")
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%s,%s,%s\n", k.station, k.number, pick(c, "psal", "temp", "CTDSAL", "CTDTMP",
			"oxy", "pres"), span,
			pick(c, "2", "3", "3", "4", "6", "7", "1"), who, pick(c, "spike", "=bad", "\"hook, wire\""),
			pick(c, "2026-06-02", ""), k.expocode)
	}
	c.files["edits.csv"] = []byte(b.String())
	c.lines = append(c.lines, "  edits: [edits.csv]")
}

// bottles writes a bottle file with samples at some levels of some casts.
func (c *cruise) bottles() {
	names := []string{"EXPOCODE", "STNNBR", "CASTNO", "SAMPNO", "DATE", "TIME", "LATITUDE", "LONGITUDE", "CTDPRS"}
	units := []string{"", "", "", "", "", "", "", "", "DBAR"}
	type sample struct {
		name, unit string
		low, high  float64
		flags      string
	}
	samples := []sample{{"SALNTY", "PSS-78", 34, 36, "2346"}, {"OXYGEN", "UMOL/KG", 180, 300, "2345678"},
		{"CTDTMP", "ITS-90", 0, 20, "2347"}, {"CTDSAL", "PSS-78", 34, 36, "1234567"}}
	for _, pair := range some(c, c.IntN(4), listedPairs) {
		if pair[0] != "SALNTY" && pair[0] != "OXYGEN" {
			samples = append(samples, sample{pair[0], pair[1], 0, 50, "12345678"})
		}
	}
	var kept []sample
	for _, s := range samples {
		if !c.chance(0.75) {
			continue
		}
		if c.chance(0.3) {
			s.flags = ""
		}
		kept = append(kept, s)
		names, units = append(names, s.name), append(units, s.unit)
		if s.flags != "" {
			names, units = append(names, s.name+"_FLAG_W"), append(units, "")
		}
	}
	number := c.chance(0.5)
	if number {
		names, units = append(names, "BTLNBR", "BTLNBR_FLAG_W"), append(units, "", "")
	}
	var b strings.Builder
	fmt.Fprintf(&b, "BOTTLE,20260601ZZTEST\n%s\n%s\n", strings.Join(names, ","), strings.Join(units, ","))
	lines := 0
	for i, k := range c.casts {
		if i > 0 && c.chance(0.4) {
			continue
		}
		for j := range 1 + c.IntN(6) {
			p := pick(c, k.pressures...) + c.between(-0.4, 0.4)
			row := []string{k.expocode, k.station, k.number, pick(c, "", "S")[:0] + strconv.Itoa(j+1),
				k.at.Format("20060102"), k.at.Format("1504"),
				strconv.FormatFloat(k.lat, 'f', 4, 64), strconv.FormatFloat(k.lon, 'f', 4, 64),
				strconv.FormatFloat(max(p, 0), 'f', 1, 64)}
			for _, s := range kept {
				value, flag := strconv.FormatFloat(c.between(s.low, s.high), 'f', pick(c, 1, 2, 4, 4, 12), 64), "2"
				if s.flags != "" {
					flag = string(s.flags[c.IntN(len(s.flags))])
				}
				if c.chance(0.2) {
					value, flag = pick(c, "-999", "-999.0", ""), pick(c, "9", "5", "1")
				}
				row = append(row, value)
				if s.flags != "" {
					row = append(row, flag)
				}
			}
			if number {
				row = append(row, pick(c, "N1", "12", "-999"), pick(c, "2", "2", "3", "9"))
			}
			b.WriteString(strings.Join(row, ",") + "\n")
			lines++
		}
	}
	b.WriteString("END_DATA\n")
	if lines == 0 {
		return
	}
	c.files["b_hy1.csv"] = []byte(b.String())
	c.lines = append(c.lines, "  bottles: [b_hy1.csv]")
}

// reference writes a table of levels or of known velocities for the pairs of a section, and gives the key for the
// cruise file.
func (c *cruise) reference(name string, line []*cast) string {
	kind := pick(c, "levels", "velocities")
	head := "station_a,station_b," + pick(c, "pressure_dbar", "depth_m")
	if kind == "velocities" {
		head += ",velocity_ms,standard_error_ms"
	}
	var b strings.Builder
	b.WriteString(head + "\n")
	rows := 0
	for i := 0; i+1 < len(line); i++ {
		if c.chance(0.2) || line[i].station == line[i+1].station {
			continue
		}
		rows++
		fmt.Fprintf(&b, "%s,%s,%.1f", line[i].station, line[i+1].station,
			c.between(0, 0.9*line[i].pressures[len(line[i].pressures)-1]))
		if kind == "velocities" {
			fmt.Fprintf(&b, ",%.3f,%.3f", c.between(-0.3, 0.3), c.between(0, 0.05))
		}
		b.WriteString("\n")
	}
	if rows == 0 {
		return "deepest"
	}
	c.files[name+"_ref.csv"] = []byte(b.String())
	return fmt.Sprintf("{%s: %s_ref.csv}", kind, name)
}

// depthGrid writes a small grid of water depth around the casts.
func (c *cruise) depthGrid() {
	n := 6
	lat, lon := make([]float64, n), make([]float64, n)
	for i := range n {
		lat[i], lon[i] = max(-90, min(90, c.place.lat-6+float64(i)*2.4)), c.place.lon-8+float64(i)*3.2
	}
	values := make([]float64, n*n)
	sign := pick(c, 1.0, -1)
	for i := range values {
		values[i] = sign * (c.depth*c.between(0.9, 1.3) + 20)
	}
	attrs := []nc.Attr{{Name: "units", Value: "m"}, {Name: "standard_name", Value: "sea_floor_depth_below_geoid"}}
	if sign < 0 {
		attrs[1].Value = "height_above_reference_ellipsoid"
		attrs = append(attrs, nc.Attr{Name: "positive", Value: "up"})
	}
	s := &nc.Schema{Dims: []nc.Dim{{Name: "lat", Len: n}, {Name: "lon", Len: n}}, Vars: []nc.Var{
		{Name: "lat", Type: nc.Double, Dims: []int{0}, Attrs: []nc.Attr{{Name: "units", Value: "degrees_north"}}},
		{Name: "lon", Type: nc.Double, Dims: []int{1}, Attrs: []nc.Attr{{Name: "units", Value: "degrees_east"}}},
		{Name: pick(c, "depth", "elevation", "z"), Type: nc.Double, Dims: []int{0, 1}, Attrs: attrs}}}
	dir, err := os.MkdirTemp("", "castwright-property-")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "g.nc")
	w, err := nc.Create(path, s)
	for i, x := range []any{lat, lon, values} {
		if err == nil {
			err = w.Write(i, x)
		}
	}
	if err == nil {
		err = w.Close()
	}
	b, e := os.ReadFile(path)
	if err != nil || e != nil {
		panic(fmt.Sprint(err, e))
	}
	c.files["depth.nc"] = b
	c.lines = append(c.lines, "  bathymetry: depth.nc")
}
