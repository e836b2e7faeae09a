package draft

import (
	"fmt"
	"strings"
	"time"

	"github.com/castwright/castwright/section"
)

// oddForms are further ways to write casts, each with something that a draft had wrong.
var oddForms = []form{
	{name: "columns out of order, their names behind a sign and a label", write: func(c *section.Cast) (string,
		string) {
		return "T-" + c.Station + ".log.txt",
			fmt.Sprintf("%% Station: %s   Cast: 1\n%% Lat: %.4f   Lon: %.4f   Sounding: %.0f m\n%% Start: %s UTC\n"+
				"%% columns: oxygen, salinity, temperature, pressure\n", c.Station, c.At[1], c.At[0], c.BottomM,
				strings.ToUpper(c.Time.Format("02-Jan-2006 15:04:05"))) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%s %.4f %.4f %.1f\n", or(o, "%.1f", "-9.99e-29"), s, t, p)
				})
	}},
	{name: "year in the head, day of the year in a column", write: func(c *section.Cast) (string, string) {
		day := float64(c.Time.YearDay()) + c.Time.Sub(c.Time.Truncate(24*time.Hour)).Hours()/24
		return "c" + c.Station + ".txt",
			fmt.Sprintf("Year %d  Station %s\nLatitude %.4f  Longitude %.4f\nBottom %.0f\n"+
				"JulianDay  Press(db)  Temp(C)  Sal(psu) Oxy(umol/kg)\n", c.Time.Year(), c.Station, c.At[1], c.At[0],
				c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%.6f %.1f %.4f %.4f %s\n", day+1e-7, p, t, s, or(o, "%.1f", "-99"))
				})
	}},
	{name: "times with their zone, names behind dots", write: func(c *section.Cast) (string, string) {
		return "profile_" + c.Station + ".tsv",
			fmt.Sprintf("[header]\nstation=%s\nstart=%s\nlat=%.4f\nlon=%.4f\nwater_depth=%.0f\n[data]\n"+
				"pressure_dbar\ttemperature_C\tsalinity_psu\toxygen_umol_kg\n", c.Station,
				c.Time.In(time.FixedZone("", 2*3600)).Format("2006-01-02T15:04:05-07:00"), c.At[1], c.At[0],
				c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%.1f\t%.4f\t%.4f\t%s\n", p, t, s, or(o, "%.1f", "-99"))
				})
	}},
	{name: "date and time of digits alone, numbers without blanks between them", write: func(c *section.Cast) (string,
		string) {
		return c.Station + ".ctd",
			fmt.Sprintf("STATION %4s   LAT %s%s  LON %s%s  %sZ DEPTH %5.0f\n  PRES    TEMP    SALT   OXYG\n", c.Station,
				minutesOf(c.At[1], "%02d %07.4f"), "N", minutesOf(c.At[0], "%03d %07.4f"), "W",
				c.Time.Format("20060102 1504"), c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%6.1f%8.4f%8.4f%7s\n", p, t, s, or(o, "%.1f", "-999.0"))
				})
	}},
	{name: "names that are not known, a count of lines, some files with a column more, two other tables",
		write: func(c *section.Cast) (string, string) {
			n := 0
			more, value := "", ""
			if c.Station == "22" || c.Station == "23" {
				more, value = ";turbidity", ";0.25"
			}
			return "run" + c.Station + ".csv",
				fmt.Sprintf("Date;%s UTC\nLatitude;%s\nLongitude;%s\nWater depth;%.0f\nline;pr1x;t_probe;s_probe;oxygen "+
					"(umol/kg)%s\n", c.Time.Format("2006-01-02 15:04"), minutesOf(c.At[1], "%d°%07.4f'N"),
					minutesOf(c.At[0], "%d°%07.4f'W"), c.BottomM, more) +
					levels(c, func(p, t, s, o float64) string {
						n++
						return fmt.Sprintf("%d;%.1f;%.4f;%.4f;%s%s\n", n, p, t, s, or(o, "%.1f", "-99"), value)
					})
		}, beside: map[string]string{
			"events.csv": "Event,Station,Activity,Bottom\n101,21,CTD,84\n102,22,CTD,104\n103,23,CTD,120\n" +
				"104,24,CTD,130\n",
			"winch.csv": "time,cable_out,speed\n" + strings.Repeat("2026-08-14 03:00,30,0.5\n2026-08-14 03:01,60,0.5\n",
				20)}},
}
