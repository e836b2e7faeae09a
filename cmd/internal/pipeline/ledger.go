package pipeline

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/statement"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// ledgerFile is the table that accounts for every cast, line of the log and planned station.
const ledgerFile = "tables/ledger.csv"

// ledger accounts for every cast, every line of the log and every planned station, in the order of the states.
func (w *survey) ledger() []export.LedgerRow {
	hasLog := len(w.tables.entries) > 0
	var rows []export.LedgerRow
	add := func(r export.LedgerRow) {
		r.HasLog = hasLog
		rows = append(rows, r)
	}
	first := map[[3]string]*section.Cast{}
	for _, k := range w.casts {
		r := export.LedgerRow{Expocode: k.Expocode, Station: k.Station, Cast: k.Number, File: k.Source.Name,
			Log: w.logLine[k]}
		name := [3]string{k.Expocode, strings.ToLower(strings.TrimLeft(k.Station, "0")), k.Number}
		if f := first[name]; f != nil {
			r.State, r.Why = export.LedgerTwice, "as "+f.Source.Name
		} else {
			first[name] = k
		}
		add(r)
	}
	for _, o := range w.out {
		r := export.LedgerRow{State: export.LedgerLeftOut, File: o.file, Why: orUnstated(o.reason)}
		if o.cast != nil {
			r.Expocode, r.Station, r.Cast = o.cast.Expocode, o.cast.Station, o.cast.Number
			for i := range w.tables.entries {
				if e := &w.tables.entries[i]; lineIsOf(e, o.cast) {
					r.Log = e.Place("station")
				}
			}
		}
		add(r)
	}
	for _, e := range w.logOnly {
		add(export.LedgerRow{State: export.LedgerLogOnly, Expocode: e.Expocode, Station: e.Station, Cast: e.Cast,
			Log: e.Place("station"), File: e.Place("station").File})
	}
	if w.compared != nil {
		for _, g := range w.compared.Gaps {
			add(export.LedgerRow{State: export.LedgerGap, Expocode: g.Expocode, Station: g.Station})
		}
	}
	for i := range w.cruise.Sections {
		s := &w.cruise.Sections[i]
		planned := s.Planned
		if len(planned.Items) == 0 && w.underway() {
			planned = s.Stations
		}
		for _, name := range planned.NotTaken(w.casts) {
			add(export.LedgerRow{State: export.LedgerPlanned, Station: name, Section: s.Name})
		}
	}
	slices.SortStableFunc(rows, func(a, b export.LedgerRow) int { return int(a.State) - int(b.State) })
	return rows
}

// NotSimplyKept reports whether a row of the ledger is more than a cast that is kept and, where there is a log, in it.
func NotSimplyKept(r export.LedgerRow) bool {
	return r.State != export.LedgerKept || r.HasLog && r.Log.Line == 0
}

// LedgerText says in a line how many casts, lines of the log and stations are in each state, and names a few of those
// that are not simply kept.
func LedgerText(rows []export.LedgerRow) string {
	var n [export.LedgerStates]int
	var names [export.LedgerStates][]string
	noLog := 0
	for _, r := range rows {
		n[r.State]++
		name := r.Station
		if r.Cast != "" {
			name = metadata.CastText(r.Station, r.Cast)
		}
		if name == "" {
			name = r.File
		}
		names[r.State] = append(names[r.State], name)
		if r.HasLog && r.State == export.LedgerKept && r.Log.Line == 0 {
			noLog++
		}
	}
	parts := []string{fmt.Sprintf("%s kept", plural(n[export.LedgerKept], "cast"))}
	if noLog > 0 {
		parts[0] += fmt.Sprintf(", %d of them not in the log", noLog)
	}
	const most = 5
	for s := export.LedgerTwice; s < export.LedgerStates; s++ {
		if n[s] == 0 {
			continue
		}
		text := fmt.Sprintf("%d %s: %s", n[s], s, strings.Join(names[s][:min(most, n[s])], ", "))
		if n[s] > most {
			text += fmt.Sprintf(" and %d more", n[s]-most)
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, "; ")
}

// writeLedger writes the ledger.
func (w *archive) writeLedger() error {
	rows := w.ledger()
	inputs := append(append(w.castDigests(w.casts), w.plan0), w.tableDigest(w.cruise.Casts.Stations.Path)...)
	w.record(metadata.Record{Step: "write", Text: "ledger of casts, log and plan", Inputs: inputs,
		Outputs: []string{ledgerFile}})
	return w.put(ledgerFile, "Every cast, line of the log and planned station, and what became of it: kept, left "+
		"out and why, in the log only, not in the log, numbers of stations without a cast.",
		func(o io.Writer) error { return export.WriteLedger(o, rows) })
}

// ledgerStates returns the words of the states but that of casts which are simply kept.
func ledgerStates() []string {
	var out []string
	for s := export.LedgerKept + 1; s < export.LedgerStates; s++ {
		out = append(out, s.String())
	}
	return out
}

// stateLedger says in the statement how casts, log and plan agree.
func (w *archive) stateLedger(d *statement.Document) {
	d.Heading("What became of every cast")
	rows := w.ledger()
	d.Text("%s.", LedgerText(rows))
	var table [][]string
	for _, r := range rows {
		if r.State != export.LedgerKept && r.State != export.LedgerLeftOut { // those left out are listed under Casts
			table = append(table, []string{r.State.String(), r.Expocode, r.Station, r.Cast, r.Section, r.Log.String(),
				r.Why})
		}
	}
	d.Table([]string{"State", "Expocode", "Station", "Cast", "Section", "Line of the log", "Why"}, table)
}
