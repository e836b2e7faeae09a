package pipeline

import (
	"errors"
	"slices"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// The remedies here end in lines of a cruise file, as they would be written in one, that get past a finding.

// stationsRemedy returns what can be done about the stations of a section: the list without those that no cast has, or
// that of each leg where the list does not say which.
func stationsRemedy(s *cruisefile.Section, casts []*section.Cast, err error) (string, []metadata.Option) {
	var mixed *section.LegsError
	if errors.As(err, &mixed) {
		return "", legOptions("sections", s.Name, s.Stations, casts, mixed)
	}
	l := section.StationList{All: s.Stations.All}
	has := func(r section.StationRange) bool {
		_, err := section.Select(casts, section.StationList{Items: []section.StationRange{r}})
		return err == nil
	}
	for _, r := range s.Stations.Items {
		if r = there(r, casts); r.From != "" && has(r) {
			l.Items = append(l.Items, r)
		}
	}
	for _, r := range s.Stations.Except {
		if has(r) {
			l.Except = append(l.Except, r)
		}
	}
	if n := len(l.Items); errors.Is(err, section.ErrNothingEnclosed) && n > 1 {
		l.Items = l.Items[:n-1] // as an open line
	}
	if picked, err := section.Select(casts, l); err != nil || len(picked) == 0 || l.Empty() {
		return "correct the stations of the section, or take the section out", nil
	}
	return "correct the stations of the section",
		[]metadata.Option{{Text: "go on with those that there are,", Paste: metadata.ListStations("sections", s.Name,
			l.String())}}
}

// there returns an item of a station list with the stations that there are: its ends as the casts spell them, else
// those of its run that there are. From is "" when there is none.
func there(r section.StationRange, casts []*section.Cast) section.StationRange {
	var names []string
	for _, k := range casts {
		if r.Expocode == "" || k.Expocode == r.Expocode {
			names = append(names, k.Station)
		}
	}
	spelt := func(name string) string {
		if near := section.DidYouMean(name, names); near != "" && !slices.Contains(names, name) {
			return near
		}
		return name
	}
	r.From = spelt(r.From)
	if r.To == "" {
		return r
	}
	r.To = spelt(r.To)
	first, last := "", ""
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
	return r
}

// legOptions returns, for each leg that the stations of a section or field may mean, the list written so; key holds it
// in the cruise file.
func legOptions(key, name string, list section.StationList, casts []*section.Cast,
	mixed *section.LegsError) []metadata.Option {
	var lists []string
	all := section.MixedLegs(casts, list)
	for _, leg := range mixed.ByLeg {
		l := section.StationList{Except: list.Except}
		items := list.Items
		if list.All {
			items = []section.StationRange{{}}
		}
		for _, r := range items {
			said := false
			for _, m := range all {
				if m.Item != r.String() && !list.All {
					continue
				}
				said = true
				for _, x := range m.ByLeg {
					if x.Expocode == leg.Expocode {
						l.Items = append(l.Items, x)
					}
				}
			}
			if !said {
				l.Items = append(l.Items, r)
			}
		}
		lists = append(lists, l.String())
	}
	return eachLeg("say which leg is meant", lists, func(list string) metadata.Paste {
		return metadata.ListStations(key, name, list)
	})
}
