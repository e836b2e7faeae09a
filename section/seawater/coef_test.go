package seawater

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
)

// TestCoefficients compares every constant of the coef_*.go files with testdata/checkvalues/coefficients.csv, which
// names the paper in each row: one digit changed, left out or added fails here. That the table itself is right is what
// the check values and TestLiveAgainstReference show.
func TestCoefficients(t *testing.T) {
	prefix := map[string]string{
		"specvol75": "v", "gibbs_water": "gW", "gibbs_saline": "gS", "spiciness0": "s", "ct_freezing": "cf",
		"pss78_a": "pssA", "pss78_b": "pssB", "pss78_c": "pssC", "pss78_d": "pssD", "pss78_e": "pssE",
		"pss78_k":        "pssK",
		"o2sol_A_umolkg": "o2MassA", "o2sol_B_umolkg": "o2MassB", "o2sol_C_umolkg": "o2MassC",
	}
	want := map[string]float64{}
	for _, r := range checkvalues.Table(t, "coefficients.csv") {
		p, ok := prefix[r["set"]]
		if !ok {
			t.Fatalf("set %s is not used", r["set"])
		}
		want[p+r["i"]+r["j"]+r["k"]] = number(t, r["value"])
	}
	files, err := filepath.Glob("coef_*.go")
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			text, value := "", spec.Values[0]
			if minus, ok := value.(*ast.UnaryExpr); ok {
				text, value = minus.Op.String(), minus.X
			}
			v, err := strconv.ParseFloat(text+value.(*ast.BasicLit).Value, 64)
			if err != nil {
				t.Fatal(err)
			}
			got[spec.Names[0].Name] = v
			return true
		})
	}
	for name, v := range want {
		if g, ok := got[name]; !ok || g != v {
			t.Errorf("%s: %v in the program, %v in the table", name, g, v)
		}
	}
	if len(got) != len(want) || len(got) < 288 {
		t.Errorf("%d constants in the program, %d in the table", len(got), len(want))
	}
	// A constant that no equation uses would not be missed: each must be named in another file.
	used := map[string]bool{}
	sources, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range sources {
		if strings.HasPrefix(file, "coef_") || strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if id, ok := n.(*ast.Ident); ok {
				used[id.Name] = true
			}
			return true
		})
	}
	for name := range got {
		if logarithmic := name == "gS100" || name == "gS110"; !used[name] && !logarithmic {
			// these cancel: TestNoLogarithm
			t.Errorf("%s is used by no equation", name)
		}
	}
}
