//go:build cgo && unix

package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestStopsWithinASecond stops commands in the middle of work that does not look for signals: each ends with 130 within
// a second and leaves nothing.
func TestStopsWithinASecond(t *testing.T) {
	bin := filepath.Join(program(t), "castwright")
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "casts"), 0o755); err != nil {
		t.Fatal(err)
	}
	head :=
		"CTD,20260501ZZTE\nNUMBER_HEADERS = 9\nEXPOCODE = ZZTE20260501\nSTNNBR = %\nCASTNO = 1\nDATE = 20260501\nTIME = 0400\nLATITUDE = 60.%\nLONGITUDE = -20.0\nDEPTH = 4000\n" +
			"CTDPRS,CTDTMP,CTDSAL\nDBAR,ITS-90,PSS-78\n"
	var rows strings.Builder
	for i := range 100000 {
		p := 0.03 * float64(i)
		rows.WriteString(decimal(p) + "," + decimal(20-p/200) + "," + decimal(34+p/3000) + "\n")
	}
	for _, station := range []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"} {
		text := strings.ReplaceAll(head, "%", station) + rows.String() + "END_DATA\n"
		if err := os.WriteFile(filepath.Join(dir, "casts", station+"_ct1.csv"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	plan := "cruise: {id: big}\ncasts: {sources: [casts]}\nsections: [{name: line, stations: all}]\n"
	if err := os.WriteFile(filepath.Join(dir, "cruise.yaml"), []byte(plan), 0o600); err != nil {
		t.Fatal(err)
	}
	stopped := 0
	for _, after := range []time.Duration{500 * time.Millisecond, 800 * time.Millisecond, 1200 * time.Millisecond} {
		out, temp := t.TempDir(), t.TempDir()
		cmd := exec.Command(bin, "build", "--out", out, filepath.Join(dir, "cruise.yaml"))
		cmd.Env = append(os.Environ(), "TMPDIR="+temp)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(after)
		begin := time.Now()
		if err := cmd.Process.Signal(syscall.SIGTERM); errors.Is(err, os.ErrProcessDone) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		stopped++
		err := cmd.Wait()
		took := time.Since(begin)
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.ExitCode() != exitInterrupted {
			t.Errorf("after %v: %v, want exit %d", after, err, exitInterrupted)
		}
		if took > time.Second {
			t.Errorf("after %v: stopped in %v", after, took)
		}
		for _, d := range []string{out, temp} {
			if entries, err := os.ReadDir(d); err != nil || len(entries) > 0 {
				t.Errorf("after %v: left behind: %v, %v", after, entries, err)
			}
		}
		t.Logf("after %v: stopped in %v", after, took)
	}
	if stopped < 2 {
		t.Error("the build is done too soon: the test needs more work")
	}
}

func decimal(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }
