package export

import (
	"io"
	"strconv"

	"github.com/castwright/castwright/metadata"
)

// A LedgerState says what became of a cast, of a line of the log or of a planned station.
type LedgerState uint8

// States of the ledger, in the order of its rows.
const (
	LedgerKept    LedgerState = iota // a cast that is in the products
	LedgerTwice                      // a cast whose name another has, but for zeros or case
	LedgerLeftOut                    // a cast or file that the cruise file leaves out
	LedgerLogOnly                    // a line of the log that no cast has
	LedgerGap                        // a number between those of stations that has no cast
	LedgerPlanned                    // a planned station that has no cast
	LedgerStates  = 6
)

var ledgerWords = [LedgerStates]string{"kept", "named twice", "left out", "in the log only", "number without a cast",
	"planned, no cast"}

// String returns the words of the table.
func (s LedgerState) String() string { return ledgerWords[s] }

// A LedgerRow is one cast, line of the log or station of the ledger.
type LedgerRow struct {
	State                   LedgerState
	Expocode, Station, Cast string // "" is not known
	HasLog                  bool   // the cruise has a log
	Log                     metadata.Position
	File                    string
	Section                 string // of a planned station
	Why                     string // it was left out, or which cast has the name too
}

var ledgerHead = []string{"state", "expocode", "station", "cast", "in_log", "log_line", "file", "section", "why"}

// WriteLedger writes the ledger as CSV, in the order given.
func WriteLedger(w io.Writer, rows []LedgerRow) error {
	c := newTable(w)
	if err := c.Write(ledgerHead); err != nil {
		return err
	}
	name := func(s string) string {
		if s == "" {
			return unknownName
		}
		return s
	}
	for _, r := range rows {
		log, line := "no log", ""
		if r.HasLog {
			log = yesNo(r.Log.Line > 0)
		}
		if r.Log.Line > 0 {
			line = strconv.Itoa(r.Log.Line)
		}
		if err := c.Write([]string{r.State.String(), name(r.Expocode), name(r.Station), name(r.Cast), log, line, r.File,
			OrNone(r.Section), r.Why}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
