package main

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A cleaner writes text with every control and format character but line ends made visible: header values, file names
// and archives come from elsewhere and must not steer the terminal. The escapes are those of JSON, so that JSON stays
// JSON.
type cleaner struct{ w io.Writer }

// Write writes b whole, or returns the error of the writer below.
func (c *cleaner) Write(b []byte) (int, error) {
	if _, err := io.WriteString(c.w, clean(string(b))); err != nil {
		return 0, err
	}
	return len(b), nil
}

func clean(s string) string {
	if strings.IndexFunc(s, steers) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		_, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, "\\u%04x", s[i])
		case steers(r):
			for _, u := range utf16Of(r) {
				fmt.Fprintf(&b, "\\u%04x", u)
			}
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// steers reports whether a character may move the cursor, change the order of the text or is not seen.
func steers(r rune) bool {
	return r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029')
}

// utf16Of returns the code units of a character.
func utf16Of(r rune) []rune {
	if r < 0x10000 {
		return []rune{r}
	}
	r -= 0x10000
	return []rune{0xd800 + r>>10, 0xdc00 + r&0x3ff}
}

// Lengths of what is printed of one finding, in characters and lines; --json has all.
const (
	longestText   = 500
	longestAdvice = 16
)

// oneLine returns text as one line of at most longestText characters, and says how long it was.
func oneLine(s string) string {
	s = strings.NewReplacer("\r\n", `\n`, "\n", `\n`, "\r", `\r`).Replace(s)
	n := utf8.RuneCountInString(s)
	if n <= longestText {
		return s
	}
	return string([]rune(s)[:longestText]) + fmt.Sprintf("... (%d characters)", n)
}

// adviceLines returns the lines of a remedy, the first longestAdvice of them.
func adviceLines(s string) []string {
	lines := strings.Split(strings.TrimRight(s, "\n"), "\n")
	if n := len(lines); n > longestAdvice {
		lines = append(lines[:longestAdvice:longestAdvice], fmt.Sprintf("... (%d lines; --json has all)", n))
	}
	return lines
}
