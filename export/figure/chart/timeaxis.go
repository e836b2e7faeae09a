package chart

import (
	"math"
	"time"

	"github.com/castwright/castwright/export/figure/page"
)

const day = 24 * time.Hour

// timeSteps are the steps between ticks of a time axis; beyond, ten times the last and so on.
var timeSteps = []time.Duration{time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 30 * time.Minute,
	time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour, day, 2 * day, 5 * day, 10 * day, 20 * day,
	50 * day, 100 * day, 200 * day, 500 * day}

// timeTicks returns the round times from first to last, at most most of them, and the step between them.
func timeTicks(first, last time.Time, most int) (at []time.Time, step time.Duration) {
	for _, step = range timeSteps {
		if last.Sub(first)/step < time.Duration(most) {
			break
		}
	}
	midnight := first.UTC().Truncate(day)
	n := (first.Sub(midnight) + step - 1) / step
	for t := midnight.Add(n * step); !t.After(last); t = t.Add(step) {
		at = append(at, t)
	}
	return at, step
}

// TimeAxis draws times under the last frame, whose horizontal values are hours after start: hours and minutes with
// the date under the first tick of each day, or dates alone where ticks are a day or more apart. Times are UTC.
func (p *Sheet) TimeAxis(fr *Frame, start time.Time) {
	when := func(hours float64) time.Time { return start.UTC().Add(time.Duration(hours * float64(time.Hour))) }
	first, last := when(fr.X0), when(fr.X1)
	at, step := timeTicks(first, last, int(math.Max(2, (fr.R-fr.L)/(p.Size*5))))
	dates, year := "2 Jan", first.Format(" 2006")
	if first.Year() != last.Year() {
		dates, year = "2 Jan 2006", ""
	}
	row := p.Size * 1.3
	seen := ""
	for _, t := range at {
		x := fr.X(t.Sub(start).Hours())
		text := t.Format("15:04")
		if step >= day {
			text = t.Format(dates)
		}
		bottomTick(p.Scene, x, fr.B, text, p.Size, 1.2)
		if date := t.Format(dates); step < day && date != seen {
			p.TryText(page.Label{Text: date, At: page.Pt(x, fr.B+TickLength+1.6+row), Size: p.Size, H: page.Middle,
				V: page.Top}, 1.2)
			seen = date
		}
	}
	below, title := fr.B, "Date (UTC)"
	if step < day {
		below, title = fr.B+row, "Time (UTC)"
	}
	if year != "" {
		title += "," + year
	}
	p.AxisTitle(fr, below, title)
	p.Y += p.Size*1.05 + 3
}
