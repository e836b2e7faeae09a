package pipeline_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// The test binary builds as a child, so that it can be killed.
func TestMain(m *testing.M) {
	if code, is := pipeline.ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
	}
	if file := os.Getenv("CASTWRIGHT_TEST_BUILD"); file != "" {
		p, err := pipeline.Build(context.Background(),
			pipeline.Plan{CruiseFile: file, Out: os.Getenv("CASTWRIGHT_TEST_OUT")})
		if err != nil || p.Path == "" {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func builder(cruiseFile, out string) (*exec.Cmd, *bytes.Buffer) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "CASTWRIGHT_TEST_BUILD="+cruiseFile, "CASTWRIGHT_TEST_OUT="+out)
	var b bytes.Buffer
	cmd.Stderr = &b
	return cmd, &b
}

// sums returns the mode and SHA-256 of every file below dir.
func sums(t *testing.T, dir string) map[string]string {
	t.Helper()
	m := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		s := sha256.Sum256(b)
		m[strings.TrimPrefix(p, dir)] = d.Type().String() + hex.EncodeToString(s[:])
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func same(a, b map[string]string) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if b[k] != v {
			return false
		}
	}
	return true
}

// small is a cruise that builds in a fraction of a second and makes every kind of file.
func small(t *testing.T, title string) string {
	t.Helper()
	dir := t.TempDir()
	demo := filepath.Join("..", "..", "..", "testdata", "cruise", "casts")
	for _, n := range []string{"1", "2", "3", "4"} {
		name := "ZZSM20260504_0000" + n + "_00001_ct1.csv"
		b, err := os.ReadFile(filepath.Join(demo, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	file := filepath.Join(dir, "cruise.yaml")
	text := "cruise: {id: small, title: " + title +
		"}\nfigures: {only: [section], formats: [svg]}\ncasts: {sources: [.]}\nsections: [{name: line, stations: 1-4, grid: linear}]\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// SIGKILL at 50 random moments of a build over an existing archive: the archive is the old one or the new one, whole;
// the next run clears away what the dead one left.
func TestKilledBuild(t *testing.T) {
	first, second := small(t, "first"), small(t, "second")
	out := t.TempDir()
	build := func(file string) {
		t.Helper()
		cmd, text := builder(file, out)
		if err := cmd.Run(); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
	}
	build(second)
	archive := filepath.Join(out, "small")
	new := sums(t, archive)
	began := time.Now()
	build(first)
	length := time.Since(began)
	old := sums(t, archive)
	if same(old, new) {
		t.Fatal("the two archives do not differ")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	killed := 0
	for i := 0; i < 50 || killed < 25 && i < 200; i++ { // more where this machine was busier while length was measured
		cmd, _ := builder(second, out)
		began := time.Now()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(rng.Float64() * 0.9 * float64(length)))
		cmd.Process.Kill() //nolint:errcheck // it may have ended
		err := cmd.Wait()
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.Sys().(syscall.WaitStatus).Signaled() {
			killed++
		} else {
			length = min(length, time.Since(began))
		}
		now := sums(t, archive)
		switch {
		case same(now, new):
			build(first) // begin again from the old one
			now = sums(t, archive)
		}
		if !same(now, old) {
			t.Fatalf("kill %d: the archive is neither the old nor the new one", i)
		}
	}
	build(first)
	entries, err := os.ReadDir(out)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 1 {
		t.Errorf("left over: %v", entries)
	}
	if killed < 25 {
		t.Errorf("only %d children were killed at work", killed)
	}
}

// An interrupted build leaves no new file and the old archive as it was.
func TestInterruptedBuild(t *testing.T) {
	file, out := small(t, "one"), t.TempDir()
	if _, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: out}); err != nil {
		t.Fatal(err)
	}
	old := sums(t, out)
	for _, at := range []string{"parse", "TEOS-10", "dynamic", "grid", "write casts.nc", "exchange zip",
		"write sections", "inputs.zip", "tables", "bag"} {
		ctx, cancel := context.WithCancel(context.Background())
		reached := false
		_, err := pipeline.Build(ctx, pipeline.Plan{CruiseFile: small(t, "two"), Out: out,
			Stage: func(name string, _ time.Duration) {
				if name == at {
					reached = true
					cancel()
				}
			}})
		cancel()
		if !reached {
			t.Errorf("no stage %s", at)
		}
		if !errors.Is(err, context.Canceled) {
			t.Errorf("after %s: error %v", at, err)
		}
		if now := sums(t, out); !same(old, now) {
			t.Errorf("after %s: the folder changed", at)
		}
	}
}

// Results do not depend on the number of workers.
func TestWorkers(t *testing.T) {
	file := small(t, "same")
	var trees []map[string]string
	for _, n := range []int{1, 8} {
		out := t.TempDir()
		if _, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: out,
			Workers: n}); err != nil {
			t.Fatal(err)
		}
		trees = append(trees, sums(t, out))
	}
	if !same(trees[0], trees[1]) {
		t.Errorf("1 and 8 workers differ")
	}
}

// A build that is told to end at any moment ends with that error, and with nothing made.
func TestEndedAtAnyMoment(t *testing.T) {
	file := small(t, "interrupted")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(b), "stations: 1-4,", "stations: 1-4, uncertainty: {members: 50},", 1)
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	step := 8
	if testing.Short() {
		step = 2
	}
	for moment := 1; ; moment += 1 + moment/step {
		// the first ones are the closest: reading and computing ask more often than writing
		ctx := &ending{Context: context.Background(), done: make(chan struct{})}
		ctx.left.Store(int64(moment))
		out := t.TempDir()
		p, err := pipeline.Build(ctx, pipeline.Plan{CruiseFile: file, Out: out, Workers: 1})
		if err == nil && ctx.left.Load() > 0 {
			if p.Path == "" || moment < 100 {
				t.Fatalf("%d moments, made %q: %v", moment, p.Path, p.Findings)
			}
			return
		}
		entries, _ := os.ReadDir(out)
		if !errors.Is(err, context.Canceled) && (err != nil || p.Path == "") || err != nil && len(entries) > 0 {
			t.Fatalf("moment %d: made %q, %v; left behind %v", moment, p.Path, err, entries)
		}
	}
}

// ending is a context that ends when it has been asked so many times whether it has.
type ending struct {
	context.Context
	left atomic.Int64
	done chan struct{}
}

func (e *ending) Done() <-chan struct{} { return e.done }

func (e *ending) Err() error {
	if left := e.left.Add(-1); left > 0 {
		return nil
	} else if left == 0 {
		close(e.done)
	}
	return context.Canceled
}
