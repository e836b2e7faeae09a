package pipeline

import (
	"context"
	"slices"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// survey is the cruise: its casts in their place, and what is computed from them.
type survey struct {
	*inputs
	stamp    time.Time       // of the archive
	casts    []*section.Cast // in the order of the archive
	remarks  map[*section.Cast]string
	logged   map[*section.Cast]export.Logged
	sections []sectionWork
	fields   []fieldWork
	series   []seriesWork
	depths   *ncprofile.DepthGrid       // bathymetry as read; nil: none
	depthAt  func(at orb.Point) float64 // of the bathymetry; nil: none
	records  []metadata.Record

	checks     *qc.Checks
	quality    []metadata.Finding                     // of the checks, until they join the others
	compared   *qc.Result                             // what the checks of the cruise compared; nil before they ran
	logLine    map[*section.Cast]metadata.Position    // of the station table
	logOnly    []*ingest.StationEntry                 // lines of it that no cast has
	clocks     []qc.Clock                             // times of the station table beside those of the files
	byName     map[[2]string]*section.Cast            // by identity and file
	errorsFrom []string                               // sentences on errors of salinity that follow from bottles
	decided    map[*section.Column][]*ingest.FlagEdit // for each level: the flag edit that set it
}

// survey puts the casts that were read in their place. What is wrong is among the findings; the error is that of ctx.
func (in *inputs) survey(ctx context.Context) (*survey, error) {
	kept, out, found, done := assemble(in.cruise, in.read, in.tables.entries)
	if in.unlisted { // of what no file holds nothing can be said; that a source is not there comes first
		found = slices.DeleteFunc(found, func(f metadata.Finding) bool {
			return f.Severity == metadata.Warning &&
				slices.Contains([]string{"cruise.renumber", "cruise.leave_out", "cruise.stations",
					"station_table.station"}, f.Check)
		})
	}
	if in.underway() {
		notYet(found)
	}
	nameCarried(kept)
	in.out = append(in.out, out...)
	in.find(found...)
	found, err := ingest.CheckCruise(kept, declaredLegs(in.cruise))
	if in.underway() {
		notYet(found)
	}
	in.find(found...)
	if err != nil {
		in.fault(err, "input.cast")
	}
	if len(kept) == 0 && in.underway() {
		in.find(metadata.Finding{Position: in.cruise.File, Severity: metadata.Note, Check: "cruise.casts",
			Message: "no cast is there yet"})
	} else if len(kept) == 0 && !in.failed() {
		in.find(metadata.Finding{Position: in.cruise.File, Severity: metadata.Failure, Check: "cruise.casts",
			Message: "no cast is left to work on",
			Remedy:  "name files or folders under casts: sources"})
	}
	w := &survey{inputs: in, stamp: archiveStamp(in.plan.Epoch, in.cruise, kept, in.dates), casts: kept,
		remarks: done.stations.remarks, logged: done.stations.logged, clocks: done.stations.clocks,
		logLine: done.stations.lineOf, logOnly: done.stations.logOnly}
	w.matchBottles()
	w.recordRead(&done)
	if err := w.checkCasts(ctx); err != nil {
		return nil, err
	}
	w.applyEdits(in.tables.edits)
	if err := w.readBathymetry(ctx); err != nil {
		return nil, err
	}
	w.checkCruise()
	w.salinityErrors()
	return w, ctx.Err()
}

// notYet makes notes of warnings that say that something of the cruise file has no cast: while it is underway it is
// still to come.
func notYet(found []metadata.Finding) {
	for i := range found {
		switch f := &found[i]; f.Check {
		case "cruise.stations", "cruise.leave_out", "cruise.renumber", "station_table.station",
			"exchange.expocode_unused":
			if f.Severity == metadata.Warning {
				f.Severity, f.Remedy = metadata.Note, ""
			}
		}
	}
}

// judged ends what is found: findings that the cruise file accepts are closed, and a final release with open ones
// is refused.
func (w *survey) judged() {
	w.accept()
	w.refuseOpen()
}

// product returns what there is so far, findings in their one order.
func (w *survey) product() Product {
	p := Product{Cruise: w.cruise.ID, Casts: len(w.casts), LeftOut: len(w.out),
		Findings: metadata.JoinFindings(w.findings), Found: w.findings, Open: w.proposals(),
		Ledger: w.ledger()}
	for i := range w.sections {
		p.Sections = append(p.Sections, w.sections[i].summary())
	}
	for _, k := range w.casts {
		c := CastSummary{ID: k.ID(), Expocode: k.Expocode, Station: k.Station, Number: k.Number,
			Role: k.Role.String(), System: k.System,
			Levels: len(k.PressureDbar), File: k.Source.Name}
		if c.Levels > 0 {
			c.FirstDbar, c.LastDbar = k.PressureDbar[0], k.PressureDbar[c.Levels-1]
		}
		p.List = append(p.List, c)
	}
	return p
}
