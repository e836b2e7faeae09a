package qc

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/section"
)

// updownRules returns the check of upcasts against downcasts.
func updownRules() []Rule {
	return []Rule{{ID: "updown", Does: "the upcast differs from the downcast of its station", Source: ours,
		Thresholds: []Threshold{
			{"psal", 0.003, "", "difference in salinity"},
			{"temp", 0.003, "degC", "difference in temperature"},
			{"oxy_percent", 2, "%", "difference in oxygen"},
			{"above", 500, "dbar", "water above this pressure is not compared"},
			{"temp_above", 1500, "dbar", "temperature above this pressure is not compared"},
			{"levels", 25, "", "number of levels at least"},
		}}}
}

// upAndDown compares each upcast with the downcast of its station, at levels matched as those of bottles are.
func (s *survey) upAndDown() {
	for _, up := range s.Casts {
		if up.Direction != section.Up {
			continue
		}
		if down := s.downOf(up); down != up {
			s.compareUp(up, s.downcast(down))
		}
	}
}

func (s *survey) compareUp(up *section.Cast, down *downcast) {
	levels := s.usable(up, "temp", "psal")
	differences := map[string][]float64{}
	at := map[string][]float64{}
	mean := 0.0
	for i := 0; i < len(levels); i += 1 + len(levels)/oxygenSamples {
		k := levels[i]
		p := up.PressureDbar[k]
		if p <= s.limit("updown", "above") {
			continue
		}
		there, how := down.match(p, up.Column("temp").Values[k], up.Column("psal").Values[k])
		if how == Unmatched {
			continue
		}
		for _, q := range quantities {
			col := up.Column(q.name)
			if col == nil || !col.UsableAt(k, s.settings(up).NotCalibrated) || q.name == "temp" &&
				p <= s.limit("updown", "temp_above") {
				continue
			}
			v := s.at(down.cast, q.name, there)
			if v != v {
				continue
			}
			if q.name == "oxy" {
				mean += v
			}
			differences[q.name], at[q.name] = append(differences[q.name], col.Values[k]-v), append(at[q.name], p)
		}
	}
	for _, q := range quantities {
		d, p := differences[q.name], at[q.name]
		if float64(len(d)) < s.limit("updown", "levels") {
			continue
		}
		limit, units, more := 0.0, "", ""
		switch q.name {
		case "psal":
			limit = s.limit("updown", "psal")
		case "temp":
			limit, units = s.limit("updown", "temp"), " degC"
		case "oxy":
			limit, units = s.limit("updown", "oxy_percent")/100*mean/float64(len(d)), " umol/kg"
			_, slope := TheilSen(thin(p), thin(d))
			more = fmt.Sprintf("; it changes by %s umol/kg per 1000 dbar, by which hysteresis is told from an "+
				"offset", signed(1000*slope))
		}
		m := median(append([]float64(nil), d...))
		if math.Abs(m) <= limit {
			continue
		}
		f := aboutAll(up, "updown", q.name,
			fmt.Sprintf("the upcast differs by %s%s from cast %s, the downcast of its station (limit %s)%s",
				signed(m), units,
				down.cast.Number, inDigits(limit), more),
			"compare with bottles and with the other stations; nothing was corrected")
		atLevels(&f, up, p[0], p[len(p)-1])
		s.find(f)
	}
}

// thin returns at most about 100 of the values, evenly.
func thin(v []float64) []float64 {
	var out []float64
	for i := 0; i < len(v); i += 1 + len(v)/100 {
		out = append(out, v[i])
	}
	return out
}
