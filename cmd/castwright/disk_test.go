package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// twoCruises writes two cruises of one name, the second with another title and larger, and gives their files.
func twoCruises(t *testing.T, dir string) (first, second string) {
	t.Helper()
	demo, err := filepath.Abs(filepath.Join("..", "..", "testdata", "cruise", "casts"))
	if err != nil {
		t.Fatal(err)
	}
	for i, n := range []string{"1", "4"} {
		var sources []string
		for s := '1'; s <= rune(n[0]); s++ {
			sources = append(sources, fmt.Sprintf("casts/ZZSM20260504_0000%c_00001_ct1.csv", s))
		}
		text := fmt.Sprintf("cruise: {id: small, title: number %d}\nfigures: none\ncasts: {sources: [%s]}\n", i,
			strings.Join(sources, ", "))
		if i == 1 {
			text += "sections: [{name: line, stations: 1-4, grid: linear}]\n"
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("cruise%d.yaml", i)), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.CopyFS(filepath.Join(dir, "casts"), os.DirFS(demo)); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "cruise0.yaml"), filepath.Join(dir, "cruise1.yaml")
}

// program puts this test binary, which is the program too, under its name where every user may run it.
func program(t *testing.T) (dir string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "castwright-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "castwright")
	if err := os.WriteFile(path, b, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{dir, path} {
		if err := os.Chmod(p, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// A disk too small for the new archive, at eight degrees of fullness, and one that is read-only: exit code 1, a message
// that says so and what to do, the earlier archive as it was, nothing stray; with room again the next run succeeds and
// leaves nothing but the archive.
func TestFullDisk(t *testing.T) {
	dir := program(t)
	first, second := twoCruises(t, dir)
	out := filepath.Join(dir, "out")
	if err := os.Mkdir(out, 0o755); err != nil {
		t.Fatal(err)
	}
	script := `set -eu
mount -t tmpfs -o size=12m none "$OUT"
castwright build --out "$OUT" "$SECOND" 2>/dev/null >/dev/null
size=$(du -sk "$OUT/small" | cut -f1)
rm -r "$OUT/small"
castwright build --out "$OUT" "$FIRST" 2>/dev/null >/dev/null
state() { (cd "$OUT" && find small -type f | sort | xargs sha256sum | sha256sum; ls -A "$OUT"); }
state > "$DIR/before"
try() {
	rc=0
	castwright build --out "$OUT" "$SECOND" > "$DIR/stdout" 2> "$DIR/said" || rc=$?
	rm -f "$OUT/ballast"
	state > "$DIR/after"
	echo "exit $rc"; cat "$DIR/said"
	cmp "$DIR/before" "$DIR/after" && echo "as before"
}
for part in 0 1 2 3 4 5 6 7; do
	free=$(df -k --output=avail "$OUT" | tail -1)
	fill=$((free - size * part / 8))
	head -c ${fill}k /dev/zero > "$OUT/ballast"
	echo "== full $part"
	try
done
mount -o remount,ro "$OUT"
echo "== read-only"
try
mount -o remount,rw "$OUT"
castwright build --out "$OUT" "$SECOND" 2>/dev/null >/dev/null
echo "== at last"; ls -A "$OUT"
grep Number "$OUT/small/bag-info.txt" || grep External-Description "$OUT/small/bag-info.txt"
`
	cmd := exec.Command("sh", "-c", script)
	cmd.Env = append(os.Environ(), "PATH="+dir+":"+os.Getenv("PATH"), "DIR="+dir, "OUT="+out, "FIRST="+first,
		"SECOND="+second, "LC_ALL=C")
	cmd.SysProcAttr = &syscall.SysProcAttr{Unshareflags: syscall.CLONE_NEWNS}
	b, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%v (this test needs root, to mount a small disk)\n%s", err, b)
	}
	parts := strings.Split(string(b), "== ")[1:]
	if len(parts) != 10 {
		t.Fatalf("%s", b)
	}
	for _, p := range parts[:9] {
		name, said, _ := strings.Cut(p, "\n")
		why := "the disk is full"
		hint := "  hint: free some disk space, or give another place with --out; what was there is as it was\n"
		if name == "read-only" {
			why, hint = "the disk is read-only",
				"  hint: give another place with --out, or have the disk mounted for writing\n"
		}
		want := "exit 1\ncastwright: error: " + out + "/small: the archive cannot be written: " + why + "\n" + hint +
			"as before\n"
		if said != want {
			t.Errorf("%s:\n%s\nwant\n%s", name, said, want)
		}
	}
	if parts[9] != "at last\nsmall\nExternal-Description: number 1\n" {
		t.Errorf("%s", parts[9])
	}
}

// A target that another user owns: exit code 1, permission denied and what to do; nothing changed, nothing left.
func TestNoPermission(t *testing.T) {
	dir := program(t)
	first, second := twoCruises(t, dir)
	out := filepath.Join(dir, "out")
	if err := os.Mkdir(out, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(out, 0o755); err != nil {
		t.Fatal(err)
	}
	if os.Getuid() != 0 {
		t.Fatal("this test needs root, to become another user")
	}
	run := func(uid uint32, file string) (string, int) {
		cmd := exec.Command(filepath.Join(dir, "castwright"), "build", "--out", out, file)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uid, Gid: uid}}
		cmd.Env = []string{"HOME=/nonexistent"}
		var said strings.Builder
		cmd.Stderr = &said
		err := cmd.Run()
		if _, ok := err.(*exec.ExitError); err != nil && !ok {
			t.Fatal(err)
		}
		return said.String(), cmd.ProcessState.ExitCode()
	}
	if said, code := run(0, first); code != 0 {
		t.Fatal(said)
	}
	before, err := treeOf(out)
	if err != nil {
		t.Fatal(err)
	}
	said, code := run(65534, second)
	want := "castwright: error: " + out + "/small: the archive cannot be written: permission denied\n" +
		"  hint: give a folder with --out that you may write to, or have its permissions changed\n"
	if code != 1 || said != want {
		t.Errorf("exit %d\n%swant\n%s", code, said, want)
	}
	after, err := treeOf(out)
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(before) != fmt.Sprint(after) {
		t.Error("the folder changed")
	}
	if entries, err := os.ReadDir(out); err != nil || len(entries) != 1 {
		t.Errorf("%v %v", entries, err)
	}
	if said, code := run(0, second); code != 0 {
		t.Fatal(said)
	}
}
