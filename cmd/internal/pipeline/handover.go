package pipeline

import (
	"context"
	"io"
	"math"
	"slices"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/statement"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

const dataCiteFile = "provenance/datacite.json"

// writeHandover writes what the recipients of an archive ask for beside the data.
func (w *archive) writeHandover(context.Context) error {
	if err := w.put(dataCiteFile,
		"Description of the data for a repository (JSON of the DataCite Metadata Schema 4.5).",
		func(o io.Writer) error { return export.WriteDataCite(o, w.dataCite()) }); err != nil {
		return err
	}
	w.record(metadata.Record{Step: "write", Text: "description for a repository",
		Inputs: []metadata.Digest{w.plan0}, Outputs: []string{dataCiteFile}})
	var made []string
	for _, x := range []struct {
		name, what string
		document   *statement.Document
	}{
		{"processing_statement", "What was done to the data, with numbers: the data chapter of the cruise report",
			w.statement()},
		{"station_summary", "The casts: where, when, how deep, with bottles and sections", w.stationSummary()},
		{"transport_summary", "The transport of each section in one narrow table", w.transportSummary()},
		{"submission_sheet", "What a data centre asks for with a submission", w.submissionSheet()},
	} {
		for _, form := range []struct {
			end, name string
			write     func(io.Writer, *statement.Document) error
		}{{".md", "Markdown", statement.WriteMarkdown}, {".html", "HTML", statement.WriteHTML}} {
			rel := "documents/" + x.name + form.end
			err := w.put(rel, x.what+" ("+form.name+").", func(o io.Writer) error { return form.write(o, x.document) })
			if err != nil {
				return err
			}
			made = append(made, rel)
		}
	}
	w.record(metadata.Record{Step: "write", Text: "documents for the cruise report and the data centre",
		Inputs: w.castDigests(w.casts), Outputs: made})
	return nil
}

func (w *survey) dataCite() *export.DataCite {
	d := &export.DataCite{Cruise: &w.cruise.Cruise, Casts: len(w.casts), Methods: w.madeHow(), At: w.stamp,
		South: math.Inf(1), North: math.Inf(-1), Keywords: []string{"CTD", "oceanography"}}
	d.First, d.Last = days(&w.cruise.Cruise, w.casts)
	var lons []float64
	for _, k := range w.casts {
		d.South, d.North = min(d.South, k.At.Lat()), max(d.North, k.At.Lat())
		lons = append(lons, section.Wrap180(k.At.Lon()))
		if !slices.Contains(d.Expocodes, k.Expocode) {
			d.Expocodes = append(d.Expocodes, k.Expocode)
		}
		for i := range k.Columns {
			if n := k.Columns[i].StandardName; n != "" && !slices.Contains(d.Keywords, n) {
				d.Keywords = append(d.Keywords, n)
			}
		}
	}
	if len(lons) > 0 {
		d.West, d.East = section.LongitudeRange(lons)
	}
	return d
}
