package pipeline

import (
	"strconv"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/cruisefile"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// The remedies here end in lines of a cruise file that get past what stands in the way, as they would stand in one.

// stationsRemedy gives the stations of a section without those that no cast has.
func stationsRemedy(s *cruisefile.Section, casts []*section.Cast) string {
	l := section.StationList{All: s.Stations.All}
	has := func(r section.StationRange) bool {
		_, err := section.Select(casts, section.StationList{Items: []section.StationRange{r}})
		return err == nil
	}
	for _, r := range s.Stations.Items {
		if has(r) {
			l.Items = append(l.Items, r)
			continue
		}
		if r.To == "" {
			continue
		}
		first, last := "", "" // the ends of what there is of the run
		for _, k := range casts {
			one := section.StationList{Items: []section.StationRange{r}}
			if !one.Contains(k.Expocode, k.Station, k.Number) {
				continue
			}
			if first == "" || section.CompareStations(k.Station, first) < 0 {
				first = k.Station
			}
			if last == "" || section.CompareStations(k.Station, last) > 0 {
				last = k.Station
			}
		}
		if section.CompareStations(r.From, r.To) > 0 {
			first, last = last, first
		}
		r.From, r.To = first, last
		if first == last {
			r.To = ""
		}
		if first != "" && has(r) {
			l.Items = append(l.Items, r)
		}
	}
	for _, r := range s.Stations.Except {
		if has(r) {
			l.Except = append(l.Except, r)
		}
	}
	if picked, err := section.Select(casts, l); err != nil || len(picked) == 0 || l.Empty() {
		return "mend the stations of the section, or take the section out"
	}
	return "mend the stations of the section; or go on with those that there are, with this in the cruise file:\nsections:\n  - {name: " + s.Name +
		", stations: " + strconv.QuoteToGraphic(l.String()) + "}"
}

// gapRemedy returns the remedy of a finding with the key that bridges its gap.
func gapRemedy(f *geostrophy.Finding, name string) string {
	if f.BridgeDbar == 0 {
		return f.Remedy
	}
	remedy := "to bridge the gap, write this in the cruise file:\nsections:\n  - {name: " + name + ", " + metadata.MaxGapLine(f.BridgeDbar) + "}"
	if f.Remedy != "" {
		remedy = f.Remedy + "; " + remedy
	}
	return remedy
}
