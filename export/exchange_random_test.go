package export_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest"
)

// Files put together at random from what a file may hold, odd things often: what the reader takes, the writer gives back equal. Fuzzing
// changes bytes; this changes columns, fills, flags and comments, and reaches what bytes seldom do.
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
			b.WriteString(pick("# a word", "#", "# HEADER CREW = 12", "# HEADER X =", "# HEADER CREW = 13", "# HEADER TIME = 5", "#HEADER A = 1",
				"# CTDOXY_FLAG_W: 1 = not evaluated (3 levels)", "# CTDOXY_FLAG_W: 1 = not evaluated at 2 dbar", "# CTDSAL_FLAG_W: 1 = not evaluated at 2-6 dbar",
				"# CTDSAL_FLAG_W: 1 = not evaluated at levels 1-2", "# CTDTMP converted from IPTS-68 to ITS-90: t90 = t68 / 1.00024", "# caf\xe9 \u00a0", " # indented ") + "\n")
		}
	}
	b.WriteString("CTD" + pick(",20260501XYZ", ",", "", ",\u00a0a b") + "\n")
	comment(0.4)
	head := []string{"EXPOCODE = " + pick("99XX20260501", "99 XX", "x"), "STNNBR = " + pick("1", "012", "A-3", "\u00a07"), "CASTNO = " + pick("1", "02", "b"),
		"DATE = " + pick("20260502", "2026-05-02", "05/02/2026"), "LATITUDE = " + pick("-12.5", "  0.00001", "90", "12 30.5 S", "-0.0"),
		"LONGITUDE = " + pick("-179.99999", "180", "359.5", "-180.0", "12.5 W", "0")}
	for _, h := range []string{"TIME = " + pick("0000", "2359", "730", "24:00", "12:30:59"), "DEPTH = " + pick("120", "-999", "120.5", "0", "1e3"), "SECT_ID = " + pick("A", "-999", "", "B 1"),
		"NUMBER_HEADERS = " + pick("9", "x", "10"), "WIND = " + pick("12, ", "", "'calm'", "a = b", "\u00a0"), "Crew = 5", "\u00a0DECK\u00a0 = 1", "a,b = 2"} {
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
		add(pick("MYVAR", "REMARK", "CTDFLUOR", "7", "CTDXMISS"), pick("", "MG/M^3", "VOLTS", "my unit"), pick("v", "t", "n"), some(0.3))
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
