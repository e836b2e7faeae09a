package cruisefile

import (
	"fmt"
	"slices"

	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

// pairs are the quantities that have a second sensor: psal, of which psal2 is one.
var pairs = func() (out []string) {
	for _, v := range metadata.Variables() {
		if _, second := metadata.ByName(v.Name + "2"); second {
			out = append(out, v.Name)
		}
	}
	return out
}()

// reportsForm is a list of mappings from a quantity to its second sensor, each with the stations that it is for.
var reportsForm = mappings("a list of {QUANTITY: SENSOR, stations: STATIONS}, where QUANTITY is "+orList(pairs)+
	", SENSOR is its name with a 2 behind it, and STATIONS may be left out for all",
	"QUANTITY: SENSOR, such as {psal: psal2, stations: 30-41}", readReport)

// readReport reads the quantities of one item, which have its stations in common.
func readReport(d *decoder, item *yaml.Node, name string, dst *[]Report) {
	keys := append([]string{"stations"}, pairs...)
	var list StationList
	var of []Report
	seen := map[string]bool{}
	for i := 0; i+1 < len(item.Content); i += 2 {
		k, v := item.Content[i], item.Content[i+1]
		if k.Value == "stations" {
			stations.read(d, v, "stations", &list)
			continue
		}
		switch {
		case !slices.Contains(pairs, k.Value):
			d.unknownKey(k, v, item, name, keys)
		case seen[k.Value]:
			d.fault(k, "keep one of the two", "%s is given twice", k.Value)
		case v.Kind != yaml.ScalarNode || isNull(v) || v.Value != k.Value+"2":
			d.fault(v, fmt.Sprintf("write %s: %s2, or take the line out: the first sensor is reported where none is "+
				"named", k.Value, k.Value), "%s can be reported from %s2 only", k.Value, k.Value)
		default:
			of = append(of, Report{First: k.Value, Second: v.Value, At: d.position(k)})
		}
		seen[k.Value] = true
	}
	if len(seen) == 0 {
		d.fault(item, "write which sensor is reported, such as report: {psal: psal2}", "%s names no quantity", name)
	}
	for _, r := range of {
		r.Stations = list
		*dst = append(*dst, r)
	}
}
