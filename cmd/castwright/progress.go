package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"
	"golang.org/x/term"
)

// voiceOptions are the options that may stand before the command too.
var voiceOptions = []string{"-q", "--quiet", "-v", "--verbose"}

// voiceFlags returns the options of a command that say how much it prints.
func voiceFlags(u *ui, name string) []cli.Flag {
	quiet := &cli.BoolFlag{Name: "quiet", Aliases: []string{"q"},
		Usage: "print nothing but errors; the exit code is the same",
		Action: func(_ *cli.Context, on bool) error {
			u.quiet = on
			return nil
		}}
	verbose := &cli.BoolFlag{Name: "verbose", Aliases: []string{"v"},
		Usage: "print each step and each file with the time since the start",
		Action: func(c *cli.Context, on bool) error {
			if u.verbose = on; on && c.Bool("quiet") {
				return &usageError{msg: "--quiet and --verbose exclude each other", hint: "leave one out"}
			}
			return nil
		}}
	switch name {
	case "draft", "check", "build", "verify", "rebuild", "unbundle":
		return []cli.Flag{quiet, verbose}
	case "compare", "handover", "bundle":
		return []cli.Flag{quiet}
	}
	return nil
}

// A locked writer is written by one goroutine at a time.
type locked struct {
	mu sync.Mutex
	w  io.Writer
}

func (l *locked) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(b)
}

// file prints what is done with a file; nil is returned unless the command is verbose.
func (u *ui) file() func(what, name string) {
	if !u.verbose {
		return nil
	}
	return func(what, name string) {
		u.note("%9.3f s  %s %s", time.Since(u.began).Seconds(), what, oneLine(name))
	}
}

// stage prints how long a step took; nil is returned unless the command is verbose.
func (u *ui) stage() func(name string, took time.Duration) {
	if !u.verbose {
		return nil
	}
	return func(name string, took time.Duration) {
		u.note("%9.3f s  step %s took %.3f s", time.Since(u.began).Seconds(), name, took.Seconds())
	}
}

// progress returns a function that takes how much is done. On a terminal it draws a bar; elsewhere, in a log for
// example, a line is printed now and then when the command takes long. It is nil where nothing is printed, and for "".
func (u *ui) progress(what string) func(done, total int) {
	if u.quiet || what == "" {
		return nil
	}
	f, ok := u.terminal.(*os.File)
	if u.verbose || !ok || !term.IsTerminal(int(f.Fd())) {
		return u.logProgress(what, progressEvery)
	}
	var bar *progressbar.ProgressBar
	return func(done, total int) {
		if bar == nil || bar.GetMax() != total {
			bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(what),
				progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(false))
		}
		_ = bar.Set(done) // a bar that cannot be drawn is no reason to stop
	}
}

// progressEvery is the time between two lines of progress in a log.
const progressEvery = 10 * time.Second

// logProgress prints a line at every tick until the command ends: what is done by then, and the time since the start.
func (u *ui) logProgress(what string, every time.Duration) func(done, total int) {
	var mu sync.Mutex
	var done, total int
	go func() {
		tick := time.NewTicker(every)
		defer tick.Stop()
		for {
			select {
			case <-u.ended:
				return
			case <-tick.C:
			}
			mu.Lock()
			text := what
			if total > 0 {
				text += fmt.Sprintf(": %d of %d steps", done, total)
			}
			mu.Unlock()
			u.note("%s, %.0f s since the start", text, time.Since(u.began).Seconds())
		}
	}()
	return func(d, t int) {
		mu.Lock()
		defer mu.Unlock()
		done, total = d, t
	}
}
