package pipeline_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
)

// A corruption damages a cast file; other is another cast file. It returns nil where it cannot be done.
type corruption struct {
	name string
	do   func(r *rand.Rand, b, other []byte) []byte
}

// onRows hands the data lines of a file to change and returns the file with what it gives back.
func onRows(b []byte, change func(rows [][]byte) [][]byte) []byte {
	l := lines(b)
	from, to := dataLines(l)
	if to-from < 8 ||
		slices.ContainsFunc(l[from:to], func(row []byte) bool { return bytes.Count(row, []byte(",")) < 2 }) {
		// a comment among the data
		return nil
	}
	return join(slices.Concat(l[:from], change(slices.Clone(l[from:to])), l[to:]))
}

// onCell changes one number of a data line.
func onCell(r *rand.Rand, b []byte, change func(cell string) string) []byte {
	return onRows(b, func(rows [][]byte) [][]byte {
		i := r.IntN(len(rows))
		cells := strings.Split(strings.TrimRight(string(rows[i]), "\n"), ",")
		for range 20 {
			k := r.IntN(len(cells))
			if s := strings.TrimSpace(cells[k]); strings.Contains(s, ".") {
				cells[k] = strings.Replace(cells[k], s, change(s), 1)
				break
			}
		}
		rows[i] = []byte(strings.Join(cells, ",") + "\n")
		return rows
	})
}

// onFlag changes one flag of a data line.
func onFlag(r *rand.Rand, b []byte, change func(flag string) string) []byte {
	return onRows(b, func(rows [][]byte) [][]byte {
		i := r.IntN(len(rows))
		cells := strings.Split(strings.TrimRight(string(rows[i]), "\n"), ",")
		for range 20 {
			k := r.IntN(len(cells))
			if s := strings.TrimSpace(cells[k]); len(s) == 1 {
				cells[k] = change(s)
				break
			}
		}
		rows[i] = []byte(strings.Join(cells, ",") + "\n")
		return rows
	})
}

var headerLine = regexp.MustCompile(`(?m)^[A-Z_]+ = .*\n`)

// onHeader changes one header line.
func onHeader(r *rand.Rand, b []byte, change func(line string) string) []byte {
	all := headerLine.FindAllIndex(b, -1)
	at := all[r.IntN(len(all))]
	return slices.Concat(b[:at[0]], []byte(change(string(b[at[0]:at[1]]))), b[at[1]:])
}

// onNames changes the parameter line and the unit line together.
func onNames(b []byte, change func(names, units []string)) []byte {
	l := lines(b)
	from, _ := dataLines(l)
	names, units := strings.Split(strings.TrimSpace(string(l[from-2])), ","),
		strings.Split(strings.TrimRight(string(l[from-1]), "\n"), ",")
	change(names, units)
	l[from-2], l[from-1] = []byte(strings.Join(names, ",")+"\n"), []byte(strings.Join(units, ",")+"\n")
	return join(l)
}

func insert(b []byte, at int, s string) []byte { return slices.Concat(b[:at], []byte(s), b[at:]) }

// corruptions are other kinds of damage than those of damages: by copying in blocks, by sheets, mail, editors and
// scripts.
var corruptions = slices.Concat(rowCorruptions, cellCorruptions, headCorruptions, byteCorruptions)

var rowCorruptions = []corruption{
	{"two blocks of lines exchanged", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			n := len(rows) / 4
			i, j := r.IntN(n), 2*n+r.IntN(n)
			return slices.Concat(rows[:i], rows[j:j+n], rows[i+n:j], rows[i:i+n], rows[j+n:])
		})
	}},
	{"all lines upside down", func(_ *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte { slices.Reverse(rows); return rows })
	}},
	{"sorted as text", func(_ *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			for i := range rows {
				rows[i] = bytes.TrimLeft(rows[i], " ")
			}
			slices.SortFunc(rows, bytes.Compare)
			return rows
		})
	}},
	{"a block of lines lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			i := 1 + r.IntN(len(rows)-4)
			return slices.Delete(rows, i, min(len(rows)-2, i+1+r.IntN(len(rows)/2)))
		})
	}},
	{"every second line lost", func(_ *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) (kept [][]byte) {
			for i := range rows {
				if i < len(rows)/2 || i%2 == 0 {
					kept = append(kept, rows[i])
				}
			}
			return kept
		})
	}},
	{"the lower half lost", func(_ *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte { return rows[:len(rows)/2] })
	}},
	{"the last lines lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte { return rows[:len(rows)-1-r.IntN(4)] })
	}},
	{"the first lines lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte { return rows[1+r.IntN(6):] })
	}},
	{"END_DATA moved up", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			return slices.Insert(rows, 2+r.IntN(len(rows)-2),
				[]byte("END_DATA\n"))
		})
	}},
	{"END_DATA among other words", func(r *rand.Rand, b, _ []byte) []byte {
		return bytes.Replace(b, []byte("END_DATA"),
			[]byte([]string{"END OF DATA", "END", "EOF", "END_DATA_", ""}[r.IntN(5)]), 1)
	}},
	{"a line copied to another place", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			return slices.Insert(rows, r.IntN(len(rows)), slices.Clone(rows[r.IntN(len(rows))]))
		})
	}},
	{"a block of lines doubled", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			i := r.IntN(len(rows) - 4)
			return slices.Insert(rows, i+4, rows[i:i+4]...)
		})
	}},
	{"the lower half of another cast", func(_ *rand.Rand, b, other []byte) []byte {
		l := lines(other)
		from, to := dataLines(l)
		return onRows(b, func(rows [][]byte) [][]byte {
			return append(rows[:len(rows)/2:len(rows)/2], l[from+(to-from)/2:to]...)
		})
	}},
	{"another file in the middle", func(r *rand.Rand, b, other []byte) []byte {
		return insert(b, r.IntN(len(b)), string(other))
	}},
	{"lines wrapped at 72 characters", func(_ *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			for i, l := range rows {
				if len(l) > 36 {
					rows[i] = slices.Concat(l[:36], []byte("\n"), l[36:])
				}
			}
			return rows
		})
	}},
	{"blank lines between all", func(_ *rand.Rand, b, _ []byte) []byte {
		return bytes.ReplaceAll(b, []byte("\n"),
			[]byte("\n\n"))
	}},
	{"a merge left open", func(r *rand.Rand, b, other []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			i := r.IntN(len(rows) - 2)
			mark := [][]byte{[]byte("<<<<<<< mine\n"), rows[i], []byte("=======\n"), rows[i+1],
				[]byte(">>>>>>> theirs\n")}
			return slices.Concat(rows[:i], mark, rows[i+2:])
		})
	}},
	{"quoted by mail", func(_ *rand.Rand, b, _ []byte) []byte {
		return append([]byte("> "), bytes.ReplaceAll(b, []byte("\n"), []byte("\n> "))...)
	}},
	{"a page break", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			return slices.Insert(rows, r.IntN(len(rows)), []byte("\f\n"), []byte("page 2\n"))
		})
	}},
}

var cellCorruptions = []corruption{
	{"one column moved down a line", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			k := 2
			before := "-999"
			for i := range rows {
				cells := strings.Split(strings.TrimRight(string(rows[i]), "\n"), ",")
				before, cells[k] = cells[k], before
				rows[i] = []byte(strings.Join(cells, ",") + "\n")
			}
			return rows
		})
	}},
	{"columns moved to the left from a line on", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			for i := r.IntN(len(rows)); i < len(rows); i++ {
				_, rest, _ := bytes.Cut(rows[i], []byte(","))
				rows[i] = slices.Concat(bytes.TrimRight(rest, "\n"), []byte(",\n"))
			}
			return rows
		})
	}},
	{"columns moved to the right in one line", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			i := r.IntN(len(rows))
			rows[i] = slices.Concat([]byte(","), rows[i][:bytes.LastIndexByte(rows[i], ',')], []byte("\n"))
			return rows
		})
	}},
	{"a column lost in the data", func(_ *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			for i := range rows {
				rows[i] = slices.Concat(rows[i][:bytes.LastIndexByte(rows[i], ',')], []byte("\n"))
			}
			return rows
		})
	}},
	{"two digits exchanged", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string {
			i := r.IntN(len(s) - 1)
			return s[:i] + string(s[i+1]) + string(s[i]) + s[i+2:]
		})
	}},
	{"a point moved", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string {
			bare := strings.Replace(s, ".", "", 1)
			i := 1 + r.IntN(len(bare))
			return bare[:i] + "." + bare[i:]
		})
	}},
	{"a point lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string { return strings.Replace(s, ".", "", 1) })
	}},
	{"a second point", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string { return s[:1+r.IntN(len(s)-1)] + "." + s[1:] })
	}},
	{"a sign before a number", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string { return []string{"-", "+", "~", "<", "=", "\u2212"}[r.IntN(6)] + s })
	}},
	{"thousands separators", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string {
			return []string{"1,", "1'", "1 ", "1_", "1\u00a0",
				"1\u202f"}[r.IntN(6)] + s
		})
	}},
	{"decimal comma in one cell", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string { return strings.Replace(s, ".", ",", 1) })
	}},
	{"a cell of a sheet", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string {
			return []string{"#####", "#REF!", "#DIV/0!", "2-Jan", "1.2E+01", "TRUE", "=A1", "NULL", "N/A", "--", "0x1F",
				"inf", "1e400", ""}[r.IntN(14)]
		})
	}},
	{"quotes around a cell", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string {
			return []string{`"` + s + `"`, `'` + s + `'`, `"` + s, s + `"`, "\u201c" + s + "\u201d"}[r.IntN(5)]
		})
	}},
	{"quotes around a line", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			i := r.IntN(len(rows))
			rows[i] = []byte(`"` + strings.TrimRight(string(rows[i]), "\n") + "\"\n")
			return rows
		})
	}},
	{"a flag repeated", func(r *rand.Rand, b, _ []byte) []byte {
		return onFlag(r, b, func(s string) string {
			return []string{s + s, s + "," + s, s + " " + s, s + ".0", "0" + s, "-" + s}[r.IntN(6)]
		})
	}},
	{"a flag that is none", func(r *rand.Rand, b, _ []byte) []byte {
		return onFlag(r, b, func(string) string {
			return []string{"", "A", "*", "99", "?", "8", "0",
				"\u00b2"}[r.IntN(8)]
		})
	}},
	{"digits of another script", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string {
			return strings.Replace(s, s[:1], []string{"\uff13", "O", "l", "\u0663", "I"}[r.IntN(5)], 1)
		})
	}},
	{"a fill of another program", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(string) string {
			return []string{"-9.990e-29", "1e35", "-99.99", "9999", "-1.e34", "99999.0", "-9999.0"}[r.IntN(7)]
		})
	}},
	{"rounded by a sheet", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string { return s[:strings.Index(s, ".")+1] })
	}},
}

var headCorruptions = []corruption{
	{"a header line lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onHeader(r, b, func(string) string { return "" })
	}},
	{"a header value lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onHeader(r, b, func(l string) string { return l[:strings.Index(l, "=")+1] + "\n" })
	}},
	{"a header name misspelt", func(r *rand.Rand, b, _ []byte) []byte {
		return onHeader(r, b, func(l string) string { return l[1:] })
	}},
	{"a header line twice with another value", func(r *rand.Rand, b, _ []byte) []byte {
		return onHeader(r, b, func(l string) string { return l + strings.TrimRight(l, "\n") + "1\n" })
	}},
	{"a header without its sign", func(r *rand.Rand, b, _ []byte) []byte {
		return onHeader(r, b,
			func(l string) string { return strings.Replace(l, "=", []string{":", " ", "=="}[r.IntN(3)], 1) })
	}},
	{"a header that is no value", func(r *rand.Rand, b, _ []byte) []byte {
		return onHeader(r, b, func(l string) string {
			return l[:strings.Index(l, "=")+1] + []string{" NaN", " n/a", " -", " ?", " unknown", " 0",
				" 1e5"}[r.IntN(7)] + "\n"
		})
	}},
	{"latitude and longitude exchanged", func(_ *rand.Rand, b, _ []byte) []byte {
		return []byte(strings.NewReplacer("LATITUDE", "LONGITUDE", "LONGITUDE", "LATITUDE").Replace(string(b)))
	}},
	{"the sign of a position lost or added", func(r *rand.Rand, b, _ []byte) []byte {
		name := []string{"LATITUDE = ", "LONGITUDE = "}[r.IntN(2)]
		if bytes.Contains(b, []byte(name+"-")) {
			return bytes.Replace(b, []byte(name+"-"), []byte(name), 1)
		}
		return bytes.Replace(b, []byte(name), []byte(name+"-"), 1)
	}},
	{"the first line lost", func(_ *rand.Rand, b, _ []byte) []byte { return b[bytes.IndexByte(b, '\n')+1:] }},
	{"the parameter line lost", func(_ *rand.Rand, b, _ []byte) []byte {
		l := lines(b)
		from, _ := dataLines(l)
		return join(slices.Delete(l, from-2, from-1))
	}},
	{"the unit line lost", func(_ *rand.Rand, b, _ []byte) []byte {
		l := lines(b)
		from, _ := dataLines(l)
		return join(slices.Delete(l, from-1, from))
	}},
	{"two names exchanged", func(r *rand.Rand, b, _ []byte) []byte {
		return onNames(b, func(names, _ []string) {
			i := r.IntN(len(names) - 1)
			names[i], names[i+1] = names[i+1],
				names[i]
		})
	}},
	{"two units exchanged", func(r *rand.Rand, b, _ []byte) []byte {
		return onNames(b, func(_, units []string) {
			i := r.IntN(len(units) - 2)
			units[i], units[i+2] = units[i+2], units[i]
		})
	}},
	{"a letter of a name lost", func(r *rand.Rand, b, _ []byte) []byte {
		return onNames(b, func(names, _ []string) { i := r.IntN(len(names)); names[i] = names[i][1:] })
	}},
	{"a name of another program", func(r *rand.Rand, b, _ []byte) []byte {
		return onNames(b, func(names, _ []string) {
			names[r.IntN(len(names))] = []string{"t090C", "sal00", "prDM", "", "COL1", "CTDPRS"}[r.IntN(6)]
		})
	}},
	{"a comment sign before the names", func(_ *rand.Rand, b, _ []byte) []byte {
		return bytes.Replace(b, []byte("\nCTDPRS"), []byte("\n#CTDPRS"), 1)
	}},
}

var byteCorruptions = []corruption{
	{"bits flipped", func(r *rand.Rand, b, _ []byte) []byte { return flip(r, b, 1+r.IntN(12)) }},
	{"one bit of every byte of a block", func(r *rand.Rand, b, _ []byte) []byte {
		at, bit := r.IntN(len(b)), byte(1)<<r.IntN(8)
		for i := at; i < min(len(b), at+64); i++ {
			b[i] ^= bit
		}
		return b
	}},
	{"blocks of 512 bytes exchanged", func(r *rand.Rand, b, _ []byte) []byte {
		n := len(b) / 512
		if n < 4 {
			return nil
		}
		i, j := 512*r.IntN(n), 512*r.IntN(n)
		x := bytes.Clone(b[i : i+512])
		copy(b[i:], b[j:j+512])
		copy(b[j:], x)
		return b
	}},
	{"a block of 512 bytes lost", func(r *rand.Rand, b, _ []byte) []byte {
		i := 512 * r.IntN(max(1, len(b)/512-1))
		return slices.Delete(b, i, min(len(b), i+512))
	}},
	{"a block of another file", func(r *rand.Rand, b, other []byte) []byte {
		i := 512 * r.IntN(max(1, len(b)/512-1))
		copy(b[i:], other[min(i, len(other)):min(len(other), i+512)])
		return b
	}},
	{"the end filled with zeros", func(r *rand.Rand, b, _ []byte) []byte { clear(b[r.IntN(len(b)):]); return b }},
	{"cut at a block", func(r *rand.Rand, b, _ []byte) []byte { return b[:512*r.IntN(len(b)/512)] }},
	{"bytes put in", func(r *rand.Rand, b, _ []byte) []byte {
		return insert(b, r.IntN(len(b)), []string{"\x00", "\x1a", "\x1b[2J", "\u200b", "\ufeff", "\x7f", "\x08",
			"\v"}[r.IntN(8)])
	}},
	{"UTF-16 of the other order", func(_ *rand.Rand, b, _ []byte) []byte {
		out := []byte{0xfe, 0xff}
		for _, c := range b {
			out = binary.BigEndian.AppendUint16(out, uint16(c))
		}
		return out
	}},
	{"UTF-32", func(_ *rand.Rand, b, _ []byte) (out []byte) {
		for _, c := range b {
			out = binary.LittleEndian.AppendUint32(out, uint32(c))
		}
		return out
	}},
	{"encoded twice", func(r *rand.Rand, b, _ []byte) []byte {
		return onCell(r, b, func(s string) string { return s + "\u00c2\u00b0" })
	}},
	{"quoted-printable", func(_ *rand.Rand, b, _ []byte) []byte {
		return bytes.ReplaceAll(b, []byte("="), []byte("=3D"))
	}},
	{"as a page", func(_ *rand.Rand, b, _ []byte) []byte {
		return slices.Concat([]byte("<pre>"), b,
			[]byte("</pre>\n"))
	}},
	{"line ends CR CR LF", func(_ *rand.Rand, b, _ []byte) []byte {
		return bytes.ReplaceAll(b, []byte("\n"),
			[]byte("\r\r\n"))
	}},
	{"one line end CR", func(r *rand.Rand, b, _ []byte) []byte {
		for at := r.IntN(len(b)); at < len(b); at++ {
			if b[at] == '\n' {
				b[at] = '\r'
				break
			}
		}
		return b
	}},
	{"commas at the end of every line", func(_ *rand.Rand, b, _ []byte) []byte {
		return bytes.ReplaceAll(b, []byte("\n"), []byte(",,\n"))
	}},
	{"semicolons for commas in some lines", func(r *rand.Rand, b, _ []byte) []byte {
		return onRows(b, func(rows [][]byte) [][]byte {
			for i := range rows {
				if r.IntN(3) == 0 {
					rows[i] = bytes.ReplaceAll(rows[i], []byte(","), []byte(";"))
				}
			}
			return rows
		})
	}},
	{"a letter of any place", func(r *rand.Rand, b, _ []byte) []byte {
		i := r.IntN(len(b))
		return slices.Concat(b[:i], fmt.Appendf(nil, "%c", 'A'+r.IntN(26)), b[i+1:])
	}},
}
