package place

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"
)

// The test binary is also the child process of its tests: run with the variable childVar, it does one thing and ends.
const (
	childVar = "PLACE_TEST_CHILD" // what to do
	dirVar   = "PLACE_TEST_DIR"   // where
	killVar  = "PLACE_TEST_KILL"  // at which step to die by SIGKILL
	plainVar = "PLACE_TEST_PLAIN" // set: the system has no renameat2
)

func TestMain(m *testing.M) {
	what := os.Getenv(childVar)
	if what == "" {
		os.Exit(m.Run())
	}
	if at := os.Getenv(killVar); at != "" {
		step = func(name string) {
			if name == at {
				_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
				select {} // the signal ends this
			}
		}
	}
	if os.Getenv(plainVar) != "" {
		renameat2 = refuse(unix.EINVAL)
	}
	if err := child(what, os.Getenv(dirVar)); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	os.Exit(0)
}

func child(what, dir string) error {
	ctx := context.Background()
	switch what {
	case "folder":
		return build(ctx, dir, "new")
	case "file":
		return WriteFile(ctx, filepath.Join(dir, "FILE"), text("new"))
	case "recover":
		_, err := Recover(dir, "NAME")
		return err
	case "full disk":
		return fullDisk(ctx, dir)
	}
	return fmt.Errorf("no child %q", what)
}

// spawn runs the child and gives what it printed; died says that SIGKILL ended it.
func spawn(t *testing.T, what, dir string, attr *syscall.SysProcAttr, env ...string) (out string, died bool,
	err error) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	return spawnFrom(t, self, what, dir, attr, env...)
}

func spawnFrom(t *testing.T, program, what, dir string, attr *syscall.SysProcAttr, env ...string) (out string,
	died bool, err error) {
	t.Helper()
	cmd := exec.Command(program)
	cmd.Env = append(append(os.Environ(), childVar+"="+what, dirVar+"="+dir), env...)
	cmd.SysProcAttr = attr
	b, err := cmd.CombinedOutput()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		if s, ok := exit.Sys().(syscall.WaitStatus); ok && s.Signaled() {
			return string(b), s.Signal() == syscall.SIGKILL, nil
		}
	}
	return string(b), false, err
}

// build makes dir/NAME with the files a and d/b, which both hold mark.
func build(ctx context.Context, dir, mark string) error {
	f, err := Begin(ctx, dir, "NAME", func(string) error { return nil })
	if err != nil {
		return err
	}
	defer f.Abort()
	if err := fillFolder(f, mark); err != nil {
		return err
	}
	if err := f.Commit(ctx); err != nil {
		return err
	}
	return f.Left()
}

func fillFolder(f *Folder, mark string) error {
	if err := os.Mkdir(filepath.Join(f.Path(), "d"), 0o777); err != nil {
		return err
	}
	return errors.Join(
		os.WriteFile(filepath.Join(f.Path(), "a"), []byte(mark), 0o666),
		os.WriteFile(filepath.Join(f.Path(), "d", "b"), []byte(mark), 0o600))
}

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

// refuse is a renameat2 that some systems have.
func refuse(err error) func(int, string, int, string, uint) error {
	return func(int, string, int, string, uint) error { return err }
}

// list returns the names in dir, joined by blanks.
func list(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}

// holds fails unless dir/NAME is the whole folder that build made with mark.
func holds(t *testing.T, dir, mark string) {
	t.Helper()
	a, err1 := os.ReadFile(filepath.Join(dir, "NAME", "a"))
	b, err2 := os.ReadFile(filepath.Join(dir, "NAME", "d", "b"))
	if err1 != nil || err2 != nil || string(a) != mark || string(b) != mark {
		t.Errorf("NAME holds %q and %q (%v, %v), want %q twice", a, b, err1, err2, mark)
	}
	if names := list(t, filepath.Join(dir, "NAME")); names != "a d" {
		t.Errorf("NAME holds %s", names)
	}
}

// only fails unless dir holds exactly these names.
func only(t *testing.T, dir, names string) {
	t.Helper()
	if got := list(t, dir); got != names {
		t.Errorf("the folder holds %q, want %q", got, names)
	}
}
