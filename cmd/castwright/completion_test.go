package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// printed returns what a command line prints.
func printed(t *testing.T, args ...string) string {
	t.Helper()
	var out, said bytes.Buffer
	if code := run(context.Background(), append([]string{"castwright"}, args...), strings.NewReader(""), &out,
		&said); code != exitDone {
		t.Fatalf("%v: exit %d: %s", args, code, said.String())
	}
	return out.String()
}

// bash completes every command, every option of each, recipients and keys; file names where a value or a file is.
func TestBashCompletion(t *testing.T) {
	script := filepath.Join(t.TempDir(), "castwright")
	if err := os.WriteFile(script, []byte(printed(t, "completion", "bash")), 0o600); err != nil {
		t.Fatal(err)
	}
	complete := func(words ...string) string {
		const try = `. "$1"; shift; COMP_WORDS=(castwright "$@"); COMP_CWORD=$#; _castwright; echo "${COMPREPLY[*]}"`
		b, err := exec.Command("bash", append([]string{"-uc", try, "bash", script}, words...)...).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %v: %s", words, err, b)
		}
		return strings.TrimSpace(string(b))
	}
	app := newApp(&ui{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	var names []string
	for _, cmd := range app.Commands {
		names = append(names, cmd.Name)
		var options []string
		for _, o := range optionTexts(cmd) {
			options = append(options, o.names...)
		}
		if got := complete(cmd.Name, "-"); got != strings.Join(options, " ") {
			t.Errorf("%s -: %s, want %v", cmd.Name, got, options)
		}
	}
	for _, x := range []struct{ typed, want string }{
		{"", strings.Join(names, " ")}, {"bu", "build bundle"}, {"build --on", "--only"}, {"build ", ""},
		{"check --propose ", ""}, {"handover ", ""}, {"handover demo n", "national-archive"},
		{"handover -q demo data", "data-centre"}, {"handover --out sets demo data", "data-centre"},
		{"help station_t", "station_table"}, {"completion z", "zsh"}, {"nothing ", ""},
	} {
		if got := complete(strings.Split(x.typed, " ")...); got != x.want {
			t.Errorf("%q: %q, want %q", x.typed, got, x.want)
		}
	}
}

// The scripts of the other shells are read by them without a complaint, and have every command and option.
func TestOtherCompletions(t *testing.T) {
	app := newApp(&ui{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	for _, shell := range []string{"zsh", "fish"} {
		text := printed(t, "completion", shell)
		read := exec.Command(shell, "-n")
		read.Stdin = strings.NewReader(text)
		if b, err := read.CombinedOutput(); err != nil || len(b) > 0 {
			t.Errorf("%s: %v: %s", shell, err, b)
		}
		for _, cmd := range app.Commands {
			if !strings.Contains(text, cmd.Name) {
				t.Errorf("%s: no command %s", shell, cmd.Name)
			}
			for _, o := range optionTexts(cmd) {
				name := map[string]string{"zsh": "'" + o.names[0] + "[", "fish": " -l " + o.names[0][2:] + " "}[shell]
				if !strings.Contains(text, name) {
					t.Errorf("%s: %s has no %s", shell, cmd.Name, o.names[0])
				}
			}
		}
	}
}

// groff has no complaint about the manual page, and the page has every command, option and exit code.
func TestManual(t *testing.T) {
	page := exec.Command("groff", "-ww", "-man", "-Tutf8", "-P-c", "-rLL=4000n")
	page.Stdin = strings.NewReader(printed(t, "man"))
	var out, said bytes.Buffer
	page.Stdout, page.Stderr = &out, &said
	if err := page.Run(); err != nil || said.Len() > 0 {
		t.Fatalf("%v: %s", err, said.String())
	}
	plain := bytes.NewBuffer(nil)
	for b := out.Bytes(); len(b) > 0; { // bold and underlined characters are typed over themselves
		if len(b) > 2 && b[1] == '\b' {
			b = b[2:]
			continue
		}
		plain.WriteByte(b[0])
		b = b[1:]
	}
	app := newApp(&ui{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	for _, cmd := range app.Commands {
		for _, line := range strings.Split(cmd.Description, "\n") {
			if i := strings.Join(strings.Fields(line), " "); i != "EXAMPLE" && !strings.Contains(line, "  ") &&
				!strings.Contains(strings.Join(strings.Fields(plain.String()), " "), i) {
				t.Errorf("%s: %q is not on the page", cmd.Name, i)
			}
		}
		for _, o := range optionTexts(cmd) {
			if !strings.Contains(plain.String(), "       "+strings.Join(o.names, ", ")) {
				t.Errorf("%s: option %s is not on the page", cmd.Name, o.names[0])
			}
		}
	}
	if !strings.Contains(plain.String(), "130") || !strings.Contains(plain.String(), "castwright help KEY") {
		t.Errorf("page:\n%s", plain.String())
	}
}

// In a log a line of progress is printed at each tick, none before the first and none after the end.
func TestProgressInALog(t *testing.T) {
	var said bytes.Buffer
	log := &locked{w: &said}
	u := &ui{err: log, terminal: log, began: time.Now(), ended: make(chan struct{})}
	text := func() string {
		log.mu.Lock()
		defer log.mu.Unlock()
		return said.String()
	}
	u.progress("building")(1, 20) // every 10 s: nothing in the time of this test
	set := u.logProgress("checking", 20*time.Millisecond)
	set(3, 20)
	if text() != "" {
		t.Errorf("before the first tick: %q", text())
	}
	for end := time.Now().Add(5 * time.Second); strings.Count(text(), "\n") < 2 && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
	close(u.ended)
	time.Sleep(50 * time.Millisecond)
	got := text()
	if !strings.HasPrefix(got, "castwright: checking: 3 of 20 steps, 0 s since the start\n") ||
		strings.Count(got, "\n") < 2 || strings.Contains(got, "building") {
		t.Errorf("said %q", got)
	}
	time.Sleep(60 * time.Millisecond)
	if text() != got {
		t.Error("said more after the end")
	}
	quiet := &ui{quiet: true, terminal: log}
	if quiet.progress("building") != nil {
		t.Error("quiet and progress")
	}
}
