package export

import (
	"encoding/json"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
)

// DataCite is what the DataCite description of an archive is made from.
type DataCite struct {
	Cruise      *metadata.Cruise
	Keywords    []string // words for search, where the cruise names none
	Expocodes   []string
	Casts       int
	First, Last string // days of the casts or legs, YYYY-MM-DD; "" when unknown
	// degrees; west exceeds east across the antimeridian
	South, North, West, East float64
	Methods                  []string // how the data were made, a sentence each
	At                       time.Time
}

// unavailable is the code of a mandatory value that is not known (DataCite Metadata Schema 4.5, appendix 3).
const unavailable = ":unav"

// text sets a member of a JSON object; nothing where the value is empty.
func text(o object, name, value string) object {
	if value != "" {
		o[name] = value
	}
	return o
}

// WriteDataCite writes the description of an archive as JSON of the DataCite Metadata Schema 4.5. Without a DOI it is
// complete but for the identifier, which whoever publishes the data adds.
func WriteDataCite(w io.Writer, d *DataCite) error {
	c := d.Cruise
	o := object{"schemaVersion": "http://datacite.org/schema/kernel-4",
		"types":    object{"resourceTypeGeneral": "Dataset", "resourceType": "CTD casts of a research cruise"},
		"titles":   []object{{"title": c.Title}},
		"creators": creators(c), "publisher": publisher(c), "publicationYear": publicationYear(d), "language": "en",
		"dates":        d.dates(),
		"descriptions": []object{{"descriptionType": "Abstract", "description": c.Summary}},
		"sizes":        []string{strconv.Itoa(d.Casts) + " CTD casts"},
		"formats":      []string{"application/x-netcdf", "text/csv", "application/zip"},
	}
	text(o, "doi", strings.TrimPrefix(c.Release.DOI, "https://doi.org/"))
	text(o, "version", c.Release.Version)
	add := func(name string, list []object) {
		var once []object // the schema allows no item twice
		for _, x := range list {
			if !slices.ContainsFunc(once, func(y object) bool { return reflect.DeepEqual(x, y) }) {
				once = append(once, x)
			}
		}
		if once != nil {
			o[name] = once
		}
	}
	if len(d.Methods) > 0 {
		o["descriptions"] = append(o["descriptions"].([]object),
			object{"descriptionType": "Methods", "description": strings.Join(d.Methods, " ")})
	}
	ids := []object{{"alternateIdentifier": c.ID, "alternateIdentifierType": "cruise identifier"}}
	for _, e := range d.Expocodes {
		ids = append(ids, object{"alternateIdentifier": e, "alternateIdentifierType": "EXPOCODE"})
	}
	add("alternateIdentifiers", ids)
	add("contributors", contributors(c))
	add("subjects", subjects(c, d.Keywords))
	add("relatedIdentifiers", related(c))
	add("rightsList", rights(c.Release.Licence))
	add("fundingReferences", funders(c))
	if d.Casts > 0 {
		place := object{"geoLocationBox": object{"westBoundLongitude": d.West, "eastBoundLongitude": d.East,
			"southBoundLatitude": d.South, "northBoundLatitude": d.North}}
		add("geoLocations", []object{text(place, "geoLocationPlace", c.Region)})
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(o)
}

func person(p *metadata.Person) object {
	o := object{"name": p.Name, "nameType": "Personal"}
	if p.ORCID != "" {
		o["nameIdentifiers"] = []object{{"nameIdentifier": p.ORCID, "nameIdentifierScheme": "ORCID",
			"schemeUri": "https://orcid.org"}}
	}
	if p.Institution != "" {
		o["affiliation"] = []object{{"name": p.Institution}}
	}
	return o
}

func organisation(i *metadata.Institution) object {
	o := object{"name": i.Name, "nameType": "Organizational"}
	if i.ROR != "" {
		o["nameIdentifiers"] = []object{{"nameIdentifier": i.ROR, "nameIdentifierScheme": "ROR",
			"schemeUri": "https://ror.org"}}
	}
	return o
}

// creators are the chief scientists and the people of the cruise, as in its citation; without any, the institutions.
// The affiliation of a person that is an institution of the cruise has its ROR.
func creators(c *metadata.Cruise) []object {
	var out []object
	seen := map[string]bool{}
	add := func(p *metadata.Person) {
		if p.Name == "" || seen[p.Name] {
			return
		}
		seen[p.Name] = true
		o := person(p)
		i := slices.IndexFunc(c.Institutions, func(x metadata.Institution) bool { return x.Name == p.Institution })
		if i >= 0 && c.Institutions[i].ROR != "" {
			o["affiliation"] = []object{{"name": p.Institution, "affiliationIdentifier": c.Institutions[i].ROR,
				"affiliationIdentifierScheme": "ROR", "schemeUri": "https://ror.org"}}
		}
		out = append(out, o)
	}
	for i := range c.Legs {
		add(&c.Legs[i].ChiefScientist)
	}
	for i := range c.People {
		add(&c.People[i])
	}
	if len(out) > 0 {
		return out
	}
	for i := range c.Institutions {
		out = append(out, organisation(&c.Institutions[i]))
	}
	if len(out) == 0 {
		out = []object{{"name": unavailable}}
	}
	return out
}

// contributors are the institutions that ran the cruise.
func contributors(c *metadata.Cruise) []object {
	var out []object
	for i := range c.Institutions {
		o := organisation(&c.Institutions[i])
		o["contributorType"] = "DataCollector"
		out = append(out, o)
	}
	return out
}

// publisher is who hands the data out; until that is known, the first institution.
func publisher(c *metadata.Cruise) object {
	p := &c.Release.Publisher
	name, id := p.Name, p.ROR
	if name == "" && len(c.Institutions) > 0 {
		name, id = c.Institutions[0].Name, c.Institutions[0].ROR
	}
	if name == "" {
		return object{"name": unavailable}
	}
	o := object{"name": name}
	if id != "" {
		o["publisherIdentifier"], o["publisherIdentifierScheme"], o["schemeUri"] = id, "ROR", "https://ror.org"
	}
	return o
}

func publicationYear(d *DataCite) string {
	if y, _, ok := strings.Cut(d.Cruise.Release.Date, "-"); ok {
		return y
	}
	return d.At.UTC().Format("2006")
}

func (d *DataCite) dates() []object {
	day := func(kind, date string) object { return object{"dateType": kind, "date": date} }
	out := []object{day("Created", d.At.UTC().Format(time.DateOnly))}
	switch {
	case d.First == "" || d.Last == "":
	case d.First == d.Last:
		out = append(out, day("Collected", d.First))
	default:
		out = append(out, day("Collected", d.First+"/"+d.Last))
	}
	if r := &d.Cruise.Release; r.Date != "" {
		out = append(out, day("Issued", r.Date))
	}
	if r := &d.Cruise.Release; r.Embargo != "" {
		out = append(out, day("Available", r.Embargo))
	}
	return out
}

func subjects(c *metadata.Cruise, keywords []string) []object {
	if len(c.Keywords) > 0 {
		keywords = c.Keywords
	}
	var out []object
	for _, k := range keywords {
		out = append(out, object{"subject": k})
	}
	return out
}

// relationTypes are the words of DataCite for what a reference is to the data.
var relationTypes = map[metadata.Relation]string{"": "References", metadata.CruiseReport: "IsDocumentedBy",
	metadata.Paper: "IsSupplementTo", metadata.Method: "References", metadata.SourceData: "IsDerivedFrom",
	metadata.EarlierVersion: "IsNewVersionOf", metadata.Collection: "IsPartOf"}

func related(c *metadata.Cruise) []object {
	var out []object
	for _, r := range c.References {
		o := object{"relationType": relationTypes[r.Is], "relatedIdentifier": r.Link, "relatedIdentifierType": "URL"}
		if id, ok := strings.CutPrefix(r.Link, "https://doi.org/"); ok {
			o["relatedIdentifier"], o["relatedIdentifierType"] = id, "DOI"
		}
		out = append(out, o)
	}
	return out
}

func rights(licence string) []object {
	switch {
	case licence == "":
		return nil
	case strings.HasPrefix(licence, "https://"):
		return []object{{"rights": licence, "rightsUri": licence}}
	case strings.HasPrefix(licence, "LicenseRef-"):
		return []object{{"rights": licence}}
	}
	return []object{{"rights": licence, "rightsIdentifier": licence, "rightsIdentifierScheme": "SPDX",
		"schemeUri": "https://spdx.org/licenses/", "rightsUri": "https://spdx.org/licenses/" + licence + ".html"}}
}

func funders(c *metadata.Cruise) []object {
	var out []object
	for _, g := range c.Funding {
		o := object{"funderName": g.Name}
		if g.ROR != "" {
			o["funderIdentifier"], o["funderIdentifierType"] = g.ROR, "ROR"
		}
		out = append(out, text(o, "awardNumber", g.Number))
	}
	return out
}
