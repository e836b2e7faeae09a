package draft

import (
	"regexp"
	"sort"
	"strings"
	"time"

	"github.com/castwright/castwright/ingest"
)

var numericDate = regexp.MustCompile(`^(\d{1,2})[-/.](\d{1,2})[-/.](\d{2,4})|^(\d{6})(?:\D|$)`)

// orders are the orders of a date of numbers.
var orders = []ingest.DateOrder{ingest.YearMonthDay, ingest.DayMonthYear, ingest.MonthDayYear}

// dates decides the order of day, month and year: the one in which every date exists, lies between 1980 and 2060 and
// all lie within half a year. Where several do it is asked.
func (g *group) dates() {
	var texts []string
	for _, f := range g.files {
		for _, s := range f.head.dates {
			if numericDate.MatchString(strings.TrimSpace(s)) {
				texts = append(texts, s)
			}
		}
	}
	g.layout.Date, g.questions["date"] = orderOf(texts)
	if g.questions["date"] == "" {
		delete(g.questions, "date")
	}
}

// orderOf returns the order of dates of numbers, or what must be asked.
func orderOf(texts []string) (order ingest.DateOrder, question string) {
	if len(texts) == 0 {
		return order, ""
	}
	type choice struct {
		order ingest.DateOrder
		days  float64
	}
	var can []choice
	for _, o := range orders {
		var all []time.Time
		for _, s := range texts {
			day, _, err := ingest.ReadDate(s, o)
			if err != nil || day.Year() < 1980 || day.Year() > 2060 {
				all = nil
				break
			}
			all = append(all, day)
		}
		if all == nil {
			continue
		}
		sort.Slice(all, func(i, j int) bool { return all[i].Before(all[j]) })
		can = append(can, choice{o, all[len(all)-1].Sub(all[0]).Hours() / 24})
	}
	switch {
	case len(can) == 1:
		return can[0].order, ""
	case len(can) == 0:
		return order, ""
	}
	sort.SliceStable(can, func(i, j int) bool { return can[i].days < can[j].days })
	if can[0].days < 90 && can[1].days > 2*can[0].days+60 && can[0].days > 0 {
		return can[0].order, ""
	}
	day := func(o ingest.DateOrder) string {
		d, _, _ := ingest.ReadDate(texts[0], o)
		return o.String() + " for " + d.Format("2 January 2006")
	}
	return order, "which day is " + strings.Fields(texts[0])[0] + ": " + day(can[0].order) + ", " +
		day(can[1].order)
}
