package export_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
)

// Files put together at random from what a file may hold, odd things often: what the reader takes, the writer gives
// back equal. Fuzzing changes bytes; this changes columns, fills, flags and comments, and reaches what bytes seldom do.
func TestRandomFilesReadBack(t *testing.T) {
	n := 20_000
	if testing.Short() {
		n = 2_000
	}
	taken := 0
	for seed := range n {
		data := randomExchange(rand.New(rand.NewPCG(uint64(seed), 1)))
		casts, _, err := ingest.Parse([]byte(data), "random_ct1.csv", ingest.Options{Lenient: seed%2 == 1})
		if err != nil {
			continue
		}
		taken++
		checkReadBack(t, &casts[0])
		if t.Failed() {
			t.Fatalf("seed %d:\n%s", seed, data)
		}
	}
	if taken < n/3 {
		t.Errorf("only %d of %d files were taken", taken, n)
	}
}

func randomExchange(r *rand.Rand) string {
	pick := func(s ...string) string { return s[r.IntN(len(s))] }
	some := func(p float64) bool { return r.Float64() < p }
	var b strings.Builder
	comment := func(p float64) {
		for some(p) {
			b.WriteString(pick("# a word", "#", "# HEADER CREW = 12", "# HEADER X =", "# HEADER CREW = 13",
				"# HEADER TIME = 5", "#HEADER A = 1",
				"# CTDOXY_FLAG_W: 1 = not evaluated (3 levels)", "# CTDOXY_FLAG_W: 1 = not evaluated at 2 dbar",
				"# CTDSAL_FLAG_W: 1 = not evaluated at 2-6 dbar",
				"# CTDSAL_FLAG_W: 1 = not evaluated at levels 1-2",
				"# CTDTMP converted from IPTS-68 to ITS-90: t90 = t68 / 1.00024", "# caf\xe9 \u00a0", " # indented ") +
				"\n")
		}
	}
	b.WriteString("CTD" + pick(",20260501XYZ", ",", "", ",\u00a0a b") + "\n")
	comment(0.4)
	head := []string{"EXPOCODE = " + pick("99XX20260501", "99 XX", "x"), "STNNBR = " + pick("1", "012", "A-3",
		"\u00a07"), "CASTNO = " + pick("1", "02", "b"),
		"DATE = " + pick("20260502", "2026-05-02", "05/02/2026"), "LATITUDE = " + pick("-12.5", "  0.00001", "90",
			"12 30.5 S", "-0.0"),
		"LONGITUDE = " + pick("-179.99999", "180", "359.5", "-180.0", "12.5 W", "0")}
	for _, h := range []string{"TIME = " + pick("0000", "2359", "730", "24:00", "12:30:59"),
		"DEPTH = " + pick("120", "-999", "120.5", "0", "1e3"), "SECT_ID = " + pick("A", "-999", "", "B 1"),
		"NUMBER_HEADERS = " + pick("9", "x", "10"), "WIND = " + pick("12, ", "", "'calm'", "a = b", "\u00a0"),
		"Crew = 5", "\u00a0DECK\u00a0 = 1", "a,b = 2"} {
		if some(0.4) {
			head = append(head, h)
		}
	}
	if some(0.3) {
		r.Shuffle(len(head), func(i, j int) { head[i], head[j] = head[j], head[i] })
	}
	for _, h := range head {
		b.WriteString(h + "\n")
		comment(0.03)
	}
	names, units := []string{"CTDPRS"}, []string{pick("DBAR", "DBARS", "dbar", "")}
	kinds := []string{"p"}
	add := func(name, unit, kind string, flagged bool) {
		names, units, kinds = append(names, name), append(units, unit), append(kinds, kind)
		if flagged {
			names, units, kinds = append(names, name+"_FLAG_W"), append(units, ""), append(kinds, "f")
		}
	}
	if some(0.3) {
		names, units, kinds = append(names, "CTDPRS_FLAG_W"), append(units, ""), append(kinds, "f")
	}
	add("CTDTMP", pick("ITS-90", "ITS-90", "ITS-68", "IPTS-68", "DEGC", ""), "v", some(0.5))
	if some(0.9) {
		add("CTDSAL", pick("PSS-78", "PSU", ""), "v", some(0.6))
	}
	if some(0.6) {
		add("CTDOXY", pick("UMOL/KG", "ML/L", ""), "v", some(0.7))
	}
	if some(0.3) {
		add("CTDNOBS", "", "n", some(0.1))
	}
	if some(0.3) {
		add(pick("MYVAR", "REMARK", "CTDFLUOR", "7", "CTDXMISS"), pick("", "MG/M^3", "VOLTS", "my unit"),
			pick("v", "t", "n"), some(0.3))
	}
	if some(0.15) {
		add("EXTRA", "", pick("v", "t"), some(0.3))
	}
	order := r.Perm(len(names))
	if some(0.8) {
		for i := range order {
			order[i] = i
		}
	}
	line := func(get func(i int) string) {
		for k, i := range order {
			if k > 0 {
				b.WriteString(",")
			}
			b.WriteString(get(i))
		}
		b.WriteString("\n")
	}
	line(func(i int) string { return names[i] })
	if some(0.97) {
		line(func(i int) string { return units[i] })
	}
	levels := 1 + r.IntN(6)
	gone, fixed := some(0.15), r.IntN(5) // gone: a cast of fills; fixed: one number of decimals
	mostFlag := pick("2", "1", "2", "0", "9")
	for l := range levels {
		comment(0.05)
		line(func(i int) string {
			pad := pick("", " ", "   ")
			switch kinds[i] {
			case "p":
				return pad + fmt.Sprintf("%.*f", r.IntN(3), 2*float64(l+1))
			case "f":
				if some(0.7) {
					return pad + mostFlag
				}
				return pick("0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "", " ", "2.0")
			case "t":
				return pick("calm", "-999", "", "a b", "12", "x\u00e9")
			case "n":
				return pick("24", "48", "-999", "7", "")
			}
			if gone || some(0.15) {
				return pad + pick("-999", "-999.00", "-999.0000", "", "NaN", "-9", "-99")
			}
			if some(0.7) {
				return pad + fmt.Sprintf("%.*f", fixed, 35*r.Float64())
			}
			return pad + pick("0", "-0.0", "1e1", "12.500", ".5", "5.", "+3.2", "1.23456789", "-1.9", "-998.9", "-1000")
		})
	}
	if some(0.95) {
		b.WriteString("END_DATA\n")
	}
	if some(0.2) {
		b.WriteString(pick("after the end\n", "# after\n", "\n\n", " x"))
	}
	s := b.String()
	if some(0.1) {
		s = strings.ReplaceAll(s, "\n", "\r\n")
	}
	return s
}

// The same for bottle files.
func TestRandomBottlesReadBack(t *testing.T) {
	n := 20_000
	if testing.Short() {
		n = 2_000
	}
	taken := 0
	for seed := range n {
		data := randomBottles(rand.New(rand.NewPCG(uint64(seed), 2)))
		b, _, err := ingest.ParseBottles([]byte(data), "random_hy1.csv", ingest.Options{Lenient: seed%2 == 1})
		if err != nil {
			continue
		}
		taken++
		var out, twice bytes.Buffer
		if err := export.WriteBottles(&out, b); err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, data)
		}
		again, _, err := ingest.ParseBottles(out.Bytes(), "again_hy1.csv", ingest.Options{})
		if err != nil {
			t.Fatalf("seed %d: what was written does not read back: %v\n%s\n%s", seed, err, data, out.Bytes())
		}
		if d := bottleDifference(b, again); d != "" {
			t.Fatalf("seed %d: %s\n%s\n%s", seed, d, data, out.Bytes())
		}
		if err := export.WriteBottles(&twice, again); err != nil || !bytes.Equal(out.Bytes(), twice.Bytes()) {
			t.Fatalf("seed %d: written again it differs: %v\n%s\n%s", seed, err, out.Bytes(), twice.Bytes())
		}
	}
	if taken < n/5 {
		t.Errorf("only %d of %d files were taken", taken, n)
	}
}

func randomBottles(r *rand.Rand) string {
	pick := func(s ...string) string { return s[r.IntN(len(s))] }
	some := func(p float64) bool { return r.Float64() < p }
	var b strings.Builder
	comment := func(p float64) {
		for some(p) {
			b.WriteString(pick("# a word", "#", "# caf\xe9", "# OXYGEN_FLAG_W: 1 = not evaluated (2 levels)",
				"# SALNTY_FLAG_W: 1 = not evaluated at levels 1-2",
				"# BTLNBR_FLAG_W: 1 = not evaluated (1 levels)", "# CTDSAL_FLAG_W: 1 = not evaluated at levels 2") +
				"\n")
		}
	}
	b.WriteString("BOTTLE" + pick(",20260501XYZ", ",", "", ", a b") + "\n")
	comment(0.5)
	type column struct {
		name, unit string
		value      func(row int) string
	}
	var cols []column
	add := func(name, unit string, value func(row int) string) { cols = append(cols, column{name, unit, value}) }
	flag := func(of string) {
		most := pick("2", "1", "2", "9", "0")
		add(of+"_FLAG_W", "", func(int) string {
			if some(0.7) {
				return most
			}
			return pick("0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "")
		})
	}
	gone := some(0.15)
	digits := r.IntN(4)
	number := func(int) string {
		if gone || some(0.15) {
			return pick("-999", "-999.00", "", "NaN", "-9")
		}
		if some(0.7) {
			return fmt.Sprintf("%.*f", digits, 35*r.Float64())
		}
		return pick("0", "-0.0", "12.500", "5.", "+3.2", "1.23456789", "  7", "-1000")
	}
	day := pick("20260502", "20260502", "2026-05-02")
	add("EXPOCODE", "", func(int) string { return "99XX20260501" })
	if some(0.6) {
		add("SECT_ID", "", func(int) string { return pick("A", "A", "-999", "") })
	}
	add("STNNBR", "", func(row int) string { return pick("1", "1", "012", "A-3") })
	add("CASTNO", "", func(int) string { return pick("1", "1", "2") })
	if some(0.8) {
		add("SAMPNO", "", func(row int) string { return pick(fmt.Sprint(row+1), fmt.Sprint(row+1), "x", "-999", "") })
	}
	add("BTLNBR", "", func(row int) string {
		return pick(fmt.Sprint(row+1), fmt.Sprint(row+1), "0"+fmt.Sprint(row),
			"")
	})
	if some(0.6) {
		flag("BTLNBR")
	}
	add("DATE", "", func(int) string { return day })
	if some(0.7) {
		add("TIME", "", func(int) string { return pick("0700", "2359", "730", "-999", "") })
	}
	add("LATITUDE", "", func(int) string { return pick("-12.5", "0.00001", "90") })
	add("LONGITUDE", "", func(int) string { return pick("-179.99999", "180", "359.5") })
	if some(0.7) {
		add("DEPTH", pick("METERS", "M", ""), func(int) string { return pick("120", "-999", "120.5", "") })
	}
	add("CTDPRS", "DBAR", func(row int) string { return fmt.Sprintf("%.*f", r.IntN(3), 10*float64(6-row)) })
	for _, c := range [][2]string{{"CTDTMP", pick("ITS-90", "ITS-68", "")}, {"CTDSAL", "PSS-78"}, {"SALNTY", "PSS-78"},
		{"OXYGEN", pick("UMOL/KG", "ML/L", "")},
		{"NITRAT", "UMOL/KG"}, {"MYTRACER", pick("", "FMOL/KG")}} {
		if some(0.6) {
			add(c[0], c[1], number)
			if some(0.6) {
				flag(c[0])
			}
		}
	}
	if some(0.2) {
		add("REMARK", "", func(int) string { return pick("calm", "-999", "", "a b", "x\u00e9") })
	}
	line := func(get func(c *column) string) {
		for i := range cols {
			if i > 0 {
				b.WriteString(",")
			}
			b.WriteString(pick("", "", " ") + get(&cols[i]))
		}
		b.WriteString("\n")
	}
	line(func(c *column) string { return c.name })
	line(func(c *column) string { return c.unit })
	for row := range 1 + r.IntN(5) {
		comment(0.05)
		line(func(c *column) string { return c.value(row) })
	}
	if some(0.95) {
		b.WriteString("END_DATA\n")
	}
	return b.String()
}
