package cruisefile

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

// firstProblem returns the first problem of a file and its remedy.
func firstProblem(t *testing.T, text string) (message, remedy string, at metadata.Position) {
	t.Helper()
	_, _, err := Read([]byte(text), "f")
	var in *metadata.InputError
	if err == nil || !errors.As(metadata.Parts(err)[0], &in) {
		return "", "", metadata.Position{}
	}
	return in.Err.Error(), in.Remedy, in.Position
}

// A key without a value: where the remedy says that the key may be left out, the file without it is accepted; of no
// needed key it is said.
func TestEmptyValueOfEveryKey(t *testing.T) {
	const nothing = "NOTHING"
	var walk func(keys []about, path []*about)
	walk = func(keys []about, path []*about) {
		for i := range keys {
			k := &keys[i]
			here := append(append([]*about(nil), path...), k)
			example := k.Example
			k.Example = nothing // compose writes the example
			file := compose(here)
			k.Example = example
			for _, empty := range []string{"", `""`, "~"} {
				message, remedy, _ := firstProblem(t, strings.Replace(file, nothing, empty, 1))
				if message == "" {
					t.Errorf("%s: %q is accepted", k.Key, empty)
					continue
				}
				if !strings.Contains(remedy, "leave the key out") {
					continue
				}
				without := strings.Replace(strings.Replace(file, k.Key+": "+nothing+", ", "", 1), k.Key+": "+nothing,
					"", 1)
				if message, _, _ := firstProblem(t, without); message != "" {
					t.Errorf("%s: the remedy is %q, and without the key: %s", k.Key, remedy, message)
				}
			}
			if k.Keys != nil {
				walk(k.Keys(), here)
			}
		}
	}
	walk(cruiseForm.keys(), nil)
	for _, list := range []string{"cruise: {id: a, keywords: []}\ncasts: {sources: [a, ~]}",
		"cruise: {id: a, keywords: [b, ~]}\ncasts: {sources: a}"} {
		if message, remedy, _ := firstProblem(t, list); !strings.HasSuffix(remedy, ", or take the item out") {
			t.Errorf("%s: %s: %s", list, message, remedy)
		}
	}
	if message, remedy, _ := firstProblem(t, "cruise: {id: a}\ncasts: {sources: [~]}"); message == "" ||
		strings.Contains(remedy, " out") {
		t.Errorf("%s: %s", message, remedy)
	}
}

var (
	suggested = regexp.MustCompile(`^did you mean "(.*)"\?`)
	called    = regexp.MustCompile(`^here it is called "(.*)"$`)
	rewritten = regexp.MustCompile(`^write ([-+0-9.eE]+)(?:,|$)`)
	added     = regexp.MustCompile(`such as ([a-z_]+: .*)$`)
)

// What a remedy proposes word for word is put in its place: the message must be gone. The files are all that have one
// fault, and some more.
func TestProposalsAreAccepted(t *testing.T) {
	texts := []string{
		"cruise: {id: a}\ncasts: {sources: a, max_gap: \"1,500\"}",
		"cruise: {id: a}\ncasts: {sources: a, max_gap: \"0,5\"}",
		"cruise: {id: a}\ncasts: {sources: a}\nsystems: [{label: m, sensors: [{variables: [CTDSAL]}]}]",
		"cruise: {id: a}\ncasts: {sources: a}\nfigures: {overlay: sigma7}",
		"cruise: {id: a}\ncasts: {sources: a}\nfigures: {axis: lattitude}",
		"cruise: {id: a}\ncasts: {}\nrelease: final",
	}
	files, err := filepath.Glob(brokenFolder + "/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if filepath.Base(file) != "many-problems.yaml" { // the same one again and again
			texts = append(texts, strings.TrimPrefix(string(data), "\uFEFF"))
		}
	}
	tried := map[*regexp.Regexp]int{}
	for _, text := range texts {
		var doc yaml.Node
		message, remedy, at := firstProblem(t, text)
		if message == "" || yaml.Unmarshal([]byte(text), &doc) != nil || len(doc.Content) == 0 {
			continue
		}
		for _, r := range []*regexp.Regexp{suggested, called, rewritten, added} {
			m, node := r.FindStringSubmatch(remedy), nodeAt(doc.Content[0], at, r != added)
			if m == nil || node == nil {
				continue
			}
			if tried[r]++; r != added {
				node.Value, node.Style = m[1], 0
			} else if parent := holder(doc.Content[0], node); parent != nil { // release: final
				parent.Content = append(parent.Content, parse(t, m[1])...)
			} else if node.Kind == yaml.MappingNode {
				node.Content = append(node.Content, parse(t, m[1])...)
			} else {
				*node = yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: append(parse(t, "status: "+node.Value),
					parse(t, m[1])...)}
			}
			out, err := yaml.Marshal(&doc)
			if err != nil {
				t.Fatal(err)
			}
			if again, _, _ := firstProblem(t, string(out)); again == message {
				t.Errorf("%s\n%s: %s\nleads to\n%s", text, message, remedy, out)
			}
			break
		}
	}
	for _, r := range []*regexp.Regexp{suggested, called, rewritten, added} {
		if tried[r] < 1 {
			t.Errorf("no proposal %s was tried", r)
		}
	}
}

// nodeAt returns the node at a place: of a mapping and its first key, which are at one place, the key when inner.
func nodeAt(n *yaml.Node, at metadata.Position, inner bool) *yaml.Node {
	if n.Line == at.Line && n.Column == at.Column && (!inner || n.Kind == yaml.ScalarNode) {
		return n
	}
	for _, m := range n.Content {
		if found := nodeAt(m, at, inner); found != nil {
			return found
		}
	}
	return nil
}

// holder returns the mapping of which node is the value of the key status.
func holder(n, node *yaml.Node) *yaml.Node {
	if i := slices.Index(n.Content, node); n.Kind == yaml.MappingNode && i%2 == 1 && n.Content[i-1].Value == "status" {
		return n
	}
	for _, m := range n.Content {
		if found := holder(m, node); found != nil {
			return found
		}
	}
	return nil
}

func parse(t *testing.T, text string) []*yaml.Node {
	t.Helper()
	var n yaml.Node
	if err := yaml.Unmarshal([]byte(text), &n); err != nil {
		t.Fatal(err)
	}
	return n.Content[0].Content
}

// A remedy, anywhere in the program, that names a key of the cruise file names one that there is.
func TestRemediesNameKeysThatExist(t *testing.T) {
	keys := map[string]bool{"file": true, "ROLE": true}
	var walk func([]about)
	walk = func(list []about) {
		for i := range list {
			if keys[list[i].Key] = true; list[i].Keys != nil {
				walk(list[i].Keys())
			}
		}
	}
	walk(cruiseForm.keys())
	for _, r := range slices.Concat(roleNames, pairs) {
		keys[r] = true
	}
	named := regexp.MustCompile(
		`(?:^|\n *(?:- )?|\{|, |write |add |key |keys |example |such as )([a-z_]+): |(?:^|\s)under ([a-z_]+)`)
	prose := []string{"the"}
	seen := 0
	for _, folder := range []string{"..", "../../ingest", "../../section", "../../section/geostrophy",
		"../../section/derived", "../../gridding", "../../export/figure", "../../cmd/internal/pipeline", "."} {
		for _, text := range remediesIn(t, folder) {
			for _, m := range named.FindAllStringSubmatch(text, -1) {
				word := m[1] + m[2]
				if seen++; !keys[word] && !slices.Contains(prose, word) {
					t.Errorf("%s: no key %q: %q", folder, word, text)
				}
			}
		}
	}
	if seen < 20 {
		t.Errorf("%d keys named", seen)
	}
}

// remediesIn returns the string literals of a folder's code that become remedies: of fields and variables of that name,
// of lists of remedies, and arguments that go into one of the functions below as such.
func remediesIn(t *testing.T, folder string) (out []string) {
	t.Helper()
	files, err := filepath.Glob(folder + "/*.go")
	if err != nil || len(files) == 0 {
		t.Fatal(folder, err)
	}
	literals := func(n ast.Node) {
		ast.Inspect(n, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if text, err := strconv.Unquote(lit.Value); err == nil {
					out = append(out, text)
				}
			}
			return true
		})
	}
	isRemedy := func(e ast.Expr) bool {
		switch e := e.(type) {
		case *ast.Ident:
			return strings.Contains(strings.ToLower(e.Name), "remed")
		case *ast.SelectorExpr:
			return e.Sel.Name == "Remedy"
		}
		return false
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.KeyValueExpr:
				if isRemedy(n.Key) {
					literals(n.Value)
				}
			case *ast.AssignStmt:
				for i, l := range n.Lhs {
					if isRemedy(l) {
						literals(n.Rhs[min(i, len(n.Rhs)-1)])
					}
				}
			case *ast.ValueSpec:
				for i, l := range n.Names {
					if isRemedy(l) && i < len(n.Values) {
						literals(n.Values[i])
					}
				}
			case *ast.FuncDecl:
				if strings.Contains(strings.ToLower(n.Name.Name), "remed") || n.Name.Name == "nearest" ||
					n.Name.Name == "withoutComma" {
					literals(n.Body)
				}
			case *ast.CallExpr:
				if s, ok := n.Fun.(*ast.SelectorExpr); ok && len(n.Args) > 1 &&
					(s.Sel.Name == "fault" || s.Sel.Name == "at") {
					literals(n.Args[1])
				}
			}
			return true
		})
	}
	return out
}
