// Package report writes the page of an archive: one HTML file that needs no network, no server and, to be read, no
// script. It has the cruise and its release state, stations with a map, each section as a figure with the value under
// the pointer, profiles, proposals to decide about, tables, and what every product was made from. It takes plain values
// and reads no file.
//
//	err := report.Write(w, &report.Material{Cruise: &cruise, Stamp: stamp, Stations: rows, Sections: sections})
//
// The page carries every n-th node of a grid and every n-th level of a cast, as decimal numbers with the digits that it
// shows. It is not a program to work with data: what it carries is what it shows, and the files beside it are the data.
package report

import (
	"cmp"
	"crypto/sha256"
	_ "embed" // the parts of the page
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"net/url"
	"strings"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// Material is what a page is made from.
type Material struct {
	Cruise  *metadata.Cruise
	About   [][2]string // what the cruise was: a heading and a line each
	Signed  string      // who signed the release, and when; "" nobody
	Program string
	Stamp   time.Time
	// the ledger of the casts, those left out too
	Stations  []export.StationRow
	Map       *figure.StationMap // nil: none
	Sections  []Section
	Series    []Series
	Groups    []Group
	Proposals []Proposal
	Tables    []Table
	Records   []metadata.Record
	Notes     []string // sentences on method that a reader must know
	Files     []export.FileNote
	// the formats of the files of each figure in the archive, "svg" and so on, by its stem
	Written map[string][]string
	Depth   bool // figures and profiles have depth instead of pressure on their vertical axes
	Workers int  // figures drawn at a time; below 2: one
	// Live names the state of the inputs of a cruise whose casts still arrive: the page asks the server that shows it
	// for a newer state. "" for the page of an archive, which asks for nothing.
	Live string
	// At most so many bytes of figures are set into the page; the others are named with links. 0: FigureBytes.
	MostFigureBytes int
}

// FigureBytes is how many bytes of figures a page holds.
const FigureBytes = 5 << 19

// Section is one section on the page.
type Section struct {
	Name, Title string
	Summary     string // length, pairs and transport in words
	Section     *section.Section
	Grid        *gridding.Grid     // nil: none
	Flow        *geostrophy.Result // nil: none
	Figures     []figure.Figure    // of the grid and of the velocity; others are passed over
}

// Series is one time series on the page, or the casts that repeat others: figures to look at.
type Series struct {
	Name, Title string
	Summary     string
	Figures     []figure.Figure
}

// A Group is figures of one kind that the page shows without values under the pointer.
type Group struct {
	Name    string // for its heading
	What    string
	Figures []figure.Figure
}

// A Proposal is a flag that a check or a person proposes, open for a decision.
type Proposal struct {
	Cast             *section.Cast
	Variable         string // name of the column
	FromDbar, ToDbar float64
	Flag             metadata.Flag
	Check            string // that proposed it; "" when none did
	Message          string
}

// A Table is a table of the archive that the page shows.
type Table struct {
	Name    string // of the table, for its heading
	What    string
	Path    string // in the archive
	CSV     []byte
	Columns []string            // to show, by their names, from left to right; nil: all
	Where   map[string][]string // only rows that have one of these words in a column; nil: all rows
	Figures []figure.Figure     // of its numbers
}

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

// The parts of the script; live.js is in pages of cruises whose casts arrive only.
var (
	//go:embed read.js
	readJS string
	//go:embed profiles.js
	profilesJS string
	//go:embed tables.js
	tablesJS string
	//go:embed decide.js
	decideJS string
	//go:embed live.js
	liveJS string
)

// script returns the script of a page.
func script(live bool) string {
	s := "\"use strict\";\n{\n" + readJS + profilesJS + tablesJS + decideJS
	if live {
		s += liveJS
	}
	return s + "}\n"
}

var pageTemplate = template.Must(template.New("page").Parse(pageHTML))

// view is what the template is given.
type view struct {
	*Material
	Policy, CSS, JS any
	Title           string
	State           string
	Glyphs          template.HTML
	MapSVG          template.HTML
	MapText         string
	Ledger          *tableView
	Parts           []sectionView
	Repeats         []sectionView
	Gatherings      []groupView
	Decide          []proposalView
	Shown           []*tableView
	Products        []product
	Downloads       []download
	Data            any
	Cautions        string
	Variables       []variableData
	When            string
	CastCount       int
}

type download struct{ Href, Path, What string }

// Write writes the page. The bytes depend on the material alone.
func Write(w io.Writer, m *Material) error {
	v := &view{Material: m, Title: m.Cruise.ID, CSS: template.CSS(pageCSS),
		JS: template.JS(script(m.Live != "")), When: m.Stamp.UTC().Format("2 January 2006, 15:04 UTC"),
		Cautions: strings.Join(strings.Fields(export.Cautions), " ")}
	if m.Cruise.Title != "" {
		v.Title = m.Cruise.Title
	}
	v.State = stateOf(&m.Cruise.Release)
	v.Policy = policy(m.Live != "")
	d := newData(m)
	pics, err := drawAll(m)
	if err != nil {
		return err
	}
	a := &album{pictures: pics, written: m.Written, budget: cmp.Or(m.MostFigureBytes, FigureBytes)}
	if m.Map != nil && pics[m.Map] != nil {
		p := pics[m.Map]
		v.MapSVG, v.MapText = template.HTML(a.glyphs.share(p.svg)), p.scene.Detail
		d.addMap(m.Map, p.scene)
	}
	v.Parts = d.addSections(m, a)
	for i := range m.Series {
		s := &m.Series[i]
		p := sectionView{ID: fmt.Sprintf("series-%d", i+1), Name: s.Name, Title: s.Title, Summary: s.Summary}
		p.Figures, p.Elsewhere = a.putAll(s.Figures)
		v.Repeats = append(v.Repeats, p)
	}
	for i := range m.Groups {
		g := groupView{ID: fmt.Sprintf("group-%d", i+1), Group: &m.Groups[i]}
		g.Shown, g.Elsewhere = a.putAll(m.Groups[i].Figures)
		v.Gatherings = append(v.Gatherings, g)
	}
	v.Decide = d.addProposals(m)
	v.Ledger, err = ledger(m, d)
	if err != nil {
		return err
	}
	for i := range m.Tables {
		t, err := shown(&m.Tables[i])
		if err != nil {
			return err
		}
		t.Figures, t.Elsewhere = a.putAll(m.Tables[i].Figures)
		v.Shown = append(v.Shown, t)
	}
	v.Variables = d.Variables
	v.Glyphs = template.HTML(a.glyphs.defs())
	for i := range m.Stations {
		if m.Stations[i].LeftOut == "" {
			v.CastCount++
		}
	}
	v.Products = products(m.Records)
	for _, f := range m.Files {
		v.Downloads = append(v.Downloads, download{linkTo(f.Path), f.Path, f.What})
	}
	packed, err := json.Marshal(d)
	if err != nil {
		return fmt.Errorf("page: %w", err)
	}
	v.Data = template.JS(packed) // json.Marshal escapes <, > and &
	return pageTemplate.Execute(w, v)
}

// policy returns the content-security policy: the style and the script of the page, nothing else, and no request. A
// page of a cruise whose casts arrive may ask its own server.
func policy(live bool) string {
	sum := func(s string) string {
		h := sha256.Sum256([]byte(s))
		return "'sha256-" + base64.StdEncoding.EncodeToString(h[:]) + "'"
	}
	p := "default-src 'none'; script-src " + sum(script(live)) + "; style-src " + sum(pageCSS) +
		"; base-uri 'none'; form-action 'none'"
	if live {
		p += "; connect-src 'self'"
	}
	return p
}

// linkTo returns the relative link to a file of the archive beside the page.
func linkTo(rel string) string {
	parts := strings.Split(rel, "/")
	for i, p := range parts {
		parts[i] = url.PathEscape(p)
	}
	return "./" + strings.Join(parts, "/") // a name with a colon is no scheme
}

// stateOf says in which state the data are.
func stateOf(r *metadata.Release) string {
	s := string(r.Status)
	if s == "" {
		s = string(metadata.Preliminary)
	}
	if r.Version != "" {
		s += ", version " + r.Version
	}
	if r.Date != "" {
		s += ", " + r.Date
	}
	return s
}
