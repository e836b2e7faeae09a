// Package trace says where a file or a value of an archive came from: inputs with their lines and checksums, casts and
// levels with their weights, and every processing step with its settings.
//
// An item is one of
//
//	FILE                                  a path below data, such as tables/transports.csv
//	cast:CAST:VARIABLE[:PRESSURE]         a value of a cast; without a pressure its position, time or water depth.
//
// CAST is
//
//	                                      STATION/NUMBER or the identity in stations.csv
//	section:NAME:CAST:VARIABLE:PRESSURE   the same in the file of a section, such as its dynamic height
//	series:NAME:CAST:VARIABLE:PRESSURE    the same in the file of a time series
//	node:SECTION:VARIABLE:KM:PRESSURE     a value of a gridded section
//	field:FIELD:VARIABLE:LON:LAT:PRESSURE a value of a field on longitude, latitude and pressure; or of one on
//
// surfaces
//
//	                                      of density, which has the density instead of the pressure
//	pair:SECTION:A-B:VARIABLE[:PRESSURE]  a value between two stations; of a transport by treatment of the bottom
//	                                      triangle, the treatment instead of the pressure
//	total:SECTION:VARIABLE                the transport of a section
//	table:TABLE:LINE:COLUMN               a cell of a table; the line of the names is line 1
package trace

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/metadata"
)

// A Trace is where an item came from.
type Trace struct {
	Item     string         `json:"item"`
	File     string         `json:"file"` // of the archive, below data
	Variable string         `json:"variable,omitempty"`
	Unit     string         `json:"unit,omitempty"`
	Value    *float64       `json:"value,omitempty"` // nil: the item is a file or words, or the value is missing
	Words    string         `json:"words,omitempty"` // of a cell of a table that is no number
	Flag     string         `json:"flag,omitempty"`
	Method   string         `json:"method,omitempty"` // of a derived or mapped value, with its source
	Parts    []Part         `json:"made_of,omitempty"`
	Mapping  []Mapping      `json:"mapping,omitempty"`
	Inputs   []Source       `json:"inputs"`
	Steps    []archive.Step `json:"steps"`
	Notes    []string       `json:"notes,omitempty"`
}

// A Part is a value, or the values of a cast, that an item was made of.
type Part struct {
	Cast     string   `json:"cast"`
	Variable string   `json:"variable"`
	First    float64  `json:"first_dbar"` // pressure of the value, or the least and greatest
	Last     float64  `json:"last_dbar"`
	Levels   int      `json:"levels"`
	Value    *float64 `json:"value,omitempty"` // where it is one value
	Flag     string   `json:"flag,omitempty"`
	Flags    []string `json:"flags,omitempty"`       // met over several levels, each with how often
	Weight   *float64 `json:"weight,omitempty"`      // of a datum in a mapped value
	Base     *float64 `json:"background,omitempty"`  // at the datum, in its unit
	Km       *float64 `json:"distance_km,omitempty"` // along the section
	Away     *float64 `json:"away_km,omitempty"`     // from the node
	NodeDbar *float64 `json:"node_dbar,omitempty"`   // of which of several nodes it is a datum
	// pressures of the bins that the value was interpolated between, or is the mean of
	Bins     []float64 `json:"bins_dbar,omitempty"`
	File     string    `json:"input"`
	Line     int       `json:"line,omitempty"`      // of the value in the input, from 1; 0: not one line
	Text     string    `json:"text,omitempty"`      // of that line
	BinLines []int     `json:"bin_lines,omitempty"` // of the bins in the input; 0: not one line
}

// Mapping says what a node was mapped with: value = background + sum of weight x (value - background) of the parts of
// the variable.
type Mapping struct {
	Variable   string   `json:"variable"`
	Method     string   `json:"method"`
	Background float64  `json:"background"`        // at the node
	AtDbar     *float64 `json:"at_dbar,omitempty"` // of which of several nodes; nil: there is one
	Computed   float64  `json:"computed_again"`
	FromKm     *float64 `json:"from_km,omitempty"` // column whose value the node has, where it is another
	// the value of the node, where what was mapped lay outside the data nearby
	HeldTo *float64 `json:"held_to,omitempty"`
	// of optimal interpolation, else 0
	Noise         float64 `json:"noise,omitempty"`
	LengthKm      float64 `json:"length_km,omitempty"`
	ErrorVariance float64 `json:"error_variance_over_signal_variance,omitempty"`
	// in the band of pressure of the node; 0 where the grid states none. VARIABLE_err is the root of its product with
	// the error variance over it
	SignalVariance float64 `json:"signal_variance,omitempty"`
}

// A Source is an input file.
type Source struct {
	File   string   `json:"file"`
	Bytes  int64    `json:"bytes"`
	SHA256 string   `json:"sha256"`
	Lines  string   `json:"lines,omitempty"`
	Casts  []string `json:"casts,omitempty"`
}

// A Plan says what to trace.
type Plan struct{ Archive, Item string }

// tracer is a trace in the making.
type tracer struct {
	a      *archive.Archive
	steps  []archive.Step
	casts  *archive.Table
	out    *Trace
	inputs map[string]*Source
	used   []string          // files of inputs, in order
	lines  map[string]string // of each cast in its input, first and last
	texts  map[string]*text  // inputs that were read
}

// Run traces one item.
func Run(ctx context.Context, plan Plan) (*Trace, error) {
	a, err := archive.Open(ctx, plan.Archive)
	if err != nil {
		return nil, err
	}
	t := &tracer{a: a, out: &Trace{Item: plan.Item, Inputs: []Source{}}, inputs: map[string]*Source{},
		lines: map[string]string{}, texts: map[string]*text{}}
	if t.steps, err = a.Steps(); err != nil {
		return nil, err
	}
	for i := range t.steps {
		for _, u := range t.steps[i].Inputs {
			if u.Cast != "" && u.Lines != "" {
				t.lines[u.Cast] = u.Lines
			}
		}
	}
	if t.casts, err = a.Table("tables/stations.csv"); err != nil {
		return nil, err
	}
	kind, rest, ok := strings.Cut(plan.Item, ":")
	words := strings.Split(rest, ":")
	switch {
	case !ok || a.Has(plan.Item):
		err = t.file(strings.TrimPrefix(plan.Item, "data/"))
	case kind == "cast" && len(words) == 2:
		err = t.wholeCast(words[0], words[1])
	case kind == "cast" && len(words) == 3:
		err = t.cast(words[0], words[1], words[2])
	case kind == "section" && len(words) == 4:
		err = t.castOf("_section.nc", words)
	case kind == "series" && len(words) == 4:
		err = t.castOf("_time_series.nc", words)
	case kind == "field" && len(words) == 5:
		err = t.fieldNode(words)
	case kind == "table" && len(words) == 3:
		err = t.cell(words[0], words[1], words[2])
	case kind == "node" && len(words) == 4:
		err = t.node(words[0], words[1], words[2], words[3])
	case kind == "pair" && (len(words) == 3 || len(words) == 4):
		err = t.pair(words)
	case kind == "total" && len(words) == 2:
		err = t.total(words[0], words[1])
	default:
		err = t.refuse("is no item", "castwright trace --help lists the forms of an item")
	}
	if err != nil {
		return nil, err
	}
	t.finish()
	return t.out, nil
}

// refuse returns the error for an item that names nothing.
func (t *tracer) refuse(what, remedy string) error {
	return &metadata.InputError{Position: metadata.Position{File: t.a.Name}, Err: fmt.Errorf("%s %s", t.out.Item, what),
		Remedy: remedy}
}

// nearest returns the remedy for a word that is none of several.
func nearest(word string, among []string) string {
	if near, ok := metadata.Nearest(word, among); ok {
		return "did you mean " + near
	}
	return "there are " + some(among)
}

// some lists words, not too many of them.
func some(words []string) string {
	if n := len(words); n > 12 {
		return fmt.Sprintf("%s and %d others", strings.Join(words[:10], ", "), n-10)
	}
	return strings.Join(words, ", ")
}

// file traces a file of the archive: the steps that made it and their inputs.
func (t *tracer) file(rel string) error {
	if !t.a.Has(rel) {
		var names []string
		for _, f := range t.a.Files {
			names = append(names, f.Path)
		}
		return t.refuse("is no file of the archive and no item", nearest(rel, names))
	}
	t.out.File = rel
	for i := range t.steps {
		if slices.Contains(t.steps[i].Outputs, rel) {
			for _, u := range t.steps[i].Inputs {
				if t.input(u.File); u.Cast != "" {
					t.castInput(u.Cast)
				}
			}
		}
	}
	if len(t.used) == 0 {
		t.out.Notes = append(t.out.Notes, "no step names this file as its output: it describes the archive itself")
	}
	return nil
}

// input adds an input, with the lines that were read of it.
func (t *tracer) input(file string) *Source {
	if s := t.inputs[file]; s != nil {
		return s
	}
	s := &Source{File: file}
	for i := range t.steps {
		for _, u := range t.steps[i].Inputs {
			if u.File == file {
				s.Bytes, s.SHA256 = u.Bytes, u.SHA256
				if u.Cast == "" && u.Lines != "" && s.Lines == "" {
					s.Lines = u.Lines
				}
			}
		}
	}
	t.inputs[file] = s
	t.used = append(t.used, file)
	return s
}

// castInput adds the input of a cast.
func (t *tracer) castInput(id string) *Source {
	for _, row := range t.casts.Rows {
		if t.casts.Get(row, "cast_id") == id {
			s := t.input(t.casts.Get(row, "file"))
			if s.SHA256 == "" {
				s.SHA256 = t.casts.Get(row, "sha256")
			}
			if !slices.Contains(s.Casts, id) {
				s.Casts = append(s.Casts, id)
				if l := t.lines[id]; l != "" && s.Lines != "" {
					s.Lines += ", " + l
				} else if l != "" {
					s.Lines = l
				}
			}
			return s
		}
	}
	return &Source{}
}

// finish puts inputs and steps in order: the steps that made the file of the item, and those without a file of their
// own that handled one of its inputs, such as reading, converting and flagging.
func (t *tracer) finish() {
	for _, f := range t.used {
		t.out.Inputs = append(t.out.Inputs, *t.inputs[f])
	}
	for i := range t.steps {
		s := t.steps[i]
		mine := slices.Contains(s.Outputs, t.out.File)
		if !mine && len(s.Outputs) == 0 {
			for _, u := range s.Inputs {
				mine = mine || t.inputs[u.File] != nil
			}
			mine = mine || s.Name == "assign"
		}
		if !mine {
			continue
		}
		var kept []archive.Used
		for _, u := range s.Inputs {
			if x := t.inputs[u.File]; x != nil && (u.Cast == "" || len(x.Casts) == 0 || slices.Contains(x.Casts,
				u.Cast)) {
				kept = append(kept, u)
			}
		}
		s.Inputs = kept
		if s.Outputs != nil {
			s.Outputs = []string{t.out.File}
		}
		t.out.Steps = append(t.out.Steps, s)
	}
}

// castID returns the identity of a cast that is named by it, or by station and number.
func (t *tracer) castID(name string) (string, error) {
	var ids, found []string
	for _, row := range t.casts.Rows {
		if t.casts.Get(row, "left_out") != "" {
			continue
		}
		id := t.casts.Get(row, "cast_id")
		short := t.casts.Get(row, "station") + "/" + t.casts.Get(row, "cast")
		ids = append(ids, short)
		if id == name || short == name {
			found = append(found, id)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return "", t.refuse("names no cast of the archive: "+name, nearest(name, ids))
	}
	return "", t.refuse("names several casts: "+strings.Join(found, ", "), "write one of these instead of "+name)
}

func number(text string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		return 0, errors.New("not a number: " + text)
	}
	return v, nil
}
