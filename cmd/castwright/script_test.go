package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The test binary is the program too: stories in testdata/script run it as a person would.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"castwright": main})
}

func TestStories(t *testing.T) {
	demo, err := filepath.Abs(filepath.Join("..", "..", "testdata", "cruise"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("DEMO", demo)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			// same A B: two folders hold the same files with the same bytes and modes.
			"same": func(ts *testscript.TestScript, neg bool, args []string) {
				a, b := treeSums(ts, ts.MkAbs(args[0])), treeSums(ts, ts.MkAbs(args[1]))
				diff := ""
				for k, v := range a {
					if b[k] != v {
						diff += " " + k
					}
				}
				for k := range b {
					if _, ok := a[k]; !ok {
						diff += " " + k
					}
				}
				if len(a) == 0 {
					ts.Fatalf("%s is empty", args[0])
				}
				if (diff != "") != neg {
					ts.Fatalf("differences between %s and %s:%s", args[0], args[1], diff)
				}
			},
			// alone DIR NAME...: the folder holds these names and nothing else, hidden ones counted.
			"alone": func(ts *testscript.TestScript, _ bool, args []string) {
				entries, err := os.ReadDir(ts.MkAbs(args[0]))
				ts.Check(err)
				got := []string{}
				for _, e := range entries {
					got = append(got, e.Name())
				}
				if fmt.Sprint(got) != fmt.Sprint(append([]string{}, args[1:]...)) {
					ts.Fatalf("%s holds %v, want %v", args[0], got, args[1:])
				}
			},
			// copydir FROM TO
			"copydir": func(ts *testscript.TestScript, _ bool, args []string) {
				ts.Check(os.CopyFS(ts.MkAbs(args[1]), os.DirFS(ts.MkAbs(args[0]))))
			},
		},
	})
}

func treeSums(ts *testscript.TestScript, dir string) map[string]string {
	m, err := treeOf(dir)
	ts.Check(err)
	return m
}
