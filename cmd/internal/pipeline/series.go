package pipeline

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/export/report"
	"github.com/castwright/castwright/export/statement"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// seriesWork is one time series on its way: what the cruise file says, and its casts in the order of time.
type seriesWork struct {
	settings *cruisefile.TimeSeries
	series   *section.Series
}

// seriesAsked returns the time series of the cruise file; without the key, those that are made unasked.
func (w *survey) seriesAsked() []cruisefile.TimeSeries {
	if w.cruise.TimeSeries != nil {
		return w.cruise.TimeSeries
	}
	var out []cruisefile.TimeSeries
	for _, o := range section.UsualSeries(w.casts) {
		out = append(out, cruisefile.TimeSeries{SeriesOptions: o, At: w.cruise.File,
			Title: "Station " + o.Stations.Items[0].From})
	}
	return out
}

// assembleSeries chooses the casts of each time series.
func (w *survey) assembleSeries() {
	w.series = nil
	asked := w.seriesAsked()
	for i := range asked {
		s := &asked[i]
		opts := s.SeriesOptions
		opts.Underway = w.underway()
		made, found, err := section.BuildSeries(w.casts, opts)
		for _, f := range found {
			if f.File == "" {
				f.Position = s.At
			}
			w.find(f)
		}
		switch {
		case errors.Is(err, section.ErrShortSeries):
			f := metadata.Finding{Position: s.At, Severity: metadata.Warning, Check: "series.casts",
				Message: fmt.Sprintf("%v: it was not made", err),
				Remedy:  "name stations with two or more casts at one position, or remove the series"}
			if w.underway() {
				f.Severity, f.Remedy = metadata.Note, ""
			}
			w.find(f)
		case err != nil:
			for _, e := range metadata.Parts(err) {
				f := metadata.Finding{Position: s.At, Severity: metadata.Failure, Check: "series.stations",
					Message: fmt.Sprintf("time series %s: %v", s.Name, e),
					Remedy:  "correct the stations of the series, or remove the station"}
				if mixed := (*section.LegsError)(nil); errors.As(e, &mixed) {
					f.Remedy, f.Options = "", legOptions("time_series", s.Name, s.Stations, w.casts, mixed)
				}
				w.find(f)
			}
		default:
			w.series = append(w.series, seriesWork{settings: s, series: made})
		}
	}
}

// SeriesFile returns the path of the file of a time series below data.
func SeriesFile(name string) string { return "sections/" + name + "_time_series.nc" }

func (w *archive) writeSeries(ctx context.Context, x *netcdf.Common) error {
	for i := range w.series {
		s := &w.series[i]
		name := s.settings.Name
		rel := SeriesFile(name)
		path, err := w.place(rel, fmt.Sprintf("The casts of time series %s, at one position, as time by pressure. "+
			"CF time series of profiles.", name))
		if err != nil {
			return err
		}
		step := metadata.Record{Step: "series", Text: "casts of time series " + name,
			Params: []metadata.Param{{Name: "stations", Value: s.settings.Stations.String()},
				{Name: "within_km", Value: strconv.FormatFloat(s.settings.Within(), 'g', -1, 64)}}}
		if near := s.settings.Near; near != nil {
			step.Params = append(step.Params, metadata.Param{Name: "near",
				Value: fmt.Sprintf("latitude %g, longitude %g", near.Lat(), near.Lon())})
		}
		step.Inputs, step.Outputs = w.castDigests(s.series.Casts), []string{rel}
		if err := netcdf.WriteSeries(ctx, path, with(x, step), s.series, s.settings.Title); err != nil {
			return err
		}
		w.record(step)
	}
	return nil
}

// holds reports whether a cast is of the series.
func (s *seriesWork) holds(k *section.Cast) bool { return slices.Contains(s.series.Casts, k) }

// stateSeries says in the processing statement what the time series are made of.
func (w *archive) stateSeries(d *statement.Document) {
	if len(w.series) == 0 {
		return
	}
	d.Heading("Time series")
	d.Text("Casts of one position in the order of time, at their own levels, measured and derived. The position is the " +
		"mean of those of the casts; the distance is that of the farthest cast from it.")
	var rows [][]string
	for i := range w.series {
		s := w.series[i].series
		first, last := s.Casts[0], s.Casts[len(s.Casts)-1]
		const minute = "2006-01-02 15:04"
		rows = append(rows, []string{s.Name, w.series[i].settings.Title, strconv.Itoa(len(s.Casts)),
			first.Time.UTC().Format(minute), last.Time.UTC().Format(minute), fixedText(s.At.Lat(), 4),
			fixedText(s.At.Lon(), 4), fixedText(s.FarKm(), 2)})
	}
	d.Table([]string{"Time series", "Title", "Casts", "First (UTC)", "Last (UTC)", "Latitude", "Longitude",
		"Farthest, km"}, rows)
}

// pageSeries adds the time series with their figures, and the figure of casts that repeat others.
func (w *archive) pageSeries(m *report.Material, figures []figure.Figure) {
	for i := range w.series {
		s := w.series[i].series
		m.Series = append(m.Series, report.Series{Name: s.Name, Title: w.series[i].settings.Title,
			Summary: fmt.Sprintf("%s at %.4f, %.4f (latitude, longitude) from %s to %s UTC.",
				plural(len(s.Casts), "cast"), s.At.Lat(), s.At.Lon(), s.Casts[0].Time.UTC().Format(time.DateTime),
				s.Casts[len(s.Casts)-1].Time.UTC().Format(time.DateTime))})
	}
	add := func(at int, f figure.Figure) { m.Series[at].Figures = append(m.Series[at].Figures, f) }
	of := func(holds func(s *section.Series) bool) int {
		return slices.IndexFunc(w.series, func(s seriesWork) bool { return holds(s.series) })
	}
	for _, f := range figures {
		switch f := f.(type) {
		case *figure.TimeSeries:
			add(of(func(s *section.Series) bool { return s == f.Series }), f)
		case *figure.Differences:
			at := of(func(s *section.Series) bool { return len(f.Sets) == 1 && slices.Equal(s.Casts, f.Sets[0]) })
			if at < 0 {
				at = len(m.Series)
				m.Series = append(m.Series, report.Series{Name: "Repeated casts",
					Summary: plural(len(f.Sets), "station") + " with casts that repeat another."})
			}
			add(at, f)
		}
	}
}
