package place

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"
)

var anything = func(string) error { return nil }

// withPlainRename makes the system one without renameat2 for the length of a test.
func withPlainRename(t *testing.T, err error) {
	was := renameat2
	renameat2 = refuse(err)
	t.Cleanup(func() { renameat2 = was })
}

// atStep calls f at the first time that the named step is reached.
func atStep(t *testing.T, name string, f func()) *bool {
	was, done := step, new(bool)
	step = func(s string) {
		if s == name && !*done {
			*done = true
			f()
		}
	}
	t.Cleanup(func() { step = was })
	return done
}

func TestCommit(t *testing.T) {
	for _, c := range []struct {
		name   string
		refuse error
	}{
		{"exchange", nil}, {"EINVAL", unix.EINVAL}, {"ENOSYS", unix.ENOSYS}, {"EOPNOTSUPP", unix.EOPNOTSUPP},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.refuse != nil {
				withPlainRename(t, c.refuse)
			}
			dir := t.TempDir()
			for _, mark := range []string{"first", "second", "third"} {
				if err := build(t.Context(), dir, mark); err != nil {
					t.Fatal(err)
				}
				holds(t, dir, mark)
				only(t, dir, "NAME")
			}
		})
	}
}

func TestModesDoNotDependOnUmask(t *testing.T) {
	for _, mask := range []int{0, 0o022, 0o077, 0o277} {
		dir := t.TempDir()
		was := syscall.Umask(mask)
		err := errors.Join(build(t.Context(), dir, "x"), WriteFile(t.Context(), filepath.Join(dir, "file"), text("x")))
		syscall.Umask(was)
		if err != nil {
			t.Fatalf("umask %#o: %v", mask, err)
		}
		for path, want := range map[string]fs.FileMode{"NAME": 0o755, "NAME/a": 0o644, "NAME/d": 0o755,
			"NAME/d/b": 0o644, "file": 0o644} {
			info, err := os.Stat(filepath.Join(dir, filepath.FromSlash(path)))
			if err != nil {
				t.Fatal(err)
			}
			if info.Mode().Perm() != want {
				t.Errorf("umask %#o: %s has mode %#o, want %#o", mask, path, info.Mode().Perm(), want)
			}
		}
	}
}

func TestAbort(t *testing.T) {
	dir := t.TempDir()
	if err := build(t.Context(), dir, "old"); err != nil {
		t.Fatal(err)
	}
	f, err := Begin(t.Context(), dir, "NAME", anything)
	if err != nil {
		t.Fatal(err)
	}
	if f.Target() != filepath.Join(dir, "NAME") || filepath.Base(f.Path()) != "new" {
		t.Errorf("paths %s, %s", f.Target(), f.Path())
	}
	if err := fillFolder(f, "new"); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := f.Abort(); err != nil {
			t.Fatal(err)
		}
	}
	if f.Commit(t.Context()) == nil {
		t.Error("Commit after Abort succeeds")
	}
	holds(t, dir, "old")
	only(t, dir, "NAME")
}

func TestCancelledLeavesNothing(t *testing.T) {
	for _, at := range []string{"built", "synced"} {
		dir := t.TempDir()
		if err := build(t.Context(), dir, "old"); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := atStep(t, at, cancel)
		err := build(ctx, dir, "new")
		if !errors.Is(err, context.Canceled) || !*done {
			t.Errorf("cancelled at %s: %v", at, err)
		}
		holds(t, dir, "old")
		only(t, dir, "NAME")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	dir := t.TempDir()
	if _, err := Begin(ctx, dir, "NAME", nil); !errors.Is(err, context.Canceled) {
		t.Errorf("Begin: %v", err)
	}
	if err := WriteFile(ctx, filepath.Join(dir, "file"), text("x")); !errors.Is(err, context.Canceled) {
		t.Errorf("WriteFile: %v", err)
	}
	ctx, cancel = context.WithCancel(t.Context())
	atStep(t, "file opened", cancel)
	if err := WriteFile(ctx, filepath.Join(dir, "file"), text("x")); !errors.Is(err, context.Canceled) {
		t.Errorf("WriteFile: %v", err)
	}
	only(t, dir, "")
}

// A child is killed at each step. Whatever it leaves, the target is whole or restored at the next start, and the rest
// is gone.
func TestKilled(t *testing.T) {
	for _, c := range []struct {
		name  string
		old   bool // a target exists
		plain bool
		steps []string
		after []string // what the target holds then, before and after Recover; "" is no target
	}{
		{"first", false, false, []string{"partial", "locked", "new", "built", "synced", "placed", "emptied"},
			[]string{"", "", "", "", "", "new", "new"}},
		{"first, plain rename", false, true, []string{"synced", "placed"}, []string{"", "new"}},
		{"again", true, false, []string{"partial", "locked", "new", "built", "synced", "exchanged", "placed",
			"emptied"},
			[]string{"old", "old", "old", "old", "old", "new", "new", "new"}},
		{"again, plain rename", true, true, []string{"synced", "old away", "new placed", "placed", "emptied"},
			[]string{"old", "back", "new", "new", "new"}},
	} {
		for i, at := range c.steps {
			t.Run(c.name+"/"+at, func(t *testing.T) {
				dir := t.TempDir()
				if c.old {
					if err := build(t.Context(), dir, "old"); err != nil {
						t.Fatal(err)
					}
				}
				env := []string{killVar + "=" + at}
				if c.plain {
					env = append(env, plainVar+"=1")
				}
				if out, died, err := spawn(t, "folder", dir, nil, env...); !died {
					t.Fatalf("the child was not killed at %q: %s %v", at, out, err)
				}
				want, restored := c.after[i], false
				switch want {
				case "back":
					only(t, dir, list(t, dir)) // one hidden folder, no target
					if _, err := os.Lstat(filepath.Join(dir, "NAME")); !errors.Is(err, fs.ErrNotExist) {
						t.Fatalf("the case is not what it should be: %v", err)
					}
					want, restored = "old", true
				case "":
				default:
					holds(t, dir, want)
				}
				r, err := Recover(dir, "NAME")
				if err != nil || r.Restored != restored || len(r.Removed) != 1 || len(r.Live)+len(r.Kept) != 0 {
					t.Errorf("Recover: %+v, %v", r, err)
				}
				if want == "" {
					only(t, dir, "")
				} else {
					only(t, dir, "NAME")
					holds(t, dir, want)
				}
				if err := build(t.Context(), dir, "next"); err != nil {
					t.Fatal(err)
				}
				holds(t, dir, "next")
				only(t, dir, "NAME")
			})
		}
	}
}

// The run that clears up may be killed as well.
func TestKilledInRecover(t *testing.T) {
	for _, at := range []string{"restored", "emptied"} {
		dir := t.TempDir()
		if err := build(t.Context(), dir, "old"); err != nil {
			t.Fatal(err)
		}
		for _, run := range [][2]string{{"folder", "old away"}, {"recover", at}} {
			if out, died, err := spawn(t, run[0], dir, nil, killVar+"="+run[1], plainVar+"=1"); !died {
				t.Fatalf("the child was not killed at %q: %s %v", run[1], out, err)
			}
		}
		holds(t, dir, "old")
		if _, err := Recover(dir, "NAME"); err != nil {
			t.Fatal(err)
		}
		holds(t, dir, "old")
		only(t, dir, "NAME")
	}
}

func TestExistingTarget(t *testing.T) {
	own := errors.New("no archive of ours")
	for _, c := range []struct {
		name string
		make func(path string) error
		may  func(string) error
		want error
		says string
	}{
		{"file", func(p string) error { return os.WriteFile(p, []byte("precious"), 0o600) }, anything, ErrNotFolder,
			"a file"},
		{"link to a folder", func(p string) error { return os.Symlink(os.TempDir(), p) }, anything, ErrNotFolder,
			"a symbolic link"},
		{"link to nothing", func(p string) error { return os.Symlink("nowhere", p) }, anything, ErrNotFolder,
			"a symbolic link"},
		{"pipe", func(p string) error { return syscall.Mkfifo(p, 0o600) }, anything, ErrNotFolder, "a pipe"},
		{"device", func(p string) error { return syscall.Mknod(p, syscall.S_IFCHR|0o600, 1<<8|3) }, anything,
			ErrNotFolder, "a device"},
		{"folder, nobody asked", func(p string) error { return os.Mkdir(p, 0o755) }, nil, ErrExists, ""},
		{"folder, not ours", func(p string) error { return os.Mkdir(p, 0o755) }, func(string) error { return own }, own,
			""},
	} {
		// It is there at Begin, or it comes while the folder is built.
		for _, late := range []bool{false, true} {
			t.Run(fmt.Sprint(c.name, late), func(t *testing.T) {
				dir := t.TempDir()
				path := filepath.Join(dir, "NAME")
				if !late {
					if err := c.make(path); err != nil {
						t.Fatal(err)
					}
				}
				f, err := Begin(t.Context(), dir, "NAME", c.may)
				if late {
					if err != nil {
						t.Fatal(err)
					}
					if err := c.make(path); err != nil {
						t.Fatal(err)
					}
					err = f.Commit(t.Context())
				}
				if !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
					t.Fatalf("error %v, want %v", err, c.want)
				}
				var in *Error
				if c.want != own && (!errors.As(err, &in) || in.Remedy == "" || in.Path != path) {
					t.Errorf("%#v has no place or remedy", err)
				}
				only(t, dir, "NAME")
			})
		}
	}
}

func TestBadNamesAndPlaces(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		dir, name string
		want      error
	}{
		{dir, "", ErrName}, {dir, ".", ErrName}, {dir, "..", ErrName}, {dir, "a/b", ErrName}, {dir, "a\nb", ErrName},
		{dir, "a\xff", ErrName},
		{dir, strings.Repeat("x", 234), ErrName},
		{filepath.Join(dir, "none"), "NAME", fs.ErrNotExist}, {file, "NAME", ErrNotFolder},
	} {
		f, err := Begin(t.Context(), c.dir, c.name, anything)
		var in *Error
		if !errors.Is(err, c.want) || !errors.As(err, &in) || in.Remedy == "" || f != nil {
			t.Errorf("%q in %s: %v, want %v with a remedy", c.name, c.dir, err, c.want)
		}
	}
	only(t, dir, "file")
	if f, err := Begin(t.Context(), dir, strings.Repeat("x", 233), anything); err != nil {
		t.Errorf("longest name: %v", err)
	} else if err := f.Commit(t.Context()); err != nil {
		t.Errorf("longest name: %v", err)
	}
	if _, err := Recover(filepath.Join(dir, "none"), "NAME"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Recover where there is no folder: %v", err)
	}
}

// Only files and folders go into an archive.
func TestOddThingsInside(t *testing.T) {
	dir := t.TempDir()
	f, err := Begin(t.Context(), dir, "NAME", anything)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("/etc", filepath.Join(f.Path(), "link")); err != nil {
		t.Fatal(err)
	}
	if err := f.Commit(t.Context()); !errors.Is(err, ErrNotFile) || !strings.Contains(err.Error(), "link") {
		t.Errorf("a link inside: %v", err)
	}
	only(t, dir, "")

	f, err = Begin(t.Context(), dir, "NAME", anything)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(f.Path()); err != nil {
		t.Fatal(err)
	}
	if err := f.Commit(t.Context()); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the build was taken away: %v", err)
	}
	only(t, dir, "")
}

// A live run is left alone, however many others start, end or look; the last to end is the one in place.
func TestLiveRunIsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	one, err := Begin(t.Context(), dir, "NAME", anything)
	if err != nil {
		t.Fatal(err)
	}
	two, err := Begin(t.Context(), dir, "NAME", anything)
	if err != nil {
		t.Fatal(err)
	}
	if len(two.Recovered.Live) != 1 || len(two.Recovered.Removed) != 0 {
		t.Errorf("the second run found %+v", two.Recovered)
	}
	if err := errors.Join(fillFolder(one, "one"), fillFolder(two, "two"), two.Commit(t.Context())); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, "two")
	if err := one.Commit(t.Context()); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, "one")
	only(t, dir, "NAME")
}

// Names that begin or end alike are not taken for each other, nor are strange hidden names.
func TestOtherNamesAreLeftAlone(t *testing.T) {
	dir := t.TempDir()
	others := []string{".NAME.partial-", ".NAME.partial-short", ".NAME.partial-aaaaaaaaaaa1",
		".NAME.partial-x.partial-aaaaaaaaaaaa",
		".NAMES.partial-aaaaaaaaaaaa"}
	for _, n := range others {
		if err := os.Mkdir(filepath.Join(dir, n), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(others[0], filepath.Join(dir, ".NAME.partial-bbbbbbbbbbbb")); err != nil {
		t.Fatal(err)
	}
	before := list(t, dir)
	if r, err := Recover(dir, "NAME"); err != nil || len(r.Removed)+len(r.Live)+len(r.Kept) != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	only(t, dir, before)
}

// In the moment between the making of the hidden folder and its lock another run may take it for dead.
func TestRemovedBeforeLocked(t *testing.T) {
	dir := t.TempDir()
	done := atStep(t, "partial", func() {
		if r, err := Recover(dir, "NAME"); err != nil || len(r.Removed) != 1 {
			t.Errorf("%+v, %v", r, err)
		}
	})
	if err := build(t.Context(), dir, "x"); err != nil || !*done {
		t.Fatal(err)
	}
	holds(t, dir, "x")
	only(t, dir, "NAME")
}

// The target is exchanged for a folder of someone else in the moment between judging and renaming.
func TestTargetChangedAtTheLastMoment(t *testing.T) {
	for _, plain := range []bool{false, true} {
		dir := t.TempDir()
		if err := build(t.Context(), dir, "old"); err != nil {
			t.Fatal(err)
		}
		f, err := Begin(t.Context(), dir, "NAME", func(path string) error {
			if b, err := os.ReadFile(filepath.Join(path, "a")); err != nil || string(b) != "old" {
				return ErrExists
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		was, strange := renameat2, false
		renameat2 = func(a int, from string, b int, to string, flags uint) error {
			if !strange {
				strange = true
				if err := errors.Join(os.Rename(filepath.Join(dir, "NAME"), filepath.Join(dir, "moved")),
					os.Mkdir(filepath.Join(dir, "NAME"), 0o755),
					os.WriteFile(filepath.Join(dir, "NAME", "precious"), nil, 0o644)); err != nil {
					t.Error(err)
				}
			}
			if plain {
				return unix.EINVAL
			}
			return was(a, from, b, to, flags)
		}
		err = f.Commit(t.Context())
		renameat2 = was
		if !errors.Is(err, ErrExists) {
			t.Errorf("plain %v: %v", plain, err)
		}
		only(t, dir, "NAME moved")
		only(t, filepath.Join(dir, "NAME"), "precious")
	}
}

// The target vanishes, or another run places its own, in the moment between the two steps of the plain rename.
func TestPlainRenameMeetsOthers(t *testing.T) {
	withPlainRename(t, unix.EINVAL)
	dir := t.TempDir()
	if err := build(t.Context(), dir, "old"); err != nil {
		t.Fatal(err)
	}
	done := atStep(t, "old away", func() {
		if err := build(t.Context(), dir, "theirs"); err != nil {
			t.Error(err)
		}
	})
	if err := build(t.Context(), dir, "ours"); !errors.Is(err, ErrBusy) || !*done {
		t.Errorf("error %v, want %v", err, ErrBusy)
	}
	holds(t, dir, "theirs")
	only(t, dir, "NAME")

	f, err := Begin(t.Context(), dir, "NAME", func(path string) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	if err := fillFolder(f, "ours"); err != nil {
		t.Fatal(err)
	}
	atStep(t, "synced", func() {
		f.mayReplace = func(path string) error { return os.RemoveAll(path) }
	})
	if err := f.Commit(t.Context()); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, "ours")
	only(t, dir, "NAME")
}

// When the new folder cannot be put in place, the old one goes back.
func TestPlainRenameFails(t *testing.T) {
	withPlainRename(t, unix.EINVAL)
	dir := t.TempDir()
	if err := build(t.Context(), dir, "old"); err != nil {
		t.Fatal(err)
	}
	f, err := Begin(t.Context(), dir, "NAME", anything)
	if err != nil {
		t.Fatal(err)
	}
	atStep(t, "old away", func() {
		if err := os.RemoveAll(f.Path()); err != nil {
			t.Error(err)
		}
	})
	if err := f.Commit(t.Context()); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("error %v", err)
	}
	holds(t, dir, "old")
	only(t, dir, "NAME")
}

// Any error of the rename but a refusal is reported and changes nothing.
func TestRenameError(t *testing.T) {
	for _, old := range []bool{false, true} {
		dir := t.TempDir()
		if old {
			if err := build(t.Context(), dir, "old"); err != nil {
				t.Fatal(err)
			}
		}
		before := list(t, dir)
		was := renameat2
		renameat2 = refuse(unix.EIO)
		err := build(t.Context(), dir, "new")
		renameat2 = was
		var in *Error
		if !errors.Is(err, unix.EIO) || !errors.As(err, &in) || in.Remedy == "" {
			t.Errorf("error %v", err)
		}
		only(t, dir, before)
	}
}

// Many runs at once: nobody's work is taken away, and whoever looks sees a whole folder.
func TestManyRunsAtOnce(t *testing.T) {
	for _, plain := range []bool{false, true} {
		dir := t.TempDir()
		if plain {
			withPlainRename(t, unix.ENOSYS)
		}
		var wg sync.WaitGroup
		for i := range 6 {
			wg.Go(func() {
				for k := range 8 {
					err := build(context.Background(), dir, fmt.Sprint(i, ".", k))
					if err != nil && !(plain && errors.Is(err, ErrBusy)) {
						t.Errorf("plain %v: %v", plain, err)
					}
				}
			})
		}
		stop, seen := make(chan struct{}), 0
		var looker sync.WaitGroup
		looker.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				root, err := os.OpenRoot(filepath.Join(dir, "NAME"))
				if err != nil {
					continue
				}
				a, err1 := root.ReadFile("a")
				b, err2 := root.ReadFile("d/b")
				root.Close()
				if err1 == nil && err2 == nil { // else it was being removed after its replacement
					seen++
					if string(a) != string(b) {
						t.Errorf("a mixture of %s and %s", a, b)
					}
				}
			}
		})
		wg.Wait()
		close(stop)
		looker.Wait()
		only(t, dir, "NAME")
		if seen == 0 {
			t.Error("nobody saw a whole folder")
		}
	}
}

// What was replaced may resist removal by its owner's permissions; root removes anything, so this runs as another user
// too.
func TestReadOnlyFolders(t *testing.T) {
	dir := t.TempDir()
	if err := build(t.Context(), dir, "old"); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{"d", ""} {
		if err := os.Chmod(filepath.Join(dir, "NAME", p), 0o500); err != nil {
			t.Fatal(err)
		}
	}
	give(t, dir)
	out, _, err := spawnFrom(t, openProgram(t), "folder", dir, another)
	if err == nil {
		only(t, dir, "NAME")
		holds(t, dir, "new")
		return
	}
	// Moving a folder that its owner may not write to is refused by Linux: then the old one stays as it was.
	if !strings.Contains(out, "permission denied") {
		t.Errorf("%s %v", out, err)
	}
	holds(t, dir, "old")
	only(t, dir, "NAME")

	// Inside, a read-only folder is no obstacle.
	if err := os.Chmod(filepath.Join(dir, "NAME"), 0o700); err != nil {
		t.Fatal(err)
	}
	if out, _, err := spawnFrom(t, openProgram(t), "folder", dir, another); err != nil {
		t.Fatalf("%s %v", out, err)
	}
	holds(t, dir, "new")
	only(t, dir, "NAME")
}

// another is a user without rights.
var another = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}

// give makes dir and all in it another's.
func give(t *testing.T, dir string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(p string, _ fs.DirEntry, err error) error {
		return errors.Join(err, os.Lchown(p, 65534, 65534))
	})
	if err = errors.Join(err, os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
		t.Fatalf("this test must run as root: %v", err)
	}
}

// openProgram copies the test program to where any user may run it.
func openProgram(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "program")
	if err := errors.Join(os.WriteFile(program, b, 0o755), os.Chmod(dir, 0o755),
		os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
		t.Fatal(err)
	}
	return program
}

func TestNoPermission(t *testing.T) {
	dir := t.TempDir()
	if err := errors.Join(build(t.Context(), dir, "old"), WriteFile(t.Context(), filepath.Join(dir, "file"),
		text("old"))); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Chmod(dir, 0o755), os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
		t.Fatal(err)
	}
	program := openProgram(t)
	for _, what := range []string{"folder", "file"} {
		out, _, err := spawnFrom(t, program, what, dir, another)
		if err == nil || !strings.Contains(out, "cannot be written: permission denied") {
			t.Errorf("%s: another user: %q, %v", what, out, err)
		}
	}
	only(t, dir, "NAME file")
	holds(t, dir, "old")

	// The leftovers of another user hinder nobody.
	if out, died, err := spawn(t, "folder", dir, nil, killVar+"=built"); !died {
		t.Fatalf("%s %v", out, err)
	}
	if err := os.Chown(dir, 65534, 65534); err != nil {
		t.Fatal(err)
	}
	if out, _, err := spawnFrom(t, program, "recover", dir, another); err != nil {
		t.Errorf("%s %v", out, err)
	}
	if n := len(strings.Fields(list(t, dir))); n != 3 {
		t.Errorf("the folder holds %s", list(t, dir))
	}
	if err := os.Rename(filepath.Join(dir, "NAME"), filepath.Join(dir, "away")); err != nil {
		t.Fatal(err)
	}
	if out, _, err := spawnFrom(t, program, "folder", dir, another); err != nil {
		t.Errorf("%s %v", out, err)
	}
	holds(t, dir, "new")
}

// A disk too small for the new archive: an error that says so, the old one untouched, nothing left.
func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	// The child mounts a small disk in a namespace of its own, so that the mount ends with it. In a container without
	// that right a user namespace may still give it.
	var report []string
	for _, attr := range []*syscall.SysProcAttr{
		{Unshareflags: syscall.CLONE_NEWNS},
		{Cloneflags: syscall.CLONE_NEWUSER, Unshareflags: syscall.CLONE_NEWNS,
			UidMappings: []syscall.SysProcIDMap{{HostID: os.Getuid(), Size: 1}}, GidMappings: []syscall.SysProcIDMap{
				{HostID: os.Getgid(), Size: 1}}},
	} {
		out, _, err := spawn(t, "full disk", dir, attr)
		if err == nil {
			return
		}
		report = append(report, fmt.Sprintf("%s %v", out, err))
		if out != "" && !strings.HasPrefix(out, "mount") {
			t.Fatal(out)
		}
	}
	t.Fatalf("a small disk cannot be mounted here (needs root or user namespaces): %q", report)
}

// fullDisk is the child of TestFullDisk.
func fullDisk(ctx context.Context, dir string) error {
	if err := unix.Mount("none", dir, "tmpfs", 0, "size=256k"); err != nil {
		return fmt.Errorf("mount: %w", err)
	}
	if err := build(ctx, dir, "old"); err != nil {
		return err
	}
	whole := func() error {
		names, err := os.ReadDir(dir)
		a, err1 := os.ReadFile(filepath.Join(dir, "NAME", "a"))
		if err = errors.Join(err, err1); err != nil || len(names) != 1 || string(a) != "old" {
			return fmt.Errorf("%v %q %v", names, a, err)
		}
		return nil
	}
	f, err := Begin(ctx, dir, "NAME", anything)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(f.Path(), "big"), make([]byte, 1<<20), 0o644); !errors.Is(err,
		syscall.ENOSPC) {
		return fmt.Errorf("a big file fits: %v", err)
	}
	if err := errors.Join(f.Abort(), whole()); err != nil {
		return err
	}
	err = WriteFile(ctx, filepath.Join(dir, "file"), text(strings.Repeat("x", 1<<20)))
	var in *Error
	if !errors.Is(err, syscall.ENOSPC) || !errors.As(err, &in) || !strings.Contains(in.Remedy, "free some disk space") {
		return fmt.Errorf("a big file: %v", err)
	}
	if err := whole(); err != nil {
		return err
	}
	// Not even the hidden folder fits.
	if err := os.WriteFile(filepath.Join(dir, "NAME", "filler"), make([]byte, 1<<20), 0o644); !errors.Is(err,
		syscall.ENOSPC) {
		return fmt.Errorf("the filler fits: %v", err)
	}
	_, err = Begin(ctx, dir, "NAME", anything)
	if err == nil {
		err = build(ctx, dir, strings.Repeat("x", 1<<13))
	}
	if !errors.Is(err, syscall.ENOSPC) {
		return fmt.Errorf("a full disk: %v", err)
	}
	return nil
}
