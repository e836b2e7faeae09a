package place

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// WriteFile puts one file in place, whole or not at all: write fills a hidden file in the same folder, which is written
// to the disk and then takes path's name, with mode 0644 whatever the umask. An existing regular file is replaced;
// anything else there, a symbolic link among them, is ErrNotFile. On error, which includes a cancelled ctx, path is
// what it was and the hidden file is gone. What a killed run left goes at the next WriteFile of the same path.
func WriteFile(ctx context.Context, path string, write func(w io.Writer) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	name := filepath.Base(path)
	dir, err := target(filepath.Dir(path), name)
	if err != nil {
		return err
	}
	target := filepath.Join(dir, name)
	if info, err := os.Lstat(target); err == nil && !info.Mode().IsRegular() {
		what := kind(info)
		if info.IsDir() {
			what = "a folder"
		}
		return &Error{Path: path, Err: fmt.Errorf("%w (%s)", ErrNotFile, what),
			Remedy: "move it away, or choose another name"}
	}
	if err := clearFiles(dir, name); err != nil {
		return cannotWrite(dir, name, err)
	}
	f, err := openHidden(dir, name)
	if err != nil {
		return cannotWrite(dir, name, err)
	}
	step("file opened")
	err = fill(ctx, f, write)
	if err == nil {
		step("file written")
		err = os.Rename(f.Name(), target)
	}
	if err != nil {
		if also := os.Remove(f.Name()); also != nil {
			err = errors.Join(err, also)
		}
	}
	f.Close() // synced before; only now, since the lock goes with it
	if err != nil {
		return cannotWrite(dir, name, err)
	}
	step("file placed")
	if err := syncDir(dir); err != nil {
		return fmt.Errorf("%s is in place, but the disk did not confirm it: %w", path, err)
	}
	return nil
}

func fill(ctx context.Context, f *os.File, write func(w io.Writer) error) error {
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	if err := write(b); err != nil {
		return err
	}
	if err := b.Flush(); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	return ctx.Err()
}

// openHidden makes the hidden file and locks it; see Folder.open for why it may have to try again.
func openHidden(dir, name string) (*os.File, error) {
	for range 20 {
		f, err := takeLock(filepath.Join(dir, partialPrefix(name)+random()), os.O_CREATE|os.O_EXCL)
		if err == nil {
			return f, nil
		}
		if !errors.Is(err, errHeld) && !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
	}
	return nil, ErrBusy
}

// clearFiles removes the hidden files of dead runs. One that cannot be removed is no reason not to write.
func clearFiles(dir, name string) error {
	found, err := partials(dir, name)
	if err != nil {
		return err
	}
	for _, base := range found {
		path := filepath.Join(dir, base)
		if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
			continue
		}
		if lock, err := takeLock(path, 0); err == nil {
			_ = os.Remove(path)
			lock.Close()
		}
	}
	return nil
}
