package pipeline

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// documentNotes say what the files are that are written last.
var documentNotes = []export.FileNote{
	{Path: "provenance/history.txt", What: "What was done, a line a step."},
	{Path: "provenance/prov.json",
		What: "The same for machines: inputs, steps with every setting, outputs (W3C PROV-JSON)."},
	{Path: "README.txt", What: "This file."}}

// writeDocuments writes documents, the page, README, history and provenance, last of all since they name everything
// else.
func (w *archive) writeDocuments(ctx context.Context) error {
	if err := w.writeHandover(ctx); err != nil {
		return err
	}
	if err := w.writePage(); err != nil {
		return err
	}
	w.notes = append(w.notes, documentNotes...)
	files := slices.Clone(w.notes)
	sort.SliceStable(files, func(i, j int) bool { return files[i].Path < files[j].Path })
	c := w.cruise
	r := &export.Readme{Cruise: c.ID, Title: c.Title, Status: string(c.Release.Status), Licence: c.Release.Licence,
		Contact: c.Release.Contact,
		Embargo: c.Release.Embargo, Citation: c.Release.Citation, Casts: len(w.casts), Files: files,
		Tool: w.plan.Program, At: w.stamp, Notes: w.madeHow(), About: w.about()}
	r.Keys = w.keyNotes()
	for _, l := range w.out {
		name := l.file
		if l.cast != nil {
			name += " (cast " + l.cast.ID() + ")"
		}
		r.LeftOut = append(r.LeftOut, name+": "+orUnstated(l.reason))
	}
	outputs := map[string][32]byte{}
	for _, rec := range w.records {
		for _, rel := range rec.Outputs {
			if _, done := outputs[rel]; done {
				continue
			}
			if w.plan.Compared != nil { // the checksums in the old archive are compared with its own files
				outputs[rel] = [32]byte{}
				continue
			}
			sum, _, err := regular.Sum(ctx, filepath.Join(w.data, filepath.FromSlash(rel)))
			if err != nil {
				return fmt.Errorf("provenance: %w", err)
			}
			outputs[rel] = sum
		}
	}
	p := &export.Provenance{Cruise: c.ID, Tool: w.plan.Program, Plan: w.plan0, Records: w.records, Outputs: outputs,
		Agents: w.agents(), At: w.stamp}
	write := func(rel string, fill func(io.Writer) error) error {
		path := filepath.Join(w.data, filepath.FromSlash(rel))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		w.file("write", rel)
		var b bytes.Buffer
		if err := fill(&b); err != nil {
			return err
		}
		return os.WriteFile(path, b.Bytes(), 0o644)
	}
	if err := write("provenance/history.txt", func(o io.Writer) error { return export.WriteHistory(o, p) }); err !=
		nil {
		return err
	}
	if err := write("provenance/prov.json", func(o io.Writer) error { return export.WriteProvenance(o, p) }); err !=
		nil {
		return err
	}
	return write("README.txt", func(o io.Writer) error { return export.WriteReadme(o, r) })
}

// madeHow returns the sentences on method that a reader of the archive must know.
func (w *survey) madeHow() []string {
	out := []string{"Derived values follow TEOS-10 (IOC, SCOR and IAPSO 2010) with the 75-term specific volume " +
		"(Roquet et al. 2015) and the Absolute Salinity " +
		"anomaly atlas (McDougall et al. 2012).", w.asRead()}
	out = append(out, w.reportedHow()...)
	out = append(append(out, w.comparedHow()...), w.errorsFrom...)
	if len(w.sections) > 0 {
		out = append(out,
			"Casts of a section are not simultaneous: inertial and tidal motion is in the geostrophic shear.",
			"Geostrophic velocity rests on the reference level named in each file; doubt about that level is "+
				"larger than the stated error.",
			"Errors in tables/transports.csv and NAME_geostrophy.nc are standard errors. The stated error is the "+
				"root of the sum of the squares of its parts "+
				"(columns part_...): errors of single casts, those common to a system of sensors where the "+
				"accuracy is divided, of positions and of known "+
				"velocities. per_cast_if_common is no part: it is what part_per_cast would be if the accuracies "+
				"that are not divided were common to a system. The choice of the reference and of the flow "+
				"in bottom triangles "+
				"is not in it: compare the columns second_reference, no_triangle, constant_velocity_triangle, "+
				"constant_shear_triangle and linear_to_zero_triangle.")
	}
	if slices.ContainsFunc(w.flowsOf(), func(r *geostrophy.Result) bool { return r.Budget != nil }) {
		out = append(out, "The net of a closed line in "+budgetsFile+" is a geostrophic imbalance, not zero by "+
			"theory: geostrophic flow diverges where it crosses latitudes (beta_term). Heat and freshwater are "+
			"relative to the "+
			"mean temperature and salinity of the line above its bottom triangles, unless others are stated; "+
			"change_per_unit says how much the net changes with them. "+
			"The column left_out lists what no cast measures.")
	}
	return out
}

// about says for the README what the cruise was: who, when and where.
func (w *survey) about() [][2]string {
	c := w.cruise
	var out [][2]string
	add := func(head string, parts ...string) {
		if text := strings.Join(slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return s == "" }),
			", "); text != "" {
			out = append(out, [2]string{head, text})
		}
	}
	between := func(a, b string) string {
		if a == "" || b == "" {
			return a + b
		}
		return a + " to " + b
	}
	for _, s := range c.Ships {
		code := ""
		if s.Code != "" {
			code = "ICES code " + s.Code
		}
		add("Ship", s.Name, code)
	}
	for _, l := range c.Legs {
		chief := ""
		if l.ChiefScientist.Name != "" {
			chief = "chief scientist " + l.ChiefScientist.Name
		}
		ship := l.Ship
		for _, s := range c.Ships {
			if ship == "" && len(c.Ships) > 1 && s.Code != "" && strings.HasPrefix(l.Expocode, s.Code) {
				ship = s.Name
			}
		}
		add("Leg", l.Expocode, ship, between(l.Start, l.End), between(l.From, l.To), chief)
	}
	for i := range c.Legs {
		if p := &c.Legs[i].ChiefScientist; p.Role+p.Institution+p.Email != "" {
			add("Person", p.Name, orDefault(p.Role, "chief scientist"), p.Institution, p.Email)
		}
	}
	for _, p := range c.People {
		add("Person", p.Name, p.Role, p.Institution, p.Email)
	}
	for _, i := range c.Institutions {
		add("Institution", i.Name)
	}
	add("Project", c.Projects...)
	for _, g := range c.Funding {
		add("Funding", g.String(), g.ROR)
	}
	for _, r := range c.References {
		add("Reference", r.String())
	}
	add("Sea area", c.Region)
	var lons []float64
	south, north := math.Inf(1), math.Inf(-1)
	var first, last time.Time
	for _, k := range w.casts {
		lons = append(lons, k.At.Lon())
		south, north = min(south, k.At.Lat()), max(north, k.At.Lat())
		if t := k.Time; !t.IsZero() {
			if first.IsZero() || t.Before(first) {
				first = t
			}
			if t.After(last) {
				last = t
			}
		}
	}
	if len(lons) > 0 {
		west, east := section.LongitudeRange(lons)
		add("Casts lie", fmt.Sprintf("from %.4f to %.4f degrees north", south, north),
			fmt.Sprintf("from %.4f to %.4f degrees east", west, east))
	}
	if !first.IsZero() {
		add("Casts taken", between(first.UTC().Format(time.DateOnly), last.UTC().Format(time.DateOnly))+" (UTC)")
	}
	return out
}

func (w *inputs) agents() []export.Agent {
	var out []export.Agent
	for _, l := range w.cruise.Legs {
		if l.ChiefScientist.Name != "" {
			out = append(out, export.Agent{Name: l.ChiefScientist.Name, ID: l.ChiefScientist.ORCID,
				Role: "chief scientist"})
		}
	}
	for _, p := range w.cruise.People {
		out = append(out, export.Agent{Name: p.Name, ID: p.ORCID, Role: p.Role})
	}
	for _, i := range w.cruise.Institutions {
		out = append(out, export.Agent{Name: i.Name, ID: i.ROR, Organisation: true})
	}
	return out
}

// bagInfo returns bag-info.txt.
func (w *survey) bagInfo() []bag.Field {
	c := w.cruise
	f := []bag.Field{{Label: "Bagging-Date", Value: w.stamp.UTC().Format("2006-01-02")}}
	add := func(label, value string) {
		if value = strings.Join(strings.Fields(value), " "); value != "" {
			f = append(f, bag.Field{Label: label, Value: value})
		}
	}
	for _, i := range c.Institutions {
		add("Source-Organization", i.Name)
	}
	add("Contact-Email", c.Release.Contact)
	add("External-Identifier", c.ID)
	add("External-Description", c.Title)
	add("Internal-Sender-Identifier", c.ID)
	add("Release-Status", string(c.Release.Status))
	add("Time-Stamp", w.stamp.UTC().Format(time.RFC3339))
	add("Bag-Software-Agent", w.plan.Program)
	return f
}

// keyNotes explains the settings in the attributes of the files that there are.
func (w *archive) keyNotes() (notes []export.KeyNotes) {
	add := func(attributes string, settings []gridding.Setting) {
		n := export.KeyNotes{Attributes: attributes}
		for _, k := range settings {
			n.Keys = append(n.Keys, [2]string{k.Name, k.What})
		}
		notes = append(notes, n)
	}
	any := func(is func(s *sectionWork) bool) bool {
		return slices.ContainsFunc(w.sections, func(s sectionWork) bool { return is(&s) })
	}
	if any(func(s *sectionWork) bool { return s.grid != nil }) ||
		slices.ContainsFunc(w.fields, func(f fieldWork) bool { return f.grid != nil }) {
		add("grid_settings_json AND grid_results_json", gridding.Settings())
	}
	if any(func(s *sectionWork) bool { return s.anomaly != nil }) {
		add("grid_settings_json AND grid_results_json OF ANOMALIES", gridding.ChangeSettings())
	}
	if any(func(s *sectionWork) bool { return s.flow != nil }) {
		n := export.KeyNotes{Attributes: "geostrophy_settings_json"}
		for _, k := range geostrophy.Settings() {
			n.Keys = append(n.Keys, [2]string{k.Name, k.What})
		}
		notes = append(notes, n)
	}
	return notes
}
