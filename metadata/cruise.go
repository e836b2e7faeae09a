package metadata

// A Cruise is what a person states about a cruise as a whole: who, what, when, with which instruments, and in which
// state the data leave the ship.
type Cruise struct {
	ID           string // archive name and bag identifier: letters, digits, - and _
	Authority    string // naming authority of ID: a reversed domain name or a DOI prefix; "" unknown
	Title        string
	Summary      string
	Keywords     []string
	Ships        []Ship
	Legs         []Leg
	People       []Person
	Institutions []Institution
	Projects     []string
	Funding      []Grant
	References   []Reference
	Region       string
	Release      Release
	Systems      []System
	DepthFound   string // how bottom depth was found, in words
}

// Ship is one ship of the cruise.
type Ship struct{ Name, Code string }

// Leg is one leg; a cruise with one expocode has one leg.
type Leg struct {
	Expocode       string
	Start, End     string // YYYY-MM-DD; "" when not given
	From, To       string // ports
	ChiefScientist Person
	Ship           string
	At             Position
}

// Person is someone who had a part in the cruise.
type Person struct {
	Name, ORCID, Email, Institution, Role string
}

// Institution is an organisation with its ROR identifier.
type Institution struct{ Name, ROR string }

// Grant is what one funder gave.
type Grant struct{ Name, ROR, Number string }

// String returns funder and number of the grant.
func (g Grant) String() string {
	if g.Number == "" {
		return g.Name
	}
	return g.Name + ", grant " + g.Number
}

// Reference is a document or data set that has to do with the cruise.
type Reference struct {
	Link string // https URL, of a DOI where it has one
	Is   Relation
}

// String returns the link, with what it is where that is stated.
func (r Reference) String() string {
	if r.Is == "" {
		return r.Link
	}
	return r.Link + " (" + string(r.Is) + ")"
}

// A Relation is what a reference is to the data.
type Relation string

// Relations, as the cruise file names them. The zero value is not stated.
const (
	CruiseReport   Relation = "cruise report"
	Paper          Relation = "paper"
	Method         Relation = "method"
	SourceData     Relation = "source data"
	EarlierVersion Relation = "earlier version"
	Collection     Relation = "collection"
)

// Relations returns all relations.
func Relations() []Relation {
	return []Relation{CruiseReport, Paper, Method, SourceData, EarlierVersion, Collection}
}

// Release says in which state the data leave the ship.
type Release struct {
	Status      Status
	Version     string // product_version; required with final
	Date        string // date_issued, YYYY-MM-DD; required with final
	DOI         string // https URL of the digital object identifier of the data; "" none yet
	Licence     string // SPDX identifier or URL
	Embargo     string // YYYY-MM-DD; "" none
	Contact     string
	Citation    string
	Replaces    string
	Publisher   Publisher
	PerVariable map[string]Status // variables whose state differs, by name
}

// A Status is the state of released data.
type Status string

// States, as the cruise file names them. Preliminary is the default; Final needs a version and a date.
const (
	Underway    Status = "underway"
	Preliminary Status = "preliminary"
	Final       Status = "final"
)

// Publisher is who hands the data out. The zero value is not known.
type Publisher struct{ Name, Email, URL, Institution, ROR string }

// System is one set of sensors; a sensor swapped mid-cruise makes two systems.
type System struct {
	Label    string
	Package  string // instrument package in words
	Bin      Bin
	Sensors  []Sensor
	Salinity Calibration
	Oxygen   Calibration
	Deck     Deck
	Upstream []string // earlier processing steps, free text
	Accuracy Accuracy
}

// Bin is the width and label of the pressure bins. Width 0 and Label "" are not declared.
type Bin struct {
	WidthDbar float64
	Label     string // centre, top or bottom
}

// Sensor is one sensor of a system.
type Sensor struct {
	Variables  []string // our names of the variables it measured
	Model      string
	Serial     string
	Calibrated string // YYYY-MM-DD of the last laboratory calibration
}

// Calibration is the calibration state of salinity or oxygen.
type Calibration struct {
	Stage    Stage
	By       string
	Date     string
	Residual float64 // in the variable's units; NaN when not given
}

// Deck is the pressure read on deck.
type Deck struct {
	OffsetDbar float64 // NaN when not given
	Applied    bool
}

// Accuracy is the stated accuracy of one system, for uncertainties. NaN: use the defaults of the error formulas. Common
// is the part of each (0..1, as variance) that is the same on every cast of the system; NaN when no split is declared.
type Accuracy struct {
	Salinity, TemperatureK, PressureDbar float64
	CommonFraction                       float64
}

// A Stage is how far the salinity or oxygen of a system has been calibrated.
type Stage uint8

// Stages of calibration.
const (
	StageUnknown Stage = iota
	StageNone
	StageLaboratory
	StageAdjusted // to samples of bottles
	Stages        = 4
)

var stageWords = [Stages]string{"unknown", "none", "laboratory", "adjusted to bottles"}

// String returns the word of the cruise file.
func (s Stage) String() string { return stageWords[s] }
