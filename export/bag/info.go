package bag

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/castwright/castwright/internal/regular"
)

// A Field is one line of bag-info.txt: a label, such as Source-Organization or External-Description, and its value.
type Field struct{ Label, Value string }

// ErrInfo says that something cannot stand in bag-info.txt.
var ErrInfo = errors.New("cannot stand in bag-info.txt")

// Value returns the first value of a label, which is compared without regard to case (RFC 8493 section 2.2.2).
func Value(info []Field, label string) (string, bool) {
	for _, f := range info {
		if strings.EqualFold(f.Label, label) {
			return f.Value, true
		}
	}
	return "", false
}

// ReadInfo reads bag-info.txt of the bag in dir without checking the bag: to see whose bag it says it is. It fails if
// dir has no bagit.txt or no bag-info.txt that can be read entirely.
func ReadInfo(dir string) ([]Field, error) {
	head, err := regular.ReadFile(filepath.Join(dir, "bagit.txt"))
	if err != nil {
		return nil, err
	}
	if faults := checkDeclaration(head); len(faults) > 0 {
		return nil, errors.New(faults[0].String())
	}
	text, err := regular.ReadFile(filepath.Join(dir, "bag-info.txt"))
	if err != nil {
		return nil, err
	}
	info, faults := parseInfo(text)
	if len(faults) > 0 {
		return nil, errors.New(faults[0].String())
	}
	return info, nil
}

// checkInfo holds the fields for Write to what it promises.
func checkInfo(info []Field) error {
	dates := 0
	for _, f := range info {
		switch {
		case strings.EqualFold(f.Label, "Payload-Oxum"):
			return fmt.Errorf("%w: Payload-Oxum is counted, not given", ErrInfo)
		case strings.EqualFold(f.Label, "Bagging-Date"):
			dates++
			if !isDate(f.Value) {
				return fmt.Errorf("%w: Bagging-Date %q is not a date YYYY-MM-DD", ErrInfo, f.Value)
			}
		}
	}
	if dates != 1 {
		return fmt.Errorf("%w: %d Bagging-Date given, one is needed", ErrInfo, dates)
	}
	return nil
}

func isDate(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

// formatInfo returns the bytes of bag-info.txt. Lines are not folded: folding could not be undone where a value has
// several blanks.
func formatInfo(info []Field) ([]byte, error) {
	var b bytes.Buffer
	for _, f := range info {
		switch {
		case !goodLabel(f.Label):
			return nil, fmt.Errorf("%w: label %q", ErrInfo, f.Label)
		case !utf8.ValidString(f.Value) || strings.ContainsAny(f.Value, "\r\n\x00") ||
			strings.Trim(f.Value, " \t") != f.Value || f.Value == "":
			return nil, fmt.Errorf("%w: the value %q of %s is empty, not UTF-8, has a line break or blanks around it",
				ErrInfo, f.Value, f.Label)
		}
		b.WriteString(f.Label + ": " + f.Value + "\n")
	}
	return b.Bytes(), nil
}

// goodLabel: RFC 8493 section 2.2.2 bars colons, line ends and blanks around it.
func goodLabel(s string) bool {
	return s != "" && utf8.ValidString(s) && !strings.ContainsAny(s, ":\r\n\x00") && strings.Trim(s, " \t") == s
}

// parseInfo reads bag-info.txt. A line that begins with a blank continues the value before it and is joined by one
// blank.
func parseInfo(text []byte) ([]Field, []Fault) {
	var info []Field
	var faults []Fault
	open := false // the line before was usable and may be continued
	for i, line := range lines(text) {
		fault := func(format string, a ...any) {
			faults = append(faults, Fault{Kind: Malformed, File: "bag-info.txt", Line: i + 1,
				Detail: fmt.Sprintf(format, a...)})
			open = false
		}
		if !utf8.ValidString(line) || strings.ContainsRune(line, 0) {
			fault("%s is not text in UTF-8", short(line))
			continue
		}
		if strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t") {
			more := strings.Trim(line, " \t")
			switch {
			case !open:
				fault("a continued line without a line to continue")
			case more != "":
				last := &info[len(info)-1]
				last.Value = strings.TrimLeft(last.Value+" "+more, " ")
			}
			continue
		}
		label, value, ok := strings.Cut(line, ":")
		if !ok || !goodLabel(label) || value != "" && value[0] != ' ' && value[0] != '\t' {
			fault("%s is not \"Label: value\"", short(line))
			continue
		}
		info = append(info, Field{Label: label, Value: strings.Trim(value, " \t")})
		open = true
	}
	return info, faults
}
