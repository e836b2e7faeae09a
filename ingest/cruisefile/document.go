package cruisefile

import (
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
)

const documentationHead = `The cruise file says where a cruise's casts are, what only a person can say about them, and what to make. It is YAML in
UTF-8: keys and values, indented with blanks. Every key but those marked "required" may be left out. An unknown or misspelt key is an
error. A complete file for a cruise with two sections:

`

// documentationExample is checked by a test to be accepted.
const documentationExample = `cruise:
  id: saltmarten-2026-05
  ships: [{name: RV Saltmarten, code: ZZSM}]
  legs:
    - {expocode: ZZSM20260504, start: 2026-05-04, end: 2026-05-17, from: Skerrywick, to: Skerrywick,
       chief_scientist: {name: Ragna Holm, orcid: "https://orcid.org/0000-0000-0000-0001"}}
  institutions: [Skerry Institute]
release: {status: preliminary, licence: CC0-1.0, contact: data@example.org}
systems:
  - label: main
    bin: {width: 2, label: centre}
    sensors: [{variables: [temp, psal], serial: P-001, calibrated: 2026-01-20}]
    salinity: {stage: adjusted to bottles, by: Owen Lark, date: 2026-05-16, residual: 0.0012}
casts:
  sources: [casts]
  time: start
  leave_out: [{cast: 6/2, reason: "winch stopped, cast repeated"}]
  role: [{test: T1}]
sections:
  - {name: strait, stations: 1-10, reference: deepest}
  - {name: slope, stations: 11-18, planned: 11-19, reference: 800, positive: north}
`

const documentationForms = `
Text may stand without quotes, except where it contains ": " or " #", begins with one of * & ! | > % @, or, inside { } and [ ], contains
a comma: then put it in "double quotes". A list of one item may stand without [ ].

Stations are text: 1 and 001 are two stations. Lists of stations are written
  1-12, 14          runs in natural order (2, 9, 12, 12A, 13), up or down (20-15)
  7/2               cast 2 of station 7
  1-20 except 7, 9  what follows except is taken out; all except T1
  ZZSM20260504:1-9  stations of one leg, when legs repeat their numbers
  "T-1"             a name with characters other than letters, digits, _ and . (in YAML: '"T-1", 5')

A section whose stations end with the first again, such as stations: 1-12, 1, is a closed line. It has at least three places, no other
station twice, and a budget of volume, mass, salt, freshwater and heat over the area that it encloses (tables/budgets.csv, with what the
budget leaves out). The budget needs a velocity between each two stations, and one reference level that all of them reach; positive is in,
unless the section says out. Figures and grid run along the line once round, from the first station to the first. While the cruise is
underway the line stays open, and positive is left, until its last station is taken.

`

// documentationTables describes the tables that the cruise file names. The readers are in package ingest.
const documentationTables = `
TABLES are CSV with commas, UTF-8, a first line with the names of the columns, in any order; lines that begin with # are comments.

Flag edits (casts: edits) say what a person decided about values; they are applied last, one record each in the archive's history:
  station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date
  7,1,psal,100,120,3,RH,spike in both sensors,2026-05-16
  station, cast   as the archive calls them, after renumber; expocode may be a column too
  variable        a name of the list at the end (psal), or the name in the cast files (CTDSAL)
  from_dbar, to_dbar  first and last pressure, both included; empty: the whole cast
  flag            WOCE CTD flag: 1 not calibrated, 2 acceptable, 3 questionable, 4 bad, 5 not reported, 6 interpolated over more than
                  2 dbar, 7 despiked, 9 not sampled; 5 and 9 are for levels without a value, the others for levels with one
  initials, reason  who decided and why; a line that lacks one of them is a proposal, and is not applied
  date            day of the decision, YYYY-MM-DD; may be empty
  check           may be a column: the check that proposed the line

Station table (casts: station_table) fills and overrides what the headers of cast files say; each difference is a finding:
  station,cast,time,latitude,longitude,depth,direction,role,system,remark
  7,1,2026-05-06 13:40,60.125,-29.5,1890,down,primary,main,swell
  station, cast   as the archive calls them, after renumber; expocode may be a column too; the other columns may be left out or empty
  time            YYYY-MM-DD HH:MM, also with seconds, also with a zone (Z, +02:00); or date and time in two columns
  zone            may be a column: zone of the line's time, such as +02:00; without one the keys casts: clock count, else UTC
  latitude, longitude  decimal degrees, north and east positive, or degrees and minutes with N, S, E, W
  depth           water depth in metres
  direction, role, system  words of the cruise file; what the cruise file says of a cast by name goes before the table
  comment         a second remark
  time_bottom, time_end  when the cast was at the bottom and back on deck, as time, or as a time of day
  bottles, parameters, event  their number or names, what was measured or sampled, the event of the ship's log, in words
  height_above_bottom  metres between the deepest point of the cast and the bottom
                  these six are in tables/stations.csv and in the station summary of the archive
  other columns   are named in a note and not read
A log with columns of its own is named with what they are; its dates, times and positions may have any usual form:
  station_table: {file: log.csv, date: dmy, columns: {Stn: station, Datum: date, Zeit: time, Breite: latitude, Lange: longitude}}

Tables of levels and velocities (reference: levels, velocities) have the columns station_a, station_b, pressure_dbar or depth_m, and for
velocities velocity_ms and standard_error_ms. A station that several legs have is written EXPOCODE:STATION.
`

const documentationLayouts = `
LAYOUTS (casts: layouts) describe text files that are not exchange files: which lines are the head and what they say, and what each column is.
Of the file
  Station: 21                      * a comment
  14.08.2026 06:30  54 30.00 N  010 15.00 W
  Pres [dbar];Temp [degC];Cond [mS/cm];QF
  2,0;16,1118;43,0574;22
the layout is
`

// documentationLayoutExample is checked by a test to read the file above it.
const documentationLayoutExample = `layouts:
  - name: text
    match: "*.txt"
    decimal: comma
    date: dmy
    header:
      - 'Station: (?P<station>\d+)'
      - '^(?P<date>[\d.]+) (?P<time>[\d:]+)  (?P<latitude>.*[NS])  (?P<longitude>.*[EW])'
    columns:
      - {column: Pres, means: pres}
      - {column: Temp, means: temp, flags: {column: QF, digit: 1}}
      - {column: Cond, means: cond, flags: {column: QF, digit: 2}}
`

const documentationLayoutRules = `A column is found by its name (with or without the unit in brackets), its number, or its characters (format: fixed); columns
that the layout does not list are named in a note and not read. Lines above the first data line are the head: header patterns look at them, and they are kept as
comments of the cast. A later line that a header pattern matches begins the next cast of the file. What the head does not say comes from
given, the station table (position, water depth, time) or the legs (expocode). Practical salinity is computed from conductivity where no
column means psal, pressure from depth where none means pres; oxygen in ml/l, umol/l or mg/l becomes umol/kg; each is recorded.
`

// Documentation is the text of "castwright help cruise-file": every key with its meaning, legal values, default and an
// example. It is made of the same table that decodes.
func Documentation() string {
	var b strings.Builder
	b.WriteString(documentationHead)
	for _, line := range strings.SplitAfter(documentationExample, "\n") {
		if line != "" {
			b.WriteString("  " + line)
		}
	}
	b.WriteString(documentationForms)
	b.WriteString("KEYS (after > an example)\n")
	w := documenter{out: &b, seen: map[*about]string{}}
	w.keys(cruiseForm.keys(), "", 0)
	b.WriteString(documentationTables)
	b.WriteString(documentationLayouts)
	for _, line := range strings.SplitAfter(strings.TrimSuffix(documentationLayoutExample, "\n"), "\n") {
		b.WriteString("  " + line)
	}
	b.WriteString("\n" + documentationLayoutRules)
	b.WriteString("\nVARIABLES\n")
	for _, v := range metadata.Variables() {
		fmt.Fprintf(&b, "  %-16s %s\n", v.Name, v.LongName)
	}
	return b.String()
}

// Explain returns what Documentation says of a key wherever the file has it, with the keys below it; "" for a word
// that is no key. Keys are the words that are.
func Explain(word string) (text string, keys []string) {
	var b strings.Builder
	seen := map[*about]bool{}
	var walk func(list []about, path string)
	walk = func(list []about, path string) {
		if seen[&list[0]] {
			return
		}
		seen[&list[0]] = true
		for i := range list {
			k := &list[i]
			here := strings.TrimPrefix(path+": "+k.Key, ": ")
			if !slices.Contains(keys, k.Key) {
				keys = append(keys, k.Key)
			}
			if k.Key == word {
				b.WriteString(here + "\n")
				w := documenter{out: &b, seen: map[*about]string{}}
				w.keys(list[i:i+1:i+1], path, 1)
				b.WriteByte('\n')
			}
			if k.Keys != nil {
				walk(k.Keys(), here)
			}
		}
	}
	walk(cruiseForm.keys(), "")
	return b.String(), keys
}

type documenter struct {
	out  *strings.Builder
	seen map[*about]string // first place where a set of keys was described
}

func (w *documenter) keys(keys []about, path string, depth int) {
	if before, ok := w.seen[&keys[0]]; ok {
		w.paragraph(depth, "keys as under "+before)
		return
	}
	w.seen[&keys[0]] = path
	for i := range keys {
		k := &keys[i]
		what := k.Key + ": " + k.Meaning + "."
		if k.Required {
			what += " Required."
		}
		if k.Legal != "keys below" {
			what += " Value: " + k.Legal + "."
		}
		if k.Default != "" {
			what += " Default: " + k.Default + "."
		}
		if depth == 0 {
			w.out.WriteByte('\n')
		}
		w.paragraph(depth, what)
		// The example is in a line of its own, so that it can be copied.
		w.out.WriteString(strings.Repeat("  ", depth+3) + "> " + k.Key + ": " + k.Example + "\n")
		if k.Keys != nil {
			inner := k.Key
			if path != "" {
				inner = path + ": " + k.Key
			}
			w.keys(k.Keys(), inner, depth+1)
		}
	}
}

const documentationWidth = 110

// paragraph writes text indented by depth, its further lines by four more.
func (w *documenter) paragraph(depth int, text string) {
	indent := strings.Repeat("  ", depth+1)
	line := indent
	for i, word := range strings.Fields(text) {
		if i > 0 && len(line)+1+len(word) > documentationWidth {
			w.out.WriteString(line + "\n")
			line = indent + "    " + word
			continue
		}
		if i > 0 {
			line += " "
		}
		line += word
	}
	w.out.WriteString(line + "\n")
}
