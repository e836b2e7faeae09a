package rebuild_test

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"syscall"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/castwright/castwright/cmd/internal/verify"
	"github.com/castwright/castwright/internal/nc"
)

// The test binary rebuilds as a child, so that it can be another user.
func TestMain(m *testing.M) {
	if code, is := verify.ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
	}
	if archive := os.Getenv("CASTWRIGHT_TEST_REBUILD"); archive != "" {
		r, err := rebuild.Run(context.Background(),
			rebuild.Plan{Archive: archive, Out: os.Getenv("CASTWRIGHT_TEST_OUT")})
		if err != nil || r.Product.Path == "" || len(r.Differences) > 0 {
			fmt.Fprintln(os.Stderr, err, r.Product.Findings, r.Differences)
			os.Exit(1)
		}
		fmt.Println("uid", os.Getuid(), r.Product.Path)
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func ctd(expocode, station, number, date, clock, lat, lon, unit string, n int) string {
	var b strings.Builder
	fmt.Fprintf(&b,
		"CTD,20260510ZZTEST\nNUMBER_HEADERS = 9\nEXPOCODE = %s\nSTNNBR = %s\nCASTNO = %s\nDATE = %s\nTIME = %s\nLATITUDE = %s\nLONGITUDE = %s\nDEPTH = %d\n"+
			"CTDPRS,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W\nDBAR,%s,,PSS-78,\n", expocode, station, number, date,
		clock,
		lat, lon, 10*n+15, unit)
	for i := range n {
		p := float64(10 * (i + 1))
		fmt.Fprintf(&b, "%.1f,%.4f,2,%.4f,2\n", p, 9-p/200, 34.8+p/2000)
	}
	b.WriteString("END_DATA\n")
	return b.String()
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func bundle(t *testing.T, pairs ...string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(pairs); i += 2 {
		w, err := z.Create(pairs[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, pairs[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// rich is a cruise with everything that its file can name: inputs beside, above and elsewhere, bundles, bottles, edits,
// tables, two legs, two systems, clocks, renumbering, casts left out.
func rich(t *testing.T) (cruiseFile string) {
	t.Helper()
	root := t.TempDir()
	far := t.TempDir()
	const a, b = "ZZTE20260501", "ZZTE20260601"
	here := filepath.Join(root, "projects", "cruise")
	put(t, filepath.Join(here, "casts", "1_ct1.csv"), ctd(a, "001", "1", "20260502", "0300", "60.0", "-20.0", "ITS-90",
		20))
	put(t, filepath.Join(here, "casts", "2_ct1.csv"), ctd(a, "002", "1", "20260502", "0900", "60.2", "-20.0", "ITS-90",
		20))
	put(t, filepath.Join(root, "above", "ö and blanks_ct1.csv"), ctd(a, "21", "1", "20260502", "1500", "60.4", "-20.0",
		"IPTS-68", 20))
	put(t, filepath.Join(far, "4_ct1.csv"), ctd(a, "004", "1", "20260502", "2100", "60.6", "-20.0", "ITS-90", 20))
	put(t, filepath.Join(here, "leg2_ct1.zip"), bundle(t, "x/1_ct1.csv", ctd(b, "001", "1", "20260602", "0300", "60.0",
		"-21.0", "ITS-90", 20),
		"x/2_ct1.csv", ctd(b, "002", "1", "20260602", "0900", "60.2", "-21.0", "ITS-90", 20)))
	put(t, filepath.Join(here, "casts", "broken_ct1.csv"), "CTD,20260510ZZTEST\nNUMBER_HEADERS")
	put(t, filepath.Join(here, "bottles_hy1.csv"),
		"BOTTLE,20260511ZZTEST\nEXPOCODE,STNNBR,CASTNO,SAMPNO,DATE,TIME,LATITUDE,LONGITUDE,CTDPRS,SALNTY,SALNTY_FLAG_W\n,,,,,,,,DBAR,PSS-78,\n"+
			a+",001,1,1,20260502,0310,60.0,-20.0,100.0,34.8500,2\n"+a+
			",21,1,1,20260502,1510,60.4,-20.0,100.0,34.8501,3\nEND_DATA\n")
	put(t, filepath.Join(far, "edits.csv"),
		"station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date\n001,1,psal,50,60,4,RH,spike,2026-06-20\n001,1,psal,70,80,4,,,\n")
	put(t, filepath.Join(root, "above", "log.csv"), "expocode,station,cast,time,depth,remark\n"+a+
		",003,1,2026-05-02 17:05+02:00,240,swell\n"+b+",001,1,,300,\n")
	put(t, filepath.Join(here, "levels.csv"),
		"station_a,station_b,pressure_dbar\n001,002,150\n002,003,150\n003,004,150\n")
	depths(t, filepath.Join(root, "above", "depth.nc"))
	cruiseFile = filepath.Join(here, "the cruise.yaml")
	put(t, cruiseFile, `cruise:
  id: rich
  title: everything at once
  legs: [{expocode: `+a+`, chief_scientist: {name: Ragna Holm}}, {expocode: `+b+`}]
release: {status: underway}
systems: [{label: first, stations: "`+a+`:001-004", bin: {width: 10, label: centre}}, {label: second, salinity: laboratory}]
figures: none
casts:
  sources: [casts, "../../above/ö and blanks_ct1.csv", "`+filepath.ToSlash(far)+`/4_ct1.csv", leg2_ct1.zip]
  bottles: bottles_hy1.csv
  edits: "`+filepath.ToSlash(far)+`/edits.csv"
  station_table: ../../above/log.csv
  bathymetry: ../../above/depth.nc
  leave_out: [{file: casts/broken_ct1.csv, reason: cut short}]
  renumber: [{from: 21/1, to: 003/1, why: typing error}]
  clock: [{stations: "`+b+`:002", zone: "-01:00", of: files}]
  role: [{repeat: "`+b+`:002"}]
sections:
  - {name: line, stations: "`+a+`:001-004", reference: {levels: ./levels.csv}, grid: linear}
`)
	return cruiseFile
}

// depths writes a grid of water depth.
func depths(t *testing.T, path string) {
	t.Helper()
	s := &nc.Schema{Dims: []nc.Dim{{Name: "lat", Len: 3}, {Name: "lon", Len: 3}}, Vars: []nc.Var{
		{Name: "lat", Type: nc.Double, Dims: []int{0}, Attrs: []nc.Attr{{Name: "units", Value: "degrees_north"}}},
		{Name: "lon", Type: nc.Double, Dims: []int{1}, Attrs: []nc.Attr{{Name: "units", Value: "degrees_east"}}},
		{Name: "depth", Type: nc.Double, Dims: []int{0, 1}, Attrs: []nc.Attr{{Name: "units", Value: "m"},
			{Name: "standard_name", Value: "sea_floor_depth_below_sea_surface"}}}}}
	w, err := nc.Create(path, s)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range [][]float64{{59, 60, 62}, {-22, -20, -18}, {200, 210, 220, 205, 215, 225, 240, 250, 260}} {
		if err := w.Write(i, v); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func built(t *testing.T) string {
	t.Helper()
	file := rich(t)
	// so that inputs.sha256 is an input too
	p, err := pipeline.Check(context.Background(), pipeline.Plan{CruiseFile: file, Record: true})
	if err != nil {
		t.Fatal(err)
	}
	p, err = pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	if p.Path == "" || p.Casts != 6 {
		t.Fatalf("%+v", p)
	}
	for _, f := range p.Findings {
		if strings.HasPrefix(f.Check, "inputs.") {
			t.Errorf("%+v", f)
		}
	}
	return p.Path
}

func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	m := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		m[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func differ(a, b map[string]string) (names []string) {
	for n := range a {
		if b[n] != a[n] {
			names = append(names, n)
		}
	}
	for n := range b {
		if _, ok := a[n]; !ok {
			names = append(names, n)
		}
	}
	sort.Strings(names)
	return names
}

// moved copies an archive to a new folder that everybody can read.
func moved(t *testing.T, archive string) string {
	t.Helper()
	dir := open(t)
	to := filepath.Join(dir, "copy of an archive")
	if err := os.CopyFS(to, os.DirFS(archive)); err != nil {
		t.Fatal(err)
	}
	return to
}

// open makes a folder that other users can reach and write.
func open(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "castwright-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o777); err != nil { // the umask may have taken bits away
		t.Fatal(err)
	}
	return dir
}

// A copy of the archive, made again by another user with another time zone, language and mask, from inputs that nobody
// can reach any more.
func TestElsewhere(t *testing.T) {
	archive := built(t)
	copied, out := moved(t, archive), open(t)
	if os.Getuid() != 0 {
		t.Fatal("this test needs root, to become another user")
	}
	program := filepath.Join(open(t), "program")
	b, err := os.ReadFile(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, b, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(program, 0o755); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program)
	cmd.Dir = "/"
	cmd.Env = []string{"CASTWRIGHT_TEST_REBUILD=" + copied, "CASTWRIGHT_TEST_OUT=" + out, "TZ=Pacific/Kiritimati",
		"LANG=tr_TR.UTF-8", "LC_ALL=tr_TR.UTF-8",
		"HOME=/nonexistent", "GOMAXPROCS=1", "TMPDIR=" + open(t)}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	said, err := cmd.CombinedOutput()
	if err != nil || !strings.HasPrefix(string(said), "uid 65534 ") {
		t.Fatalf("%v: %s", err, said)
	}
	if d := differ(tree(t, archive), tree(t, filepath.Join(out, "rich"))); d != nil {
		t.Errorf("files differ: %v", d)
	}
}

// inputs returns the table of inputs of an archive.
func inputs(t *testing.T, archive string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join(archive, "data/inputs/inputs.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

// rewrite packs inputs.zip again with one member changed.
func rewrite(t *testing.T, archive, member string, change func([]byte) []byte) {
	t.Helper()
	path := filepath.Join(archive, "data/inputs/inputs.zip")
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	hit := false
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == member {
			hit = true
			b = change(b)
		}
		m, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := m.Write(b); err != nil {
			t.Fatal(err)
		}
	}
	z.Close()
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if !hit {
		t.Fatalf("no member %s", member)
	}
	if err := os.WriteFile(path, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

// repair makes the manifests of a bag agree with its files again, as somebody who hides a change would.
func repair(t *testing.T, archive string) {
	t.Helper()
	for _, name := range []string{"manifest-sha256.txt", "manifest-sha512.txt", "tagmanifest-sha256.txt",
		"tagmanifest-sha512.txt"} {
		path := filepath.Join(archive, name)
		old, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var out strings.Builder
		for _, line := range strings.Split(strings.TrimSuffix(string(old), "\n"), "\n") {
			_, file, ok := strings.Cut(line, "  ")
			if !ok {
				t.Fatalf("%s: %q", name, line)
			}
			b, err := os.ReadFile(filepath.Join(archive, filepath.FromSlash(file)))
			if err != nil {
				t.Fatal(err)
			}
			sum := sha256.Sum256(b)
			hexed := hex.EncodeToString(sum[:])
			if strings.Contains(name, "512") {
				s := sha512.Sum512(b)
				hexed = hex.EncodeToString(s[:])
			}
			fmt.Fprintf(&out, "%s  %s\n", hexed, file)
		}
		if err := os.WriteFile(path, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// One byte of one input changed in the archive, manifests repaired or not: rebuild names that input and no other, and
// makes nothing.
func TestChangedInput(t *testing.T) {
	archive := built(t)
	rows := inputs(t, archive)
	if len(rows) < 11 {
		t.Fatalf("only %d inputs: %v", len(rows), rows)
	}
	for i, row := range rows {
		a, out := moved(t, archive), t.TempDir()
		rewrite(t, a, row[1], func(b []byte) []byte {
			b = bytes.Clone(b)
			b[len(b)/2] ^= 1
			return b
		})
		if i%2 == 0 {
			repair(t, a)
		}
		_, err := rebuild.Run(context.Background(), rebuild.Plan{Archive: a, Out: out})
		if err == nil || !strings.HasPrefix(err.Error(), row[0]+": SHA-256 is ") ||
			strings.Contains(err.Error(), "\n") {
			t.Errorf("%s changed: %v", row[0], err)
		}
		if left, _ := os.ReadDir(out); len(left) > 0 {
			t.Errorf("%s changed: made %v", row[0], left)
		}
	}
	// The table repaired as well: the cruise is another then, and what differs is named, the input by inputs.sha256
	// first of all.
	a, out := moved(t, archive), t.TempDir()
	rewrite(t, a, "casts/2_ct1.csv",
		func(b []byte) []byte { return bytes.Replace(b, []byte("34.8050"), []byte("34.8060"), 1) })
	var sum string
	rewrite(t, a, "casts/2_ct1.csv", func(b []byte) []byte {
		s := sha256.Sum256(b)
		sum = hex.EncodeToString(s[:])
		return b
	})
	table := filepath.Join(a, "data/inputs/inputs.csv")
	text, err := os.ReadFile(table)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[0] == "casts/2_ct1.csv" {
			text = bytes.Replace(text, []byte(row[3]), []byte(sum), 1)
		}
	}
	if err := os.WriteFile(table, text, 0o644); err != nil {
		t.Fatal(err)
	}
	repair(t, a)
	r, err := rebuild.Run(context.Background(), rebuild.Plan{Archive: a, Out: out})
	if err != nil {
		t.Fatal(err)
	}
	named := false
	for _, f := range r.Product.Findings {
		named = named || f.Check == "inputs.changed" && f.File == "casts/2_ct1.csv"
	}
	if !named || len(r.Differences) == 0 {
		t.Errorf("%v %+v", r.Differences, r.Product.Findings)
	}
}

// An archive of everything at once is not accused, whatever is computed again.
func TestVerified(t *testing.T) {
	r, err := verify.Archive(context.Background(), verify.Plan{Path: built(t), All: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range r.Findings {
		t.Errorf("%+v", f)
	}
	if r.Again == "" || r.Files < 20 {
		t.Errorf("%+v", r)
	}
}

// What makes a rebuild impossible is said in words.
func TestCannotRebuild(t *testing.T) {
	archive := built(t)
	for name, c := range map[string]struct {
		spoil func(a string)
		want  string
	}{
		"no archive": {func(a string) { os.Remove(filepath.Join(a, "bag-info.txt")) }, "not an archive"},
		"no table": {func(a string) { os.Remove(filepath.Join(a, "data/inputs/inputs.csv")) },
			"data/inputs/inputs.csv: the table of inputs cannot be read"},
		"no inputs": {func(a string) { os.Remove(filepath.Join(a, "data/inputs/inputs.zip")) },
			"data/inputs/inputs.zip: "},
		"inputs cut short": {func(a string) { os.Truncate(filepath.Join(a, "data/inputs/inputs.zip"), 500) },
			"data/inputs/inputs.zip: "},
		"table of nonsense": {func(a string) {
			put(t, filepath.Join(a, "data/inputs/inputs.csv"), "name,member,bytes,sha256\na,a,x,y\n")
		}, "data/inputs/inputs.csv:2: bytes is \"x\""},
		"name that climbs": {func(a string) {
			put(t, filepath.Join(a, "data/inputs/inputs.csv"),
				"name,member,bytes,sha256\na/../../../../../../../../etc/x,the cruise.yaml,5,"+strings.Repeat("00", 32)+
					"\n")
		}, "a/../../../../../../../../etc/x: "},
	} {
		a, out := moved(t, archive), t.TempDir()
		c.spoil(a)
		_, err := rebuild.Run(context.Background(), rebuild.Plan{Archive: a, Out: out})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
		if left, _ := os.ReadDir(out); len(left) > 0 {
			t.Errorf("%s: made %v", name, left)
		}
	}
	if _, err := rebuild.Run(context.Background(), rebuild.Plan{Archive: archive, Out: filepath.Dir(archive)}); err ==
		nil ||
		!strings.Contains(err.Error(), "the new archive would take the place of the old one") {
		t.Errorf("over itself: %v", err)
	}
}
