package pipeline

import (
	"math"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/section"
)

// log keeps what the log says of a cast beside its time, position and depth. Where the line has no time, that of the
// bottom or the end is the time of the cast when the cruise file says that times are.
func (s *stations) log(e *ingest.StationEntry, k *section.Cast) {
	offset := clockOffset(s.c, k, cruisefile.ClockOfTable)
	if e.Zoned {
		offset = 0
	}
	for _, t := range []*time.Time{&e.Bottom, &e.End} { // the day is that of the cast
		if of, without := ingest.OfNoDay(*t); without {
			if *t = (time.Time{}); !k.Time.IsZero() {
				local := k.Time.Add(-offset)
				*t = ingest.After(local.Truncate(24*time.Hour).Add(of), local)
			}
		}
	}
	when := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.Add(offset).Format(time.RFC3339)
	}
	l := export.Logged{Bottom: when(e.Bottom), End: when(e.End), Bottles: e.Bottles, Parameters: e.Parameters,
		Event: e.Event}
	if !math.IsNaN(e.HeightM) {
		l.HeightM = text(e.HeightM, e.HeightDecimals)
	}
	for name, said := range map[string]bool{"bottom times": l.Bottom != "", "end times": l.End != "",
		"bottles": l.Bottles != "", "heights": l.HeightM != "", "parameters": l.Parameters != "",
		"events": l.Event != ""} {
		if said {
			s.count(name)
		}
	}
	if l != (export.Logged{}) {
		s.logged[k] = l
	}
	for _, x := range []struct {
		earlier, later time.Time
		words          string
		column         string
	}{{e.Time, e.Bottom, "at the bottom", "time_bottom"}, {e.Bottom, e.End, "at the end", "time_end"},
		{e.Time, e.End, "at the end", "time_end"}} {
		if !e.DateOnly && !x.earlier.IsZero() && !x.later.IsZero() && x.later.Before(x.earlier) {
			s.say(e, k, x.column, "the time %s is %s, before %s of the same line", x.words,
				clockText(x.later, false, false), clockText(x.earlier, false, false))
			break
		}
	}
	if e.Time.IsZero() {
		switch s.c.Casts.TimeIs {
		case section.AtBottom:
			e.Time = e.Bottom
		case section.AtEnd:
			e.Time = e.End
		}
	}
}
