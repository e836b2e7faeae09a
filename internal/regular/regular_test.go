package regular

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"net"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// TestReadFile reads files of several sizes, and through a link, and is refused all else without waiting.
func TestReadFile(t *testing.T) {
	dir := t.TempDir()
	for _, n := range []int{0, 1, 511, 512, 1 << 20} {
		want := bytes.Repeat([]byte{7}, n)
		name := filepath.Join(dir, "file")
		if err := os.WriteFile(name, want, 0o600); err != nil {
			t.Fatal(err)
		}
		link := filepath.Join(dir, "link")
		os.Remove(link)
		if err := os.Symlink(name, link); err != nil {
			t.Fatal(err)
		}
		for _, p := range []string{name, link} {
			if got, err := ReadFile(p); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%d bytes: read %d, %v", n, len(got), err)
			}
		}
	}
	pipe, socket := filepath.Join(dir, "pipe"), filepath.Join(dir, "socket")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("unix", socket)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	for _, name := range []string{dir, pipe, socket, "/dev/zero", "/dev/tty"} {
		done := make(chan error, 1)
		go func() {
			_, err := ReadFile(name)
			done <- err
		}()
		select {
		case err := <-done:
			if !errors.Is(err, ErrNotRegular) {
				t.Errorf("%s: %v", name, err)
			}
		case <-time.After(5 * time.Second):
			t.Errorf("%s: still waiting", name)
		}
	}
	if _, err := ReadFile(filepath.Join(dir, "none")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
}

// TestSum compares with a published digest (FIPS 180-4 example "abc"), and ends with its context.
func TestSum(t *testing.T) {
	name := filepath.Join(t.TempDir(), "abc")
	if err := os.WriteFile(name, []byte("abc"), 0o600); err != nil {
		t.Fatal(err)
	}
	sum, n, err := Sum(t.Context(), name)
	if want := "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"; err != nil || n != 3 ||
		hex.EncodeToString(sum[:]) != want {
		t.Errorf("%x, %d bytes, %v", sum, n, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := Sum(ctx, name); !errors.Is(err, context.Canceled) {
		t.Errorf("after the end of the context: %v", err)
	}
}
