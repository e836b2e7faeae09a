package ingest

import (
	"math"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
)

// A FlagEdit is one line of a table of flag edits: what a person decided, or a check proposes, about the values of a
// variable.
type FlagEdit struct {
	Expocode         string // "" any
	Station, Cast    string
	Variable         string  // as written: our name, or that of the cast files
	FromDbar, ToDbar float64 // both included; -Inf and +Inf when empty
	Flag             metadata.Flag
	Initials, Reason string    // who and why; a line that lacks one of them is a proposal
	Date             time.Time // the first second of the day; zero when empty
	Check            string    // the check that proposed it; "" when the table has no such column
	Row
}

// Accepted reports whether a person put a name to the edit, and a reason.
func (e *FlagEdit) Accepted() bool { return e.Initials != "" && e.Reason != "" }

var editForm = csvForm{
	legal: []string{"expocode", "station", "cast", "variable", "from_dbar", "to_dbar", "flag", "initials", "reason",
		"date", "check"},
	need: []string{"station", "cast", "variable", "flag", "initials", "reason"},
	head: "station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date",
}

// maxDbar is beyond the deepest sea (10 935 m in the Challenger Deep, about 11 300 dbar).
const maxDbar = 12000

// ReadEdits reads a table of flag edits: CSV whose first line names its columns in any order (castwright help
// cruise-file describes them). Lines that start with # are comments. The edits keep the order of the file. On error
// there are none; it joins every fault, up to 20, as *metadata.InputError. The name is only for positions.
func ReadEdits(data []byte, name string) ([]FlagEdit, error) {
	var out []FlagEdit
	err := readCSV(data, name, &editForm, func(r *Row) {
		e := FlagEdit{Row: *r, Expocode: r.text("expocode"), Station: r.name("station"), Cast: r.name("cast"),
			Variable: r.text("variable"),
			Initials: r.words("initials", 40), Reason: r.words("reason", 1000), Check: r.words("check", 100)}
		if e.Variable == "" {
			r.fail("variable", "write a name such as psal, or that in the cast file such as CTDSAL", "no variable")
		}
		e.FromDbar, _ = r.number("from_dbar", -10, maxDbar)
		e.ToDbar, _ = r.number("to_dbar", -10, maxDbar)
		if e.FromDbar > e.ToDbar {
			r.fail("from_dbar", "write the smaller pressure first", "from_dbar %s is below to_dbar %s",
				r.text("from_dbar"), r.text("to_dbar"))
		}
		if math.IsNaN(e.FromDbar) {
			e.FromDbar = math.Inf(-1)
		}
		if math.IsNaN(e.ToDbar) {
			e.ToDbar = math.Inf(1)
		}
		e.Flag = r.flag()
		if s := r.text("date"); s != "" {
			day, note, err := readDate(s)
			if err != nil || note == "has a point" {
				r.fail("date", "write the day of the decision as YYYY-MM-DD, or leave it empty", "date is %q", s)
			}
			e.Date = day
		}
		e.Row.rec, e.Row.errs = nil, nil
		out = append(out, e)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

// words reads text of one line.
func (r *Row) words(column string, most int) string {
	s := strings.Join(strings.Fields(r.text(column)), " ")
	if len(s) > most {
		r.fail(column, "say it in fewer words", "%s has %d bytes; the most is %d", column, len(s), most)
		return ""
	}
	return s
}

// flag reads a WOCE CTD flag. 8 is not used for CTD data; 0, which no exchange file can hold, is not for a person to
// give.
func (r *Row) flag() metadata.Flag {
	const remedy = "write 1 not calibrated, 2 acceptable, 3 questionable, 4 bad, 5 not reported, 6 interpolated, 7 despiked or 9 not sampled"
	s := r.text("flag")
	switch {
	case s == "":
		r.fail("flag", remedy, "no flag")
	case s == "8":
		r.fail("flag", remedy, "flag 8 is not used for CTD data")
	case len(s) != 1 || s[0] < '1' || s[0] > '9':
		r.fail("flag", remedy, "flag is %q, which is no WOCE CTD flag", s)
	default:
		return metadata.Flag(s[0] - '0')
	}
	return metadata.NotEvaluated
}
