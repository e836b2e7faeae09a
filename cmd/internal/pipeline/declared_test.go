package pipeline_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// What the cruise file declares beside what the casts are: just inside nothing is found, just outside a finding has
// both values. The two casts are of 2026-05-05 00:00 and 2026-05-07 23:59 UTC, in bins of 2 dbar from 1 dbar on.
func TestDeclaredAgainstSeen(t *testing.T) {
	legs := func(start, end string) string {
		return fmt.Sprintf("cruise: {id: x, legs: [{expocode: ZZSM20260505, start: %s, end: %s}]}\n", start, end)
	}
	whole := legs("2026-05-05", "2026-05-07")
	system := func(rest string) string { return whole + "systems: [{label: main, " + rest + "}]\n" }
	two := func(a, b string) string {
		return whole + "systems:\n  - {label: one, stations: 1, sensors: [" + a + "]}\n" +
			"  - {label: two, stations: 2, sensors: [" + b + "]}\n"
	}
	const probe = "{variables: [temp], serial: A1, model: probe, calibrated: 2026-01-02}"
	for _, x := range []struct{ name, yaml, check, want string }{
		{"leg of just the days", whole, "cruise.leg_dates", ""},
		{"leg that begins a day late", legs("2026-05-06", "2026-05-07"), "cruise.leg_dates",
			"is from 2026-05-06 to 2026-05-07, and 1 cast of it is outside (UTC): 1/1 on 2026-05-05"},
		{"leg that ends a day early", legs("2026-05-05", "2026-05-06"), "cruise.leg_dates",
			"is from 2026-05-05 to 2026-05-06, and 1 cast of it is outside (UTC): 2/1 on 2026-05-07"},
		{"legs that meet on a day",
			"cruise: {id: x, legs: [{expocode: ZZSM20260505, start: 2026-05-05, end: 2026-05-08}, " +
				"{expocode: ZZSM20260508, start: 2026-05-08, end: 2026-05-20}]}\n", "cruise.leg_dates", ""},
		{"legs that overlap by a day", "cruise: {id: x, legs: [{expocode: ZZSM20260505, start: 2026-05-05, " +
			"end: 2026-05-09}, {expocode: ZZSM20260508, start: 2026-05-08, end: 2026-05-20}]}\n", "cruise.leg_dates",
			"legs ZZSM20260505 (2026-05-05 to 2026-05-09) and ZZSM20260508 (2026-05-08 to 2026-05-20) of one ship overlap"},
		{"bins as declared", system("bin: 2"), "pressure.step", ""},
		{"bins 5 % off", system("bin: 2.1"), "pressure.step", ""},
		{"bins wider than declared", system("bin: 1.9"), "pressure.step",
			"levels are 2 dbar apart, the system declares bins of 1.9 dbar"},
		{"bins narrower than declared", system("bin: 2.2"), "pressure.step",
			"levels are 2 dbar apart, the system declares bins of 2.2 dbar"},
		{"deck offset taken off", system("deck: {offset: 0.3, applied: yes}"), "cruise.deck_offset", ""},
		{"no deck offset", system("deck: {offset: 0, applied: no}"), "cruise.deck_offset", ""},
		{"deck offset left in", system("deck: {offset: -0.3, applied: no}"), "cruise.deck_offset",
			"the pressure on deck is -0.3 dbar and was not subtracted; the pressures of 2 casts, from 1 dbar on"},
		{"systems beside each other", two(probe, ""), "cruise.system_overlap", ""},
		{"systems that overlap", whole + "systems: [{label: one, stations: 1-2}, {label: two, stations: 2-3}]\n",
			"cruise.system_overlap",
			"of system one (1-2) and of system two (2-3) have 1 cast in common: 2/1; system one was used for them"},
		{"one sensor in two systems", two(probe, probe), "cruise.serial", ""},
		{"a serial number of two sensors", two(probe, "{variables: [psal], serial: A1}"), "cruise.serial",
			"the serial number A1 is given for temp (probe) calibrated 2026-01-02 in system one and for psal in system two"},
		{"a sensor calibrated twice", two(probe, strings.Replace(probe, "01-02", "01-03", 1)), "cruise.serial",
			"for temp (probe) calibrated 2026-01-02 in system one and for temp (probe) calibrated 2026-01-03 in system two"},
		{"a serial number twice in a system", two(probe+", {variables: [temp2], serial: A1}", ""), "cruise.serial",
			"the serial number A1 is given twice in system one, for temp (probe) calibrated 2026-01-02 and for temp2"},
		{"two serial numbers", two(probe, "{variables: [psal], serial: A2}"), "cruise.serial", ""},
		{"calibrated on the day", system("sensors: [{variables: [temp], calibrated: 2026-05-05}]"),
			"cruise.calibrated", ""},
		{"calibrated later", system("sensors: [{variables: [temp], calibrated: 2026-05-06}]"), "cruise.calibrated",
			"the sensor of temp was calibrated on 2026-05-06, after its first cast on 2026-05-05"},
		{"adjusted on the day", system("salinity: {stage: adjusted to bottles, date: 2026-05-05}"), "cruise.dates", ""},
		{"adjusted before any cast", system("salinity: {stage: adjusted to bottles, date: 2026-05-04}"), "cruise.dates",
			"salinity was adjusted to bottles is 2026-05-04, before the first cast, 2026-05-05"},
		{"issued on the day", whole + "release: {status: preliminary, date: 2026-05-07}\n", "cruise.dates", ""},
		{"issued too early", whole + "release: {status: preliminary, date: 2026-05-06}\n", "cruise.dates",
			"release: date is 2026-05-06, before the last cast, 2026-05-07"},
		{"embargo of a day", whole + "release: {status: preliminary, embargo: 2026-05-07}\n", "cruise.dates", ""},
		{"embargo before the last cast", whole + "release: {status: preliminary, embargo: 2026-05-06}\n",
			"cruise.dates",
			"release: embargo is 2026-05-06, before the last cast, 2026-05-07"},
		{"embargo to the day of issue", whole + "release: {date: 2026-06-01, embargo: 2026-06-01}\n", "cruise.dates",
			""},
		{"embargo over when issued", whole + "release: {date: 2026-06-02, embargo: 2026-06-01}\n", "cruise.dates",
			"release: embargo is 2026-06-01, before the day of issue (release: date), 2026-06-02"},
		{"signed on the day", whole + "quality: {signed: {by: R, date: 2026-05-07}}\n", "cruise.dates", ""},
		{"signed too early", whole + "quality: {signed: {by: R, date: 2026-05-06}}\n", "cruise.dates",
			"quality: signed is 2026-05-06, before the last cast, 2026-05-07"},
		{"issued before it is signed", whole + "release: {date: 2026-06-01}\nquality: {signed: {by: R, " +
			"date: 2026-06-02}}\n", "cruise.dates", "before the day of the signature (quality: signed), 2026-06-02"},
	} {
		t.Run(x.name, func(t *testing.T) {
			dir := t.TempDir()
			for i, when := range []string{"DATE = 20260505\nTIME = 0000", "DATE = 20260507\nTIME = 2359"} {
				text := fmt.Sprintf("CTD,20260601ZZZ\nNUMBER_HEADERS = 8\nEXPOCODE = ZZSM20260505\nSTNNBR = %d\n"+
					"CASTNO = 1\n%s\nLATITUDE = %d\nLONGITUDE = -30\nCTDPRS,CTDTMP,CTDSAL\nDBAR,ITS-90,PSS-78\n", i+1,
					when, 50+i)
				for p := range 12 {
					text += fmt.Sprintf("%.1f,%.4f,%.4f\n", float64(2*p+1), 10-0.1*float64(p), 35+0.01*float64(p))
				}
				name := filepath.Join(dir, fmt.Sprintf("%d_ct1.csv", i+1))
				if err := os.WriteFile(name, []byte(text+"END_DATA\n"), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			file := filepath.Join(dir, "cruise.yaml")
			if err := os.WriteFile(file, []byte(x.yaml+"casts: {sources: [\"*_ct1.csv\"]}\n"), 0o600); err != nil {
				t.Fatal(err)
			}
			p, err := pipeline.Check(context.Background(), pipeline.Plan{CruiseFile: file})
			if err != nil {
				t.Fatal(err)
			}
			found := slices.DeleteFunc(p.Findings, func(f metadata.Finding) bool { return f.Check != x.check })
			switch {
			case x.want == "" && len(found) > 0:
				t.Errorf("found %s", found[0].Message)
			case x.want != "" && (len(found) != 1 || !strings.Contains(found[0].Message,
				x.want) || found[0].Advice() == ""):
				t.Errorf("found %v, want one with %q", found, x.want)
			}
		})
	}
}
