//go:build cgo && unix

package main

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestLinkedVersion builds the program with another version, as a release does: what it builds, it verifies as its own,
// also in the process that computes the archive again.
func TestLinkedVersion(t *testing.T) {
	dir := t.TempDir()
	bin := filepath.Join(dir, "castwright")
	if b, err := exec.Command("go", "build", "-ldflags", "-X main.version=9.8.7", "-o", bin,
		".").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	first, _ := twoCruises(t, dir)
	out := filepath.Join(dir, "out")
	if b, err := exec.Command(bin, "build", "--out", out, first).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	b, err := exec.Command(bin, "verify", filepath.Join(out, "small")).CombinedOutput()
	if said := string(b); err != nil || !strings.Contains(said, "computed again: everything from the inputs") ||
		strings.Contains(said, "another version") {
		t.Errorf("%v\n%s", err, said)
	}
}
