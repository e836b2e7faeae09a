package qc

import (
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// coastalM is the water depth in metres up to which fresh water is expected; ours.
const coastalM = 200

// A quantity is what one or two sensors of a cast measure.
type quantity struct {
	name    string
	sensors [2]string // variables of the primary and of the second sensor
}

// quantities are those that the checks of values concern.
var quantities = [...]quantity{{"temp", [2]string{"temp", "temp2"}}, {"psal", [2]string{"psal", "psal2"}},
	{"oxy", [2]string{"oxy", "oxy2"}}}

// rangeGlobal proposes values bad that no ocean has.
func rangeGlobal() Rule {
	return Rule{ID: "range.global", Proposes: true, Does: "outside the values of any ocean",
		Source: argoManual + "; oxygen from memory (BGC-Argo)",
		Thresholds: []Threshold{
			{"temp_min", -2.5, "degC", "least temperature"},
			{"temp_max", 40, "degC", "greatest temperature"},
			{"psal_min", 2, "", "least salinity"},
			{"psal_coastal_min", 0, "", "least salinity in water of at most 200 m and in lakes"},
			{"psal_max", 41, "", "greatest salinity"},
			{"pres_min", -5, "dbar", "least pressure"},
			{"pres_max", 12000, "dbar", "greatest pressure"},
			{"oxy_min", -5, "umol/kg", "least oxygen"},
			{"oxy_max", 600, "umol/kg", "greatest oxygen"},
		},
		cast: func(p *profile) {
			p.outside("pres", p.limit("pres_min"), p.limit("pres_max"), metadata.Bad)
			for _, q := range quantities {
				low := p.limit(q.name + "_min")
				if q.name == "psal" && (p.cast.Lake || p.cast.BottomM <= coastalM) {
					low = p.limit("psal_coastal_min")
				}
				for _, name := range q.sensors {
					p.outside(name, low, p.limit(q.name+"_max"), metadata.Bad)
				}
			}
		}}
}

// outside proposes a flag for every usable value of a variable beyond its bounds.
func (p *profile) outside(name string, low, high float64, flag metadata.Flag) {
	v := p.values(name)
	for _, k := range p.usable(name) {
		if v[k] < low || v[k] > high {
			p.propose(name, k, flag)
		}
	}
}

// seas are the regional boxes of the Argo manual, in degrees east and north; corners from memory.
var seas = [...]struct {
	name string
	box  orb.Polygon
}{
	{"red_sea", orb.Polygon{{{40, 10}, {50, 20}, {30, 30}, {40, 10}}}},
	{"mediterranean", orb.Polygon{{{-6, 30}, {40, 30}, {35, 40}, {20, 42}, {15, 50}, {-5, 40}, {-6, 30}}}},
}

// rangeRegional proposes values questionable that the Red Sea or the Mediterranean does not have.
func rangeRegional() Rule {
	return Rule{ID: "range.regional", Proposes: true, Does: "outside the values of this sea",
		Source: argoManual + "; boxes and salinities from memory",
		Thresholds: []Threshold{
			{"red_sea_temp_min", 21.7, "degC", "least temperature in the Red Sea"},
			{"red_sea_temp_max", 40, "degC", "greatest temperature in the Red Sea"},
			{"red_sea_psal_min", 2, "", "least salinity in the Red Sea"},
			{"red_sea_psal_max", 41, "", "greatest salinity in the Red Sea"},
			{"mediterranean_temp_min", 10, "degC", "least temperature in the Mediterranean"},
			{"mediterranean_temp_max", 40, "degC", "greatest temperature in the Mediterranean"},
			{"mediterranean_psal_min", 2, "", "least salinity in the Mediterranean"},
			{"mediterranean_psal_max", 40, "", "greatest salinity in the Mediterranean"},
		},
		cast: func(p *profile) {
			for _, sea := range seas {
				if p.cast.Lake || !planar.PolygonContains(sea.box, p.cast.At) {
					continue
				}
				for _, q := range quantities[:2] {
					for _, name := range q.sensors {
						p.outside(name, p.limit(sea.name+"_"+q.name+"_min"), p.limit(sea.name+"_"+q.name+"_max"),
							metadata.Questionable)
					}
				}
			}
		}}
}

// warmest is the temperature in degC above which no water of less than 12 000 dbar freezes.
const warmest = 0.1

// freezing proposes temperatures questionable that lie below the freezing point.
func freezing() Rule {
	return Rule{ID: "freezing", Proposes: true, Does: "below the freezing point of air-saturated seawater",
		Source: "TEOS-10 freezing polynomial; the margin is ours", Thresholds: []Threshold{
			{"margin", 0.02, "degC", "how far below the freezing point"},
		},
		cast: func(p *profile) {
			if p.settings.IceShelf || p.cast.Lake {
				return
			}
			margin := p.limit("margin")
			for i, name := range quantities[0].sensors {
				salinity := quantities[1].sensors[i]
				if p.values(salinity) == nil {
					salinity = "psal"
				}
				t, s := p.values(name), p.values(salinity)
				if t == nil || s == nil {
					continue
				}
				for _, k := range p.usable(name) {
					if t[k] > warmest || s[k] != s[k] || p.bad(salinity, k) {
						continue
					}
					at := p.cast.PressureDbar[k]
					if t[k] < seawater.FreezingInSitu(p.place.AbsoluteSalinity(s[k], at), at,
						seawater.AirSaturated)-margin {
						p.propose(name, k, metadata.Questionable)
					}
				}
			}
		}}
}

// minSaturation is oxygen in umol/kg that water of any ocean temperature and salinity can hold in solution: below
// it, no comparison with saturation is needed.
const minSaturation = 150

// oxygenRange proposes oxygen questionable that is negative or far above saturation.
func oxygenRange() Rule {
	return Rule{ID: "oxygen.lag", Proposes: true,
		Does: "oxygen is negative or far above saturation: the sensor responds in 1 to 5 s, or there was air in " +
			"its tubing",
		Source: commonPractice, Thresholds: []Threshold{
			{"saturation", 1.5, "", "oxygen over that at saturation"},
		},
		cast: func(p *profile) {
			most := p.limit("saturation")
			t, s := p.values("temp"), p.values("psal")
			for _, name := range quantities[2].sensors {
				o := p.values(name)
				for _, k := range p.usable(name) {
					high := false
					if t != nil && s != nil && t[k] == t[k] && s[k] == s[k] && o[k] > minSaturation*most {
						at := p.cast.PressureDbar[k]
						pt := seawater.PotentialTemperature(p.place.AbsoluteSalinity(s[k], at), t[k], at)
						high = o[k] > most*seawater.OxygenSolubility(s[k], pt)
					}
					if o[k] < 0 || high {
						p.propose(name, k, metadata.Questionable)
					}
				}
			}
		}}
}
