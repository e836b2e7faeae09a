package draft

import (
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/section"
)

// A form writes casts as text: file names and what is in them.
type form struct {
	name  string
	write func(c *section.Cast) (file, text string)
	once  bool     // all casts are in one file
	fill  []string // answers that differ
	// files beside that are no casts, nor the station table
	beside map[string]string
}

func v(c *section.Cast, name string, i int) float64 { return c.Column(name).Values[i] }

func or(v float64, format, missing string) string {
	if math.IsNaN(v) {
		return missing
	}
	return fmt.Sprintf(format, v)
}

func levels(c *section.Cast, line func(p, t, s, o float64) string) string {
	var b strings.Builder
	for i, p := range c.PressureDbar {
		b.WriteString(line(p, v(c, "temp", i), v(c, "psal", i), v(c, "oxy", i)))
	}
	return b.String()
}

func minutesOf(deg float64, format string) string {
	d := math.Floor(math.Abs(deg) + 1e-9)
	return fmt.Sprintf(format, int(d), 60*(math.Abs(deg)-d)+1e-9)
}

// forms are ways to write casts that the dialects of testdata/layouts have not: none of them was looked at when the
// recogniser was written first.
var forms = []form{
	{name: "quoted, units in the second line", write: func(c *section.Cast) (string, string) {
		return "CTD-" + c.Station + ".csv",
			fmt.Sprintf(
				"\"Station\",\"%s\"\n\"Date/Time (UTC)\",\"%s\"\n\"Latitude\",\"%.4f\"\n\"Longitude\",\"%.4f\"\n\"Bottom Depth\",\"%.0f\"\n",
				c.Station,
				c.Time.Format("2006-01-02 15:04"), c.At[1], c.At[0], c.BottomM) +
				"\"Pressure\",\"Temperature\",\"Salinity\",\"Oxygen\"\n\"dbar\",\"degC\",\"PSU\",\"umol/kg\"\n" +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("\"%.1f\",\"%.4f\",\"%.4f\",\"%s\"\n", p, t, s, or(o, "%.1f", ""))
				})
	}},
	{name: "French with semicolons", write: func(c *section.Cast) (string, string) {
		return "profil_" + c.Station + ".txt",
			fmt.Sprintf("Station : %s\nDate : %s\nHeure : %s\nLatitude : %s N\nLongitude : %s W\nSonde : %.0f m\n\n",
				c.Station, c.Time.Format("02/01/2006"), c.Time.Format("15h04"),
				minutesOf(c.At[1], "%d°%06.3f'"), minutesOf(c.At[0], "%d°%06.3f'"), c.BottomM) +
				"Pression (dbar);Température (°C);Salinité;Oxygène (umol/kg)\n" +
				levels(c, func(p, t, s, o float64) string {
					return strings.ReplaceAll(fmt.Sprintf("%.1f;%.4f;%.4f;%s\n", p, t, s, or(o, "%.1f", "-99,9")), ".",
						",")
				})
	}},
	{name: "names of two words with units in brackets", write: func(c *section.Cast) (string, string) {
		return "stn" + c.Station + ".dat",
			fmt.Sprintf(
				"# Cruise: invented\n# Station no: %s  Cast no: 1\n# Start time: %s UTC\n# Position: %sN, %sW\n# Depth to bottom: %.0f m\n",
				c.Station, c.Time.Format("02-Jan-2006 15:04:05"),
				minutesOf(c.At[1], "%d-%06.3f"), minutesOf(c.At[0], "%03d-%06.3f"), c.BottomM) +
				"# Press[dbar]  Temp(ITS-90 C)  Sal[PSS-78]  DO[umol/kg]\n" +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%12.2f %14.4f %12.4f %10s\n", p, t, s, or(o, "%.1f", "9999.9"))
				})
	}},
	{name: "fixed width with blanks, negative numbers touch", write: func(c *section.Cast) (string, string) {
		return "F" + c.Station + ".lis",
			fmt.Sprintf(
				"Station: %s   Date: %s   Time: %s\nLat: %.4f  Lon: %.4f  Bottom depth: %.0f\n\n    PRES    TEMP    SALN     OXY\n",
				c.Station, c.Time.Format("2006/01/02"), c.Time.Format("15:04"), c.At[1], c.At[0], c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%8.1f%8.4f%8.4f%8s\n", p, t, s, or(o, "%.1f", "-999.0"))
				})
	}},
	{name: "one table with positions and ISO times, a row a level", once: true, write: func(c *section.Cast) (string,
		string) {
		return "all.tsv", levels(c, func(p, t, s, o float64) string {
			return fmt.Sprintf("%s\t%s\t%.4f\t%.4f\t%.0f\t%.1f\t%.4f\t%.4f\t%s\n", c.Station,
				c.Time.Format("2006-01-02T15:04:05Z"), c.At[1], c.At[0], c.BottomM, p, t, s, or(o, "%.1f", "NaN"))
		})
	}},
	{name: "several casts, a line of values begins each", once: true, fill: []string{"which day", "ymd"},
		write: func(c *section.Cast) (string, string) {
			return "cruise.all", fmt.Sprintf("Station %s %s %s %.4fN %.4fW %.0f m\n", c.Station,
				c.Time.Format("2006-01-02"), c.Time.Format("15:04"), c.At[1], -c.At[0], c.BottomM) +
				"pres temp sal oxy\n" +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%.1f %.4f %.4f %s\n", p, t, s, or(o, "%.1f", "nan"))
				})
		}},
	{name: "flags in letters and numbers of scans", write: func(c *section.Cast) (string, string) {
		n := 20
		return "s" + c.Station + "c1.csv",
			fmt.Sprintf(
				"station=%s\ncast=1\ntime=%s\nlat=%.4f\nlon=%.4f\nwater depth=%.0f\nscans,press,temp,temp_flag,sal,sal_flag,oxy,oxy_flag\n",
				c.Station, c.Time.Format("2006-01-02 15:04"), c.At[1], c.At[0], c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					n++
					return fmt.Sprintf("%d,%.1f,%.4f,2,%.4f,2,%s,%s\n", n, p, t, s, or(o, "%.1f", "-9"),
						map[bool]string{true: "9", false: "2"}[math.IsNaN(o)])
				})
	}},
	{name: "down and up in one file", write: func(c *section.Cast) (string, string) {
		up := []string{}
		down := levels(c, func(p, t, s, o float64) string {
			l := fmt.Sprintf("%.1f,%.4f,%.4f,%s\n", p, t, s, or(o, "%.1f", ""))
			up = append(up, l)
			return l
		})
		slices.Reverse(up)
		return "yo" + c.Station + ".csv",
			fmt.Sprintf(
				"Station,%s\nStart,%s UTC\nLatitude,%.4f\nLongitude,%.4f\nSounding,%.0f\nPressure,Temperature,Salinity,Oxygen\n",
				c.Station, c.Time.Format("2006-01-02 15:04"), c.At[1], c.At[0], c.BottomM) +
				down + strings.Join(up[1:], "")
	}},
	{name: "no names, a commented head in German, comments at the end", write: func(c *section.Cast) (string, string) {
		return "st" + c.Station + ".asc",
			fmt.Sprintf(
				"! Stationsnummer %s\n! Datum %s\n! Zeit %s UTC\n! Breite %.4f N\n! Länge %.4f W\n! Wassertiefe %.0f m\n! Spalten: 1 Druck 2 Temperatur 3 Salz 4 Sauerstoff\n",
				c.Station, c.Time.Format("02.01.2006"), c.Time.Format("15:04"), c.At[1], -c.At[0], c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%6.1f %8.4f %8.4f %7s\n", p, t, s, or(o, "%.1f", "-9.99"))
				}) + "! Ende\n"
	}},
	{name: "units in the names of the head", write: func(c *section.Cast) (string, string) {
		return "p" + c.Station + ".dat",
			fmt.Sprintf(
				"# station: %s\n# time_start: %sZ\n# lat_deg: %.4f\n# lon_deg_east: %.4f\n# water_depth_m: %.0f\n# columns: pressure_dbar temperature_degC salinity oxygen_umol_kg\n",
				c.Station, c.Time.Format("2006-01-02T15:04:05"), c.At[1], c.At[0], c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%.1f %.4f %.4f %s\n", p, t, s, or(o, "%.1f", "nan"))
				})
	}},
	{name: "temperature in kelvin, conductivity in S/m, pressure in kPa", write: func(c *section.Cast) (string,
		string) {
		return "k" + c.Station + ".csv",
			fmt.Sprintf(
				"Station;%s\nDate;%s\nTime UTC;%s\nLat;%.4f\nLong;%.4f\nBottom;%.0f\nPressure [kPa];Temp [K];Salinity;Oxygen [umol/kg]\n",
				c.Station, c.Time.Format("20060102"), c.Time.Format("150405"), c.At[1], c.At[0], c.BottomM) +
				levels(c, func(p, t, s, o float64) string {
					return fmt.Sprintf("%.1f;%.4f;%.4f;%s\n", 10*p, t+273.15, s, or(o, "%.1f", "#N/A"))
				})
	}},
}

// Drafts of forms of text that are not in testdata read the same casts too.
func TestDraftOfOtherForms(t *testing.T) {
	dir := "../../testdata/layouts/exchange"
	d, err := Folders(dir, []string{"."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := read(t, dir, filled(t, d.Text))
	for _, f := range slices.Concat(forms, oddForms) {
		t.Run(f.name, func(t *testing.T) {
			dir := t.TempDir()
			texts := map[string]string{}
			for _, station := range []string{"21", "22", "23", "24"} {
				file, text := f.write(want[station])
				texts[file] += text
			}
			if f.once && strings.HasSuffix(f.name, "a level") {
				texts["all.tsv"] =
					"Station\tTime (UTC)\tLat\tLon\tBottom depth (m)\tPressure (dbar)\tTemperature (deg C)\tSalinity\tOxygen (umol/kg)\n" +
						texts["all.tsv"]
			}
			maps.Copy(texts, f.beside)
			for file, text := range texts {
				if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			d, err := Folders(dir, []string{"."}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if len(d.Unread) != len(f.beside) {
				t.Errorf("not read: %v", d.Unread)
			}
			got := read(t, dir, filled(t, d.Text, f.fill...))
			if len(got) != 4 || len(d.Failed) > 0 {
				t.Fatalf("%d casts, failed %v\n%s", len(got), d.Failed, d.Text)
			}
			same(t, f.name, got, want, string(d.Text))
		})
	}
	if _, err := Folders(t.TempDir(), []string{"."}, nil); err == nil ||
		!strings.Contains(err.Error(), ErrNoCasts.Error()) {
		t.Errorf("an empty folder: %v", err)
	}
	_ = ingest.Keep
}
