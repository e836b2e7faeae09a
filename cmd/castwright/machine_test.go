package main

import (
	"errors"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestLackOfThisMachine runs commands where something of the machine is lacking: open files, memory, room for temporary
// files, /proc. Each ends with 0 or 1; with 1 it says what is lacking, and it blames no input.
func TestLackOfThisMachine(t *testing.T) {
	bin := program(t)
	dir := t.TempDir()
	file, _ := twoCruises(t, dir)
	run := func(script string) (string, int) {
		t.Helper()
		c := exec.Command("sh", "-c", "PATH="+bin+":$PATH; "+script)
		c.Dir = dir
		out, err := c.CombinedOutput()
		var exit *exec.ExitError
		if err != nil && !errors.As(err, &exit) {
			t.Fatal(err)
		}
		return string(out), c.ProcessState.ExitCode()
	}
	if out, code := run("mkdir a b c full && castwright build --out a " + file); code != 0 {
		t.Fatal(out)
	}
	for _, command := range []string{"castwright build --out b " + filepath.Base(file),
		"castwright rebuild --out c a/small", "castwright verify a/small",
		"castwright verify --all a/small", "castwright check " + filepath.Base(file)} {
		for lack, want := range map[string]string{
			"ulimit -n 7; ":                    "too many open files",
			"ulimit -n 9; ":                    "too many open files",
			"ulimit -n 14; ":                   "too many open files",
			"ulimit -v 300000; ":               "limit of address space",
			"ulimit -v 3000000; ":              "limit of address space",
			"TMPDIR=/nowhere; export TMPDIR; ": "no such file or directory",
			"unshare -m sh -c 'mount -t tmpfs none /proc && exec \"$@\"' - ": "cannot be started",
			"unshare -m sh -c 'mount -t tmpfs -o size=32k none full && TMPDIR=$PWD/full && " +
				"export TMPDIR && exec \"$@\"' - ": "disk is full|no space left on device",
		} {
			out, code := run(lack + command)
			named := false
			for _, w := range strings.Split(want, "|") {
				named = named || strings.Contains(out, w)
			}
			if code != 0 && code != 1 || code == 1 && !named || strings.Contains(out, "not what it was") ||
				strings.Contains(out, "goroutine") {
				t.Errorf("%s%s: exit %d: %s", lack, command, code, out)
			}
		}
	}
}
