package layout

import (
	"errors"
	"go/ast"
	"go/build/constraint"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "github.com/castwright/castwright/"

// Words that several rows of the table share.
var (
	words   = []string{"metadata", "metadata/units"}
	ingest  = append(slices.Clone(words), "section", "section/seawater", "internal/regular")
	exports = []string{"metadata", "section", "gridding", "section/geostrophy", "section/derived"}
	every   = []string{"*"}
)

// table: what each package may import of ours. A package that is not here fails the test; so does an import that is not
// here.
var table = map[string][]string{
	"metadata":            {"metadata/units"},
	"metadata/units":      {},
	"section":             {"metadata"},
	"section/seawater":    {},
	"section/coast":       {},
	"section/interpolate": {},
	"section/geostrophy":  {"metadata", "section", "section/seawater", "section/interpolate"},
	"section/derived":     {"metadata", "section", "section/seawater", "section/interpolate", "section/geostrophy"},

	"gridding":          {"metadata", "section", "section/seawater", "section/interpolate", "gridding/delaunay"},
	"gridding/contour":  {},
	"gridding/delaunay": {},

	"ingest":    ingest,
	"ingest/qc": {"metadata", "section", "section/seawater"},
	// derived: which columns of a file were derived
	"ingest/ncprofile": append(slices.Clone(ingest), "ingest", "section/derived", "internal/nc"),
	"ingest/cruisefile": append(slices.Clone(words), "section", "section/interpolate", "section/geostrophy",
		"section/derived", "gridding", "ingest",
		"ingest/qc"), // it returns the settings of these
	"ingest/draft": append(slices.Clone(ingest), "ingest", "ingest/ncprofile", "ingest/cruisefile"),

	"export":        exports,
	"export/bag":    {"internal/regular"},
	"export/place":  {},
	"export/netcdf": append(slices.Clone(exports), "export", "internal/nc"),
	// seawater: level lines of density under a property plot
	"export/figure": append(slices.Clone(exports), "export", "section/seawater", "section/coast", "gridding/contour",
		"export/figure/page",
		"export/figure/chart"),
	"export/figure/page": {},
	// derived: colours of its variables
	"export/figure/chart": {"export/figure/page", "gridding/contour", "section/derived"},
	"export/report":       append(slices.Clone(exports), "export", "export/figure", "export/figure/page"),
	"export/statement":    {},

	"cmd/internal/cf":  {"metadata", "metadata/units", "internal/nc"},
	"cmd/castwright":   every,
	"cmd/internal/...": every,

	"internal/nc":          {},
	"internal/filebacked":  {},
	"internal/golden":      {},
	"internal/checkvalues": {},
	"internal/depthfile":   {"internal/nc"},
	"internal/layout":      {},
	"internal/regular":     {},
	"internal/planted":     {},

	"testdata/cruise/generate":  {"metadata", "section", "section/seawater", "internal/nc"},
	"testdata/hard/generate":    {"internal/nc"},
	"testdata/cruises/generate": {"section/seawater"},
	"testdata/planted/generate": {"internal/planted"},
	"testdata/layouts/generate": {"section/seawater"},
}

// heavy: imports that only some packages may have, theirs or of the standard library, by the beginning of the path.
var heavy = []struct {
	path string
	only []string
	why  string
}{
	{"C", []string{"internal/nc"}, "C stays behind one lock and Go types"},
	{"unsafe", []string{"internal/nc", "internal/filebacked"}, "C and mapped files stay behind Go types"},
	{"gonum.org/v1/plot", []string{"export/figure/page"}, "one package draws"},
	{"codeberg.org/go-pdf", []string{"export/figure/page"}, "one package draws"},
	{"codeberg.org/go-fonts", []string{"export/figure/page"}, "one package draws"},
	{"git.sr.ht/~sbinet/gg", []string{"export/figure/page"}, "one package draws"},
	{"golang.org/x/image", []string{"export/figure/page"}, "one package draws"},
	{"gopkg.in/yaml.v3", []string{"ingest/cruisefile"}, "only the cruise file is YAML, and its errors need the nodes"},
	{"github.com/urfave/cli", []string{"cmd/castwright"}, "the shell is thin"},
	{"github.com/schollz/progressbar", []string{"cmd/castwright"}, "only the shell draws on a terminal"},
	{"golang.org/x/term", []string{"cmd/castwright"}, "only the shell draws on a terminal"},
	{"net/http", []string{"cmd/castwright", "cmd/internal/serve"}, "what writes an archive reaches no network"},
	{"net", []string{"cmd/castwright", "cmd/internal/serve"}, "what writes an archive reaches no network"},
	{module + "internal/golden", nil, "it adds the flag -update: for tests only"},
	{module + "internal/checkvalues", nil, "published numbers are for tests only"},
	{module + "internal/depthfile", nil, "it writes files for tests only"},
	{module + "internal/planted", []string{"testdata/planted/generate"}, "it writes files for tests only"},
}

// core: the packages that read no file, log nothing and ask no clock.
var core = []string{"metadata", "metadata/units", "ingest/cruisefile", "section", "section/seawater",
	"section/interpolate", "section/geostrophy",
	"section/derived", "gridding"}

var outside = []string{"os", "os/exec", "log", "log/slog", "io/ioutil", "path/filepath", "syscall"}

// A source is one Go file, parsed; its names are from the repository's root.
type source struct {
	file, folder string
	test         bool // name_test.go
	external     bool // package x_test
	made         bool // left out of the build by its first line: a program that made a file beside it
	syntax       *ast.File
	fset         *token.FileSet
}

// root is the repository.
func root(t *testing.T) string {
	t.Helper()
	dir, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "go.mod")); err != nil {
		t.Fatal(err)
	}
	return dir
}

// sources parses every Go file of the repository.
func sources(t *testing.T, mode parser.Mode) []source {
	t.Helper()
	top := root(t)
	var out []source
	fset := token.NewFileSet()
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // an editor's passing file
		}
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == ".git" {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(p, ".go") {
			return nil
		}
		f, err := parser.ParseFile(fset, p, nil, mode|parser.ParseComments)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(top, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		s := source{file: rel, folder: path.Dir(rel), syntax: f, fset: fset}
		s.test = strings.HasSuffix(rel, "_test.go")
		s.external = s.test && strings.HasSuffix(f.Name.Name, "_test")
		for _, group := range f.Comments {
			for _, c := range group.List {
				if x, err := constraint.Parse(c.Text); err == nil && c.Pos() < f.Package && x.String() == "ignore" {
					s.made = true
				}
			}
		}
		out = append(out, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(out) < 50 {
		t.Fatalf("only %d Go files found: the test looks in the wrong place", len(out))
	}
	return out
}

// row finds the folder's line in the table.
func row(folder string) ([]string, bool) {
	if may, ok := table[folder]; ok {
		return may, true
	}
	for r := folder; strings.Contains(r, "/"); {
		r = path.Dir(r)
		if may, ok := table[r+"/..."]; ok {
			return may, true
		}
	}
	return nil, false
}

// mayImport says why a file must not import what; "" if it may.
func mayImport(s source, what string) string {
	if s.made {
		return ""
	}
	for _, h := range heavy {
		below := h.path != "net" && strings.HasPrefix(what, h.path+"/") // net/url and its like reach nothing
		if (what == h.path || below) && !slices.Contains(h.only, s.folder) && !s.test {
			return h.why
		}
	}
	for _, h := range heavy {
		if what == h.path && (what == "C" || what == "unsafe") {
			if !slices.Contains(h.only, s.folder) {
				return h.why // in tests too
			}
			return ""
		}
	}
	if !s.test && slices.Contains(core, s.folder) && slices.Contains(outside, what) {
		return "this folder reads no file, logs nothing and asks no one"
	}
	ours, ok := strings.CutPrefix(what, module)
	if !ok {
		return ""
	}
	may, ok := row(s.folder)
	switch {
	case !ok:
		return "the package is not in the table"
	case slices.Equal(may, every), slices.Contains(may, ours):
		return ""
	case s.test && (ours == "internal/golden" || ours == "internal/checkvalues" || ours == s.folder):
		return ""
	case s.external && !strings.HasPrefix(ours, "cmd/"):
		return "" // an external test may import other packages: the round trip of exchange files does
	}
	return "it is not in the table"
}

func TestImports(t *testing.T) {
	for _, s := range sources(t, parser.ImportsOnly) {
		if _, ok := row(s.folder); !ok && !s.made {
			t.Errorf("%s: package %s is not in the table of this test: give it a row", s.file, s.folder)
			continue
		}
		for _, spec := range s.syntax.Imports {
			what, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				t.Fatal(err)
			}
			if why := mayImport(s, what); why != "" {
				t.Errorf("%s imports %s: %s", s.file, strings.TrimPrefix(what, module), why)
			}
		}
	}
}

// The test must be able to fail: imports that it has to refuse, and some that it must not.
func TestTableRefuses(t *testing.T) {
	for _, c := range []struct {
		s      source
		what   string
		refuse bool
	}{
		{source{folder: "section"}, module + "gridding", true},
		{source{folder: "export/bag"}, module + "metadata", true},
		{source{folder: "export"}, module + "ingest", true}, {source{folder: "export", test: true}, module + "ingest",
			true},
		{source{folder: "export", test: true, external: true}, module + "ingest", false},
		{source{folder: "section/new"}, module + "metadata", true},
		{source{folder: "export"}, "unsafe", true}, {source{folder: "export", test: true}, "C", true},
		{source{folder: "internal/nc"}, "C", false}, {source{folder: "internal/filebacked"}, "C", true},
		{source{folder: "export/report"}, "gonum.org/v1/plot/vg", true}, {source{folder: "export/figure/page"},
			"gonum.org/v1/plot/vg", false},
		{source{folder: "ingest"}, "gopkg.in/yaml.v3", true}, {source{folder: "cmd/internal/pipeline"},
			"github.com/urfave/cli/v2", true},
		{source{folder: "cmd/internal/pipeline"}, "net/http", true}, {source{folder: "cmd/internal/serve"}, "net/http",
			false}, {source{folder: "export"}, "net/url", false},
		{source{folder: "metadata"}, module + "internal/golden", true}, {source{folder: "metadata", test: true},
			module + "internal/golden", false},
		{source{folder: "gridding"}, "os", true}, {source{folder: "gridding", test: true}, "os", false},
		{source{folder: "cmd/internal/pipeline"}, module + "ingest", false},
	} {
		if why := mayImport(c.s, c.what); (why != "") != c.refuse {
			t.Errorf("%+v importing %s: %q, want refused: %v", c.s, c.what, why, c.refuse)
		}
	}
}

// The clock is asked in cmd only, the program ends in cmd only, and nothing below prints.
func TestNoClockNoExitNoPrint(t *testing.T) {
	never := map[string][]string{
		"time": {"Now", "Since", "Until"},
		"os":   {"Exit"},
		"fmt":  {"Print", "Println", "Printf"},
		"log":  {"Fatal", "Fatalf", "Fatalln", "Print", "Printf", "Println"},
	}
	for _, s := range sources(t, 0) {
		if s.test || s.made || strings.HasPrefix(s.folder, "cmd/") || strings.HasPrefix(s.folder, "testdata/") {
			continue
		}
		ast.Inspect(s.syntax, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := sel.X.(*ast.Ident); ok && x.Obj == nil && slices.Contains(never[x.Name], sel.Sel.Name) {
					t.Errorf("%s: %s.%s belongs in cmd", s.file, x.Name, sel.Sel.Name)
				}
			}
			return true
		})
	}
}

// Files are opened by internal/regular, which refuses pipes and devices, wherever the name comes from outside: reading
// one of those may never end.
func TestFilesAreRegular(t *testing.T) {
	ours := map[string]string{
		"export/place/settle.go":              "confirms on the disk what this run wrote",
		"cmd/internal/pipeline/writefault.go": "asks whether any file can be opened",
	}
	for _, s := range sources(t, 0) {
		if s.test || s.made || strings.HasPrefix(s.folder, "internal/") || strings.HasPrefix(s.folder, "testdata/") ||
			ours[s.file] != "" {
			continue
		}
		ast.Inspect(s.syntax, func(n ast.Node) bool {
			if sel, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := sel.X.(*ast.Ident); ok && x.Obj == nil && x.Name == "os" &&
					(sel.Sel.Name == "Open" || sel.Sel.Name == "ReadFile") {
					t.Errorf("%s: os.%s: take that of internal/regular", s.file, sel.Sel.Name)
				}
			}
			return true
		})
	}
}
