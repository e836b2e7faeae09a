//go:build cgo && unix

package main

import (
	"errors"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// Ctrl-C, a polite kill and a line that hangs up (a closed terminal, a lost connection to the ship) each end a build
// with 130, nothing left behind and the archive that was there as it was. Under nohup the hang-up is not heard, and the
// build goes on.
func TestSignals(t *testing.T) {
	heard := make(chan os.Signal, 1) // else what runs the tests under nohup would hand its deafness on to the builds
	signal.Notify(heard, syscall.SIGHUP)
	defer signal.Stop(heard)
	bin := filepath.Join(program(t), "castwright")
	dir := t.TempDir()
	first, second := twoCruises(t, dir)
	out := filepath.Join(dir, "out")
	if err := os.Mkdir(out, 0o755); err != nil {
		t.Fatal(err)
	}
	if b, err := exec.Command(bin, "build", "--out", out, first).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	old, err := treeOf(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		shell string // what the shell does before it becomes the program
		kill  syscall.Signal
		exit  int
	}{{"", syscall.SIGINT, 130}, {"", syscall.SIGTERM, 130}, {"", syscall.SIGHUP, 130},
		{"trap '' HUP; ", syscall.SIGHUP, 0}} {
		cmd := exec.Command("/bin/sh", "-c", c.shell+`exec "$0" "$@"`, bin, "build", "--out", out, second)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		for range 3000 { // until it has begun to write
			if names, _ := filepath.Glob(filepath.Join(out, ".small.partial-*")); names != nil {
				break
			}
			time.Sleep(time.Millisecond)
		}
		if err := cmd.Process.Signal(c.kill); err != nil {
			t.Fatal(err)
		}
		err := cmd.Wait()
		code := 0
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			code = exit.ExitCode()
		} else if err != nil {
			t.Fatal(err)
		}
		if code != c.exit {
			t.Errorf("%s%v: exit %d, want %d", c.shell, c.kill, code, c.exit)
		}
		now, err := treeOf(out)
		if err != nil {
			t.Fatal(err)
		}
		same := len(now) == len(old)
		for k, v := range old {
			same = same && now[k] == v
		}
		if same != (c.exit != 0) {
			t.Errorf("%s%v: the archive is untouched: %v; files %d, before %d", c.shell, c.kill, same, len(now),
				len(old))
		}
		if entries, err := os.ReadDir(out); err != nil || len(entries) != 1 {
			t.Errorf("%s%v: left behind: %v, %v", c.shell, c.kill, entries, err)
		}
	}
}
