package planted

import (
	"math"
	"math/rand/v2"
	"strconv"
	"time"
)

// value returns where a variable of a level is.
func (l *level) value(name string) *float64 {
	switch name {
	case "temp":
		return &l.t
	case "psal":
		return &l.s
	case "oxy":
		return &l.o
	case "temp2":
		return &l.t2
	case "psal2":
		return &l.s2
	case "etime":
		return &l.etime
	case "pres":
		return &l.p
	}
	panic("planted: no variable " + name)
}

// plant puts a fault into a cast.
func (c *cast) plant(f *Fault, sign float64, all []cast) {
	if c.plantCast(f, sign, all) {
		return
	}
	days, number := c.at.Sub(all[0].at).Hours()/24, 0.0
	if n, err := strconv.ParseFloat(c.station, 64); err == nil {
		number = n
	}
	variable := ""
	if len(f.Variables) > 0 {
		variable = f.Variables[0]
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var held float64
	first := true
	var kept []level
	for i := range c.levels {
		l := &c.levels[i]
		if f.Kind == "drop" && f.in(l.p) || f.Kind == "cut" && l.p > f.From {
			continue
		}
		if f.in(l.p) {
			switch f.Kind {
			case "second, a day":
				*l.value(variable + "2") += f.Size * days
			case "second, a station":
				*l.value(variable + "2") += f.Size * number
			case "second, 1000 dbar":
				*l.value(variable + "2") += f.Size * l.p / 1000
			default:
				l.change(f, variable, rng, &held, first)
			}
			first = false
		}
		kept = append(kept, *l)
	}
	c.levels = kept
}

// change changes a level that a fault concerns. held is the value of the first one.
func (l *level) change(f *Fault, variable string, rng *rand.Rand, held *float64, first bool) {
	switch f.Kind {
	case "add":
		*l.value(variable) += f.Size
		if variable == "temp" || variable == "psal" { // both sensors see what the plumbing brings
			*l.value(variable + "2") += f.Size
		}
	case "set":
		*l.value(variable) = f.Size
		if variable == "temp" || variable == "psal" {
			*l.value(variable + "2") = f.Size
		}
	case "hold":
		if first {
			*held = *l.value(variable)
		}
		*l.value(variable) = *held
	case "shift":
		l.p -= f.Size
	case "repeat":
		l.p -= binDbar
	case "back":
		l.p -= 3 * binDbar
	case "first":
		if first {
			l.s, l.s2 = l.s+f.Size, l.s2+f.Size
		}
	case "scans":
		l.n = int(f.Size)
	case "second":
		*l.value(variable + "2") += f.Size
	case "flat":
		l.o = f.Size + 0.4*rng.NormFloat64()
	case "times":
		*l.value(variable) *= f.Size
	case "pressure":
		l.o *= 1 + f.Size*l.p/1000
	}
}

// plantCast puts a fault of a whole cast into it; false when the fault is one of values.
func (c *cast) plantCast(f *Fault, sign float64, all []cast) bool {
	both := func(d float64) {
		for i := range c.levels {
			c.levels[i].s += d
			c.levels[i].s2 += d
		}
	}
	switch f.Kind {
	case "":
	case "both":
		both(sign * f.Size)
	case "drift":
		first := all[0].at
		for i := range all {
			if all[i].station == c.station {
				first = all[i].at
				break
			}
		}
		both(sign * f.Size * c.at.Sub(first).Hours() / 24)
	case "a day":
		both(sign * f.Size * c.at.Sub(all[0].at).Hours() / 24)
	case "a station":
		if n, err := strconv.ParseFloat(c.station, 64); err == nil {
			both(sign * f.Size * n)
		}
	case "absent":
		c.absent = true
	case "log hours":
		c.log = time.Duration(f.Size * float64(time.Hour))
	case "hours apart", "degrees apart", "seed": // of the plan
	case "remove":
		if c.lacks == nil {
			c.lacks = map[string]bool{}
		}
		c.lacks[f.Variables[0]] = true
	case "latitude":
		c.lat += f.Size
	case "hours":
		c.at = c.at.Add(time.Duration(f.Size * float64(time.Hour)))
	case "island":
		c.lat, c.lon = -79.5, 100.5
	case "deeper", "depth":
		c.depthM += f.Size
	case "altimeter":
		for i := range c.levels {
			c.levels[i].hab = math.Round(c.levels[i].hab + f.Size)
		}
	default:
		return false
	}
	return true
}
