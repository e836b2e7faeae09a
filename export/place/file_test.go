package place

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
)

func fileHolds(t *testing.T, path, want string) {
	t.Helper()
	if b, err := os.ReadFile(path); err != nil || string(b) != want {
		t.Errorf("%s holds %q (%v), want %q", path, b, err, want)
	}
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for _, mark := range []string{"one", "two"} {
		if err := WriteFile(t.Context(), "file", text(mark)); err != nil {
			t.Fatal(err)
		}
		fileHolds(t, filepath.Join(dir, "file"), mark)
		only(t, dir, "file")
	}
	own := errors.New("own")
	if err := WriteFile(t.Context(), "file", func(w io.Writer) error {
		_, err := io.WriteString(w, strings.Repeat("x", 1<<18))
		return errors.Join(err, own)
	}); !errors.Is(err, own) {
		t.Errorf("error %v", err)
	}
	fileHolds(t, "file", "two")
	only(t, dir, "file")
}

func TestWriteFileTargets(t *testing.T) {
	for name, make := range map[string]func(path string) error{
		"folder": func(p string) error { return os.Mkdir(p, 0o755) },
		"link":   func(p string) error { return os.Symlink("elsewhere", p) },
		"pipe":   func(p string) error { return syscall.Mkfifo(p, 0o600) },
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "file")
		if err := make(path); err != nil {
			t.Fatal(err)
		}
		err := WriteFile(t.Context(), path, text("x"))
		var in *Error
		if !errors.Is(err, ErrNotFile) || !errors.As(err, &in) || in.Remedy == "" ||
			!strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
		only(t, dir, "file")
	}
	if err := WriteFile(t.Context(), filepath.Join(t.TempDir(), "none", "file"), text("x")); !errors.Is(err,
		os.ErrNotExist) {
		t.Errorf("folder that is not there: %v", err)
	}
}

func TestWriteFileKilled(t *testing.T) {
	for at, want := range map[string]string{"file opened": "old", "file written": "old", "file placed": "new"} {
		dir := t.TempDir()
		path := filepath.Join(dir, "FILE")
		if err := WriteFile(t.Context(), path, text("old")); err != nil {
			t.Fatal(err)
		}
		if out, died, err := spawn(t, "file", dir, nil, killVar+"="+at); !died {
			t.Fatalf("the child was not killed at %q: %s %v", at, out, err)
		}
		fileHolds(t, path, want)
		if err := WriteFile(t.Context(), path, text("next")); err != nil {
			t.Fatal(err)
		}
		fileHolds(t, path, "next")
		only(t, dir, "FILE")
	}
}

func TestWriteFileManyAtOnce(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "file")
	var wg sync.WaitGroup
	for i := range 6 {
		wg.Go(func() {
			for range 20 {
				if err := WriteFile(t.Context(), path, text(strings.Repeat(string(rune('a'+i)), 5000))); err != nil {
					t.Error(err)
				}
				b, err := os.ReadFile(path)
				if err != nil || len(b) != 5000 || strings.Trim(string(b), string(b[:1])) != "" {
					t.Errorf("%d bytes, %v: not a whole file", len(b), err)
				}
			}
		})
	}
	wg.Wait()
	only(t, dir, "file")
}
