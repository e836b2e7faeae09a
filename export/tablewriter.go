package export

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// A tableWriter writes the rows of a table of the archive as CSV, with text that a spreadsheet would take for a formula
// made harmless.
type tableWriter struct{ *csv.Writer }

func newTable(w io.Writer) *tableWriter { return &tableWriter{csv.NewWriter(w)} }

// Write writes one row.
func (t *tableWriter) Write(row []string) error {
	safe := make([]string, len(row))
	for i, cell := range row {
		safe[i] = TextCell(cell)
	}
	return t.Writer.Write(safe)
}

// TextCell returns a cell that no spreadsheet takes for a formula: text that begins with = + - or @, blanks before it
// apart, gets an apostrophe in front (common practice for CSV injection, OWASP). Numbers stay as they are.
func TextCell(cell string) string {
	if !formula(cell) {
		return cell
	}
	return "'" + cell
}

// CellText returns the text that TextCell was given.
func CellText(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && formula(rest) {
		return rest
	}
	return cell
}

func formula(cell string) bool {
	text := strings.TrimLeft(cell, " \t\r\n\u00a0")
	if text == "" || !strings.ContainsRune("=+-@", rune(text[0])) {
		return false
	}
	_, err := strconv.ParseFloat(cell, 64)
	return err != nil
}
