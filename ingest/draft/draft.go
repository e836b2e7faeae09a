// Package draft looks at unknown files of casts and writes a cruise file for them, in which what only a person can say
// is marked. It recognises formats and layouts, proposes what columns mean with how sure that is and why, and reads the
// casts to propose legs, roles and sections. It decides nothing that the files do not say: a marked line is refused by
// the reader of cruise files until it is filled in.
//
//	d, err := draft.Folders(dir, []string{"."}, nil)
//	os.WriteFile("cruise.yaml", d.Text, 0o666)
package draft

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A Draft is a proposed cruise file.
type Draft struct {
	Text      []byte            // of the cruise file
	Questions []string          // of its marked lines
	Casts     int               // read with what it proposes
	Inputs    []metadata.Digest // files that it takes for inputs
	Unread    []string          // files that it takes for nothing
	Failed    []string          // files of casts that cannot be read, which it leaves out
}

// maxDraftFile is the largest file that is looked at; of tables of a whole cruise all casts are read.
const maxDraftFile = 128 << 20

// maxDraftFiles is the most files that are looked at.
const maxDraftFiles = 20000

// ErrNoCasts is the fault of folders in which no file of casts was found.
var ErrNoCasts = errors.New("no file of casts was recognised")

// ReadProfiles reads the casts of a NetCDF file at an absolute path, for a draft that does not open such files itself.
type ReadProfiles func(path string, o ncprofile.Options) ([]section.Cast, error)

// A file is one file of a folder.
type file struct {
	name   string // relative to the folder of the cruise file, slash-separated
	data   []byte
	digest metadata.Digest
	table  *table
	head   head
	used   ingest.Encoding
}

// drafter is a draft being made.
type drafter struct {
	dir         string
	profiles    ReadProfiles
	netcdf      []*file // of profiles
	exchange    []*file
	bottles     []*file
	log         *file
	mapping     *ingest.LogMapping // of the log; nil for a station table
	logQuestion string             // about the dates of the log
	groups      []*group
	casts       []*section.Cast
	reasons     map[string]string // of files that cannot be read
	out         Draft
	zoned       bool // the files say that times are UTC
}

// Folders drafts a cruise file for what is in folders, which are named relative to dir, where the cruise file will be.
// profiles reads the casts of a NetCDF file; nil: such files are not looked at.
func Folders(dir string, folders []string, profiles ReadProfiles) (*Draft, error) {
	d := &drafter{dir: dir, profiles: profiles, reasons: map[string]string{}}
	var text []*file
	n := 0
	for _, folder := range folders {
		err := filepath.WalkDir(filepath.Join(dir, filepath.FromSlash(folder)),
			func(p string, e fs.DirEntry, err error) error {
				if err != nil {
					return err
				}
				if strings.HasPrefix(e.Name(), ".") && p != filepath.Join(dir, filepath.FromSlash(folder)) {
					if e.IsDir() {
						return filepath.SkipDir
					}
					return nil
				}
				if e.IsDir() || !e.Type().IsRegular() {
					return nil
				}
				if n++; n > maxDraftFiles {
					return fmt.Errorf("more than %d files in the folders", maxDraftFiles)
				}
				rel, err := filepath.Rel(dir, p)
				if err != nil {
					return err
				}
				f, err := d.look(filepath.ToSlash(rel), p)
				if f != nil {
					text = append(text, f)
				}
				return err
			})
		if err != nil {
			return nil, err
		}
	}
	d.group(text)
	d.readAll()
	if len(d.casts) == 0 {
		why := ""
		if len(d.out.Failed) > 0 {
			why = "; " + d.out.Failed[0] + ": " + d.reasons[d.out.Failed[0]]
		}
		return nil, fmt.Errorf("%w among %d files%s", ErrNoCasts, n, why)
	}
	d.write()
	return &d.out, nil
}

// look reads a file and sorts it by kind; text that holds a table is returned.
func (d *drafter) look(name, onDisk string) (*file, error) {
	base := strings.ToLower(path.Base(name))
	info, err := os.Stat(onDisk)
	if err != nil {
		return nil, err
	}
	if base == "cruise.yaml" || base == "inputs.sha256" || strings.HasSuffix(base, ".yaml") {
		return nil, nil
	}
	if path.Ext(base) == ".nc" && d.profiles != nil {
		return nil, d.lookProfiles(name, onDisk)
	}
	if info.Size() > maxDraftFile || info.Size() == 0 {
		d.out.Unread = append(d.out.Unread, name)
		return nil, nil
	}
	data, err := regular.ReadFile(onDisk)
	if err != nil {
		return nil, err
	}
	f := &file{name: name, data: data, digest: metadata.Digest{Name: name, SHA256: sha256.Sum256(data),
		Bytes: int64(len(data))}}
	switch {
	case strings.HasSuffix(base, "_ct1.zip"), ingest.BeginsAs(data, "CTD") && exchangeHead(data):
		d.exchange = append(d.exchange, f)
		return nil, nil
	case ingest.BeginsAs(data, "BOTTLE") && strings.HasSuffix(base, ".csv"):
		d.bottles = append(d.bottles, f)
		return nil, nil
	}
	text, used, err := ingest.DecodeText(data, ingest.EncodingFound)
	if err != nil || bytes.IndexByte(text, 0) >= 0 {
		d.out.Unread = append(d.out.Unread, name)
		return nil, nil
	}
	f.used = used
	d.zoned = d.zoned || saysUTC.Match(text[:min(len(text), 20000)])
	if d.takeLog(f, text) {
		return nil, nil
	}
	if f.table = findTable(string(text)); f.table == nil {
		d.out.Unread = append(d.out.Unread, name)
		return nil, nil
	}
	f.table.decide()
	if f.table.axis() < 0 || !f.table.ofCasts() {
		d.out.Unread = append(d.out.Unread, name)
		return nil, nil
	}
	f.readHead()
	return f, nil
}

// lookProfiles reads the casts of a NetCDF file; one without casts, such as a grid, is no input.
func (d *drafter) lookProfiles(name, onDisk string) error {
	abs, err := filepath.Abs(onDisk)
	if err != nil {
		return err
	}
	casts, err := d.profiles(abs, ncprofile.Options{Name: name, Legs: []ingest.Leg{{Expocode: placeholder}}})
	if err != nil || len(casts) == 0 {
		d.out.Unread = append(d.out.Unread, name)
		return nil
	}
	data, err := regular.ReadFile(onDisk)
	if err != nil {
		return err
	}
	d.netcdf = append(d.netcdf, &file{name: name, digest: metadata.Digest{Name: name, SHA256: sha256.Sum256(data),
		Bytes: int64(len(data))}})
	for i := range casts {
		d.casts = append(d.casts, &casts[i])
	}
	return nil
}

// saysUTC is a time with its zone, or a word for UTC.
var saysUTC = regexp.MustCompile(`UTC|GMT|\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-](0\d|1[0-4]):?(00|15|30|45)\b)|\d{4}Z\b`)

// exchangeHead reports whether a file that begins with CTD goes on as exchange files do.
func exchangeHead(data []byte) bool {
	return bytes.Contains(data[:min(len(data), 64<<10)], []byte("EXPOCODE")) ||
		bytes.Contains(data[:min(len(data), 64<<10)], []byte("STNNBR"))
}

// takeLog takes a file for the station table when its first line has the columns of one.
func (d *drafter) takeLog(f *file, text []byte) bool {
	if d.log != nil {
		return false
	}
	entries, _, err := ingest.ReadStationTable(text, f.name, nil)
	if err == nil && len(entries) > 0 {
		d.log = f
		return true
	}
	if d.mapping, d.logQuestion = recogniseLog(string(text), f.name); d.mapping == nil {
		return false
	}
	d.log = f
	return true
}

// ofCasts reports whether a table holds levels of casts: something is measured in it, and its stations have more than a
// line or two each, which those of a log have not.
func (t *table) ofCasts() bool {
	measured := false
	stations := map[string]bool{}
	for k := range t.columns {
		switch means := t.columns[k].Means; {
		case means == "station":
			for i := range t.cells {
				stations[t.cells[i][k]] = true
			}
		case means == "" || means == "flags" || means == "pres" || means == "depth" || means == "nobs" ||
			means == "etime" || means == "hab" || isFact(means):
		default:
			measured = true
		}
	}
	return measured && 2*len(stations) < len(t.cells)
}

func (t *table) axis() int {
	axis := -1
	for k := range t.columns {
		switch t.columns[k].Means {
		case "pres":
			return k
		case "depth":
			axis = k
		}
	}
	return axis
}

// readHead finds what the lines above the data say, and what the columns do.
func (f *file) readHead() {
	t := f.table
	inColumns := map[string]bool{}
	for k := range t.columns {
		if m := t.columns[k].Means; isFact(m) {
			inColumns[m] = true
			if m == "bottom_depth" {
				inColumns["depth"] = true
			}
		}
	}
	end := t.rows[0]
	var lines []string
	for i, line := range t.lines[:end] {
		if i != t.nameLine && !(t.nameLine >= 0 && i > t.nameLine) && strings.TrimSpace(line) != "" {
			lines = append(lines, line)
		}
	}
	if inColumns["station"] && inColumns["latitude"] && len(lines) > 0 && inColumns["date"] {
		lines = nil // a table of casts needs no head
	}
	f.head = readHead(lines, inColumns)
	for k := range t.columns {
		if t.columns[k].Means == "date" {
			for i := range t.cells {
				f.head.dates = append(f.head.dates, t.cells[i][k])
			}
		}
	}
	f.head.dates = slices.Compact(f.head.dates)
}

// A group is files that one layout describes.
type group struct {
	layout    ingest.Layout
	name      string
	match     []string
	files     []*file
	patterns  []string
	fileName  string // pattern of file names
	skip      []string
	skipLines int
	questions map[string]string // key of the layout, and what is asked
	columns   []column
	missing   []string
}

// group puts files together that are divided alike and have the same columns.
func (d *drafter) group(files []*file) {
	slices.SortStableFunc(files, func(a, b *file) int { return strings.Compare(a.name, b.name) })
	at := map[string]*group{}
	for _, f := range files {
		t := f.table
		key := fmt.Sprint(t.layout.Format, t.layout.Delimiter, t.layout.Comma, f.used == ingest.UTF16, path.Ext(f.name))
		for k := range t.columns {
			c := &t.columns[k]
			key += fmt.Sprint("|", c.Place, c.Means, c.Unit)
		}
		g := at[key]
		if g == nil {
			g = &group{questions: map[string]string{}, columns: t.columns}
			at[key] = g
			d.groups = append(d.groups, g)
		}
		g.files = append(g.files, f)
	}
	zeros := false
	if d.log != nil {
		entries, _, _ := ingest.ReadStationTable(d.log.data, d.log.name, d.answeredLog())
		zeros = slices.ContainsFunc(entries, func(e ingest.StationEntry) bool { return e.Station[0] == '0' })
	}
	for i, g := range d.groups {
		g.name = "text"
		if len(d.groups) > 1 {
			g.name = fmt.Sprint("text", i+1)
		}
		g.propose(zeros)
	}
	for _, g := range d.groups {
		g.match = d.matchOf(g)
	}
}

// propose makes the layout of a group. zeros says that the station table has stations with zeros in front.
func (g *group) propose(zeros bool) {
	t := g.files[0].table
	g.layout = t.layout
	g.layout.Name = g.name
	noStation := false
	codes := map[string]bool{}
	encodings := map[ingest.Encoding]bool{}
	for _, f := range g.files {
		encodings[f.used] = true
		for _, p := range f.head.patterns {
			if !slices.Contains(g.patterns, p) && len(g.patterns) < 60 {
				g.patterns = append(g.patterns, p)
			}
		}
		noStation = noStation || !f.head.facts["station"]
		g.skipLines = max(g.skipLines, f.head.skip)
		for _, s := range f.strange(g.layout) {
			if !slices.Contains(g.skip, s) && len(g.skip) < 20 {
				g.skip = append(g.skip, s)
			}
		}
		for k := range f.table.columns {
			for _, m := range f.table.columns[k].missing {
				codes[m] = true
			}
		}
	}
	if encodings[ingest.Latin1] {
		g.layout.Encoding = ingest.Latin1
	} else if encodings[ingest.UTF16] {
		g.layout.Encoding = ingest.UTF16
	}
	if noStation {
		var names []string
		for _, f := range g.files {
			names = append(names, f.name)
		}
		g.fileName = fileNamePattern(names, zeros)
	}
	for m := range codes {
		g.missing = append(g.missing, m)
	}
	slices.Sort(g.missing)
	for k := range g.columns {
		if c := &g.columns[k]; c.Unit == "?" {
			c.Unit = ""
			g.questions["unit "+c.Means] = "unit of " + c.label() + ": ml/l, mg/l or umol/kg"
		}
	}
	g.days()
	g.dates()
	g.compile()
}

func (c *column) label() string {
	if c.name != "" {
		return c.name
	}
	return c.Place.String()
}

// days asks whether days of the year count from 0 or 1.
func (g *group) days() {
	said := func(c column) bool { return c.Means == "yearday" }
	if slices.ContainsFunc(g.patterns, func(p string) bool { return strings.Contains(p, "(?P<yearday>") }) ||
		slices.ContainsFunc(g.columns, said) {
		g.questions["days"] = "is 1 January day 0 or day 1 in the days of the files: from_0 or from_1"
	}
}

// compile makes the layout that the readers take; where a question is open it takes an answer that can be read.
func (g *group) compile() {
	l := &g.layout
	l.Header = nil
	for _, p := range g.patterns {
		l.Header = append(l.Header, ingest.Pattern{Regexp: regexp.MustCompile(p)})
	}
	if g.fileName != "" {
		l.Header = append(l.Header, ingest.Pattern{Regexp: regexp.MustCompile(g.fileName), FileName: true})
	}
	l.Skip = ingest.Skip{Lines: g.skipLines}
	for _, s := range g.skip {
		l.Skip.Patterns = append(l.Skip.Patterns, regexp.MustCompile(s))
	}
	l.Missing = g.missing
	l.Columns = nil
	for k := range g.columns {
		c := g.columns[k].LayoutColumn
		switch {
		case c.Means == "flags":
			continue
		case c.Means == "" && g.columns[k].name == "":
			continue
		case c.Means == "":
			c.Means = ingest.Keep
		}
		if g.questions["unit "+c.Means] != "" {
			c.Unit = "ml/l"
		}
		l.Columns = append(l.Columns, c)
	}
	if g.questions["days"] != "" {
		l.Days = ingest.DaysFromOne
	}
	if g.questions["date"] != "" {
		l.Date = ingest.DayMonthYear
	}
}
