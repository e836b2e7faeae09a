package export_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/metadata"
)

// What the DataCite Metadata Schema 4.5 (DataCite Metadata Working Group 2024, doi:10.14454/g8e5-6293) asks of a
// description, as its table of properties and its controlled lists say; the published JSON form of the schema is in no
// registry that this project uses.
var (
	mandatory = []string{"doi", "creators", "titles", "publisher", "publicationYear", "types", "schemaVersion"}
	allowed   = append(slices.Clone(mandatory), "subjects", "contributors", "dates", "language", "alternateIdentifiers",
		"relatedIdentifiers", "sizes", "formats", "version", "rightsList", "descriptions", "geoLocations",
		"fundingReferences")
	lists = map[string][]string{
		"nameType": {"Organizational", "Personal"},
		"contributorType": {"ContactPerson", "DataCollector", "DataCurator", "DataManager", "Distributor", "Editor",
			"HostingInstitution", "Producer", "ProjectLeader", "ProjectManager", "ProjectMember", "RelatedPerson",
			"Researcher", "ResearchGroup", "RightsHolder", "Sponsor", "Supervisor", "WorkPackageLeader", "Other"},
		"dateType": {"Accepted", "Available", "Copyrighted", "Collected", "Created", "Issued", "Submitted", "Updated",
			"Valid", "Withdrawn", "Other"},
		"relatedIdentifierType": {"DOI", "URL"},
		"relationType": {"IsCitedBy", "Cites", "IsSupplementTo", "References", "IsDocumentedBy", "IsDerivedFrom",
			"IsNewVersionOf", "IsPartOf"},
		"descriptionType": {"Abstract", "Methods", "SeriesInformation", "TableOfContents", "TechnicalInfo",
			"Other"},
		"funderIdentifierType": {"ISNI", "GRID", "Crossref Funder ID", "ROR", "Other"},
		"resourceTypeGeneral":  {"Dataset"},
	}
	needs = map[string][]string{ // members that an item of a list must have
		"types": {"resourceTypeGeneral"}, "publisher": {"name"}, "creators": {"name"}, "contributors": {"name",
			"contributorType"}, "titles": {"title"},
		"subjects": {"subject"}, "dates": {"date", "dateType"},
		"alternateIdentifiers": {"alternateIdentifier", "alternateIdentifierType"},
		"relatedIdentifiers":   {"relatedIdentifier", "relatedIdentifierType", "relationType"},
		"descriptions":         {"description", "descriptionType"}, "fundingReferences": {"funderName"},
		"nameIdentifiers": {"nameIdentifier", "nameIdentifierScheme"}, "affiliation": {"name"},
	}
	members = map[string][]string{ // all that an object may have, by DataCite's documentation of its JSON
		"types": {"resourceType", "resourceTypeGeneral"}, "titles": {"title", "titleType", "lang"},
		"creators": personal, "contributors": append(slices.Clone(personal), "contributorType"),
		"nameIdentifiers": {"nameIdentifier", "nameIdentifierScheme", "schemeUri"},
		"affiliation":     {"name", "affiliationIdentifier", "affiliationIdentifierScheme", "schemeUri"},
		"publisher":       {"name", "publisherIdentifier", "publisherIdentifierScheme", "schemeUri", "lang"},
		"subjects": {"subject", "subjectScheme", "schemeUri", "valueUri", "classificationCode",
			"lang"},
		"dates": {"date", "dateType", "dateInformation"}, "descriptions": {"description", "descriptionType", "lang"},
		"alternateIdentifiers": {"alternateIdentifier", "alternateIdentifierType"},
		"relatedIdentifiers": {"relatedIdentifier", "relatedIdentifierType", "relationType",
			"resourceTypeGeneral"},
		"rightsList": {"rights", "rightsUri", "rightsIdentifier", "rightsIdentifierScheme", "schemeUri", "lang"},
		"geoLocations": {"geoLocationPlace", "geoLocationPoint", "geoLocationBox",
			"geoLocationPolygon"},
		"geoLocationBox": {"westBoundLongitude", "eastBoundLongitude", "southBoundLatitude", "northBoundLatitude"},
		"fundingReferences": {"funderName", "funderIdentifier", "funderIdentifierType", "awardNumber", "awardUri",
			"awardTitle"},
	}
	personal = []string{"name", "nameType", "givenName", "familyName", "nameIdentifiers", "affiliation", "lang"}
	patterns = map[string]*regexp.Regexp{
		"doi":             regexp.MustCompile(`^10\.\d{4,9}/[-._;()/:a-zA-Z0-9]+$`),
		"publicationYear": regexp.MustCompile(`^\d{4}$`),
		"date":            regexp.MustCompile(`^\d{4}-\d{2}-\d{2}(/\d{4}-\d{2}-\d{2})?$`),
		"schemeUri":       regexp.MustCompile(`^https://`),
		"schemaVersion":   regexp.MustCompile(`^http://datacite\.org/schema/kernel-4$`),
	}
)

// complaints returns what the schema has against a description.
func complaints(data []byte) (out []string) {
	var top map[string]any
	if err := json.Unmarshal(data, &top); err != nil {
		return []string{err.Error()}
	}
	for _, m := range mandatory {
		if top[m] == nil {
			out = append(out, "no "+m)
		}
	}
	var walk func(name string, v any)
	walk = func(name string, v any) {
		switch x := v.(type) {
		case []any:
			if len(x) == 0 {
				out = append(out, name+" is empty")
			}
			for i, y := range x {
				walk(name, y)
				for _, z := range x[:i] {
					if fmt.Sprint(z) == fmt.Sprint(y) {
						out = append(out, name+" has an item twice")
					}
				}
			}
		case map[string]any:
			for _, m := range needs[name] {
				if x[m] == nil {
					out = append(out, name+" without "+m)
				}
			}
			for k, y := range x {
				if !slices.Contains(members[name], k) {
					out = append(out, name+" with "+k)
				}
				walk(k, y)
			}
		case string:
			if list, ok := lists[name]; x == "" || ok && !slices.Contains(list, x) {
				out = append(out, fmt.Sprintf("%s is %q", name, x))
			}
			if p := patterns[name]; p != nil && !p.MatchString(x) {
				out = append(out, fmt.Sprintf("%s is %q", name, x))
			}
		case float64:
			if limit := map[bool]float64{true: 180, false: 90}[strings.HasSuffix(name, "Longitude")]; x < -limit ||
				x > limit {
				out = append(out, fmt.Sprintf("%s is %g", name, x))
			}
		}
	}
	for k, v := range top {
		if !slices.Contains(allowed, k) {
			out = append(out, "unknown "+k)
		}
		walk(k, v)
	}
	slices.Sort(out)
	return out
}

func described() *export.DataCite {
	return &export.DataCite{Casts: 3, Expocodes: []string{"ZZSM20260504"}, First: "2026-05-04", Last: "2026-05-17",
		South: -10, North: 4, West: 170, East: -175, Methods: []string{"One.", "Two."},
		Keywords: []string{"CTD", "CTD"},
		At:       time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC),
		Cruise: &metadata.Cruise{ID: "x", Title: "T", Summary: "S", Region: "strait",
			Legs: []metadata.Leg{{ChiefScientist: metadata.Person{Name: "Ragna Holm", Institution: "Skerry Institute",
				ORCID: "https://orcid.org/0000-0000-0000-0001"}}},
			People: []metadata.Person{{Name: "Owen Lark"}, {Name: "Ragna Holm"}},
			Institutions: []metadata.Institution{{Name: "Skerry Institute", ROR: "https://ror.org/012345654"},
				{Name: "Other Institute"}, {Name: "Other Institute"}},
			Funding: []metadata.Grant{{Name: "Skerry Council", ROR: "https://ror.org/012345654", Number: "SC-12"},
				{Name: "Skerry Council", ROR: "https://ror.org/012345654", Number: "SC-12"}},
			References: []metadata.Reference{{Link: "https://doi.org/10.5555/report", Is: metadata.CruiseReport},
				{Link: "https://example.org/x"}, {Link: "https://example.org/x"}},
			Release: metadata.Release{Version: "1.0", Date: "2027-01-02", Embargo: "2027-05-17", Licence: "CC-BY-4.0",
				DOI: "https://doi.org/10.5555/saltmarten-ctd", Publisher: metadata.Publisher{Name: "Skerry Data Centre",
					ROR: "https://ror.org/012345654"}}}}
}

func dataCite(t *testing.T, d *export.DataCite) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := export.WriteDataCite(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A full description and one of a cruise of which next to nothing is known are complete by the schema; without a DOI
// the only complaint is the missing identifier.
func TestDataCite(t *testing.T) {
	full := dataCite(t, described())
	if c := complaints(full); c != nil {
		t.Errorf("%q\n%s", c, full)
	}
	for _, want := range []string{`"doi": "10.5555/saltmarten-ctd"`, `"publicationYear": "2027"`,
		`"date": "2026-05-04/2026-05-17"`, `"name": "Skerry Data Centre"`, `"awardNumber": "SC-12"`,
		`"relationType": "IsDocumentedBy"`, `"relatedIdentifier": "10.5555/report"`, `"rightsIdentifier": "CC-BY-4.0"`,
		`"affiliationIdentifier": "https://ror.org/012345654"`, `"westBoundLongitude": 170`} {
		if !strings.Contains(string(full), want) {
			t.Errorf("no %s in\n%s", want, full)
		}
	}
	if strings.Count(string(full), "Ragna Holm") != 1 {
		t.Error("a person is named twice")
	}
	d := described()
	d.Cruise.Release.DOI = ""
	if c := complaints(dataCite(t, d)); !slices.Equal(c, []string{"no doi"}) {
		t.Errorf("%q", c)
	}
	bare := &export.DataCite{Cruise: &metadata.Cruise{ID: "x", Title: "T", Summary: "S"}, Casts: 1, At: d.At}
	if c := complaints(dataCite(t, bare)); !slices.Equal(c, []string{"no doi"}) {
		t.Errorf("%q", c)
	}
	// every word that a cruise file has for a relation has its word in DataCite
	for _, r := range metadata.Relations() {
		d.Cruise.References = []metadata.Reference{{Link: "https://example.org", Is: r}}
		d.Cruise.Release.DOI = "https://doi.org/10.5555/y"
		if c := complaints(dataCite(t, d)); c != nil {
			t.Errorf("%s: %q", r, c)
		}
	}
}
