package netcdf

import (
	"context"
	"fmt"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section"
)

// WriteSeries writes the casts of one position as time by pressure at path (NAME_time_series.nc): featureType
// timeSeriesProfile (CF 1.11, section H.5) of one station, whose nominal position is lat and lon. Time is a coordinate
// variable; each cast has its own position, identity and role, every column and the flags in force. Pressure is one
// axis for all casts, or one for each where they share none. profile_id leads to the cast file, where sensors and
// proposals are. The title may be "".
func WriteSeries(ctx context.Context, path string, x *Common, s *section.Series, title string) error {
	if err := x.checkCasts(s.Casts); err != nil {
		return fmt.Errorf("time series %s: %w", s.Name, err)
	}
	b := newProfiles(x, s.Casts, rectangular(s.Casts), "time", false)
	b.p.text("series_id", nil, "len_series", []string{s.Name}, nc.Attr{Name: "cf_role", Value: "timeseries_id"},
		longName("name of the time series"))
	b.label("series_id")
	b.nominal(s)
	b.identities()
	b.positions("cast_lat", "cast_lon", "", "")
	b.label("cast_lat cast_lon")
	b.bottom()
	b.vertical()
	b.columns()
	b.globalsOf("timeSeriesProfile", "TimeSeriesProfile", "time series "+named(s.Name, title), "time_series_"+s.Name,
		fmt.Sprintf("%s at one position in the order of time, at their own levels, measured and derived, with "+
			"quality flags", count(len(s.Casts), "CTD cast")),
		[]nc.Attr{{Name: "time_series", Value: tidy(s.Name)}})
	return b.p.write(ctx, path, x.Workers)
}

// nominal adds the position of the series.
func (b *profiles) nominal(s *section.Series) {
	for i, q := range []struct{ name, axis, of string }{{"lon", "X", "longitude"}, {"lat", "Y", "latitude"}} {
		v := coordinate(q.name, q.axis, "nominal "+q.of+" of the time series")
		a := attrs(v.Attrs)
		a.text("comment", "mean of the positions of the casts, which are in cast_"+q.name)
		v.Attrs = a
		b.p.values(v, []float64{s.At[i]})
	}
}
